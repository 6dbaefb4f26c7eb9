"""Trends over three rounds and more: Kendall's test for each compound over all points, and at each point.

A point is followed back from the last round, as :mod:`sitegen.compute.rounds.matching` matches it; where it moved or
its medium changed, that round is left out there. Masses are as reported, of exposures that may differ.

What the number of rounds supports: at one point the two-sided p can't be less than 0.33 with three rounds, so a
point is told from four on, where it can reach 0.083. Pooling points makes S larger, but whole rounds change places
(:mod:`sitegen.compute.statistics.kendall`), so the same bounds hold for a site.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from sitegen.compute.evaluate import Evaluation
from sitegen.compute.rounds.compared import Twin, incomparable, twins
from sitegen.compute.rounds.matching import matched
from sitegen.compute.rounds.seen import Key, Seen, Sight, sight
from sitegen.compute.statistics.kendall import Kendall, each_kendall, kendall
from sitegen.compute.statistics.rank import Flags, Floats
from sitegen.project.schema import AIR_MEDIA

LEAST_ROUNDS, LEAST_AT_POINT = 3, 4
"""Rounds with results below which no trend is given, of a site and of a point (project default, no published
source); with fewer no p is below 0.33 and 0.083."""

Series = tuple[Seen | None, ...]
Known = Mapping[int, Seen]
Group = Literal["soil", "air"]


@dataclass(frozen=True, slots=True)
class PointTrend:
    """A compound at a point, by the last round's ids: ``rounds`` with a result, and the trend over them."""

    location_id: str
    analyte_id: str
    rounds: int
    kendall: Kendall


@dataclass(frozen=True, slots=True)
class CompoundTrend:
    """A compound over the points of soil or of air with results in three rounds or more, and the trend over them."""

    analyte_id: str
    group: Group
    points: int
    kendall: Kendall


@dataclass(frozen=True, slots=True)
class Trends:
    """The trends over ``rounds`` rounds; nothing where there are too few of them."""

    rounds: int
    compounds: tuple[CompoundTrend, ...] = ()
    points: tuple[PointTrend, ...] = ()


def trends(evaluations: Sequence[Evaluation]) -> Trends:
    """Return the trends over rounds in order of time, by the limits and the blank rule of the last one."""
    if len(evaluations) < LEAST_ROUNDS:
        return Trends(len(evaluations))
    kept = {key: known for key, row in _followed(evaluations).items() if len(known := _known(row)) >= LEAST_ROUNDS}
    by_compound: dict[tuple[str, Group], dict[str, Known]] = {}
    for (point, analyte_id), known in kept.items():
        group: Group = "air" if known[max(known)].row.medium in AIR_MEDIA else "soil"
        by_compound.setdefault((analyte_id, group), {})[point] = known
    count = len(evaluations)
    return Trends(
        count,
        tuple(CompoundTrend(*of, len(at), kendall(*_arrays(at, count))) for of, at in by_compound.items()),
        tuple(one for (name, _), at in by_compound.items() for one in _at_points(name, at, count)),
    )


def _at_points(analyte_id: str, every: Mapping[str, Known], count: int) -> Iterator[PointTrend]:
    enough = {point: known for point, known in every.items() if len(known) >= LEAST_AT_POINT}
    each = each_kendall(*_arrays(enough, count)) if enough else ()
    for (point, known), found in zip(enough.items(), each, strict=True):
        yield PointTrend(point, analyte_id, len(known), found)


def _arrays(every: Mapping[str, Known], count: int) -> tuple[Floats, Flags]:
    """Return values (or limits) and detections of points by rounds."""
    values, detected = np.full((len(every), count), np.nan), np.zeros((len(every), count), dtype=bool)
    for at, known in enumerate(every.values()):
        for number, one in known.items():
            values[at, number] = _number(one)
            detected[at, number] = one.detected
    return values, detected


def _number(one: Seen) -> float:
    return one.value if one.detected else one.limit


def _known(series: Series) -> dict[int, Seen]:
    """Return the results of a series that can be ordered, by round: those that compare with the last one."""
    good = {at: one for at, one in enumerate(series) if one is not None and one.quantity and not one.row.rejected}
    if not good:
        return {}
    last = good[max(good)]
    return {at: one for at, one in good.items() if one.row.medium == last.row.medium and not incomparable(one, last)}


def _followed(evaluations: Sequence[Evaluation]) -> Mapping[Key, Series]:
    """Return the results of each point and compound of the last round, one for each round, in their order."""
    last = evaluations[-1]
    sights = [sight(one, last.blank_rule) for one in evaluations]
    points = [name for name in last.states if name in last.standing]
    columns = [_back(one, last, seen, sights[-1]) for one, seen in zip(evaluations[:-1], sights[:-1], strict=True)]
    columns.append(dict(sights[-1].at))
    compounds = dict.fromkeys(name for column in columns for _, name in column)
    keys = ((point, compound) for compound in compounds for point in points)
    return {key: row for key in keys if any(row := tuple(column.get(key) for column in columns))}


def _back(before: Evaluation, last: Evaluation, seen: Sight, newest: Sight) -> dict[Key, Seen]:
    """Return what an earlier round shows, by the last round's ids of points and compounds."""
    names = [(match.location_id, match.earlier_id) for match in matched(before, last).matches if not match.moved]
    same: list[Twin] = [twin for twin in twins(before, last, (seen, newest)) if twin.before and not twin.clash]
    found = {(point, twin.analyte_id): seen.at.get((earlier, twin.before)) for twin in same for point, earlier in names}
    return {key: one for key, one in found.items() if one is not None}
