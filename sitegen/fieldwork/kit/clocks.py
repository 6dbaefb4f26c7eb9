"""When clocks are changed during a planned exposure."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

from sitegen.project.survey import Survey
from sitegen.project.tables import Deployment
from sitegen.project.zones import zone

_DAY = timedelta(days=1)
_MINUTE = timedelta(minutes=1)


@dataclass(frozen=True, slots=True)
class ClockChange:
    """A change of the clocks: the wall-clock times before and after it, its minutes, and both abbreviations."""

    before: str
    after: str
    minutes: int
    letters_before: str
    letters_after: str


def clock_changes(zone_name: str, first: date, last: date) -> tuple[ClockChange, ...]:
    """Return the changes of the clocks from the first to the last day, both included.

    >>> clock_changes("America/Chicago", date(2025, 10, 23), date(2025, 11, 6))[0].before
    '2025-11-02T02:00'
    """
    return tuple(_changes(zone_name, first, last))


def _changes(zone_name: str, first: date, last: date) -> Iterator[ClockChange]:
    place = zone(zone_name)
    start, end = (datetime.combine(day, time(0), UTC) for day in (first - _DAY, last + 2 * _DAY))
    at = start
    while place is not None and at < end:
        if at.astimezone(place).utcoffset() != (at + _DAY).astimezone(place).utcoffset():
            low, high = at, at + _DAY
            while high - low > _MINUTE:
                middle = low + (high - low) // 2 // _MINUTE * _MINUTE
                same = middle.astimezone(place).utcoffset() == at.astimezone(place).utcoffset()
                low, high = (middle, high) if same else (low, middle)
            old, new = low.astimezone(place), high.astimezone(place)
            before = old.replace(tzinfo=None) + _MINUTE
            if first <= before.date() <= last:
                minutes = (new.replace(tzinfo=None) - before) // _MINUTE
                yield ClockChange(_wall(before), _wall(new), minutes, old.tzname() or "", new.tzname() or "")
        at += _DAY


def _wall(moment: datetime) -> str:
    return moment.strftime("%Y-%m-%dT%H:%M")


def exposure_period(survey: Survey) -> tuple[date, date] | None:
    """Return the first and the last day on which a sampler may be in place; None where no date is known.

    The plan's own dates count first, then those of samplers that are placed; an end that is not planned is the
    longest planned exposure after the last day of placing.
    """
    plan = survey.plan
    placed = sorted(date.fromisoformat(row.placed_at[:10]) for row in survey.rows(Deployment) if row.placed_at)
    starts = [day for day in (plan.placing_from, *placed[:1]) if day]
    if not starts:
        return None
    last_in = max(day for day in (plan.placing_to, *starts, *placed[-1:]) if day)
    longest = timedelta(days=float(plan.exposure_days_max))
    return min(starts), plan.retrieving_to or last_in + longest
