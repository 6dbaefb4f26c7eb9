"""Kendall's test for a trend over rounds, with non-detects where their order is known.

S counts pairs of rounds that rose less those that fell, over one series or over many that are pooled. A pair with a
non-detect has an order where the detection lies at or above its limit (:func:`sitegen.compute.statistics.rank.orders`);
every other pair is a tie. tau-b is S over the root of all pairs times the ordered ones (M. G. Kendall 1945, Biometrika
33(3), 239–251; time has no ties).

p is two-sided: the share of orders of the rounds in which |S| is as large. Whole rounds change places, the same way
for every series, so that p needs no independence of the series: points of one site rise and fall together with the
weather. Hence p can't fall below 2/n! with n rounds, however many points there are: 0.33 with 3, 0.083 with 4 and
0.017 with 5. Up to 8 rounds all orders are counted; from 9 on the normal law is taken, with the exact variance over
them (H. E. Daniels 1944, Biometrika 33(2), 129–135; from memory, tests count it out).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from itertools import permutations
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from sitegen.compute.statistics.rank import Flags, Floats, orders

Counts = NDArray[np.int64]

COUNTED_ROUNDS = 8
"""Rounds up to which every order is counted: 40,320 orders."""


@dataclass(frozen=True, slots=True)
class Kendall:
    """A trend: S, the pairs of rounds with results, those whose order is known, tau-b and the two-sided p.

    ``series`` counts the series with an ordered pair. tau-b and p are None where no pair has an order.
    """

    s: int
    pairs: int
    ordered: int
    series: int
    tau_b: float | None
    p: float | None
    method: Literal["exact", "normal", ""]


def kendall(values: Floats, detected: Flags) -> Kendall:
    """Return the trend of series (rows) over rounds in order of time (columns).

    ``values`` holds detections and the limits of non-detects, each row in one unit; NaN where a round has no result
    or no limit, which has no order with any other.

    >>> kendall(np.array([[10.0, 12.0, 30.0, 40.0]]), np.array([[False, True, True, True]])).s
    6
    >>> round(kendall(np.array([[1.0, 2.0, 3.0]]), np.ones((1, 3), dtype=bool)).p, 4)
    0.3333
    """
    signs = _signs(values, detected)
    return _trend(signs, ~np.isnan(values), signs.sum(axis=0))


def each_kendall(values: Floats, detected: Flags) -> tuple[Kendall, ...]:
    """Return the trend of each series by itself; what a round without a result leaves out changes no p."""
    signs, known = _signs(values, detected), ~np.isnan(values)
    return tuple(_trend(signs[at : at + 1], known[at : at + 1], signs[at]) for at in range(len(values)))


def _signs(values: Floats, detected: Flags) -> Counts:
    """Return the order of each pair of rounds (columns) in each series (rows)."""
    return orders(values.T, detected.T).T.astype(np.int64)


def _trend(signs: Counts, known: Flags, pooled: Counts) -> Kendall:
    s, ordered, rounds = int(pooled.sum()), int(np.count_nonzero(signs)), known.shape[1]
    present = known.sum(axis=1)
    pairs = int((present * (present - 1) // 2).sum())
    if not ordered:
        return Kendall(s, pairs, 0, 0, None, None, "")
    series = int(np.count_nonzero(signs.any(axis=1)))
    tau = s / math.sqrt(pairs * ordered)
    return Kendall(
        s, pairs, ordered, series, tau, _p(tuple(pooled.tolist()), rounds), "exact" if _counts(rounds) else "normal"
    )


def _counts(rounds: int) -> bool:
    return rounds <= COUNTED_ROUNDS


@lru_cache(maxsize=1 << 14)
def _p(upper: tuple[int, ...], rounds: int) -> float:
    """Return p of the pairs' sums of signs, round by round: a few patterns are those of most points."""
    pooled = _square(np.array(upper, dtype=np.int64), rounds)
    return _counted(pooled, sum(upper)) if _counts(rounds) else _normal(pooled, sum(upper))


def least_p(rounds: int) -> float:
    """Return the least p that a number of rounds can give, 1 with fewer than two.

    >>> [round(least_p(n), 3) for n in (2, 3, 4, 5)]
    [1.0, 0.333, 0.083, 0.017]
    """
    return min(1.0, 2 / math.factorial(rounds))


def _square(upper: Counts, rounds: int) -> Counts:
    """Return the antisymmetric matrix of which ``upper`` is the part above the diagonal."""
    square = np.zeros((rounds, rounds), dtype=np.int64)
    square[np.triu_indices(rounds, 1)] = upper
    return square - square.T


@lru_cache(maxsize=COUNTED_ROUNDS)
def _places(rounds: int) -> tuple[Counts, Counts]:
    """Return, for each order of the rounds, the two rounds of each pair."""
    every = np.array(list(permutations(range(rounds))), dtype=np.int64)
    at, to = np.triu_indices(rounds, 1)
    return every[:, at], every[:, to]


def _counted(pooled: Counts, s: int) -> float:
    """Return the share of all orders of the rounds with |S| at least as large."""
    at, to = _places(len(pooled))
    sums = pooled[at, to].sum(axis=1)
    return int(np.count_nonzero(np.abs(sums) >= abs(s))) / len(sums)


def _normal(pooled: Counts, s: int) -> float:
    return math.erfc(abs(s) / math.sqrt(2 * variance(pooled)))


def variance(pooled: Counts) -> float:
    """Return the variance of S over all orders of three rounds or more, from its matrix of pairs.

    >>> variance(_square(np.ones(6, dtype=np.int64), 4)) == 4 * 3 * 13 / 18
    True
    """
    n = len(pooled)
    time = _square(np.ones(n * (n - 1) // 2, dtype=np.int64), n)
    (rows_a, all_a), (rows_b, all_b) = (
        (int((one.sum(axis=1) ** 2).sum()), int((one**2).sum())) for one in (pooled, time)
    )
    return (rows_a - all_a) * (rows_b - all_b) / (n * (n - 1) * (n - 2)) + all_a * all_b / (2 * n * (n - 1))
