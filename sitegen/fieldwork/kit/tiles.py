"""The windows of detail maps: a site's points in groups that have room on a sheet."""

from __future__ import annotations

from collections.abc import Sequence

from sitegen.compute.design.walking import Place
from sitegen.figures.fieldscene import Window

MOST_POINTS = 15
"""On one detail map: its own choice, so that ids can be read at arm's length."""

_LEAST_SPAN_M = 12.0


def groups(places: Sequence[Place], most: int = MOST_POINTS) -> tuple[tuple[Place, ...], ...]:
    """Return points in groups of at most ``most``: halved until each is small enough.

    Each point is in one group; groups and the points in them keep the order given, groups by their first point.

    >>> places = [(f"P{i}", float(i), 0.0) for i in range(5)]
    >>> [[name for name, _, _ in group] for group in groups(places, 2)]
    [['P0', 'P1'], ['P2'], ['P3', 'P4']]
    """
    if len(places) <= most:
        return (tuple(places),) if places else ()
    first, second = halves(places)
    made = (*groups(first, most), *groups(second, most))
    at = {place: i for i, place in enumerate(places)}
    return tuple(sorted(made, key=lambda group: at[group[0]]))


def halves(places: Sequence[Place]) -> tuple[tuple[Place, ...], tuple[Place, ...]]:
    """Return two halves of two points or more, each in the order given, cut so that the wider one is narrowest."""
    cuts = [_cut(places, axis) for axis in (1, 2)]
    return min(cuts, key=lambda pair: max(_span(half, axis) for half in pair for axis in (1, 2)))


def _cut(places: Sequence[Place], axis: int) -> tuple[tuple[Place, ...], tuple[Place, ...]]:
    ranked = sorted(places, key=lambda place: (place[axis], place[0]))
    low = set(ranked[: len(ranked) // 2])
    return tuple(p for p in places if p in low), tuple(p for p in places if p not in low)


def window(spots: Sequence[tuple[float, float]], margin: float = 0.12) -> Window:
    """Return the window around spots, with a share of its sides for a margin; it is never less than a few metres.

    >>> window([(0.0, 0.0), (100.0, 50.0)])
    Window(west_m=-12.0, east_m=112.0, south_m=-6.0, north_m=56.0)
    """
    (west, east), (south, north) = (_wide([spot[axis] for spot in spots], margin) for axis in (0, 1))
    return Window(west, east, south, north)


def _span(places: Sequence[Place], axis: int) -> float:
    values = [float(place[axis]) for place in places]
    return max(values) - min(values)


def _wide(values: Sequence[float], margin: float) -> tuple[float, float]:
    low, high = min(values), max(values)
    extra = max(margin * (high - low), (_LEAST_SPAN_M - (high - low)) / 2)
    return low - extra, high + extra
