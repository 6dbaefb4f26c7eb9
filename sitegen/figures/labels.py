"""Labels that don't collide: placed one by one, left out where there is no room."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray


class Box(NamedTuple):
    """A rectangle in drawing units, y downwards."""

    left: float
    top: float
    right: float
    bottom: float


class Wanted(NamedTuple):
    """A label that asks for a place near (x, y).

    ``gap`` is the distance kept from the point; 0 asks for the spot itself. ``own``
    is the place of the label's own symbol among the obstacles, -1 for none.
    """

    x: float
    y: float
    width: float
    height: float
    gap: float
    own: int = -1


def place_labels(wanted: Sequence[Wanted], obstacles: Sequence[Box], bounds: Box) -> tuple[Box | None, ...]:
    """Give each label a free box, first come first served; None where there is none.

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
    (Box(left=13, top=7.0, right=33, bottom=13.0),)
    >>> place_labels([wish], [], Box(0, 0, 12, 12))
    (None,)
    """
    taken = np.empty((len(obstacles) + len(wanted), 4))
    taken[: len(obstacles)] = np.array(obstacles, dtype=float).reshape(-1, 4)
    used = len(obstacles)
    placed: list[Box | None] = []
    for label in wanted:
        inside = (box for box in _choices(label) if _within(box, bounds))
        free = next((box for box in inside if not _touches(box, taken[:used], label.own)), None)
        placed.append(free)
        if free is not None:
            taken[used] = free
            used += 1
    return tuple(placed)


def _choices(label: Wanted) -> Iterable[Box]:
    """Boxes beside the point, best first: right, left, above, below, then the corners."""
    x, y, width, height, gap, _ = label
    if not gap:
        yield _box(x - width / 2, y - height / 2, width, height)
        return
    slant = 0.75 * gap
    yield _box(x + gap, y - height / 2, width, height)
    yield _box(x - gap - width, y - height / 2, width, height)
    yield _box(x - width / 2, y - gap - height, width, height)
    yield _box(x - width / 2, y + gap, width, height)
    for corner_x in (x + slant, x - slant - width):
        for corner_y in (y - slant - height, y + slant):
            yield _box(corner_x, corner_y, width, height)


def _box(left: float, top: float, width: float, height: float) -> Box:
    return Box(left, top, left + width, top + height)


def _within(box: Box, bounds: Box) -> bool:
    return (
        box.left >= bounds.left
        and box.top >= bounds.top
        and box.right <= bounds.right
        and box.bottom <= bounds.bottom
    )


def _touches(box: Box, taken: NDArray[np.float64], own: int) -> bool:
    hits = (
        (taken[:, 0] < box.right)
        & (taken[:, 2] > box.left)
        & (taken[:, 1] < box.bottom)
        & (taken[:, 3] > box.top)
    )
    if own >= 0:
        hits[own] = False
    return bool(hits.any())
