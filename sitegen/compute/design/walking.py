"""The order in which points are walked: a short way over all of them, the same on every machine."""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

Place = tuple[str, float, float]
"""A point's id, and its easting and northing in metres."""

_Floats = NDArray[np.float64]
_DIGITS = 6
"""Lengths are compared to a micrometre, so that two machines see the same ties."""
_LEAST_GAIN_M = 1e-6
_NEAREST = 10
"""So many of the places nearest to each are tried as its next: a longer step seldom makes a way shorter."""


def walking_order(places: Sequence[Place]) -> tuple[str, ...]:
    """Return the ids of points in the order of a short way that begins at the most south-western one.

    From each point the nearest one that is left comes next; then parts of the way are turned round (2-opt) as
    long as a step to a point nearby makes it shorter. Points that tie are taken by id.

    >>> walking_order([("C", 20, 0), ("A", 0, 0), ("D", 20, 10), ("B", 10, 0)])
    ('A', 'B', 'C', 'D')
    """
    if not places:
        return ()
    by_id = sorted(places)
    xy = np.array([(x, y) for _, x, y in by_id], dtype=float)
    return tuple(by_id[at][0] for at in _untangled(xy, _nearest_next(xy)))


def length_m(places: Sequence[Place]) -> float:
    """Return the length of the way over points in the order given.

    >>> length_m([("A", 0, 0), ("B", 3, 4), ("C", 3, 5)])
    6.0
    """
    return math.fsum(math.hypot(two[1] - one[1], two[2] - one[2]) for one, two in pairwise(places))


def _nearest_next(xy: _Floats) -> list[int]:
    """Return the places in an order in which the nearest that is left comes next; of those that tie the first."""
    at = int(np.argmin(np.round(xy.sum(axis=1), _DIGITS)))
    left = np.ones(len(xy), dtype=bool)
    way = [at]
    left[at] = False
    for _ in range(len(xy) - 1):
        away = np.round(np.hypot(xy[:, 0] - xy[at, 0], xy[:, 1] - xy[at, 1]), _DIGITS)
        at = int(np.argmin(np.where(left, away, np.inf)))
        left[at] = False
        way.append(at)
    return way


def _untangled(xy: _Floats, way: list[int]) -> list[int]:
    """Turn round parts of an open way whose turning makes it shorter, until none does; the first place stays.

    Asked is at each place whether a step to one of its nearest could take the place of a step to or from it. A
    place is asked again once a step at it has changed.
    """
    path = _Way(xy, way)
    near = _nearest(xy)
    ahead = deque(way)
    waiting = set(way)
    while ahead:
        at = ahead.popleft()
        waiting.discard(at)
        while ends := path.shortened(at, near[at]):
            fresh = [end for end in ends if end not in waiting]
            ahead.extend(fresh)
            waiting.update(fresh)
    return [int(at) for at in path.order]


def _nearest(xy: _Floats) -> list[list[int]]:
    """Return of each place those nearest to it, the nearest first, of those that tie the first."""
    near = []
    for at in range(len(xy)):
        away = np.round(np.hypot(xy[:, 0] - xy[at, 0], xy[:, 1] - xy[at, 1]), _DIGITS)
        away[at] = np.inf
        most = min(_NEAREST, len(xy) - 1)
        reach = np.partition(away, most - 1)[most - 1] if most else -1.0
        within = np.flatnonzero(away <= reach)
        near.append(within[np.argsort(away[within], kind="stable")][:_NEAREST].tolist())
    return near


class _Way:
    """An open way over places, and where each place stands in it."""

    def __init__(self, xy: _Floats, way: Sequence[int]) -> None:
        self.order = np.array(way)
        self._at = np.empty(len(way), dtype=int)
        self._at[self.order] = np.arange(len(way))
        self._xy: list[tuple[float, float]] = [(x, y) for x, y in xy.tolist()]

    def shortened(self, place: int, near: Sequence[int]) -> tuple[int, ...]:
        """Turn round one part so that a place is beside one of its nearest, if that makes the way shorter.

        Returns the places whose steps changed, none where nothing was turned.
        """
        for forward in (True, False):
            own = self._beside(place, forward=forward)
            if own is None:
                continue
            step = self._apart(place, own)
            for other in near:
                new = self._apart(place, other)
                if new >= step - _LEAST_GAIN_M:
                    break
                if ends := self._turned(place, own, other, step - new, forward=forward):
                    return ends
        return ()

    def _turned(self, place: int, own: int, other: int, gain: float, *, forward: bool) -> tuple[int, ...]:
        """Join a place to another, and what comes beside the two to each other, if that is a gain."""
        beside = self._beside(other, forward=forward)
        if beside is None and not forward:
            return ()  # the first place stays first
        if beside is not None:
            gain += self._apart(other, beside) - self._apart(own, beside)
        if round(gain, _DIGITS) <= _LEAST_GAIN_M:
            return ()
        first, last = sorted((int(self._at[place]), int(self._at[other])))
        begin, end = (first + 1, last + 1) if forward else (first, last)
        self.order[begin:end] = self.order[begin:end][::-1].copy()
        self._at[self.order[begin:end]] = np.arange(begin, end)
        return (place, own, other) if beside is None else (place, own, other, beside)

    def _beside(self, place: int, *, forward: bool) -> int | None:
        at = int(self._at[place]) + (1 if forward else -1)
        return int(self.order[at]) if 0 <= at < len(self.order) else None

    def _apart(self, one: int, two: int) -> float:
        (x, y), (to_x, to_y) = self._xy[one], self._xy[two]
        return math.hypot(to_x - x, to_y - y)
