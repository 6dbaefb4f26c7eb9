"""How far two samplers in one place differ: what a change between two rounds has to go beyond.

A change between two single samples is the ratio of two draws, and so is a duplicate beside its primary: the spread
of the one is that of the other, with no factor between them. Each duplicate pair of either round gives one draw: the
largest |ln ratio| of its compounds, since those of one pair of samplers are not independent. All detections count,
those near their limit or beside a blank among them, as all are compared. The spread is an upper limit for which no
law is assumed (:mod:`sitegen.compute.statistics.tolerance`).

It tells nothing of seasons, weather or exposure: a change beyond it is more than two samplers differ, no more.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping

from sitegen.compute.limits import LimitRecord
from sitegen.compute.quality.duplicates import Pair, PairResult
from sitegen.compute.rounds.records import Spread
from sitegen.compute.statistics.tolerance import least_count, tolerance_rank
from sitegen.units import RESULT_UNITS
from sitegen.voice import worded

PAIRS = "field duplicate pairs of both rounds"


def spread(pairs: Iterable[Pair], media: tuple[str, ...], in_force: Mapping[str, LimitRecord]) -> Spread:
    """Return the factor by which the duplicates of both rounds in some media differ at most, else the default.

    Of 29 pairs at a coverage of 90 % and a confidence of 95 % it is the largest ratio.
    """
    draws = sorted(draw for pair in pairs if (draw := pair_draw(pair, media)) is not None)
    coverage, confidence = (in_force[f"round_{name}_pct"].value / 100 for name in ("coverage", "confidence"))
    needed = least_count(coverage, confidence)
    rank = tolerance_rank(len(draws), coverage, confidence)
    if rank is None:
        default = in_force["round_factor"]
        return Spread(max(1.0, default.value), len(draws), "default", coverage, confidence, default.source, needed)
    return Spread(math.exp(draws[rank - 1]), len(draws), "pairs", coverage, confidence, worded(PAIRS), needed)


def pair_draw(pair: Pair, media: tuple[str, ...]) -> float | None:
    """Return the largest |ln ratio| of a pair's compounds, None where none is detected in both or in other media."""
    ratios = [ratio for one in pair.results if (ratio := _log_ratio(one, media)) is not None]
    return max(ratios) if ratios else None


def _log_ratio(one: PairResult, media: tuple[str, ...]) -> float | None:
    a, b = one.primary, one.duplicate
    units = RESULT_UNITS.get(a.unit), RESULT_UNITS.get(b.unit)
    if not (a.detected and b.detected) or a.medium not in media or units[0] is None or units[1] is None:
        return None
    if units[0].kind != units[1].kind or not (a.value > 0 and b.value > 0):
        return None
    return abs(math.log(a.value * units[0].factor / (b.value * units[1].factor)))
