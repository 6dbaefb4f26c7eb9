"""What changed from one round to a later one, point by point and compound by compound."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, TypeAlias

from sitegen.compute.evaluate import Evaluation
from sitegen.compute.results.store import StoredResult

Kind: TypeAlias = Literal["grew", "shrank", "within", "appeared", "vanished", "neither", "not_comparable"]
"""What became of a mass: larger or smaller beyond the spread of duplicates, a difference within it, detected only
in the later round, detected only in the earlier one, detected in neither, or nothing that can be compared."""


@dataclass(frozen=True, slots=True)
class Match:
    """A point of a later round and the point of an earlier one that it is compared with.

    ``how`` is ``id`` or ``position``; ``distance_m`` lies between their positions, None where one has none.
    ``moved`` tells that they lie farther apart than the limit allows, so that nothing there is compared.
    """

    location_id: str
    earlier_id: str
    how: Literal["id", "position"]
    distance_m: float | None
    moved: bool


@dataclass(frozen=True, slots=True)
class PointChange:
    """A compound at a point in two rounds.

    ``factor`` is later by earlier mass in one unit, None unless both are detections. ``reason`` is a code that says
    why nothing is compared, empty where it is. A change of ``kind`` grew or shrank lies beyond the spread.
    """

    location_id: str
    earlier_id: str
    analyte_id: str
    before: StoredResult | None
    after: StoredResult | None
    kind: Kind
    factor: float | None = None
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Spread:
    """The factor that duplicates of the two rounds differ by, at most, and what it rests on.

    ``rule`` is ``pairs`` where the pairs of the surveys give it, ``default`` where too few are on record.
    ``coverage`` is the share of pairs that the factor covers with ``confidence``, both of 1.
    """

    factor: float
    pairs: int
    rule: Literal["pairs", "default"]
    coverage: float
    confidence: float
    source: str


@dataclass(frozen=True, slots=True)
class CompoundChange:
    """A compound over all points compared: points by kind, and the paired sign test.

    ``higher`` and ``lower`` count the points whose order is certain, a non-detect against a detection at or above
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
    """The exposures at a point in minutes, None where one is not on record, and later by earlier."""

    location_id: str
    before_min: float | None
    after_min: float | None
    ratio: float | None


@dataclass(frozen=True, slots=True)
class RoundChange:
    """Everything that changed from one round to a later one, and what it is judged by.

    ``only_before`` and ``only_after`` are points without a partner; ``gap_days`` lie between the last retrieval of
    the earlier round and the first placing of the later one, None where one is not on record.
    """

    matches: tuple[Match, ...]
    only_before: tuple[str, ...]
    only_after: tuple[str, ...]
    spread: Spread
    points: tuple[PointChange, ...]
    compounds: tuple[CompoundChange, ...]
    exposures: tuple[ExposurePair, ...]
    gap_days: float | None


def round_change(before: Evaluation, after: Evaluation) -> RoundChange:
    """Compare two rounds."""
    raise NotImplementedError
