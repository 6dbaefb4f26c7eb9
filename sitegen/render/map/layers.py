"""The report's data as map layers: rows with their geometries, each layer in one coordinate system.

Tables whose rows are places become layers in the project's system and a second time in WGS 84.
Results stand at their points in the project's system, a layer for each unit, so that no legend
mixes masses with concentrations. Site features make a layer for each kind. Other tables have no
geometries.
"""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pyproj
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from sitegen.report.record.exports import ExportField, ExportTable
from sitegen.report.record.pages import Report

WGS84 = "EPSG:4326"
WGS84_ENDING = "_wgs84"
MAP_DECIMALS = 3
"""Projected coordinates are written to the millimetre, in metres."""

_NOT_A_NAME = re.compile(r"\W+", re.ASCII)
_UNITS = {"_ft": "ft", "_m": "m"}


@dataclass(frozen=True, slots=True)
class Layer:
    """Rows under one name; ``shapes`` has a geometry (x before y) or None for each, or is empty.

    ``crs`` is the system of the geometries, "" where the layer has none.
    """

    name: str
    title: str
    note: str
    fields: tuple[ExportField, ...]
    rows: tuple[tuple[Any, ...], ...]
    crs: str = ""
    shapes: tuple[BaseGeometry | None, ...] = ()


def map_layers(report: Report) -> Iterator[Layer]:
    """Yield the layers of a report: places first, tables without a place last."""
    crs = next((table.crs for table in report.exports if table.crs), WGS84)
    tables = {table.name: table for table in report.exports}
    yield from _places(report.exports, crs)
    for layer in _features(report.map.features):
        yield from _in_both(layer, crs)
    for table in report.exports:
        points = next((tables[link.table] for link in table.links if _has_places(tables.get(link.table))), None)
        if points is not None:
            yield from _at_points(table, points)
        elif not (table.shapes or _has_places(table)):
            yield Layer(table.name, table.title, table.note, table.fields, table.rows)


def _has_places(table: ExportTable | None) -> bool:
    return table is not None and bool(table.x)


def _places(tables: Iterable[ExportTable], crs: str) -> Iterator[Layer]:
    for table in tables:
        bare = Layer(table.name, table.title, table.note, table.fields, table.rows)
        if table.x:
            yield replace(bare, crs=table.crs, shapes=_points(table, table.x, table.y))
        if table.lon:
            yield replace(bare, name=table.name + WGS84_ENDING, crs=WGS84, shapes=_points(table, table.lon, table.lat))
        if table.shapes:
            shapes = tuple(shapely.geometry.shape(dict(shape)) for shape in table.shapes)
            yield from _in_both(replace(bare, crs=WGS84, shapes=shapes), crs)


def _points(table: ExportTable, x: str, y: str) -> tuple[BaseGeometry | None, ...]:
    """Return the place of each row, None where no position is on record."""
    at_x, at_y = table.at(x), table.at(y)
    return tuple(None if row[at_x] is None else shapely.Point(row[at_x], row[at_y]) for row in table.rows)


def _in_both(layer: Layer, crs: str) -> Iterator[Layer]:
    """Yield a layer in WGS 84 in the project's system, then as it is."""
    yield replace(layer, crs=crs, shapes=reproject(layer.shapes, WGS84, crs))
    yield replace(layer, name=layer.name + WGS84_ENDING)


def reproject(shapes: Iterable[BaseGeometry | None], source: str, target: str) -> tuple[BaseGeometry | None, ...]:
    """Return geometries in another coordinate system, those in metres rounded to the millimetre."""
    transformer = pyproj.Transformer.from_crs(source, target, always_xy=True)
    decimals = 9 if target == WGS84 else MAP_DECIMALS

    def move(xy: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.round(np.column_stack(transformer.transform(xy[:, 0], xy[:, 1])), decimals)

    return tuple(None if shape is None else shapely.transform(shape, move) for shape in shapes)


def _features(features: Iterable[Mapping[str, Any]]) -> Iterator[Layer]:
    """Yield a layer in WGS 84 for each kind of site feature, in order of first appearance."""
    kinds: dict[str, list[Mapping[str, Any]]] = {}
    for feature in features:
        kinds.setdefault(str(feature["properties"]["kind"]), []).append(feature)
    for kind, some in kinds.items():
        properties = [feature["properties"] for feature in some]
        names = dict.fromkeys(("name", "kind", *(name for one in properties for name in one)))
        columns = {name: [_plain(one.get(name)) for one in properties] for name in names}
        fields = tuple(_feature_field(name, column) for name, column in columns.items())
        texts = [field.type == "string" for field in fields]
        rows = (
            tuple(str(cell) if text and cell is not None else cell for cell, text in zip(row, texts, strict=True))
            for row in zip(*columns.values(), strict=True)
        )
        shapes = tuple(shapely.geometry.shape(feature["geometry"]) for feature in some)
        yield Layer(f"features_{plain_name(kind)}", f"Site features: {kind}", "", fields, tuple(rows), WGS84, shapes)


def _plain(value: object) -> str | int | float | bool | None:
    return value if value is None or isinstance(value, str | int | float) else json.dumps(value, ensure_ascii=False)


def _feature_field(name: str, column: Iterable[object]) -> ExportField:
    kinds = {type(cell) for cell in column if cell is not None}
    kind = "boolean" if kinds == {bool} else "number" if kinds and kinds <= {int, float} else "string"
    unit = next((unit for ending, unit in _UNITS.items() if name.endswith(ending)), "")
    return ExportField(name, kind, unit, name.removesuffix(f"_{unit}").replace("_", " "))


def _at_points(table: ExportTable, points: ExportTable) -> Iterator[Layer]:
    """Yield the rows of a table at the points that they name, a layer for each unit."""
    link = next(link for link in table.links if link.table == points.name)
    places = dict(zip(points.cells(link.others), _points(points, points.x, points.y), strict=True))
    parts: dict[str, list[tuple[Any, ...]]] = {}
    for row in table.rows:
        parts.setdefault(row[table.at(table.apart)] if table.apart else "", []).append(row)
    for part, rows in parts.items():
        name = f"{table.name}_{plain_name(part)}" if part else table.name
        title = f"{table.title}, {part}" if part else table.title
        shapes = tuple(places.get(cells) for cells in replace(table, rows=tuple(rows)).cells(link.fields))
        yield Layer(name, title, table.note, table.fields, tuple(rows), points.crs, shapes)


def plain_name(text: str) -> str:
    """Return a text as a layer's name: ASCII letters, digits and underscores.

    >>> plain_name("ng per sampler"), plain_name("µg/m³")
    ('ng_per_sampler', 'ug_m3')
    """
    ascii_only = unicodedata.normalize("NFKD", text.replace("µ", "u")).encode("ascii", "ignore").decode()
    return _NOT_A_NAME.sub("_", ascii_only).strip("_").lower() or "other"
