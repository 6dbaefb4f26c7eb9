"""The report's data as map layers: rows with their geometries, each layer in one coordinate system.

Each layer of places is there twice: in the system that the points were surveyed in under the name of its
table, and in WGS 84 under that name with an ending. Results stand at their points, a layer for each unit, so
that no legend mixes masses with concentrations. Site features make a layer for each kind. Other tables have
no geometries.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any, TypeAlias

import numpy as np
import pyproj
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from sitegen.report.record.exports import ExportField, ExportTable
from sitegen.report.record.naming import plain_name, unit_name
from sitegen.report.record.pages import Report
from sitegen.report.record.styles import Style

WGS84 = "EPSG:4326"
WGS84_ENDING = "_wgs84"
MAP_DECIMALS, DEGREE_DECIMALS = 3, 9
"""Decimals of what is computed: projected coordinates in metres or feet, and degrees."""

_ROUND = "round"
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
    styles: tuple[Style, ...] = ()
    kind: str = ""
    """The kind of site feature that it holds."""


def map_layers(report: Report) -> Iterator[Layer]:
    """Yield the layers of a report: places first, tables without a place last."""
    every = (*report.away.tables, *report.exports)
    crs = next((table.crs for table in every if table.crs), WGS84)
    tables = {table.name: table for table in every}
    yield from _places(every, crs)
    for layer in _features(report.map.features):
        yield from _in_both(layer, crs)
    for table in every:
        points = next((tables[link.table] for link in table.links if _has_places(tables.get(link.table))), None)
        if points is not None:
            yield from _at_points(table, points)
        elif not (table.shapes or _has_places(table)):
            yield Layer(table.name, table.title, table.note, table.fields, table.rows)


def _has_places(table: ExportTable | None) -> bool:
    return table is not None and bool(table.crs)


def _places(tables: Iterable[ExportTable], crs: str) -> Iterator[Layer]:
    for table in tables:
        bare = Layer(table.name, table.title, table.note, table.fields, table.rows, styles=table.styles)
        if table.crs:
            for shapes, system, ending in _both(table):
                yield replace(bare, name=table.name + ending, crs=system, shapes=shapes)
        if table.shapes:
            shapes = tuple(shapely.geometry.shape(dict(shape)) for shape in table.shapes)
            yield from _in_both(replace(bare, crs=WGS84, shapes=shapes), crs)


_Points: TypeAlias = tuple[BaseGeometry | None, ...]


def _both(table: ExportTable) -> Iterator[tuple[_Points, str, str]]:
    """Yield the places of rows as surveyed and in degrees, each with its system and the ending of its layer's name."""
    at_lon, at_lat = table.at(table.lon), table.at(table.lat)
    yield _points(table.places), table.crs, ""
    yield _points((row[at_lon], row[at_lat]) for row in table.rows), WGS84, WGS84_ENDING


def _points(places: Iterable[tuple[Any, Any] | None]) -> _Points:
    """Return the place of each row, None where no position is on record."""
    return tuple(None if place is None or None in place else shapely.Point(place) for place in places)


def _in_both(layer: Layer, crs: str) -> Iterator[Layer]:
    """Yield a layer in WGS 84 in the project's system, then as it is."""
    yield replace(layer, crs=crs, shapes=reproject(layer.shapes, WGS84, crs))
    yield replace(layer, name=layer.name + WGS84_ENDING)


def reproject(shapes: Iterable[BaseGeometry | None], source: str, target: str) -> tuple[BaseGeometry | None, ...]:
    """Return geometries in another coordinate system, rounded: in metres to the millimetre."""
    transformer = pyproj.Transformer.from_crs(source, target, always_xy=True)
    decimals = DEGREE_DECIMALS if pyproj.CRS.from_user_input(target).is_geographic else MAP_DECIMALS

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
        name, title = f"features_{plain_name(kind)}", f"Site features: {kind}"
        yield Layer(name, title, "", fields, tuple(rows), WGS84, shapes, kind=kind)


def _plain(value: object) -> str | int | float | bool | None:
    return value if value is None or isinstance(value, str | int | float) else json.dumps(value, ensure_ascii=False)


def _feature_field(name: str, column: Iterable[object]) -> ExportField:
    kinds = {type(cell) for cell in column if cell is not None}
    kind = "boolean" if kinds == {bool} else "number" if kinds and kinds <= {int, float} else "string"
    unit = next((unit for ending, unit in _UNITS.items() if name.endswith(ending)), "")
    return ExportField(name, kind, unit, name.removesuffix(f"_{unit}").replace("_", " "))


def _at_points(table: ExportTable, points: ExportTable) -> Iterator[Layer]:
    """Yield the rows of a table at the points that they name, in both systems, layers for each unit."""
    link = next(link for link in table.links if link.table == points.name)
    named, wanted = _names(points, link.to), _names(table, link.field)
    parts: dict[str, list[int]] = {}
    for number, row in enumerate(table.rows):
        parts.setdefault(row[table.at(table.apart)] if table.apart else "", []).append(number)
    for places, crs, ending in _both(points):
        known = dict(zip(named, places, strict=True))
        for part, numbers in parts.items():
            name = f"{table.name}_{unit_name(part)}" if part else table.name
            title = f"{table.title}, {part}" if part else table.title
            rows = tuple(table.rows[number] for number in numbers)
            shapes = tuple(known.get(wanted[number]) for number in numbers)
            yield Layer(name + ending, title, table.note, table.fields, rows, crs, shapes, table.styles)


def _names(table: ExportTable, field: str) -> list[tuple[str, str]]:
    """Return the point of each row, with its round where the table has rounds: a point may move between them."""
    at = table.at(field)
    turn = next((number for number, one in enumerate(table.fields) if one.name == _ROUND), None)
    return [("" if turn is None else row[turn], row[at]) for row in table.rows]
