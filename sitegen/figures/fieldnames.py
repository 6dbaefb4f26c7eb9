"""Where on a map a feature's name may stand: on what of the feature the map shows."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import shapely
from shapely.geometry import LineString, MultiLineString, Polygon, box
from shapely.geometry.base import BaseGeometry

from sitegen.figures.inputs import PlaceFeature

_SHARES = (0.5, 0.3, 0.7, 0.15, 0.85)
_MOST = 3
"""Pieces of a line that are tried, the longest first."""


def name_spots(feature: PlaceFeature, limits_m: tuple[float, float, float, float]) -> tuple[tuple[float, float], ...]:
    """Return spots (easting, northing) for a feature's name within west, east, south and north, best first.

    There is none where the map shows nothing of the feature. The boundary's name stands on its line.

    >>> name_spots(PlaceFeature("utility", "Drain", "line", (((0, 0), (20, 0)),)), (0, 10, -5, 5))[0]
    (5.0, 0.0)
    """
    west, east, south, north = limits_m
    window = box(west, south, east, north)
    if feature.geometry == "point":
        return tuple(part[0] for part in feature.parts if west <= part[0][0] <= east and south <= part[0][1] <= north)
    if feature.geometry == "area" and feature.kind != "site_boundary":
        shape = shapely.make_valid(Polygon(feature.parts[0])) if len(feature.parts[0]) > 3 else Polygon()
        return tuple(_across(shape.intersection(window)))
    lines = MultiLineString([part for part in feature.parts if len(part) > 1])
    return tuple(_along(lines.intersection(window)))


def _across(shape: BaseGeometry) -> Iterator[tuple[float, float]]:
    """Yield spots across the box around a shape, those within the shape."""
    if shape.is_empty:
        return
    west, south, east, north = shape.bounds
    for up in (0.5, 0.8, 0.2):
        for across in (0.5, 0.3, 0.7):
            spot = (west + (east - west) * across, south + (north - south) * up)
            if shape.covers(shapely.Point(spot)):
                yield spot


def _along(lines: BaseGeometry) -> Iterator[tuple[float, float]]:
    """Yield spots along the longest pieces of lines."""
    pieces = [LineString(pair) for part in shapely.get_parts(lines) for pair in _pairs(part)]
    for piece in sorted(pieces, key=lambda one: (-one.length, one.bounds))[:_MOST]:
        for share in _SHARES:
            spot = piece.interpolate(share, normalized=True)
            yield (spot.x, spot.y)


def _pairs(part: BaseGeometry) -> Iterator[tuple[tuple[float, float], tuple[float, float]]]:
    if part.geom_type == "LineString":
        corners = [(float(x), float(y)) for x, y in part.coords]
        yield from pairwise(corners)
