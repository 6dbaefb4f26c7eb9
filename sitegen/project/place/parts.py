"""Shapes put together from the numbers that a binary file has: rings, lines and places."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, TypeAlias

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from sitegen.project.place.drawn import Unusable, unreadable

Places: TypeAlias = NDArray[np.float64]

_MAKERS: dict[str, Any] = {
    "Point": shapely.MultiPoint,
    "LineString": shapely.MultiLineString,
    "Polygon": shapely.MultiPolygon,
}


def polygon_of(rings: Sequence[Places]) -> BaseGeometry:
    """Return the polygon of an outer ring and its holes, the outer one counter-clockwise (RFC 7946)."""
    if any(len(ring) < 4 for ring in rings) or not rings:
        raise unreadable("a ring of fewer than three corners")
    shell, *holes = (_closed(ring) for ring in rings)
    return shapely.orient_polygons(shapely.Polygon(shell, holes))


def line_of(places: Places) -> BaseGeometry:
    """Return a line."""
    if len(places) < 2:
        raise unreadable("a line with one position")
    return shapely.LineString(places)


def point_of(places: Places) -> BaseGeometry:
    """Return a single place."""
    if len(places) != 1:
        raise unreadable("a point without a position")
    return shapely.Point(places[0])


def together(parts: Sequence[BaseGeometry]) -> BaseGeometry:
    """Return parts as one shape; a single part as it is."""
    if not parts:
        raise unreadable("a shape without parts")
    if len(parts) == 1:
        return parts[0]
    kinds = {part.geom_type for part in parts}
    if len(kinds) != 1 or not kinds <= _MAKERS.keys():
        do = "make each shape a separate feature"
        raise Unusable("a shape that mixes points, lines and polygons", "only points, lines or polygons", do)
    whole: BaseGeometry = _MAKERS[parts[0].geom_type](list(parts))
    return whole


def _closed(ring: Places) -> Places:
    return ring if np.array_equal(ring[0], ring[-1]) else np.vstack([ring, ring[:1]])
