"""How far two samplers in one place differ: the least nugget that a variogram of log10 mass may have.

A duplicate differs from its primary by what a single sampler varies, twice over: where the
log10 of their ratio is d, the variance of one sampler is the mean of d² / 2. Only results
count that both lie at or above the multiple of the reporting limit from which the relative
percent difference is used; results of all compounds are pooled, since one compound has too
few pairs. Duplicates in soil gas and sub-slab alone.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from sitegen.compute.limits import LimitRecord
from sitegen.compute.quality.duplicates import Pair, PairResult
from sitegen.project.schema import SOIL_MEDIA
from sitegen.units import MASS_UNITS


@dataclass(frozen=True, slots=True)
class Repeatability:
    """The variance of a single sampler in log10 mass, None where fewer than ``least`` pairs have such results.

    It comes from ``results`` of ``pairs`` duplicate pairs.
    """

    variance_log10: float | None
    results: int
    pairs: int
    least: int

    @property
    def floor(self) -> float:
        """The least nugget: the variance, 0 where there is none."""
        return self.variance_log10 or 0.0


def repeatability(pairs: Iterable[Pair], in_force: Mapping[str, LimitRecord]) -> Repeatability:
    """Return how far the duplicates of a survey say that a single sampler varies.

    Pairs of 100 and 1,000 ng alone: d = 1, so that the variance of one sampler is 0.5.
    """
    multiple = in_force["duplicate_rl_multiple"].value
    ratios = [[ratio for one in pair.results if (ratio := _log_ratio(one, multiple)) is not None] for pair in pairs]
    with_results = [of_pair for of_pair in ratios if of_pair]
    squares = [ratio * ratio for of_pair in with_results for ratio in of_pair]
    least = int(in_force["contour_pairs_min"].value)
    enough = len(with_results) >= least
    variance = math.fsum(squares) / (2 * len(squares)) if enough and squares else None
    return Repeatability(variance, len(squares), len(with_results), least)


def _log_ratio(one: PairResult, multiple: float) -> float | None:
    """Return log10 of primary over duplicate, None where one of the two is too low to tell, or not in soil."""
    a, b = one.primary, one.duplicate
    if not (a.detected and b.detected) or a.medium not in SOIL_MEDIA or a.unit not in MASS_UNITS:
        return None
    if not (a.value >= multiple * a.rl and b.value >= multiple * b.rl):
        return None
    return math.log10(a.value / b.value)
