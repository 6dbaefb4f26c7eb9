"""Outlines with fewer vertices, for what needs no more: a drawing, or the extent of a strip along an edge.

A vertex is left out where it lies within a step of the last one kept. That takes one pass whatever
the shape, where the usual ways compare every vertex with every other at worst, and no outline
moves by more than the step.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TypeAlias

Line: TypeAlias = tuple[tuple[float, float], ...]

STEPS_M = (0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0)
"""The steps that are tried, finest first."""


def thinned(lines: Sequence[Line], most: int) -> tuple[tuple[Line, ...], float]:
    """Return lines and rings in metres with no more than ``most`` vertices in all, and the step in metres.

    The step is 0 where the lines are as they were. Where even the last step leaves more, they have more.

    >>> thinned([((0, 0), (0.1, 0), (0.3, 0), (9, 0))], 3)
    ((((0, 0), (0.3, 0), (9, 0)),), 0.2)
    """
    drawn, used = tuple(lines), 0.0
    for step_m in STEPS_M:
        if sum(map(len, drawn)) <= most:
            break
        drawn, used = tuple(_thinned(line, step_m) for line in lines), step_m
    return drawn, used


def _thinned(line: Line, step_m: float) -> Line:
    kept = [line[0]]
    for place in line[1:-1]:
        if math.dist(place, kept[-1]) >= step_m:
            kept.append(place)
    return (*kept, *line[-1:]) if len(line) > 1 else line
