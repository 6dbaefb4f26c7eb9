"""Trends over three rounds and more: Kendall's test for each compound over all points, and at each point.

A point is followed back from the last round, as :mod:`sitegen.compute.rounds.matching` matches it; where it moved or
its medium changed, that round is left out there. Masses are as reported, of exposures that may differ.

What the number of rounds supports: at one point the two-sided p can't be less than 0.33 with three rounds, so a
point is told from four on, where it can reach 0.083. Pooling points makes S larger, but whole rounds change places
(:mod:`sitegen.compute.statistics.kendall`), so the same bounds hold for a site.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from sitegen.compute.evaluate import Evaluation
from sitegen.compute.rounds.compared import Twin, twins
from sitegen.compute.rounds.matching import matched
from sitegen.compute.rounds.seen import Key, Seen, Sight, sight
from sitegen.compute.statistics.kendall import Kendall, kendall
from sitegen.project.schema import AIR_MEDIA

LEAST_ROUNDS, LEAST_AT_POINT = 3, 4
"""Rounds with results below which no trend is given, of a site and of a point (project default, no published
source); with fewer no p is below 0.33 and 0.083."""

Series = tuple[Seen | None, ...]


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
    group: Literal["soil", "air"]
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
    series = {key: kept for key, one in _followed(evaluations).items() if len(kept := _known(one)) >= LEAST_ROUNDS}
    by_compound: dict[tuple[str, Literal["soil", "air"]], list[Series]] = {}
    for (_, analyte_id), kept in series.items():
        group: Literal["soil", "air"] = "air" if kept[max(kept)].row.medium in AIR_MEDIA else "soil"
        by_compound.setdefault((analyte_id, group), []).append(tuple(map(kept.get, range(len(evaluations)))))
    return Trends(
        len(evaluations),
        tuple(CompoundTrend(*of, len(rows), _trend(rows)) for of, rows in by_compound.items()),
        tuple(
            PointTrend(*key, len(kept), _trend([tuple(kept.values())]))
            for key, kept in series.items()
            if len(kept) >= LEAST_AT_POINT
        ),
    )


def _trend(rows: Sequence[Series]) -> Kendall:
    values = np.array([[_number(one) for one in row] for row in rows], dtype=float)
    seen = np.array([[one is not None and one.detected for one in row] for row in rows], dtype=bool)
    return kendall(values, seen)


def _number(one: Seen | None) -> float:
    return math.nan if one is None else one.value if one.detected else one.limit


def _known(series: Series) -> dict[int, Seen]:
    """Return the results of a series that can be ordered, by round: those of the last one's medium and quantity."""
    good = {at: one for at, one in enumerate(series) if one is not None and one.quantity and not one.row.rejected}
    if not good:
        return {}
    last = good[max(good)]
    alike = (last.row.medium, last.quantity)
    return {at: one for at, one in good.items() if (one.row.medium, one.quantity) == alike}


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
