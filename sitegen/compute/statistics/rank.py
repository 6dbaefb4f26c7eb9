"""Rank correlation between compounds, with non-detects where their order is known.

Kendall's tau-b (M. G. Kendall 1945, Biometrika 33(3), 239–251). A pair of points has an
order in a compound where both are detections that differ, or where a detection lies at
or above the limit of a non-detect. Every other pair is a tie: the data don't say.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

LEAST_POINTS = 8
"""Points in common below which no correlation is given (project default, no published source)."""


@dataclass(frozen=True, slots=True)
class Correlation:
    """Tau-b of two compounds over the points that have both."""

    first: str
    second: str
    points: int
    tau: float


def orders(values: Floats, detected: Flags) -> NDArray[np.int8]:
    """Return the order of each pair of points i < j: 1 rising, −1 falling, 0 unknown or tied.

    ``values`` holds detections and the limits of non-detects; a point without a result
    is NaN and has no order with any other.

    >>> orders(np.array([1.0, 2.0, 3.0]), np.array([False, True, False])).tolist()
    [1, 0, 0]
    """
    return _orders(values, detected, *np.triu_indices(len(values), 1))


def _orders(values: Floats, detected: Flags, at: NDArray[np.intp], to: NDArray[np.intp]) -> NDArray[np.int8]:
    a, b, seen_a, seen_b = values[at], values[to], detected[at], detected[to]
    rising = np.where(seen_a, a < b, a <= b) & seen_b
    falling = np.where(seen_b, b < a, b <= a) & seen_a
    return rising.astype(np.int8) - falling.astype(np.int8)


def tau_b(first: NDArray[np.int8], second: NDArray[np.int8]) -> float:
    """Return tau-b from the orders of the same pairs in two compounds; NaN where one has none.

    >>> tau_b(np.array([1, 1, 0], dtype=np.int8), np.array([1, -1, 1], dtype=np.int8))
    0.0
    """
    known = math.sqrt(np.count_nonzero(first)) * math.sqrt(np.count_nonzero(second))
    if not known:
        return math.nan
    return float(np.sum(first.astype(np.int64) * second) / known)


@dataclass(frozen=True, slots=True)
class _Counts:
    """Counts over the pairs of points that have both compounds, one cell for each two compounds.

    ``excess`` is P − Q, ``ordered`` counts pairs whose order in the first is known, ``points``
    the points with both.
    """

    excess: Floats
    ordered: Floats
    points: Floats


def correlations(rows: pd.DataFrame, wanted: Sequence[str]) -> tuple[Correlation, ...]:
    """Return tau-b for each two compounds of ``wanted`` over the points that have both.

    ``rows`` are results of one medium group, one per point and compound; rejected ones are
    left out. Compounds of which nothing is ordered are left out.
    """
    usable = rows[~rows["rejected"] & rows["analyte_id"].isin(wanted)]
    usable = usable.assign(at=usable["value"].where(usable["detected"], usable["lod"]))
    values = usable.pivot_table(values="at", index="location_id", columns="analyte_id", aggfunc="first")
    seen = usable.pivot_table(values="detected", index="location_id", columns="analyte_id", aggfunc="first")
    listed = [name for name in wanted if name in values and seen[name].eq(True).any()]
    if len(listed) < 2:
        return ()
    counts = _count_orders(values[listed].to_numpy(dtype=float), seen[listed].eq(True).to_numpy())
    pairs = itertools.combinations(range(len(listed)), 2)
    every = (_correlation(listed[a], listed[b], counts, a, b) for a, b in pairs)
    return tuple(one for one in every if one is not None)


_CHUNK = 1 << 20
"""Pairs counted at once; below 2^24, so that single-precision sums of units are exact."""


def _count_orders(values: Floats, seen: Flags) -> _Counts:
    present = (~np.isnan(values)).astype(float)
    count = values.shape[1]
    excess, ordered = np.zeros((count, count)), np.zeros((count, count))
    every_at, every_to = np.triu_indices(len(values), 1)
    for start in range(0, len(every_at), _CHUNK):
        at, to = every_at[start : start + _CHUNK], every_to[start : start + _CHUNK]
        signs = np.stack([_orders(values[:, j], seen[:, j], at, to) for j in range(count)]).astype(np.float32)
        both = (present[at] * present[to]).T.astype(np.float32)
        excess += signs @ signs.T
        ordered += np.abs(signs) @ both.T
    return _Counts(excess, ordered, present.T @ present)


def _correlation(first: str, second: str, counts: _Counts, a: int, b: int) -> Correlation | None:
    known = math.sqrt(counts.ordered[a, b]) * math.sqrt(counts.ordered[b, a])
    if counts.points[a, b] < LEAST_POINTS or not known:
        return None
    return Correlation(first, second, int(counts.points[a, b]), float(counts.excess[a, b] / known))
