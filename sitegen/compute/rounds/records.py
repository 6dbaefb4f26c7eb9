"""What changed from one round to a later one, as records: points matched, masses compared, and by which spread."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from statistics import median
from typing import Literal, TypeAlias

from sitegen.compute.results.store import StoredResult

Kind: TypeAlias = Literal["grew", "shrank", "within", "appeared", "vanished", "neither", "not_comparable"]
"""What became of a mass: larger or smaller beyond the spread of duplicates, a difference within it, detected only
in the later round, detected only in the earlier one, detected in neither, or nothing that can be compared."""

KINDS: tuple[Kind, ...] = ("grew", "shrank", "within", "appeared", "vanished", "neither", "not_comparable")

REASONS = (
    "moved", "medium", "compound", "not_analysed_before", "not_analysed_after", "no_result_before",
    "no_result_after", "rejected", "unit", "no_concentration", "sampler_type", "no_value",
)  # fmt: skip
"""Why nothing is compared; of several reasons the first of these.

The point moved; another medium is sampled there; one id stands for two CAS numbers; no sampler of that round was
analysed for the compound; the point has no result of it; a result is rejected; one is a mass and one a concentration
(or a unit is unknown); a mass in air that no uptake rate makes a concentration; masses of two types of sampler, which
take up at different rates; a detection without a positive value.
"""


@dataclass(frozen=True, slots=True)
class Match:
    """A point of a later round and the point of an earlier one that it is compared with.

    ``how`` is ``id`` or ``position``; ``distance_m`` lies between their positions, None where one has none or
    nothing leads from one map system to the other with a stated accuracy. ``moved`` tells that they lie farther
    apart than the limit allows, so that nothing there is compared.
    """

    location_id: str
    earlier_id: str
    how: Literal["id", "position"]
    distance_m: float | None
    moved: bool


@dataclass(frozen=True, slots=True)
class PointChange:
    """A compound at a point in two rounds.

    ``factor`` is later by earlier in one unit, None unless both are detections. ``reason`` is a code of ``REASONS``
    that says why nothing is compared, empty where it is. A change of ``kind`` grew or shrank lies beyond the spread.

    ``below_limit`` tells of an appeared or vanished compound that its detection lies below the limit of the other
    round, or that no such limit is on record: no change can be told. ``before_by_rule`` and ``after_by_rule`` tell
    that the blank rule in force makes that detection a non-detect, which kind and order go by; the result itself is
    as reported. ``quantity`` is what was compared: of soil what the laboratory reported, of air the concentration.
    """

    location_id: str
    earlier_id: str
    analyte_id: str
    before: StoredResult | None
    after: StoredResult | None
    kind: Kind
    factor: float | None = None
    reason: str = ""
    below_limit: bool = False
    before_by_rule: bool = False
    after_by_rule: bool = False
    quantity: Literal["mass", "concentration", ""] = ""

    @property
    def order(self) -> int:
        """1 where the later round is reported higher, −1 where lower, whatever the spread; 0 without an order."""
        if self.factor is not None:
            return (self.factor > 1 + ROUNDING) - (self.factor < 1 - ROUNDING)
        if self.below_limit:
            return 0
        return (self.kind == "appeared") - (self.kind == "vanished")


ROUNDING = 1e-9
"""Two values that differ by the digits of a binary fraction alone are equal."""


@dataclass(frozen=True, slots=True)
class Spread:
    """The factor that duplicates of the two rounds differ by, at most, and what it rests on.

    ``rule`` is ``pairs`` where the pairs of the surveys give it, ``default`` where too few are on record.
    ``coverage`` is the share of pairs that the factor covers with ``confidence``, both of 1; under the default, which
    covers no known share, they are what the pairs would have to give. ``pairs`` counts duplicate pairs with a compound
    detected in both, and ``needed`` how many of them it takes, 0 where no number would do.
    """

    factor: float
    pairs: int
    rule: Literal["pairs", "default"]
    coverage: float
    confidence: float
    source: str
    needed: int = 0


@dataclass(frozen=True, slots=True)
class CompoundChange:
    """A compound over all points compared: points by kind, and the paired sign test.

    ``higher`` and ``lower`` count the points whose order is known, a non-detect against a detection at or above
    its limit among them; ``ties`` those whose order is not. ``p`` is exact and two-sided, None without any order.
    """

    analyte_id: str
    kinds: Mapping[Kind, int]
    higher: int
    lower: int
    ties: int
    p: float | None


@dataclass(frozen=True, slots=True)
class ExposurePair:
    """The exposures at a point in minutes, None where one is not on record, and later by earlier; the depths in m."""

    location_id: str
    before_min: float | None
    after_min: float | None
    ratio: float | None
    before_depth_m: float | None = None
    after_depth_m: float | None = None


@dataclass(frozen=True, slots=True)
class RoundChange:
    """Everything that changed from one round to a later one, and what it is judged by.

    ``only_before`` and ``only_after`` are points without a partner; ``gap_days`` lie between the last retrieval of
    the earlier round and the first placing of the later one, None where one is not on record. ``points`` holds every
    medium; ``spread`` and ``compounds`` are of soil gas, sub-slab and crawl space, ``air_spread`` and
    ``air_compounds`` of air, None and empty where no matched point samples air.
    """

    matches: tuple[Match, ...]
    only_before: tuple[str, ...]
    only_after: tuple[str, ...]
    spread: Spread
    points: tuple[PointChange, ...]
    compounds: tuple[CompoundChange, ...]
    exposures: tuple[ExposurePair, ...]
    gap_days: float | None
    air_spread: Spread | None = None
    air_compounds: tuple[CompoundChange, ...] = ()

    @property
    def median_exposure_ratio(self) -> float | None:
        """The median of later by earlier exposure over the matched points, None where no point has both."""
        ratios = [pair.ratio for pair in self.exposures if pair.ratio is not None]
        return median(ratios) if ratios else None
