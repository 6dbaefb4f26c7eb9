"""When the field work is planned: its days, the exposure that they allow, and what covers each day."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import islice
from typing import Literal, TypeAlias

from sitegen.compute.design.fieldplan import FieldPlan
from sitegen.project.survey import Survey
from sitegen.project.tables import Ticket
from sitegen.project.zones import ClockChange, clock_changes, read_time

Work: TypeAlias = Literal["placing", "retrieving", "placing and retrieving"]

MOST_DAYS = 60
"""Days of placing, and of retrieving, that are listed one by one."""


@dataclass(frozen=True, slots=True)
class FieldDay:
    """A planned day in the field.

    ``tickets`` are valid all of the day, ``part`` a part of it. ``uncovered`` are the points where a hole is
    planned that no ticket covers for all of the day.
    """

    day: date
    work: Work
    closed: bool
    tickets: tuple[str, ...]
    part: tuple[str, ...]
    uncovered: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Programme:
    """The planned windows, each (first, last) day or None where one of them is not stated, and what they mean.

    ``exposure_days`` are the shortest and the longest exposure that the windows allow: last placing to first
    retrieval, and first placing to last retrieval, in whole days.
    """

    placing: tuple[date, date] | None
    retrieving: tuple[date, date] | None
    exposure_days: tuple[int, int] | None
    closed: tuple[date, ...]
    changes: tuple[ClockChange, ...]
    days: tuple[FieldDay, ...]


def programme(survey: Survey, plan: FieldPlan) -> Programme:
    """Return the programme of a plan, as far as its settings state one."""
    asked = survey.plan
    placing = _window(asked.placing_from, asked.placing_to)
    retrieving = _window(asked.retrieving_from, asked.retrieving_to)
    exposure: tuple[int, int] | None = None
    changes: tuple[ClockChange, ...] = ()
    if placing and retrieving:
        exposure = ((retrieving[0] - placing[1]).days, (retrieving[1] - placing[0]).days)
        changes = clock_changes(survey.time_zone, placing[0], retrieving[1])
    works = _works(placing, retrieving)
    holes = [point.location_id for point in plan.points if point.ground != "air"]
    tickets = survey.rows(Ticket)
    days = tuple(_field_day(survey, day, work, tickets, holes) for day, work in works.items())
    return Programme(placing, retrieving, exposure, tuple(sorted(asked.closed_days)), changes, days)


def _window(first: date | None, last: date | None) -> tuple[date, date] | None:
    return (first, last) if first and last else None


def _works(placing: tuple[date, date] | None, retrieving: tuple[date, date] | None) -> dict[date, Work]:
    first, second = (set(_days(*window)) if window else set() for window in (placing, retrieving))
    found: dict[date, Work] = {}
    for day in sorted(first | second):
        both = day in first and day in second
        found[day] = "placing and retrieving" if both else "placing" if day in first else "retrieving"
    return found


def _days(first: date, last: date) -> Iterator[date]:
    return islice((first + timedelta(days=n) for n in range((last - first).days + 1)), MOST_DAYS)


def _field_day(survey: Survey, day: date, work: Work, tickets: Sequence[Ticket], holes: Sequence[str]) -> FieldDay:
    states = {row.ticket: (covers(row, day, survey.time_zone), points_of(row)) for row in tickets}
    whole = [name for name, (state, _) in states.items() if state == "whole"]
    covered = [states[name][1] for name in whole]
    missing = tuple(name for name in holes if not any(not points or name in points for points in covered))
    part = tuple(name for name, (state, _) in states.items() if state == "part")
    return FieldDay(day, work, day in survey.plan.closed_days, tuple(whole), part, missing)


def points_of(row: Ticket) -> tuple[str, ...]:
    """Return the points that a ticket names; none where it covers all."""
    return tuple(name.strip() for name in row.location_ids.split(";") if name.strip())


def covers(row: Ticket, day: date, zone_name: str) -> Literal["whole", "part", "none"]:
    """Tell whether a ticket is valid for a whole local day, a part of it, or no part; none where a time is missing.

    Valid until 23:59 counts as until midnight.
    """
    start, end = (read_time(f"{one.isoformat()}T00:00", zone_name).utc_min for one in (day, day + timedelta(days=1)))
    if start is None or end is None or not (row.valid_from_utc >= 0 and row.valid_to_utc >= 0):
        return "none"
    if row.valid_from_utc <= start and row.valid_to_utc >= end - 1:
        return "whole"
    return "part" if row.valid_from_utc < end and row.valid_to_utc > start else "none"
