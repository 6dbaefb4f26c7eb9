"""What a site feature may hold: bounds on its vertices, edges and properties, each with its reason.

What slow or endless geometry has in common is many edges whose boxes overlap: every algorithm on
shapes compares such edges in pairs. They are counted before anything else is asked of a shape, in
pieces, and no further than the bound.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping
from typing import Any, Literal, TypeAlias

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from sitegen.project import limits

Places: TypeAlias = NDArray[np.float64]
Edges: TypeAlias = NDArray[Any]

_PIECE = 256
_NOT_TEXT = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ud800-\udfff]")
_FAMILIES: dict[str, Any] = {
    "Point": shapely.MultiPoint,
    "LineString": shapely.MultiLineString,
    "Polygon": shapely.MultiPolygon,
}


def property_fault(properties: Mapping[str, object]) -> tuple[str, str]:
    """Say what is wrong with a feature's properties and what is expected; ("", "") where nothing is.

    >>> property_fault({"name": "Laundry", "storeys": 10**400})
    ("the property 'storeys' with a number of 401 digits", 'at most 9,007,199,254,740,991 as a whole number')
    """
    if len(properties) > limits.PROPERTIES.value:
        return f"{len(properties):,} properties", limits.PROPERTIES.at_most
    if len(str(properties.get("name") or "")) > limits.FEATURE_NAME.value:
        return f"a name of {len(str(properties['name'])):,} characters", limits.FEATURE_NAME.at_most
    for key, value in properties.items():
        said, expected = _value_fault(key, 0)
        if not said:
            said, expected = _value_fault(value, limits.PROPERTY_DEPTH.value)
        if said:
            return f"the property {key[:40]!a} with {said}", expected
    return "", ""


def _value_fault(value: object, levels: int) -> tuple[str, str]:
    if isinstance(value, str):
        return _text_fault(value)
    if isinstance(value, float) and not math.isfinite(value):
        return "a number that is not finite", "a finite number"
    if isinstance(value, int) and abs(value) > limits.PROPERTY_NUMBER.value:
        return f"a number of {len(str(abs(value)))} digits", limits.PROPERTY_NUMBER.at_most
    if isinstance(value, dict | list):
        return _list_fault(value, levels)
    return "", ""


def _text_fault(text: str) -> tuple[str, str]:
    if len(text) > limits.PROPERTY_CHARS.value:
        return f"{len(text):,} characters", limits.PROPERTY_CHARS.at_most
    odd = _NOT_TEXT.search(text)
    return (f"the character U+{ord(odd[0]):04X}", "text without control characters") if odd else ("", "")


def _list_fault(value: dict[str, object] | list[object], levels: int) -> tuple[str, str]:
    if not levels:
        return f"lists within lists, more than {limits.PROPERTY_DEPTH.value} deep", limits.PROPERTY_DEPTH.at_most
    inner = [*value, *value.values()] if isinstance(value, dict) else value
    if len(inner) > limits.PROPERTIES.value:
        return f"a list of {len(inner):,}", limits.PROPERTIES.at_most
    faults = (_value_fault(one, levels - 1) for one in inner)
    return next((fault for fault in faults if fault[0]), ("", ""))


def meetings(shapes: Iterable[BaseGeometry], most: int = limits.MEETINGS.value) -> int:
    """Return how many pairs of edges have overlapping boxes, neighbours left out; counting ends beyond ``most``.

    >>> meetings([shapely.from_wkt("LINESTRING (0 0, 4 4, 8 0, 8 4, 0 2)")])
    2
    """
    starts, ends = _edges(shapes)
    low, high = np.minimum(starts, ends), np.maximum(starts, ends)
    return _pairs(shapely.box(low[:, 0], low[:, 1], high[:, 0], high[:, 1]), most, None)


def crossings(shape: BaseGeometry, most: int = limits.CROSSINGS.value) -> int:
    """Return how many pairs of a shape's edges have a place in common, neighbours left out; ends beyond ``most``.

    The first and the last edge of a ring count as such a pair.

    >>> crossings(shapely.from_wkt("POLYGON ((0 0, 2 2, 2 0, 0 2, 0 0))"))
    2
    """
    starts, ends = _edges([shape])
    edges = np.asarray(shapely.linestrings(np.stack([starts, ends], axis=1)), dtype=object)
    return _pairs(edges, most, "intersects")


def _pairs(edges: Edges, most: int, predicate: Literal["intersects"] | None) -> int:
    tree, count = shapely.STRtree(edges), 0
    for start in range(0, len(edges), _PIECE):
        one, other = tree.query(edges[start : start + _PIECE], predicate=predicate)
        count += int((other - one - start > 1).sum())
        if count > most:
            break
    return count


def _edges(shapes: Iterable[BaseGeometry]) -> tuple[Places, Places]:
    """Return where each edge of all lines and rings starts and ends; single places have none."""
    parts = shapely.get_parts(np.array(list(shapes), dtype=object))
    lines = [*shapely.get_rings(parts), *(part for part in parts if part.geom_type == "LineString")]
    places, line = shapely.get_coordinates(np.array(lines, dtype=object), return_index=True)
    inside = line[:-1] == line[1:]
    return places[:-1][inside], places[1:][inside]


def of_one_kind(geometry: BaseGeometry, dimension: int) -> BaseGeometry | None:
    """Return the parts of a geometry that have a dimension, as one shape; None where there is none.

    >>> mixed = shapely.from_wkt("GEOMETRYCOLLECTION (POINT (1 1), LINESTRING (0 0, 1 1))")
    >>> of_one_kind(mixed, 1).wkt
    'LINESTRING (0 0, 1 1)'
    """
    if geometry.geom_type != "GeometryCollection":
        return geometry
    parts = [part for one in shapely.get_parts(geometry) for part in shapely.get_parts(one)]
    kept = [part for part in parts if int(shapely.get_dimensions(part)) == dimension]
    if not kept:
        return None
    whole: BaseGeometry = kept[0] if len(kept) == 1 else _FAMILIES[kept[0].geom_type](kept)
    return whole
