"""What changed from one round to a later one, point by point and compound by compound."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from sitegen.compute.evaluate import Evaluation
from sitegen.compute.field.exposure import Placement
from sitegen.compute.rounds.compared import Twin, point_changes, twins
from sitegen.compute.rounds.matching import matched
from sitegen.compute.rounds.records import (
    KINDS,
    REASONS,
    CompoundChange,
    ExposurePair,
    Kind,
    Match,
    PointChange,
    RoundChange,
    Spread,
)
from sitegen.compute.rounds.seen import sight
from sitegen.compute.rounds.spread import spread
from sitegen.compute.statistics.signs import sign_test
from sitegen.project.schema import AIR_MEDIA, SOIL_MEDIA
from sitegen.units import minutes_to_days

__all__ = [
    "KINDS",
    "REASONS",
    "CompoundChange",
    "ExposurePair",
    "Kind",
    "Match",
    "PointChange",
    "RoundChange",
    "Spread",
    "round_change",
]


def round_change(before: Evaluation, after: Evaluation) -> RoundChange:
    """Compare two rounds, by the limits and the blank rule of the later one."""
    found = matched(before, after)
    pairs = (*before.pairs, *after.pairs)
    soil, air = (spread(pairs, media, after.limits) for media in (SOIL_MEDIA, AIR_MEDIA))
    sights = sight(before, after.blank_rule), sight(after, after.blank_rule)
    every = twins(before, after, sights)
    factors = dict.fromkeys(AIR_MEDIA, air.factor)
    points = tuple(point_changes(found.matches, every, sights, lambda medium: factors.get(medium, soil.factor)))
    of_air = tuple(change for change in points if _medium(change) in AIR_MEDIA)
    of_soil = tuple(change for change in points if _medium(change) not in AIR_MEDIA)
    return RoundChange(
        found.matches,
        found.only_before,
        found.only_after,
        soil,
        points,
        compound_changes(of_soil, every),
        exposures(before, after, found.matches),
        gap_days(before, after),
        air if of_air else None,
        compound_changes(of_air, every),
    )


def _medium(change: PointChange) -> str:
    """Return the medium of the later result, else that of the earlier one."""
    row = change.after or change.before
    return row.medium if row else ""


def compound_changes(points: Iterable[PointChange], every: Iterable[Twin]) -> tuple[CompoundChange, ...]:
    """Count the points of each compound by kind and by order, in the order of the compounds; none without a point."""
    by_compound: dict[str, list[PointChange]] = {}
    for change in points:
        by_compound.setdefault(change.analyte_id, []).append(change)
    names = dict.fromkeys(twin.analyte_id for twin in every)
    return tuple(_compound_change(name, by_compound[name]) for name in names if name in by_compound)


def _compound_change(name: str, points: list[PointChange]) -> CompoundChange:
    kinds = Counter(change.kind for change in points)
    orders = Counter(change.order for change in points if change.kind != "not_comparable")
    counted: dict[Kind, int] = {kind: kinds[kind] for kind in KINDS}
    return CompoundChange(name, counted, orders[1], orders[-1], orders[0], sign_test(orders[1], orders[-1]))


def exposures(before: Evaluation, after: Evaluation, matches: Iterable[Match]) -> tuple[ExposurePair, ...]:
    """Return the exposures of the samplers that stand for matched points, side by side."""
    old, new = before.standing, after.standing
    return tuple(_exposures(old[one.earlier_id].placement, new[one.location_id].placement) for one in matches)


def _exposures(before: Placement, after: Placement) -> ExposurePair:
    was, now = before.exposure_min, after.exposure_min
    ratio = now / was if was is not None and now is not None and was > 0 else None
    return ExposurePair(after.location_id, was, now, ratio, before.depth_m, after.depth_m)


def gap_days(before: Evaluation, after: Evaluation) -> float | None:
    """Return the days from the last retrieval of a round to the first placing of a later one, negative if they overlap.

    None where no retrieval, or no placing, is on record.
    """
    out = [p.retrieved_utc for p in before.placements if p.retrieved_utc is not None]
    placed = [p.placed_utc for p in after.placements if p.placed_utc >= 0]
    return minutes_to_days(min(placed) - max(out)) if out and placed else None
