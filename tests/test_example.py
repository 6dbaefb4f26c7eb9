"""The example survey: made by its script, rich enough, and right to the minute."""

from __future__ import annotations

import csv
import subprocess
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

from sitegen.checking import Checked

# US clocks go back from 02:00 CDT (UTC-5) to 01:00 CST (UTC-6) on the first Sunday of
# November: 2 November 2025 (Energy Policy Act of 2005, section 110).
CLOCK_CHANGE_UTC = datetime(2025, 11, 2, 7, 0, tzinfo=UTC)


def rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as handle:
        return list(csv.DictReader(handle))


def utc(local: str) -> datetime:
    """Turn Chicago wall-clock text into UTC by plain arithmetic, without a zone database."""
    naive = datetime.fromisoformat(local).replace(tzinfo=UTC)
    summer = naive + timedelta(hours=5)
    return summer if summer < CLOCK_CHANGE_UTC else naive + timedelta(hours=6)


def test_the_script_gives_what_is_committed(tmp_path: Path, example: Path) -> None:
    """Every file that simulate.py writes equals the committed one, byte for byte."""
    subprocess.run([sys.executable, example / "simulate.py", tmp_path], check=True, capture_output=True)
    written = sorted(p.relative_to(tmp_path) for p in tmp_path.rglob("*") if p.is_file())
    assert len(written) > 25
    for name in written:
        assert (tmp_path / name).read_bytes() == (example / name).read_bytes(), name


def test_exposures_are_right_to_the_minute_across_the_clock_change(checked: Checked, example: Path) -> None:
    """Each exposure equals the one had by independent arithmetic, an hour more than simple subtraction."""
    assert checked.evaluation is not None
    found = {p.sampler_id: p.exposure_min for p in checked.evaluation.placements}
    compared = 0
    for row in rows(example / "field/deployments.csv"):
        if row["retrieved_at"] in ("", "NA"):
            assert found[row["sampler_id"]] is None
            continue
        expected = (utc(row["retrieved_at"]) - utc(row["placed_at"])) // timedelta(minutes=1)
        plain = datetime.fromisoformat(row["retrieved_at"]) - datetime.fromisoformat(row["placed_at"])
        across = utc(row["placed_at"]) < CLOCK_CHANGE_UTC <= utc(row["retrieved_at"])
        assert found[row["sampler_id"]] == expected == plain // timedelta(minutes=1) + (60 if across else 0)
        compared += across
    assert compared > 50


def test_the_example_is_rich_enough_to_argue_over(example: Path) -> None:
    """Points, compounds, results, non-detects and spread lie where a realistic survey has them."""
    places = rows(example / "locations/locations.csv")
    soil = {p["location_id"] for p in places if p["medium"] in ("soil_gas", "sub_slab")}
    assert 45 <= len(soil) <= 60
    assert {p["surface"] for p in places} >= {
        "soil",
        "vegetation",
        "gravel",
        "asphalt",
        "concrete",
        "interior_slab",
    }
    assert 18 <= len(rows(example / "lab/analytes.csv")) <= 24
    at = {r["sampler_id"]: r["location_id"] for r in rows(example / "field/deployments.csv")}
    of = {r["lab_sample_id"]: at.get(r["sampler_id"], "") for r in rows(example / "lab/lab_samples.csv")}
    results = [r for r in rows(example / "lab/results.csv") if of[r["lab_sample_id"]] in soil]
    assert len(results) >= 1000
    missed = sum(r["detected"] == "no" for r in results) / len(results)
    assert 0.5 <= missed <= 0.8
    masses = [float(r["value"]) for r in results if r["detected"] == "yes"]
    assert max(masses) / min(masses) >= 1e4


PLANTED = {
    "seal-differs:RB-1",
    "water-in-sampler:0047154",
    "cap-damaged:0047115",
    "exposure-out-of-plan:0047105",
    "hole-refused:0047148",
    "sampler-lost:0047159",
    "duplicate-differs:0047143+0047144",
    "comment-must-fix:C-1",
    "holder-changed:SH-O1+FS-1+FS-2",
    "holder-changed:RB-1+FS-2+FS-1",
    "holder-changed:RB-2+FS-2+FS-1",
    "seal-late:RB-1",
    "hole-temporary:survey",
    "blank-affected-mostly:toluene",
    "blank-affected-mostly:mxylene",
    "local-low:SG-10",
    "local-low:SG-29",
    "local-low:SG-37",
}


def test_what_is_planted_is_found(checked: Checked) -> None:
    """Each planted fault gives its finding; the custody gap is 2 h 10 min long."""
    keys = {finding.key for finding in checked.findings}
    assert keys >= PLANTED
    gaps = [f for f in checked.findings if f.code == "custody-gap"]
    assert [gap.found.split(" between")[0] for gap in gaps] == ["no custodian recorded for 2 h 10 min"]
    touched = {f.subject.split("+")[-1] for f in checked.findings if f.code == "trip-blank-detection"}
    assert touched >= {"toluene", "mxylene"}
    assert not checked.stopped
