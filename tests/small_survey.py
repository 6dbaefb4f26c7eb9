"""The example cut down to a few points and compounds: quick to build, the same in every other way."""

from __future__ import annotations

import csv
import io
import shutil
from collections.abc import Callable
from pathlib import Path

COMPOUNDS = {"pce", "tce", "benzene", "cis12dce"}
POINTS = {"SG-01", "SG-02", "SG-03", "SG-50"}
BLANKS = {"0047101", "0047163"}

Row = dict[str, str]


def small_survey(example: Path, target: Path) -> Path:
    """Write the small survey into the new folder ``target``; its findings hold and stop nothing."""
    left_out = shutil.ignore_patterns(
        "*.md", "*.py", "photos", "photos.csv", "products.csv", "__pycache__", "comments.csv"
    )
    shutil.copytree(example, target, ignore=left_out)
    samplers = BLANKS | {
        row["sampler_id"] for row in _rows(target / "field/deployments.csv") if row["location_id"] in POINTS
    }
    _keep(target / "locations/locations.csv", lambda row: row["location_id"] in POINTS)
    for name in ("field/deployments.csv", "field/samplers.csv"):
        _keep(target / name, lambda row: row["sampler_id"] in samplers)
    _keep(target / "lab/lab_samples.csv", lambda row: row["sampler_id"] in samplers | {""})
    kept = {row["lab_sample_id"] for row in _rows(target / "lab/lab_samples.csv")}
    _keep(target / "lab/results.csv", lambda row: row["lab_sample_id"] in kept)
    _keep(target / "lab/lab_qc.csv", lambda row: row["lab_sample_id"] in kept)
    _keep(
        target / "field/custody.csv",
        lambda row: row["subject_kind"] != "sampler" or row["subject_id"] in samplers,
    )
    for path in sorted(target.rglob("*.csv")):
        _keep(path, lambda row: row.get("analyte_id", "pce") in COMPOUNDS)
    for name in ("deviations", "clearance"):
        (target / f"field/{name}.csv").unlink()
    return target


def _rows(path: Path) -> list[Row]:
    return list(csv.DictReader(io.StringIO(path.read_text("utf-8"))))


def _keep(path: Path, wanted: Callable[[Row], bool]) -> None:
    rows = _rows(path)
    if not rows:
        return
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, list(rows[0]), lineterminator="\n")
    writer.writeheader()
    writer.writerows(row for row in rows if wanted(row))
    path.write_bytes(out.getvalue().encode())
