"""The same invented site drawn in each kind of file, written by a program that is not ours where one is installed."""

from __future__ import annotations

import csv
import io
import json
import struct
import zipfile
from collections.abc import Iterable, Mapping, Sequence
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import numpy as np
import pyproj
import pytest
import shapely
from in_memory import folder_of
from shapely.geometry.base import BaseGeometry

from sitegen.findings.problems import Finding
from sitegen.project.featurefiles import site_features
from sitegen.project.folder import Folder
from sitegen.project.settings import Settings, read_settings
from sitegen.project.survey import Feature

needs_writer = pytest.mark.skipif(find_spec("geopandas") is None, reason="geopandas and pyogrio are not installed")
"""The reference writer is one of the large optional packages, ``pip install .[outside]``."""

WEST, SOUTH = -99.370000123, 43.080000321
SYSTEM = "EPSG:32614"


def ring(*corners: tuple[float, float]) -> list[tuple[float, float]]:
    """Return corners in ten-thousandths of a degree from the invented site's corner as degrees, closed."""
    places = [(round(WEST + x * 1e-4, 9), round(SOUTH + y * 1e-4, 9)) for x, y in corners]
    return [*places, places[0]]


SITE = shapely.Polygon(ring((0, 0), (50, 0), (50, 40), (0, 40)))
WORKSHOP = shapely.Polygon(ring((5, 5), (15, 5), (15, 12), (9, 14), (5, 12)))
YARD = shapely.Polygon(ring((20, 5), (40, 5), (40, 20), (20, 20)))
ROWS: tuple[tuple[dict[str, str], BaseGeometry], ...] = (
    ({"kind": "site_boundary", "name": "Site", "public": "yes"}, SITE),
    ({"kind": "building", "name": "Workshop"}, WORKSHOP),
    ({"kind": "paved_area", "name": "Yard", "public": "no", "surface": "asphalt"}, YARD),
    ({"kind": "utility", "name": "Drain"}, shapely.LineString(ring((2, 2), (30, 3), (48, 30))[:-1])),
    ({"kind": "well", "name": "MW-1"}, shapely.Point(ring((33, 33))[0])),
)
"""Properties and shape of each feature, areas first; outer rings run counter-clockwise."""


def settings(words: str = "") -> Settings:
    """Return settings of a project in UTM zone 14 N, with further tables."""
    text = f"""
[project]
id = "P-1"
title = "Invented"
site = "Invented"
revision = 0
report_date = 2025-12-31
time_zone = "Etc/UTC"
[space]
crs = "{SYSTEM}"
{words}
"""
    made, findings = read_settings(text.encode())
    assert made is not None, findings
    assert findings == []
    return made


def read(files: Mapping[str, bytes], words: str = "") -> tuple[tuple[Feature, ...], list[Finding]]:
    """Return what is read of a folder with some files in ``locations/``."""
    return site_features(folder(files), settings(words))


def folder(files: Mapping[str, bytes]) -> Folder:
    """Return a folder that holds files in ``locations/``."""
    return folder_of({f"locations/{name}": content for name, content in files.items()})


def geojson(rows: Iterable[tuple[Mapping[str, Any], BaseGeometry]] = ROWS) -> bytes:
    """Return the features as GeoJSON."""
    features = [{"type": "Feature", "properties": dict(p), "geometry": shapely.geometry.mapping(g)} for p, g in rows]
    return json.dumps({"type": "FeatureCollection", "features": features}).encode()


def written(path: Path, driver: str, rows: Sequence[tuple[Mapping[str, str], BaseGeometry]], **how: Any) -> Path:  # noqa: ANN401
    """Write rows with geopandas and pyogrio, in WGS 84 or in the system ``crs``."""
    import geopandas  # noqa: PLC0415 - one of the optional packages

    columns = list(dict.fromkeys(key for properties, _ in rows for key in properties))
    data = {key: [properties.get(key) for properties, _ in rows] for key in columns}
    frame = geopandas.GeoDataFrame(data, geometry=[shape for _, shape in rows], crs="EPSG:4326")
    system = how.pop("crs", "EPSG:4326")
    frame.to_crs(system).to_file(path, driver=driver, engine="pyogrio", **how)
    return path


def of_type(*names: str) -> list[tuple[dict[str, str], BaseGeometry]]:
    """Return the rows whose shapes are of some types."""
    return [(properties, shape) for properties, shape in ROWS if shape.geom_type in names]


def zipped(folder: Path) -> bytes:
    """Return a zip of the files in a folder of the disk."""
    return packed({path.name: path.read_bytes() for path in sorted(folder.iterdir())})


def packed(files: Mapping[str, bytes], method: int = zipfile.ZIP_STORED) -> bytes:
    """Return a zip of some files, plain unless a method is given."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as made:
        for name, content in files.items():
            made.writestr(zipfile.ZipInfo(name), content, method)
    return buffer.getvalue()


def shapefiles(tmp_path: Path, crs: str = "EPSG:4326", **how: Any) -> dict[str, bytes]:  # noqa: ANN401
    """Return the files of three shapefiles, areas, lines and wells, written by the reference writer."""
    for layer, kind in (("a_areas", "Polygon"), ("b_lines", "LineString"), ("c_wells", "Point")):
        written(tmp_path / f"{layer}.shp", "ESRI Shapefile", of_type(kind), crs=crs, **how)
    return {path.name: path.read_bytes() for path in sorted(tmp_path.iterdir())}


def corners(columns: tuple[str, str] = ("longitude", "latitude")) -> bytes:
    """Return the features as a table of corners, each ring without its last one."""
    out = io.StringIO(newline="")
    writer = csv.DictWriter(
        out, ["feature", "kind", "name", "order", *columns, "public", "surface"], lineterminator="\n"
    )
    writer.writeheader()
    to_grid = pyproj.Transformer.from_crs("EPSG:4326", SYSTEM, always_xy=True)
    for at, (properties, shape) in enumerate(ROWS, start=1):
        places = shapely.get_coordinates(shape)
        for order, (x, y) in enumerate(places[:-1] if shape.geom_type == "Polygon" else places, start=1):
            x, y = (float(x), float(y)) if columns[0] == "longitude" else to_grid.transform(x, y)  # noqa: PLW2901
            digits = 9 if columns[0] == "longitude" else 4
            place = dict(zip(columns, (f"{x:.{digits}f}", f"{y:.{digits}f}"), strict=True))
            writer.writerow(properties | {"feature": f"f{at}", "order": str(order)} | place)
    return out.getvalue().encode()


def same(found: Sequence[Feature], expected: Sequence[Feature], degrees: float) -> None:
    """Hold features to others: all alike, and no coordinate further away than some degrees."""
    assert [(f.number, f.kind, f.name, f.public, dict(f.properties)) for f in found] == [
        (f.number, f.kind, f.name, f.public, dict(f.properties)) for f in expected
    ]
    for one, other in zip(found, expected, strict=True):
        assert one.geometry.geom_type == other.geometry.geom_type
        ours, theirs = (shapely.get_coordinates(f.geometry) for f in (one, other))
        assert ours.shape == theirs.shape
        assert float(np.abs(ours - theirs).max()) <= degrees


def shp(kind: int, *contents: bytes) -> bytes:
    """Return a main file of records, by hand."""
    records = b"".join(struct.pack(">II", at, len(c) // 2) + c for at, c in enumerate(contents, start=1))
    head = struct.pack(">I20xI", 9994, (100 + len(records)) // 2) + struct.pack("<II64x", 1000, kind)
    return head + records


def dbf(columns: Sequence[tuple[str, str, int]], *rows: Sequence[bytes], mark: int = 0) -> bytes:
    """Return a dBASE table, by hand: columns are name, type and width; a row's cells as bytes."""
    size = 1 + sum(width for _, _, width in columns)
    fields = b"".join(
        name.encode().ljust(11, b"\0") + kind.encode() + bytes(4) + bytes([width]) + bytes(15)
        for name, kind, width in columns
    )
    head = struct.pack("<BBBBIHH17xB2x", 3, 125, 1, 1, len(rows), 33 + len(fields), size, mark)
    body = b"".join(
        b" " + b"".join(cell.ljust(width) for cell, (_, _, width) in zip(row, columns, strict=True)) for row in rows
    )
    return head + fields + b"\r" + body + b"\x1a"


WGS84_PRJ = (
    b'GEOGCS["GCS_WGS_1984",DATUM["D_WGS_1984",SPHEROID["WGS_1984",6378137.0,298.257223563]],'
    b'PRIMEM["Greenwich",0.0],UNIT["Degree",0.0174532925199433]]'
)
