"""What an unbounded regular grid can find, by geometry alone: square, triangular or any other lattice of points."""

from __future__ import annotations

import math
from typing import NamedTuple

_ORIENTATIONS = 720


class Step(NamedTuple):
    """A step from one point of a grid to another, in metres."""

    x_m: float
    y_m: float


def square_chance(axis_m: float, spacing_m: float, ratio: float = 1.0) -> float:
    """Return the chance that an area contains at least one point of an unbounded square grid.

    ``axis_m`` is a circle's diameter, or an ellipse's longer axis; ``ratio`` is the shorter over the longer. The
    area's centre is anywhere, its orientation any. Until a circle's radius r is half of the spacing G the chance
    is pi r^2 / G^2; from r = G / sqrt 2 it is 1. (R. O. Gilbert, Statistical Methods for Environmental Pollution
    Monitoring, 1987, chapter 10, has the same in a nomograph: 0.90 at about r/G = 0.56; from memory.)

    >>> round(square_chance(10.0, 10.0), 4), square_chance(14.15, 10.0), round(square_chance(2 * 5.6, 10.0), 1)
    (0.7854, 1.0, 0.9)
    """
    return lattice_chance(axis_m, Step(spacing_m, 0.0), Step(0.0, spacing_m), ratio)


def triangular_chance(axis_m: float, spacing_m: float, ratio: float = 1.0) -> float:
    """Return the chance that an area contains at least one point of an unbounded triangular grid of one spacing.

    As `square_chance`; for circles it is 2 pi r^2 / (sqrt 3 G^2) until r = G / 2, and 1 from r = G / sqrt 3.

    >>> round(triangular_chance(10.0, 10.0), 4), triangular_chance(11.55, 10.0)
    (0.9069, 1.0)
    """
    return lattice_chance(axis_m, Step(spacing_m, 0.0), Step(spacing_m / 2, spacing_m * math.sqrt(3) / 2), ratio)


def lattice_chance(axis_m: float, one: Step, two: Step, ratio: float = 1.0) -> float:
    """Return the chance that an area contains at least one point of the unbounded grid of two steps.

    An ellipse becomes a circle when the plane is squeezed along its longer axis, and the grid another grid; the
    chance over all orientations is the mean of evenly spread ones. Raises ValueError for a size, spacing or ratio
    that is none.
    """
    if not (axis_m >= 0 and 0 < ratio <= 1 and abs(_cross(one, two)) > 0):
        raise ValueError(f"axis {axis_m}, ratio {ratio}, steps {one} and {two}")
    if ratio == 1:
        return _circle_chance(axis_m / 2, one, two)
    turned = (math.pi * (at + 0.5) / _ORIENTATIONS for at in range(_ORIENTATIONS))
    chances = (
        _circle_chance(ratio * axis_m / 2, _squeezed(one, angle, ratio), _squeezed(two, angle, ratio))
        for angle in turned
    )
    return math.fsum(chances) / _ORIENTATIONS


def _circle_chance(radius: float, one: Step, two: Step) -> float:
    """Return the part of a grid's cell that lies within a radius of its point.

    The cell is what is nearer to its point than to any other: a hexagon whose corners all lie at one distance, so
    that the circle loses one segment over each side until it reaches the corners, and there covers everything.
    """
    sides = _nearest_steps(one, two)
    lengths = [math.hypot(*side) for side in sides]
    area = abs(_cross(one, two))
    if radius >= math.prod(lengths) / (2 * area):  # a triangle of the grid has half of the area: abc / (4 A)
        return 1.0
    return (math.pi * radius**2 - 2 * math.fsum(_segment(radius, length / 2) for length in lengths)) / area


def _segment(radius: float, away: float) -> float:
    """Return the area of a circle beyond a line at a distance from its centre."""
    if away >= radius:
        return 0.0
    return radius**2 * math.acos(away / radius) - away * math.sqrt(radius**2 - away**2)


def _nearest_steps(one: Step, two: Step) -> tuple[Step, Step, Step]:
    """Return the three shortest steps of a grid, of which a triangle without an obtuse angle can be made.

    Lagrange's reduction of two steps, then their difference or sum, whichever is shorter.
    """
    while True:
        if math.hypot(*one) > math.hypot(*two):
            one, two = two, one
        times = round((one.x_m * two.x_m + one.y_m * two.y_m) / (one.x_m**2 + one.y_m**2))
        if times == 0:
            break
        two = Step(two.x_m - times * one.x_m, two.y_m - times * one.y_m)
    sign = 1 if one.x_m * two.x_m + one.y_m * two.y_m > 0 else -1
    return one, two, Step(two.x_m - sign * one.x_m, two.y_m - sign * one.y_m)


def _squeezed(step: Step, angle: float, ratio: float) -> Step:
    """Return a step of the plane turned by an angle and squeezed along its first axis."""
    along = math.cos(angle) * step.x_m + math.sin(angle) * step.y_m
    return Step(ratio * along, math.cos(angle) * step.y_m - math.sin(angle) * step.x_m)


def _cross(one: Step, two: Step) -> float:
    return one.x_m * two.y_m - one.y_m * two.x_m
