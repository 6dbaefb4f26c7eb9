"""The order in which points are walked: a short way over all of them, the same on every machine."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

Place = tuple[str, float, float]
"""A point's id, and its easting and northing in metres."""

_MOST_IMPROVED = 400
"""More points than these are walked nearest first, without a search for a shorter way: that takes their square."""
_LEAST_GAIN_M = 1e-6


def walking_order(places: Sequence[Place]) -> tuple[str, ...]:
    """Return the ids of points in the order of a short way that begins at the most south-western one.

    From each point the nearest one that is left comes next, then crossings of the way are undone (2-opt) until
    none makes it shorter. Points that tie are taken by id.

    >>> walking_order([("C", 20, 0), ("A", 0, 0), ("D", 20, 10), ("B", 10, 0)])
    ('A', 'B', 'C', 'D')
    """
    left = sorted(places, key=lambda place: (place[1] + place[2], place[0]))
    if not left:
        return ()
    way = [left.pop(0)]
    while left:
        at = way[-1]
        left.sort(key=lambda place: (round(_apart(at, place), 6), place[0]))
        way.append(left.pop(0))
    return tuple(name for name, _, _ in (_untangled(way) if len(way) <= _MOST_IMPROVED else way))


def length_m(places: Sequence[Place]) -> float:
    """Return the length of the way over points in the order given.

    >>> length_m([("A", 0, 0), ("B", 3, 4), ("C", 3, 5)])
    6.0
    """
    return math.fsum(_apart(one, two) for one, two in pairwise(places))


def _apart(one: Place, two: Place) -> float:
    return math.hypot(two[1] - one[1], two[2] - one[2])


def _untangled(way: list[Place]) -> list[Place]:
    """Turn round each part of an open way whose turning makes it shorter, until none does; the first point stays."""
    better = True
    while better:
        better = False
        for i in range(len(way) - 2):
            for j in range(i + 2, len(way)):
                before = _apart(way[i], way[i + 1]) + (_apart(way[j], way[j + 1]) if j + 1 < len(way) else 0.0)
                after = _apart(way[i], way[j]) + (_apart(way[i + 1], way[j + 1]) if j + 1 < len(way) else 0.0)
                if after < before - _LEAST_GAIN_M:
                    way[i + 1 : j + 1] = reversed(way[i + 1 : j + 1])
                    better = True
    return way
