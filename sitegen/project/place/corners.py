"""Site features typed as corners: ``locations/corners.csv``, in the project's own system or in WGS 84."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import groupby

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from sitegen.project import limits
from sitegen.project.place.coordinates import WGS84, crs
from sitegen.project.place.drawn import Drawing, Drawn, Unusable, number, too_many
from sitegen.project.place.parts import Places, line_of, point_of, polygon_of
from sitegen.project.read.cells import tidy
from sitegen.project.read.csvtext import RawTable, read_csv
from sitegen.project.settings import FilePart

CORNERS_FILE = "locations/corners.csv"
COLUMNS: Mapping[str, str] = {
    "feature": "a word shared by the rows of one feature",
    "kind": "kind of feature, as above; at least in its first row",
    "name": "the name on the maps",
    "order": "the position of the corner in the outline, from 1",
    "easting": "of the corner, in the project's system (`[space] crs`)",
    "northing": "of the corner, in the project's system (`[space] crs`)",
    "longitude": "of the corner, in WGS 84 degrees, instead of easting and northing",
    "latitude": "of the corner, in WGS 84 degrees, instead of easting and northing",
    "shape": "`point`, `line` or `area`; if blank, the default of its kind",
    "public": "`yes` or `no`; `no` excludes it from reports for others",
}
"""The columns with their meaning; any further column is a property."""
LINE_KINDS = ("utility", "flow_line")
SHAPES = ("point", "line", "area")
_OF_CORNERS = ("feature", "order", "easting", "northing", "longitude", "latitude", "shape")
_METRES, _DEGREES = ("easting", "northing"), ("longitude", "latitude")


def read_corners(content: bytes, how: FilePart, system: str, file: str) -> Drawing:
    """Return what a table of corners draws. Raises Unusable where it lacks a column, or is too large."""
    table, problems = read_csv(file, content, encoding=how.encoding, delimiter=how.delimiter)
    if table is None or problems:
        first = problems[0]
        raise Unusable(first.found, first.expected, first.do)
    columns = _columns(table)
    source = WGS84 if columns == _DEGREES else system
    known = crs(source) if source else None
    if known is None:
        do = "write crs under [space] in project.toml, or give longitude and latitude"
        raise Unusable("easting and northing without a known system", "the project's own system", do)
    at = table.header.index("feature")
    filled = [(tidy(row[at]), number, row) for row, number in zip(table.rows, table.numbers, strict=True)]
    order = {name: place for place, name in reversed(list(enumerate(name for name, *_ in filled)))}
    grouped = groupby(sorted(filled, key=lambda one: order[one[0]]), key=lambda one: one[0])
    features = [_drawn(name, [(n, dict(zip(table.header, row, strict=True))) for _, n, row in rows], columns)
                for name, rows in grouped]  # fmt: skip
    if len(features) > limits.FEATURES.value:
        raise too_many(len(features))
    return Drawing(tuple(features), source, known.name)


def _columns(table: RawTable) -> tuple[str, str]:
    """Return the pair of columns that holds the coordinates."""
    missing = [name for name in ("feature", "kind", "order") if name not in table.header]
    pairs = [pair for pair in (_METRES, _DEGREES) if set(pair) <= set(table.header)]
    if missing:
        raise Unusable(f"no column {missing[0]}", ", ".join(COLUMNS), f"add the column {missing[0]}")
    if len(pairs) != 1:
        found = "two pairs of columns of coordinates" if pairs else "no columns of coordinates"
        raise Unusable(found, "easting and northing, or longitude and latitude", "keep one pair of columns")
    return pairs[0]


def _drawn(name: str, rows: list[tuple[int, dict[str, str]]], columns: tuple[str, str]) -> Drawn:
    """Return the feature that rows of one name draw; a property stands in any of its rows, or in all."""
    first = rows[0][0]
    try:
        properties = _properties(name, [row for _, row in rows])
        shape = _shape({tidy(row["shape"]) for _, row in rows if tidy(row.get("shape", ""))})
        places = _places(rows, columns)
    except Unusable as fault:
        return Drawn(None, fault=fault, row=first)
    geometry: BaseGeometry = point_of(places) if len(places) == 1 else line_of(places)
    return Drawn(geometry, properties, corners=True, outline=shape, row=first)


def _properties(feature: str, rows: list[dict[str, str]]) -> dict[str, str]:
    """Return what the rows of a feature say of it beside its corners."""
    if not feature:
        raise Unusable("a blank feature", "a word shared by the rows of one feature", "fill in feature")
    properties: dict[str, str] = {}
    for row in rows:
        for key, text in row.items():
            said = tidy(text)
            if said and key not in _OF_CORNERS and properties.setdefault(key, said) != said:
                found = f"{key} {properties[key][:40]!r} and {said[:40]!r} of the feature {feature[:40]!r}"
                raise Unusable(found, "one value for a feature", "enter the same value in every row, or only once")
    return properties


def _shape(stated: set[str]) -> str:
    if len(stated) > 1 or stated - set(SHAPES):
        found = f"the shape {' and '.join(sorted(stated))[:60]!r}"
        raise Unusable(found, f"one of {', '.join(SHAPES)}", "correct the shape, or leave it blank")
    return next(iter(stated), "")


def _places(rows: list[tuple[int, dict[str, str]]], columns: tuple[str, str]) -> Places:
    """Return the corners in their order, each once."""
    corners: dict[float, list[float]] = {}
    for row_number, row in rows:
        try:
            order = number(row["order"])
            corner = [number(row[name]) for name in columns]
        except ValueError as error:
            raise Unusable(f"in row {row_number} {error}", "order and coordinates as numbers", "correct it") from error
        if order in corners:
            found = f"the order {row['order'].strip()} twice, the second time in row {row_number}"
            raise Unusable(found, "each position once", "number the corners 1, 2, 3 …")
        corners[order] = corner
    return np.array([corners[order] for order in sorted(corners)], dtype=float)


def outline(geometry: BaseGeometry, kind: str, stated: str) -> BaseGeometry:
    """Return the shape that a line of corners is by what is stated, or else by its kind.

    A utility or flow line is a line; ``other`` is one unless its last corner is its first again; every
    other kind encloses an area, closed by itself. One corner is a point.

    >>> outline(shapely.LineString([(0, 0), (2, 0), (2, 2)]), "building", "").wkt
    'POLYGON ((0 0, 2 0, 2 2, 0 0))'
    """
    if geometry.geom_type != "LineString":
        if stated not in ("", "point"):
            raise Unusable(
                f"one corner of {'an' if stated == 'area' else 'a'} {stated}",
                "two corners for a line, three for an area",
                "add the others",
            )
        return geometry
    places = shapely.get_coordinates(geometry)
    distinct = len(np.unique(places, axis=0))
    closed = len(places) > 3 and np.array_equal(places[0], places[-1])
    line = kind in LINE_KINDS or (kind == "other" and not closed)
    area = stated == "area" or not (stated or line)
    if stated == "point" or (area and distinct < 3):
        what = stated or kind.replace("_", " ")
        found = f"{distinct} corners of {'an' if what[0] in 'aeiou' else 'a'} {what}"
        raise Unusable(found, "one corner for a point, three for an area", "correct them, or write line as its shape")
    if not area:
        return geometry
    return polygon_of([places if closed else np.vstack([places, places[:1]])])
