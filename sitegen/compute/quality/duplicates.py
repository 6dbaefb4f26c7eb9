"""Duplicate pairs: how well two samplers in one place agree.

Where both values are at least 5 × RL the relative percent difference is used,
RPD = 200 |a − b| / (a + b); below that, the absolute difference against 2 × RL. A pair
of non-detects gives no figure. Where a reporting limit is missing, two detections are
compared by RPD and a detection beside a non-detect is not, and the measure says so.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import pandas as pd

from sitegen.compute.field.exposure import Placement
from sitegen.compute.limits import LimitRecord
from sitegen.compute.results.store import StoredResult, stored_results
from sitegen.project.schema import AIR_MEDIA, MEDIUM_GROUPS, SOIL_MEDIA

AGREES, DIFFERS, NOT_CALCULABLE = "agrees", "differs", "not calculable"
RPD, DIFFERENCE, ONE_DETECTED, NONE_DETECTED = "rpd", "difference", "one detected", ""
RPD_NO_LIMIT, NO_LIMIT = "rpd, limit missing", "limit missing"
IN_PERCENT = (RPD, RPD_NO_LIMIT)
"""The measures whose figure is in %."""


@dataclass(frozen=True, slots=True)
class PairResult:
    """One compound of a pair. ``figure`` is the RPD in % or the difference in the unit of the results."""

    analyte_id: str
    primary: StoredResult
    duplicate: StoredResult
    measure: str
    figure: float | None
    verdict: str

    @property
    def detections(self) -> tuple[float, ...]:
        """The masses of those of the two that were detected."""
        return tuple(row.value for row in (self.primary, self.duplicate) if row.detected)

    @property
    def in_limits(self) -> float:
        """The mean of the detections as a multiple of the common reporting limit, NaN where either is missing."""
        seen, limit = self.detections, _common_limit(self.primary.rl, self.duplicate.rl)
        return sum(seen) / len(seen) / limit if seen and limit > 0 else math.nan

    @property
    def rpd_pct(self) -> float | None:
        """The relative percent difference of two detections, whatever the rule compared them by."""
        seen = self.detections
        return rpd(*seen) if len(seen) == 2 and sum(seen) > 0 else None


@dataclass(frozen=True, slots=True)
class Pair:
    """A primary sampler, its duplicate, and the outcome for each compound."""

    location_id: str
    primary_id: str
    duplicate_id: str
    results: tuple[PairResult, ...]

    @property
    def compared(self) -> bool:
        """Whether at least one compound could be compared."""
        return any(result.verdict != NOT_CALCULABLE for result in self.results)

    def count(self, verdict: str) -> int:
        """Return the number of compounds with a verdict."""
        return sum(result.verdict == verdict for result in self.results)


@dataclass(frozen=True, slots=True)
class DuplicateRate:
    """Pairs that both samplers gave results for, against primaries with results, of one group.

    ``group`` is ``every``, ``soil`` or ``air``.
    """

    group: str
    pairs: int
    primaries: int

    def short_of(self, rate: float) -> bool:
        """Tell whether there are fewer pairs than ``rate`` asks for each primary."""
        return self.pairs < rate * self.primaries - 1e-9


def rpd(a: float, b: float) -> float:
    """Return the relative percent difference, 200 |a − b| / (a + b).

    >>> round(rpd(7.5, 10))
    29
    """
    return 200.0 * abs(a - b) / (a + b)


def compare(
    a: float | None, b: float | None, rl: float, in_force: Mapping[str, LimitRecord]
) -> tuple[str, float | None, str]:
    """Compare two results (None for a non-detect) with a common reporting limit, NaN where one is missing.

    Returns the measure, its figure and the verdict. A detection beside a non-detect
    differs where it exceeds 2 × RL.
    """
    seen = [value for value in (a, b) if value is not None]
    if not seen:
        return NONE_DETECTED, None, NOT_CALCULABLE
    if len(seen) == 1:
        return _beside_nondetect(seen[0], rl, in_force)
    if math.isnan(rl) or min(seen) >= in_force["duplicate_rl_multiple"].value * rl:
        figure = rpd(*seen)
        measure = RPD_NO_LIMIT if math.isnan(rl) else RPD
        return measure, figure, _verdict(figure, in_force["duplicate_rpd_pct"].value)
    figure = abs(seen[0] - seen[1])
    return DIFFERENCE, figure, _verdict(figure, in_force["duplicate_difference_rl"].value * rl)


def _beside_nondetect(value: float, rl: float, in_force: Mapping[str, LimitRecord]) -> tuple[str, float | None, str]:
    if math.isnan(rl):
        return NO_LIMIT, None, NOT_CALCULABLE
    return ONE_DETECTED, value, _verdict(value, in_force["duplicate_difference_rl"].value * rl)


def _verdict(figure: float, limit: float) -> str:
    """Tell whether a figure is beyond its limit; one that is off by the digits of a binary fraction alone is at it."""
    return DIFFERS if figure > limit and not math.isclose(figure, limit) else AGREES


def duplicate_pairs(
    store: pd.DataFrame, placed: Iterable[Placement], in_force: Mapping[str, LimitRecord]
) -> tuple[Pair, ...]:
    """Return every duplicate pair of the survey, in file order."""
    doubles = [p for p in placed if p.duplicate_of]
    wanted = {p.sampler_id for p in doubles} | {p.duplicate_of for p in doubles}
    rows = store[store["reportable"] & (store["type"] == "sample") & store["sampler_id"].isin(wanted)]
    by_sampler: dict[str, dict[str, StoredResult]] = {}
    for row in stored_results(rows):
        by_sampler.setdefault(row.sampler_id, {})[row.analyte_id] = row
    return tuple(
        _pair(p, by_sampler.get(p.duplicate_of, {}), by_sampler.get(p.sampler_id, {}), in_force) for p in doubles
    )


def with_results(pairs: Iterable[Pair]) -> tuple[Pair, ...]:
    """Return the pairs in which both samplers gave a result for at least one compound."""
    return tuple(pair for pair in pairs if pair.results)


def duplicate_rates(pairs: Iterable[Pair], primary: pd.DataFrame) -> tuple[DuplicateRate, ...]:
    """Return the rate of the survey, then that of each medium group that has results.

    ``primary`` holds the results that stand for points.
    """
    first = primary[~primary["rejected"]]
    media = dict(zip(first["location_id"], first["medium"], strict=True))
    doubled = [pair.results[0].primary.medium for pair in with_results(pairs)]
    groups = {"every": (*SOIL_MEDIA, *AIR_MEDIA), **MEDIUM_GROUPS}
    rates = (
        DuplicateRate(name, sum(m in of for m in doubled), sum(m in of for m in media.values()))
        for name, of in groups.items()
    )
    return tuple(rate for rate in rates if rate.primaries or rate.group == "every")


def _pair(
    placement: Placement,
    first: Mapping[str, StoredResult],
    second: Mapping[str, StoredResult],
    in_force: Mapping[str, LimitRecord],
) -> Pair:
    results = []
    for analyte_id, a in first.items():
        b = second.get(analyte_id)
        if b is None or a.rejected or b.rejected:
            continue
        measure, figure, verdict = compare(_value(a), _value(b), _common_limit(a.rl, b.rl), in_force)
        results.append(PairResult(analyte_id, a, b, measure, figure, verdict))
    return Pair(placement.location_id, placement.duplicate_of, placement.sampler_id, tuple(results))


def _common_limit(first: float, second: float) -> float:
    """Return the larger of two limits, NaN where one is missing."""
    return math.nan if math.isnan(first) or math.isnan(second) else max(first, second)


def _value(row: StoredResult) -> float | None:
    return row.value if row.detected else None
