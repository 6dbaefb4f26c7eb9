"""Archives as `sitegen archive` lays them out, small and invented, so that a shelf of many is made in no time.

Each is a sound bag: settings, boundary, placements, the report's table of compounds and a start page.
"""

from __future__ import annotations

import json
import shutil
from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path

from sitegen.render.place.bag import Label, close_bag, zip_bag

SETTINGS = """\
[project]
id = {project}
title = {title}
site = {site}
client = {client}
revision = {revision}
status = "review"
report_date = {day}
time_zone = "America/Chicago"

[space]
crs = "EPSG:32614"

[publish]
level = "{access}"

[archive]
access = "{access}"
"""
COMPOUNDS = ("Tetrachloroethene", "Trichloroethene", "Toluene")


def square(longitude: float, latitude: float, half: float = 0.001, **more: str) -> dict[str, object]:
    """Return a boundary around a place, in degrees."""
    west, east, south, north = longitude - half, longitude + half, latitude - half, latitude + half
    ring = [[west, south], [east, south], [east, north], [west, north], [west, south]]
    return {
        "type": "Feature",
        "properties": {"kind": "site_boundary", "name": "Boundary", **more},
        "geometry": {"type": "Polygon", "coordinates": [ring]},
    }


def archive_at(
    place: Path,
    project: str = "AA-1",
    revision: int = 1,
    *,
    access: str = "public",
    at: tuple[float, float] | None = (-99.0, 43.0),
    title: str = "Survey of an invented yard",
    site: str = "Invented Yard",
    client: str = "Invented Trust",
    day: str = "2025-12-12",
    detected: Sequence[str] = COMPOUNDS[:2],
    zipped: bool = False,
    name: str = "",
    info: Mapping[str, str] | None = None,
    features: Sequence[object] | None = None,
    days: tuple[str, str] = ("2025-10-23T08:00", "2025-11-06T09:00"),
) -> Path:
    """Write an archive into the folder ``place`` and return it."""
    root = place / (name or f"{project}-r{revision}")
    files = _inputs(access, revision, day, project=project, title=title, site=site, client=client)
    drawn = features if features is not None else [square(*at)] if at else []
    if drawn:
        files["data/project/locations/features.geojson"] = json.dumps({"type": "FeatureCollection", "features": drawn})
    files["data/project/field/deployments.csv"] = (
        "sampler_id,location_id,placed_at,retrieved_at,tz\n"
        f"0001,SG-1,{days[0]},{days[1]},America/Chicago\n0002,SG-2,{days[0]},,America/Chicago\n"
    )
    lines = [f"{one.lower()},{one},soil,10,{3 if one in detected else 0}" for one in COMPOUNDS]
    files["data/site/downloads/compounds.csv"] = "\n".join(["analyte_id,compound,group,analysed,detected", *lines, ""])
    for path, text in files.items():
        (root / path).parent.mkdir(parents=True, exist_ok=True)
        (root / path).write_text(text, "utf-8")
    labels = {
        "Bagging-Date": day, "Bag-Software-Agent": "sitegen 0.1.0", "Project": project, "Revision": str(revision),
        "Report-Status": "for review", "Content-Digest": "0" * 64, "Access-Level": access, **(info or {}),
    }  # fmt: skip
    close_bag(root, [Label(*one) for one in labels.items()], date.fromisoformat(day))
    return _zipped(root, day) if zipped else root


def _inputs(access: str, revision: int, day: str, **words: str) -> dict[str, str]:
    quoted = {name: json.dumps(text) for name, text in words.items()}
    return {
        "data/project/project.toml": SETTINGS.format(**quoted, revision=revision, day=day, access=access),
        "data/site/index.html": "<!doctype html><title>Report</title>",
        "data/provenance.json": '{"prefix": {"this": "urn:sitegen:archive:"}}',
        "README.txt": "An archive for tests.\n",
    }


def _zipped(root: Path, day: str) -> Path:
    """Pack an archive and leave only the zip file."""
    target = root.with_name(f"{root.name}.zip")
    zip_bag(root, target, date.fromisoformat(day), root.name)
    shutil.rmtree(root)
    return target
