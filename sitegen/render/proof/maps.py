"""Read GeoJSON and GeoPackage again, and compare rows and places with the report."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import shapely
from shapely.geometry.base import BaseGeometry

from sitegen.render.data.geopackage import GEOMETRY, KEY, STYLES, quote
from sitegen.render.map.layers import WGS84, WGS84_ENDING, reproject
from sitegen.render.proof.tables import differing
from sitegen.report.record.exports import ExportField, ExportLink, ExportTable
from sitegen.report.record.naming import plain_name, unit_name
from sitegen.report.record.pages import Report

_DEGREES = 1e-7
"""What rounding to the millimetre may move a corner, there and back: about a centimetre at most."""

_HEADER, _FLAGS = 8, 3
_ENVELOPES = (0, 32, 48, 48, 64)
"""Bytes of the header, where its flags stand, bytes of the envelope by its code (OGC 12-128r17, 2.1.3)."""

_SYSTEM = """
SELECT organization || ':' || organization_coordsys_id FROM gpkg_geometry_columns
JOIN gpkg_spatial_ref_sys USING (srs_id) WHERE table_name = ?
"""


def geojson_differences(path: Path, table: ExportTable) -> Iterator[str]:
    """Yield what differs between a GeoJSON file and its table."""
    features = json.loads(path.read_bytes())["features"]
    if len(features) != len(table.rows):
        yield f"{path.name}: {len(features)} features instead of {len(table.rows)}"
    names = [field.name for field in table.fields]
    for at, (row, feature) in enumerate(zip(table.rows, features, strict=False)):
        values = dict(zip(names, row, strict=True))
        if table.shapes:
            place: Any = json.loads(json.dumps(table.shapes[at]))
        else:
            at_point = [values.pop(table.lon), values.pop(table.lat)]
            place = None if None in at_point else {"type": "Point", "coordinates": at_point}
        told = "/".join(str(row[table.at(name)]) for name in table.key) or None
        if (feature["properties"], feature["geometry"], feature.get("id")) != (values, place, told):
            yield f"{path.name}, feature {at + 1}"
            return


@dataclass(frozen=True, slots=True)
class _Part:
    """Rows that should stand in one layer, each at its place; ``crs`` is "" where they have none."""

    name: str
    table: ExportTable
    rows: Sequence[tuple[Any, ...]]
    crs: str = ""
    places: Sequence[BaseGeometry | None] = ()
    given: str = ""
    """The system that the places are given in."""


def geopackage_differences(path: Path, report: Report) -> Iterator[str]:
    """Yield what differs between a GeoPackage and the report's tables and site features."""
    with closing(sqlite3.connect(":memory:")) as base:
        try:
            base.deserialize(path.read_bytes())
            for part in _parts(report):
                yield from _differences(base, path.name, part)
        except (sqlite3.Error, shapely.errors.ShapelyError, ValueError) as error:
            yield f"{path.name} can't be read: {error}"


def _parts(report: Report) -> Iterator[_Part]:
    """Yield what the layers should hold, worked out from the tables and features alone."""
    every = (*report.away.tables, *report.exports)
    tables = {table.name: table for table in every}
    crs = next((table.crs for table in every if table.crs), WGS84)
    for table in every:
        link = next((link for link in table.links if link.table in tables and tables[link.table].crs), None)
        if table.crs:
            yield _Part(table.name, table, table.rows, crs, _points(table.places), crs)
            yield _Part(table.name + WGS84_ENDING, table, table.rows, WGS84, _points(_degrees(table)), WGS84)
        elif table.shapes:
            yield from _in_both(table.name, table, _shapes(table.shapes), crs)
        elif link:
            points = tables[link.table]
            yield from _at_points(table, points, link, points.places, crs, "")
            yield from _at_points(table, points, link, _degrees(points), WGS84, WGS84_ENDING)
        else:
            yield _Part(table.name, table, table.rows)
    yield from _features(report, crs)


def _degrees(table: ExportTable) -> list[tuple[Any, Any]]:
    return [(row[table.at(table.lon)], row[table.at(table.lat)]) for row in table.rows]


def _points(places: Iterable[tuple[Any, Any] | None]) -> list[BaseGeometry | None]:
    return [None if place is None or None in place else shapely.Point(place) for place in places]


def _shapes(given: Iterable[Mapping[str, Any]]) -> list[BaseGeometry]:
    return [shapely.geometry.shape(dict(shape)) for shape in given]


def _in_both(name: str, table: ExportTable, degrees: Sequence[BaseGeometry], crs: str) -> Iterator[_Part]:
    yield _Part(name, table, table.rows, crs, degrees, WGS84)
    yield _Part(name + WGS84_ENDING, table, table.rows, WGS84, degrees, WGS84)


def _at_points(
    table: ExportTable,
    points: ExportTable,
    link: ExportLink,
    places: Iterable[tuple[Any, Any] | None],
    crs: str,
    ending: str,
) -> Iterator[_Part]:
    known = dict(zip((_key(points, row, link.to) for row in points.rows), _points(places), strict=True))
    apart = table.at(table.apart)
    for unit in dict.fromkeys(row[apart] for row in table.rows):
        rows = [row for row in table.rows if row[apart] == unit]
        at = [known.get(_key(table, row, link.field)) for row in rows]
        yield _Part(f"{table.name}_{unit_name(unit)}{ending}", table, rows, crs, at, crs)


def _key(table: ExportTable, row: tuple[Any, ...], field: str) -> tuple[Any, Any]:
    """Return the round of a row, None where there are none, and the point that it names."""
    return (row[0] if table.fields[0].name == "round" else None), row[table.at(field)]


_FEATURE_FIELDS = (ExportField("name", "string", "", ""), ExportField("kind", "string", "", ""))


def _features(report: Report, crs: str) -> Iterator[_Part]:
    kinds: dict[str, list[Mapping[str, Any]]] = {}
    for feature in report.map.features:
        kinds.setdefault(str(feature["properties"]["kind"]), []).append(feature)
    for kind, some in kinds.items():
        rows = tuple((feature["properties"].get("name"), kind) for feature in some)
        table = ExportTable(kind, "", "", _FEATURE_FIELDS, rows)
        degrees = _shapes(feature["geometry"] for feature in some)
        yield from _in_both(f"features_{plain_name(kind)}", table, degrees, crs)


def _differences(base: sqlite3.Connection, file: str, part: _Part) -> Iterator[str]:
    where = f"{file}, layer {part.name}"
    fields = ", ".join(quote(field.name) for field in part.table.fields)
    read = base.execute(f"SELECT {fields} FROM {quote(part.name)} ORDER BY {KEY}")  # noqa: S608 - names are quoted
    yield from differing(where, part.table.fields, part.rows, read, {"string": lambda cell: cell or ""})
    if not part.crs:
        return
    yield from _other_styles(base, where, part)
    system = base.execute(_SYSTEM, (part.name,)).fetchone()
    if system != (part.crs,):
        yield f"{where}: the coordinate system is {system} instead of {part.crs}"
    blobs = base.execute(f"SELECT {GEOMETRY} FROM {quote(part.name)} ORDER BY {KEY}")  # noqa: S608 - as above
    found = shapely.from_wkb([blob and blob[_header_bytes(blob) :] for (blob,) in blobs])
    wrong = _first_elsewhere(part, list(found))
    if wrong is not None:
        yield f"{where}, row {wrong + 1}: another place"


def _other_styles(base: sqlite3.Connection, where: str, part: _Part) -> Iterator[str]:
    """Yield a line where the styles of a layer that has some are not those of its table, the usual one first."""
    meant = [(style.name, number == 0) for number, style in enumerate(part.table.styles)]
    read = f"SELECT styleName, useAsDefault FROM {STYLES} WHERE f_table_name = ? ORDER BY id"  # noqa: S608 - our name
    if meant and base.execute(read, (part.name,)).fetchall() != meant:
        yield f"{where}: other styles"


def _header_bytes(blob: bytes) -> int:
    """Return how many bytes stand before the well-known binary."""
    return _HEADER + _ENVELOPES[blob[_FLAGS] >> 1 & 0b111]


def _first_elsewhere(part: _Part, found: Sequence[BaseGeometry | None]) -> int | None:
    """Return the first row whose place is not the one that was meant."""
    same = part.crs == part.given
    read = found if same else reproject(found, part.crs, part.given)
    for at, (meant, got) in enumerate(zip(part.places, read, strict=False)):
        if meant is None or got is None:
            if meant is not got:
                return at
        elif not shapely.equals_exact(meant, got, 0.0 if same else _DEGREES):
            return at
    return None
