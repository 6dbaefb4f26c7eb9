"""Which point of a later round is compared with which of an earlier one.

By id first, wherever both lie. Of the rest by position: two points that are each other's nearest of their medium and
lie within a limit. A point counts where a sampler stands for it. Positions are compared in the later round's map
system; where PROJ states no accuracy for the way there, they can't be.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from shapely import STRtree
from shapely.geometry import Point as Dot

from sitegen.compute.evaluate import Evaluation
from sitegen.compute.place.points import map_crs
from sitegen.compute.rounds.records import ROUNDING, Match
from sitegen.project.place.coordinates import crs, operations, transform


@dataclass(frozen=True, slots=True)
class Spot:
    """A point with its medium, its position in metres (None where there is none) and that position's accuracy in m."""

    location_id: str
    medium: str
    at: tuple[float, float] | None
    accuracy_m: float


Spots = Mapping[str, Spot]


@dataclass(frozen=True, slots=True)
class Matched:
    """The matches in the order of the later round's points, and the points without a partner."""

    matches: tuple[Match, ...]
    only_before: tuple[str, ...]
    only_after: tuple[str, ...]


def matched(before: Evaluation, after: Evaluation) -> Matched:
    """Match the points of two rounds."""
    target = map_crs(after.survey)
    earlier, later = spots(before, target), spots(after, target)
    same, moved = (after.limits[name].value for name in ("same_place_m", "round_moved_m"))
    pairs = {name: name for name in later if name in earlier}
    rest = [spot for name, spot in earlier.items() if name not in pairs]
    by_place = dict(by_position(rest, [spot for name, spot in later.items() if name not in pairs], same))
    partners = {name: pairs.get(name) or by_place.get(name) for name in later}
    matches = tuple(_match(earlier[was], later[name], moved) for name, was in partners.items() if was is not None)
    taken = {match.earlier_id for match in matches}
    return Matched(
        matches,
        tuple(name for name in earlier if name not in taken),
        tuple(name for name, was in partners.items() if was is None),
    )


def spots(evaluation: Evaluation, target: str) -> Spots:
    """Return the points that a sampler stands for, with their positions in metres of the system ``target``."""
    source, unit_m = map_crs(evaluation.survey), _metres(target)
    placed = {point.location_id: point for point in evaluation.points}
    xy = np.array([(point.x, point.y) for point in placed.values()], dtype=float).reshape(-1, 2)
    error_m = _accuracy_m(source, target, xy)
    if error_m is not None:
        xy = np.column_stack(transform(source, target, xy[:, 0], xy[:, 1])) * unit_m
    at = dict(zip(placed, map(tuple, xy.tolist()), strict=True)) if error_m is not None else {}
    accuracy = {name: max(point.accuracy_m or 0.0, error_m or 0.0) for name, point in placed.items()}
    standing = evaluation.standing
    return {
        name: Spot(name, standing[name].placement.medium, _known(at.get(name)), accuracy.get(name, 0.0))
        for name in evaluation.states
        if name in standing
    }


def by_position(earlier: Iterable[Spot], later: Iterable[Spot], limit_m: float) -> list[tuple[str, str]]:
    """Return (later, earlier) ids of points of one medium that are each other's nearest, within the limit.

    Of several at one distance the first by id.
    """
    olds, news = ([(spot, Dot(*spot.at)) for spot in every if spot.at] for every in (earlier, later))
    if not olds or not news or limit_m < 0:
        return []
    tree = STRtree([dot for _, dot in olds])
    near = tree.query([dot for _, dot in news], predicate="dwithin", distance=limit_m * (1 + ROUNDING))
    pairs = [(news[i][0], olds[j][0]) for i, j in near.T.tolist() if news[i][0].medium == olds[j][0].medium]
    ranked = sorted((round(_apart(new, old), 6), new.location_id, old.location_id) for new, old in pairs)
    nearest_new: dict[str, str] = {}
    nearest_old: dict[str, str] = {}
    for _, new_id, old_id in ranked:
        nearest_new.setdefault(new_id, old_id)
        nearest_old.setdefault(old_id, new_id)
    return [(new_id, old_id) for new_id, old_id in nearest_new.items() if nearest_old[old_id] == new_id]


def _match(before: Spot, after: Spot, limit_m: float) -> Match:
    how: Literal["id", "position"] = "id" if before.location_id == after.location_id else "position"
    if before.at is None or after.at is None:
        return Match(after.location_id, before.location_id, how, None, moved=False)
    distance = _apart(after, before)
    allowed = max(limit_m, before.accuracy_m, after.accuracy_m) * (1 + ROUNDING)
    return Match(after.location_id, before.location_id, how, distance, moved=how == "id" and distance > allowed)


def _apart(one: Spot, other: Spot) -> float:
    return math.dist(one.at, other.at) if one.at and other.at else math.inf


def _known(at: tuple[float, ...] | None) -> tuple[float, float] | None:
    """Return a position with finite coordinates; PROJ gives infinity for a place that it can't transform."""
    return (at[0], at[1]) if at is not None and math.isfinite(at[0]) and math.isfinite(at[1]) else None


def _metres(code: str) -> float:
    """Return the metres in a unit of a projected system; NaN, which makes no position, where it is none."""
    known = crs(code)
    return known.axis_info[0].unit_conversion_factor if known is not None and known.is_projected else math.nan


def _accuracy_m(source: str, target: str, xy: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> float | None:
    """Return the accuracy in metres that PROJ states for a transformation, None where it states none."""
    if source == target:
        return 0.0
    if not len(xy) or crs(source) is None or crs(target) is None:
        return None
    stated = [accuracy for _, accuracy in operations(source, target, [(x, y) for x, y in xy.tolist()])]
    known = [accuracy for accuracy in stated if accuracy is not None]
    return max(known) if known and len(known) == len(stated) else None
