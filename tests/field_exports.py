"""A planned folder, and exports of the field form as a device would write them, made without the form."""

from __future__ import annotations

import hashlib
import json
import shutil
from collections.abc import Mapping, Sequence
from pathlib import Path

from builders import EXAMPLE, rows_of

PROJECT = "KD-2025-01"
TABLES = ("samplers", "deployments", "return_bags", "shipments", "custody", "photos", "products")
Rows = Mapping[str, Sequence[Mapping[str, str]]]


def change(key: str, column: str, old: str, new: str, reason: str = "", table: str = "deployments") -> dict[str, str]:
    """Return one entry of a device's record of changes."""
    at = "2025-10-23T08:11:32"
    return {"at": at, "table": table, "key": key, "column": column, "from": old, "to": new, "reason": reason}


def record(
    device: str = "AB12",
    number: int = 1,
    changes: Sequence[Mapping[str, str]] = (),
    **tables: Sequence[Mapping[str, str]],
) -> dict[str, object]:
    """Return the object that an export holds, without its SHA-256."""
    return {
        "format": "sitegen field record 1",
        "project": PROJECT,
        "kit": "0123456789abcdef",
        "device": device,
        "number": str(number),
        "made_at": f"2025-10-23T{10 + number:02}:05",
        "tables": {name: list(tables.get(name, ())) for name in (*TABLES, *(tables.keys() - set(TABLES)))},
        "changes": list(changes),
    }


def sealed(data: Mapping[str, object]) -> bytes:
    """Return an object as the file that a device writes, with its SHA-256."""
    canonical = json.dumps(data, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    whole = {**data, "sha256": hashlib.sha256(canonical.encode("utf-8", "surrogatepass")).hexdigest()}
    return json.dumps(whole, indent=1).encode()


def export_file(
    place: Path,
    device: str = "AB12",
    number: int = 1,
    changes: Sequence[Mapping[str, str]] = (),
    **tables: Sequence[Mapping[str, str]],
) -> Path:
    """Write an export below ``place`` under the name that the form gives it."""
    path = place / f"field-{device}-{number}.json"
    path.write_bytes(sealed(record(device, number, changes, **tables)))
    return path


def placing(sampler: str, point: str, at: str = "2025-10-22T09:12", **more: str) -> dict[str, str]:
    """Return a row of deployments as a device writes it once a sampler is placed."""
    return {"sampler_id": sampler, "location_id": point, "placed_at": at, "placed_by": "FS-1", "depth_ft": "3"} | more


def planned_folder(root: Path) -> Path:
    """Write a planned survey: four points, six samplers, two bags, nothing placed yet; return its folder."""
    for folder in ("locations", "field", "lab", "text"):
        (root / folder).mkdir(parents=True)
    shutil.copy(EXAMPLE / "project.toml", root)
    shutil.copy(EXAMPLE / "locations/features.geojson", root / "locations")
    _first(root, "locations/locations.csv", 4, status="")
    _first(root, "field/samplers.csv", 6, outcome="", label="")
    _first(root, "field/shipments.csv", 1)
    for path in ("field/deployments.csv", "field/return_bags.csv", "field/custody.csv", "field/photos.csv"):
        _first(root, path, 0)
    for path in ("lab/analytes.csv", "lab/lab_samples.csv", "lab/results.csv"):
        _first(root, path, 0)
    return root


def _first(root: Path, path: str, count: int, **values: str) -> None:
    """Copy a table of the example with so many of its first rows, some cells set anew."""
    header, rows = rows_of((EXAMPLE / path).read_bytes())
    lines = [header, *([str({**row, **values}[name]) for name in header] for row in rows[:count])]
    text = "".join(",".join(f'"{cell}"' if "," in cell else cell for cell in line) + "\n" for line in lines)
    (root / path).write_text(text, "utf-8", newline="")
