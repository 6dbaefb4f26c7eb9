"""The field programme: which days, how long an exposure, when clocks change, and what tickets cover."""

from __future__ import annotations

from datetime import date

import pytest
from builders import load, row_of
from planned_survey import folder, planned, texts

from sitegen.compute.design.fieldplan import field_plan
from sitegen.compute.design.programme import Programme, covers, programme
from sitegen.project.tables import Ticket
from sitegen.project.zones import clock_changes, read_time

ZONE = "America/Chicago"


def ticket(first: str, last: str) -> Ticket:
    """Return a ticket with its validity in the zone of the survey; no time for blank words."""
    start, end = (read_time(text, ZONE).utc_min if text else None for text in (first, last))
    times = {"valid_from_utc": float(start if start is not None else "nan"),
             "valid_to_utc": float(end if end is not None else "nan")}  # fmt: skip
    return row_of(Ticket, ticket="T", **times)


def of(*changes: tuple[str, str, str]) -> Programme:
    """Return the programme of the planned survey with words of its files replaced."""
    made = texts()
    for path, old, new in changes:
        assert made[path].count(old) == 1
        made[path] = made[path].replace(old, new)
    survey = load(folder(made))
    return programme(survey, field_plan(survey))


def test_the_windows_give_the_days_and_the_exposure() -> None:
    """Placing on 27 and 28 October and retrieval on 6 and 7 November: 9 days at least, 11 at most."""
    found = of()
    assert [(one.day.isoformat(), one.work) for one in found.days] == [
        ("2025-10-27", "placing"),
        ("2025-10-28", "placing"),
        ("2025-11-06", "retrieving"),
        ("2025-11-07", "retrieving"),
    ]
    assert found.exposure_days == (9, 11)
    assert [(one.day, one.minutes) for one in found.changes] == [(date(2025, 11, 2), -60)]
    assert found.closed == (date(2025, 11, 4),)


def test_a_day_of_both_is_named_once_and_a_closed_day_is_told() -> None:
    """A day in both windows is one day; a day that is closed says so."""
    found = of(
        ("project.toml", "retrieving_from = 2025-11-06", "retrieving_from = 2025-10-28"),
        ("project.toml", "[2025-11-04]", "[2025-10-28]"),
    )
    both = {one.day.isoformat(): (one.work, one.closed) for one in found.days}
    assert both["2025-10-28"] == ("placing and retrieving", True)
    assert both["2025-10-27"] == ("placing", False)


def test_without_all_days_there_is_no_exposure() -> None:
    """A window of which one day is missing is none: no exposure and no change of clocks is told."""
    found = of(("project.toml", "retrieving_to = 2025-11-07\n", ""))
    assert (found.retrieving, found.exposure_days, found.changes) == (None, None, ())
    assert [one.work for one in found.days] == ["placing", "placing"]


def test_holes_without_a_ticket_are_named_day_by_day() -> None:
    """Without the ticket of all points, those of no other ticket are uncovered, and from 4 November UT-2's as well."""
    found = of(
        ("field/clearance.csv", "UT-1,2025-10-20T09:00,2025-10-24T08:00,2025-11-14T23:59,public utilities,\n", "")
    )
    first, last = found.days[0], found.days[-1]
    assert (first.tickets, last.tickets) == (("UT-2", "UT-3"), ("UT-3",))
    assert set(last.uncovered) - set(first.uncovered) == {"SG-01", "SG-02", "SG-05", "SG-06"}
    assert not {"SS-1", "SS-2", "IA-1", "OA-1"} & set(last.uncovered)
    assert len(last.uncovered) == 14


def test_of_the_survey_every_hole_is_covered() -> None:
    """The ticket of all points covers each hole on each planned day."""
    survey = load(planned())
    assert {one.uncovered for one in programme(survey, field_plan(survey)).days} == {()}


@pytest.mark.parametrize(
    ("first", "last", "state"),
    [
        ("2025-11-02T00:00", "2025-11-02T23:59", "whole"),
        ("2025-11-01T08:00", "2025-11-03T08:00", "whole"),
        ("2025-11-02T00:01", "2025-11-03T08:00", "part"),
        ("2025-11-01T08:00", "2025-11-02T23:58", "part"),
        ("2025-11-03T00:00", "2025-11-04T00:00", "none"),
        ("2025-11-01T00:00", "2025-11-02T00:00", "none"),
        ("", "2025-11-04T00:00", "none"),
        ("2025-11-01T08:00", "", "none"),
    ],
)
def test_a_ticket_covers_a_whole_day_a_part_or_none(first: str, last: str, state: str) -> None:
    """A day is covered from midnight to midnight; the day has 25 hours here, for the clocks go back."""
    assert covers(ticket(first, last), date(2025, 11, 2), ZONE) == state


def test_clocks_change_on_the_days_of_the_law() -> None:
    """In the United States clocks change on the second Sunday of March and the first of November.

    Energy Policy Act of 2005, section 110, from memory; the European Union's directive 2000/84/EC, from memory:
    last Sundays of March and October. Arizona keeps one time.
    """
    year = (date(2025, 1, 1), date(2025, 12, 31))
    told = {zone: [(one.day.isoformat(), one.minutes) for one in clock_changes(zone, *year)]
            for zone in (ZONE, "Europe/Berlin", "America/Phoenix")}  # fmt: skip
    assert told == {
        ZONE: [("2025-03-09", 60), ("2025-11-02", -60)],
        "Europe/Berlin": [("2025-03-30", 60), ("2025-10-26", -60)],
        "America/Phoenix": [],
    }
