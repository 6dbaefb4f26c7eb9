"""What points within a boundary could find: the chance that a circle of a size contains one of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

_SIDE = 120
_SIZES_M = tuple(range(2, 202, 2))
_FOUND = 0.9


@dataclass(frozen=True, slots=True)
class Curve:
    """Rows of diameter (m), chance and its error, and the smallest size with a chance of 0.90, None without one."""

    rows: tuple[tuple[float, float, float], ...]
    found_with_90_m: float | None


def curve(points_xy: Sequence[tuple[float, float]], boundary: BaseGeometry, *, ratio: float = 1.0) -> Curve:
    """Return the chance by counting the nodes of a fine grid in the boundary that have a point within the radius."""
    if not points_xy or not boundary.area or ratio != 1.0:
        return Curve((), None)
    west, south, east, north = boundary.bounds
    grid = np.meshgrid(np.linspace(west, east, _SIDE), np.linspace(south, north, _SIDE))
    xy = np.column_stack([axis.ravel() for axis in grid])
    xy = xy[shapely.contains_xy(boundary, xy[:, 0], xy[:, 1])]
    tree = shapely.STRtree([shapely.Point(place) for place in points_xy])
    _, away = tree.query_nearest(shapely.points(xy), all_matches=False, return_distance=True)
    rows = tuple((float(size), float((away <= size / 2).mean()), 0.0) for size in _SIZES_M)
    return Curve(rows, float(np.quantile(away, _FOUND, method="higher")) * 2)
