"""What real points within a real boundary could find: the chance that an area of a size contains one of them.

A source area is a circle, or an ellipse of one shape and any orientation. Its centre is anywhere in the boundary
with one chance, and it may reach over it. The chance is that of a point lying in the area: not of detection.

For circles it is exact: the part of the boundary's area within a radius of a point. The boundary is cut into
what is nearest to each point, and the area that a circle shares with such a piece has a closed formula.
For ellipses it is simulated with a fixed seed, and has a standard error.
"""

from __future__ import annotations

import math
import random
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

FOUND = 0.9
"""The chance with which a size counts as found (common practice, no source)."""

SIMULATED_AREAS = 10_000
"""How many ellipses are tried: the standard error of a chance is 0.005 at most (project default, no source)."""

_SEED = 20_251_101
_ROWS = 12
_DRAWN = 60
_WHOLE = 0.995
_AT_ONCE = 100_000

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Curve:
    """The chance of each size, from small to large.

    ``rows`` are the diameter (an ellipse's longer axis) in metres, the chance, and its standard error; of sizes that
    were not asked for they end where the chance is nearly 1. ``drawn`` are sizes and chances in small steps from
    nothing to the last of the rows. ``found_with_90_m`` is the smallest size whose chance is 0.90, with its standard
    error in metres; None without a point or an area. ``simulated`` is 0 where the chance is exact, by area; errors
    are then 0. ``points`` counts places, two points in one as one.
    """

    rows: tuple[tuple[float, float, float], ...]
    found_with_90_m: float | None
    found_with_90_error_m: float | None
    points: int
    area_m2: float
    ratio: float
    simulated: int
    drawn: tuple[tuple[float, float], ...] = ()


def curve(
    points_xy: Sequence[tuple[float, float]],
    boundary: BaseGeometry,
    *,
    ratio: float = 1.0,
    sizes_m: Sequence[float] = (),
) -> Curve:
    """Return the chance that an area with its centre in the boundary contains one of the points.

    Coordinates in metres, in one projected system. ``ratio`` is an ellipse's shorter axis over its longer, 1 for
    circles; ``sizes_m`` are the sizes of the rows, else round ones. Points outside the boundary count like others: an
    area that reaches over it may contain them. Raises ValueError for a ratio that is none.

    One point in the middle of a square of 100 m: a circle of 20 m across contains it where its centre is within
    10 m, in pi 10^2 of 10,000 m^2.

    >>> one = curve([(50.0, 50.0)], shapely.box(0, 0, 100, 100))
    >>> [(size, round(chance, 4)) for size, chance, error in one.rows][:2]
    [(20.0, 0.0314), (40.0, 0.1257)]
    """
    if not 0 < ratio <= 1:
        raise ValueError(f"a ratio of {ratio}")
    area = float(boundary.area)
    if not points_xy or area <= 0:
        return Curve((), None, None, 0, area, ratio, 0)
    middle = boundary.envelope.centroid
    places = np.unique(np.round(np.array(points_xy) - (middle.x, middle.y), 3), axis=0)
    ground = shapely.transform(boundary, lambda xy: xy - (middle.x, middle.y))
    if ratio == 1 and (pieces := _Pieces.cut(places, ground)):
        return _exact(pieces, len(places), sizes_m)
    return _simulated(places, ground, ratio, sizes_m)


@dataclass(frozen=True, slots=True)
class _Pieces:
    """The edges of the pieces nearest to each point, from and to, as seen from that point."""

    start: Floats
    end: Floats
    area: float

    @classmethod
    def cut(cls, places: Floats, ground: BaseGeometry) -> _Pieces | None:
        """Cut the ground into what is nearest to each point; None where the pieces don't fill it."""
        dots = shapely.multipoints(places)
        cells = shapely.get_parts(shapely.voronoi_polygons(dots, extend_to=ground, ordered=True))
        cut = _within(cells, ground) if len(places) > 1 else np.array([ground])
        parts, owner = shapely.get_parts(cut, return_index=True)
        polygons, whose = shapely.get_parts(parts, return_index=True)
        whole = shapely.area(polygons) > 0
        rings, which = shapely.get_rings(shapely.orient_polygons(polygons[whole]), return_index=True)
        xy, ring = shapely.get_coordinates(rings, return_index=True)
        xy = xy - places[owner[whose[whole][which[ring]]]]
        joined = (ring[1:] == ring[:-1]) & (xy[1:] != xy[:-1]).any(axis=1)
        made = cls(xy[:-1][joined], xy[1:][joined], float(ground.area))
        return made if math.isclose(float(_cross(made.start, made.end).sum()) / 2, made.area, rel_tol=1e-6) else None

    @property
    def reach(self) -> float:
        """The distance of the furthest corner from its nearest point."""
        return float(np.hypot(*self.start.T).max())

    def chance(self, radius: float) -> float:
        """Return the part of the ground within a radius of its nearest point.

        Along each edge, what lies inside the circle adds a triangle with the point, what lies outside a sector.
        """
        if radius >= self.reach:
            return 1.0
        step = self.end - self.start
        square = (step**2).sum(axis=1)
        along = -(self.start * step).sum(axis=1) / square
        away2 = _cross(self.start, self.end) ** 2 / square
        half = np.sqrt(np.clip(radius**2 - away2, 0, None) / square)
        goes_in, comes_out = np.clip([along - half, along + half], 0, 1)
        into = self.start + goes_in[:, None] * step
        out = self.start + comes_out[:, None] * step
        turn = _angle(self.start, into) + _angle(out, self.end)
        covered = float((_cross(into, out) + radius**2 * turn).sum()) / 2
        return min(max(covered / self.area, 0.0), 1.0)


def _within(cells: NDArray[np.object_], ground: BaseGeometry) -> NDArray[np.object_]:
    """Return the parts of cells within the ground; only those on its edge are cut, for that takes all its corners."""
    shapely.prepare(ground)
    across = ~shapely.contains_properly(ground, cells)
    cut = np.array(cells)
    cut[across] = shapely.intersection(cells[across], ground)
    return cut


def _exact(pieces: _Pieces, places: int, sizes_m: Sequence[float]) -> Curve:
    def size_of(chance: float) -> float:
        low, high = 0.0, pieces.reach
        for _ in range(60):
            middle = (low + high) / 2
            low, high = (middle, high) if pieces.chance(middle) < chance else (low, middle)
        return 2 * high

    rows = tuple((size, pieces.chance(size / 2), 0.0) for size in sizes_m or _sizes(size_of(_WHOLE)))
    drawn = tuple((size, pieces.chance(size / 2)) for size in _steps(rows[-1][0]))
    return Curve(rows, size_of(FOUND), 0.0, places, pieces.area, 1.0, 0, drawn)


def _simulated(places: Floats, ground: BaseGeometry, ratio: float, sizes_m: Sequence[float]) -> Curve:
    """Return the curve of the smallest size, at each of many centres and orientations, that contains a point."""
    smallest = np.sort(_smallest_axes(places, ground, ratio))
    count = len(smallest)

    def chance_of(size: float) -> float:
        return float(np.searchsorted(smallest, size, side="right")) / count

    def size_of(chance: float) -> float:
        return float(smallest[min(max(math.ceil(chance * count), 1), count) - 1])

    apart = standard_error(FOUND, count)
    error = (size_of(FOUND + apart) - size_of(FOUND - apart)) / 2
    chances = [(size, chance_of(size)) for size in sizes_m or _sizes(size_of(_WHOLE))]
    rows = tuple((size, chance, standard_error(chance, count)) for size, chance in chances)
    drawn = tuple((size, chance_of(size)) for size in _steps(rows[-1][0]))
    return Curve(rows, size_of(FOUND), error, len(places), float(ground.area), ratio, count, drawn)


def standard_error(chance: float, count: int) -> float:
    """Return the standard error of a chance that was found in a number of independent trials (binomial).

    >>> round(standard_error(0.9, 10_000), 6)
    0.003
    """
    return math.sqrt(chance * (1 - chance) / count)


def _smallest_axes(places: Floats, ground: BaseGeometry, ratio: float) -> Floats:
    """Return the longer axis of the smallest ellipse that contains a point, for random centres and orientations."""
    draw = random.Random(_SEED).random  # noqa: S311 (a simulation that must repeat, on every machine alike)
    drawn = np.array([draw() for _ in range(4 * SIMULATED_AREAS)]).reshape(-1, 4)
    centres = _places_in(ground, drawn[:, :3])
    turns = np.column_stack([np.cos(math.pi * drawn[:, 3]), np.sin(math.pi * drawn[:, 3])])
    several = max(1, _AT_ONCE // len(places))
    found = []
    for first in range(0, SIMULATED_AREAS, several):
        here, turn = centres[first : first + several], turns[first : first + several]
        x, y = (places[None, :, axis] - here[:, None, axis] for axis in (0, 1))
        along = x * turn[:, None, 0] + y * turn[:, None, 1]
        beside = (y * turn[:, None, 0] - x * turn[:, None, 1]) / ratio
        found.append(2 * np.sqrt((along * along + beside * beside).min(axis=1)))
    return np.concatenate(found)


def _places_in(ground: BaseGeometry, drawn: Floats) -> Floats:
    """Return places with one chance everywhere in the ground, from three random numbers each.

    The first chooses one of the triangles that make up the ground, by area, the others a place in it.
    """
    triangles = shapely.get_parts(shapely.constrained_delaunay_triangles(ground))
    corners = shapely.get_coordinates(triangles).reshape(-1, 4, 2)
    upto = np.cumsum(shapely.area(triangles))
    chosen = np.minimum(np.searchsorted(upto, drawn[:, 0] * upto[-1], side="right"), len(upto) - 1)
    one, two, three = (corners[chosen, corner] for corner in range(3))
    root, share = np.sqrt(drawn[:, 1:2]), drawn[:, 2:3]
    made: Floats = (1 - root) * one + root * ((1 - share) * two + share * three)
    return made


def _sizes(largest: float) -> list[float]:
    """Return some twelve sizes in a round step, up to and over the largest.

    >>> _sizes(23.0)
    [2.0, 4.0, 6.0, 8.0, 10.0, 12.0, 14.0, 16.0, 18.0, 20.0, 22.0, 24.0]
    """
    exponent = math.floor(math.log10(largest / _ROWS))
    step = next(digit * 10.0**exponent for digit in (1, 2, 5, 10) if digit * 10.0**exponent >= largest / _ROWS)
    return [round(step * number, 6) for number in range(1, math.ceil(largest / step) + 1)]


def _steps(largest: float) -> list[float]:
    return [largest * number / _DRAWN for number in range(_DRAWN + 1)]


def _cross(one: Floats, two: Floats) -> Floats:
    made: Floats = one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]
    return made


def _angle(one: Floats, two: Floats) -> Floats:
    """Return the angle from one direction to another, as seen from the point; 0 where a length is 0."""
    made: Floats = np.arctan2(_cross(one, two), (one * two).sum(axis=1))
    return made
