"""When clocks are changed during the exposure, against the laws that say so."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from kits import edited, survey_of
from planned_survey import in_field, texts

from sitegen.fieldwork.kit.clocks import exposure_period
from sitegen.project.zones import clock_changes


@pytest.mark.parametrize("year", [2024, 2025, 2026])
def test_united_states(year: int) -> None:
    """First Sunday of November, 2:00 standing for 1:00 (US Energy Policy Act of 2005, section 110)."""
    first = date(year, 11, 1)
    sunday = first + timedelta(days=(6 - first.weekday()) % 7)
    (change,) = clock_changes("America/Chicago", date(year, 10, 1), date(year, 11, 30))
    assert (change.before, change.after, change.minutes) == (f"{sunday}T02:00", f"{sunday}T01:00", -60)
    assert (change.letters_before, change.letters_after) == ("CDT", "CST")


@pytest.mark.parametrize("year", [2024, 2025, 2026])
def test_european_union(year: int) -> None:
    """Last Sunday of March, at 1:00 UTC, which is 2:00 in central Europe (Directive 2000/84/EC, article 2)."""
    last = date(year, 3, 31)
    sunday = last - timedelta(days=(last.weekday() + 1) % 7)
    (change,) = clock_changes("Europe/Berlin", date(year, 3, 1), date(year, 4, 30))
    assert (change.before, change.after, change.minutes) == (f"{sunday}T02:00", f"{sunday}T03:00", 60)


def test_half_an_hour_and_none_at_all() -> None:
    """Lord Howe Island shifts by half an hour (tz database, from memory); Japan has no change."""
    year = (date(2025, 1, 1), date(2025, 12, 31))
    assert [abs(change.minutes) for change in clock_changes("Australia/Lord_Howe", *year)] == [30, 30]
    assert clock_changes("Asia/Tokyo", *year) == ()


def test_the_days_themselves_count() -> None:
    """A change on the first or on the last day is told, one on the day after is not."""
    day = date(2025, 11, 2)
    assert len(clock_changes("America/Chicago", day, day)) == 1
    assert clock_changes("America/Chicago", day - timedelta(days=9), day - timedelta(days=1)) == ()
    assert clock_changes("America/Chicago", day + timedelta(days=1), day + timedelta(days=9)) == ()


def test_the_period_is_the_plans() -> None:
    """From the first day of placing to the last of retrieving, as the settings state them."""
    assert exposure_period(survey_of(texts())) == (date(2025, 10, 27), date(2025, 11, 7))


def test_the_period_by_what_is_placed() -> None:
    """Without dates in the plan it lasts from the first sampler to 14 days after the last; else none is known."""
    days = {"placing_from": 27, "placing_to": 28, "retrieving_from": 6, "retrieving_to": 7}
    bare, begun = texts(), in_field()
    for name, day in days.items():
        line = f"{name} = 2025-{10 if day > 20 else 11}-{day:02}\n"
        bare, begun = edited("project.toml", line, "", bare), edited("project.toml", line, "", begun)
    assert exposure_period(survey_of(bare)) is None
    assert exposure_period(survey_of(begun)) == (date(2025, 10, 27), date(2025, 11, 11))
