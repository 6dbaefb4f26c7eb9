"""Nearest neighbours of points, with distance and direction."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from shapely import STRtree
from shapely.geometry import Point as Dot

from sitegen.compute.place.points import Point, bearing_deg, direction_word


@dataclass(frozen=True, slots=True)
class Neighbour:
    """A neighbour: its id, the distance in map units (m) and the direction in words."""

    location_id: str
    distance_m: float
    direction: str


def neighbours(points: tuple[Point, ...], count: int = 3) -> dict[str, tuple[Neighbour, ...]]:
    """Return the nearest ``count`` neighbours of each point, nearest first.

    Points that tie are taken in id order.
    """
    if len(points) < 2:
        return {point.location_id: () for point in points}
    xy = np.array([(point.x, point.y) for point in points])
    tree = STRtree([Dot(x, y) for x, y in xy])
    reach = _reach(xy, count)
    nearest = {}
    for at, point in enumerate(points):
        near = tree.query(Dot(*xy[at]).buffer(reach)) if reach else np.arange(len(points))
        if len(near) <= count:
            near = np.arange(len(points))
        distance = np.hypot(*(xy[near] - xy[at]).T)
        ranked = sorted(
            (round(float(d), 6), points[int(i)].location_id, int(i))
            for d, i in zip(distance, near, strict=True)
            if i != at
        )
        nearest[point.location_id] = tuple(_neighbour(point, points[i], d) for d, _, i in ranked[:count])
    return nearest


def _reach(xy: np.ndarray[tuple[int, ...], np.dtype[np.float64]], count: int) -> float:
    """Return a search radius that holds enough neighbours for most points."""
    width, height = xy.max(axis=0) - xy.min(axis=0)
    area = max(float(width * height), 1.0)
    return float(np.sqrt(area / len(xy)) * (count + 2))


def _neighbour(point: Point, other: Point, distance: float) -> Neighbour:
    return Neighbour(other.location_id, distance, direction_word(bearing_deg(point.x, point.y, other.x, other.y)))
