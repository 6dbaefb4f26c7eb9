"""Labels that don't collide: placed one by one, left out where there is no room.

A label stands beside its point where it can; where it can't, it stands further off and
a thin line leads to it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

Boxes: TypeAlias = NDArray[np.float64]
"""Rows of left, top, right and bottom."""

_FAR = (4.0, 8.0, 13.0, 19.0, 26.0)
"""How much further off a label may stand, in drawing units."""

_TURNS = tuple(2 * math.pi * i / 16 for i in (0, 8, 4, 12, 2, 6, 10, 14, 1, 3, 5, 7, 9, 11, 13, 15))
_STEPS = np.linspace(0.15, 0.85, 5)
_SHORTEST_LEADER = 2.5
_MOST_LED = 80
"""With more labels than this in want of room, lines to all of them would hide the map: none is led to."""


class Box(NamedTuple):
    """A rectangle in drawing units, y downwards."""

    left: float
    top: float
    right: float
    bottom: float


class Wanted(NamedTuple):
    """A label that asks for a place near (x, y).

    ``gap`` is the distance kept from the point; 0 asks for the spot itself, or one of
    the ``others``. ``own`` is the place of the label's own symbol among the obstacles,
    -1 for none.
    """

    x: float
    y: float
    width: float
    height: float
    gap: float
    own: int = -1
    others: tuple[tuple[float, float], ...] = ()


class _Room:
    """What is taken already: obstacles first, then labels and the lines that lead to them."""

    def __init__(self, obstacles: Sequence[Box], bounds: Box) -> None:
        self.taken: Boxes = np.array(obstacles, dtype=float).reshape(-1, 4)
        self.bounds = bounds

    def first_free(self, label: Wanted, boxes: Boxes, *, led: bool) -> Box | None:
        """Take the first box that is free, with its leader where it is led to; None if none is."""
        left, top, right, bottom = self.bounds
        inside = (boxes[:, 0] >= left) & (boxes[:, 1] >= top) & (boxes[:, 2] <= right) & (boxes[:, 3] <= bottom)
        boxes = boxes[inside]
        if not len(boxes):
            return None
        around = self._around(label, boxes)
        for row in boxes[~_hit(boxes, around)]:
            way = _way(label, row) if led else np.empty((0, 4))
            if not len(way) or not _hit(way, around).any():
                self.taken = np.vstack([self.taken, row, way])
                return Box(*(float(edge) for edge in row))
        return None

    def _around(self, label: Wanted, boxes: Boxes) -> Boxes:
        """Return what is taken where a label may go or be led through, its own symbol left out."""
        left, top = np.minimum(boxes[:, :2].min(axis=0), (label.x, label.y))
        right, bottom = np.maximum(boxes[:, 2:].max(axis=0), (label.x, label.y))
        taken = self.taken
        near = (taken[:, 0] < right) & (taken[:, 2] > left) & (taken[:, 1] < bottom) & (taken[:, 3] > top)
        if label.own >= 0:
            near[label.own] = False
        return np.asarray(taken[near], dtype=np.float64)


def _hit(boxes: Boxes, taken: Boxes) -> NDArray[np.bool_]:
    """Tell for each box whether it touches anything that is taken."""
    a, b = boxes[:, None, :], taken[None, :, :]
    hits = (b[..., 0] < a[..., 2]) & (b[..., 2] > a[..., 0]) & (b[..., 1] < a[..., 3]) & (b[..., 3] > a[..., 1])
    return np.asarray(np.any(hits, axis=1))


def place_labels(wanted: Sequence[Wanted], obstacles: Sequence[Box], bounds: Box) -> tuple[Box | None, ...]:
    """Give each label a free box; None where there is none.

    All labels are tried beside their points first, then, further off, those that found
    no room.

    Parameters
    ----------
    wanted
        The labels in order of importance.
    obstacles
        Boxes that no label may touch, but for its own symbol's.
    bounds
        The area that labels must stay within.

    Examples
    --------
    >>> wish = Wanted(10, 10, 20, 6, 3)
    >>> place_labels([wish], [], Box(0, 0, 100, 100))
    (Box(left=13.0, top=7.0, right=33.0, bottom=13.0),)
    >>> place_labels([wish], [], Box(0, 0, 12, 12))
    (None,)
    """
    room = _Room(obstacles, bounds)
    placed: list[Box | None] = [None] * len(wanted)
    rounds: tuple[tuple[Callable[[Wanted], Boxes], bool], ...] = ((_near, False), (_far, True))
    for choices, led in rounds:
        if led and placed.count(None) > _MOST_LED:
            break
        for i, label in enumerate(wanted):
            if placed[i] is None:
                placed[i] = room.first_free(label, choices(label), led=led)
    return tuple(placed)


def leader(label: Wanted, box: Box) -> tuple[float, float, float, float] | None:
    """Return the line (x, y, x, y) from a symbol's edge to its label, None where none is needed.

    >>> leader(Wanted(10, 10, 20, 6, 3), Box(13, 7, 33, 13)) is None
    True
    >>> leader(Wanted(10, 10, 20, 6, 3), Box(20, 7, 40, 13))
    (13.0, 10.0, 20.0, 10.0)
    """
    if not label.gap:
        return None
    x = min(max(label.x, box.left), box.right)
    y = min(max(label.y, box.top), box.bottom)
    away = math.hypot(x - label.x, y - label.y)
    if away < label.gap + _SHORTEST_LEADER:
        return None
    share = label.gap / away
    return label.x + (x - label.x) * share, label.y + (y - label.y) * share, float(x), float(y)


def _way(label: Wanted, row: NDArray[np.float64]) -> Boxes:
    """Return small boxes along a label's leader; none where it needs no leader."""
    ends = leader(label, Box(*(float(edge) for edge in row)))
    if ends is None:
        return np.empty((0, 4))
    xs = ends[0] + (ends[2] - ends[0]) * _STEPS
    ys = ends[1] + (ends[3] - ends[1]) * _STEPS
    return np.column_stack([xs - 0.3, ys - 0.3, xs + 0.3, ys + 0.3])


def _near(label: Wanted) -> Boxes:
    """Boxes beside the point, best first: right, left, above, below, then the corners."""
    x, y, width, height, gap = label[:5]
    if not gap:
        spots = ((x, y), *label.others)
        return _boxes([(sx - width / 2, sy - height / 2) for sx, sy in spots], width, height)
    slant = 0.75 * gap
    corners = [(cx, cy) for cx in (x + slant, x - slant - width) for cy in (y - slant - height, y + slant)]
    sides = [
        (x + gap, y - height / 2),
        (x - gap - width, y - height / 2),
        (x - width / 2, y - gap - height),
        (x - width / 2, y + gap),
    ]
    return _boxes(sides + corners, width, height)


def _far(label: Wanted) -> Boxes:
    """Boxes further off in sixteen directions, nearest first; beside the spot where there is no gap."""
    x, y, width, height, gap = label[:5]
    spots = []
    for far in _FAR if gap else (0.6 * height, 1.2 * height):
        for turn in _TURNS:
            dx, dy = math.cos(turn), math.sin(turn)
            at_x, at_y = x + (gap + far) * dx, y + (gap + far) * dy
            spots.append((at_x + (dx - 1) * width / 2, at_y + (dy - 1) * height / 2))
    return _boxes(spots, width, height)


def _boxes(corners: Sequence[tuple[float, float]], width: float, height: float) -> Boxes:
    starts = np.array(corners, dtype=float).reshape(-1, 2)
    return np.hstack([starts, starts + np.array((width, height))])
