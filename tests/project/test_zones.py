"""Local times become UTC minutes; durations across clock changes agree with plain arithmetic."""

from __future__ import annotations

import csv
from datetime import date

import pytest
from in_memory import EXAMPLE, example

from sitegen.project.load import load_folder
from sitegen.project.tables import Deployment
from sitegen.project.zones import Instant, local_text, read_time, zone, zone_letters


def by_hand(text: str, offset_min: int) -> int:
    """Return minutes since 1970 of a local time, from day numbers and an offset alone."""
    day, _, clock = text.partition("T")
    days = date.fromisoformat(day).toordinal() - date(1970, 1, 1).toordinal()
    return days * 1440 + int(clock[:2]) * 60 + int(clock[3:5]) - offset_min


@pytest.mark.parametrize(
    ("zone_name", "begin", "begin_offset", "end", "end_offset", "days_hours_minutes"),
    [
        # Clocks back by an hour on 2 November 2025: one hour more than the clocks say.
        ("America/Chicago", "2025-10-28T09:15", -300, "2025-11-09T14:40", -360, (12, 6, 25)),
        # Clocks forward by an hour on 9 March 2025: one hour less.
        ("America/Chicago", "2025-03-01T12:00", -360, "2025-03-12T12:00", -300, (10, 23, 0)),
        ("Europe/London", "2025-10-20T08:00", 60, "2025-10-30T08:00", 0, (10, 1, 0)),
        ("Australia/Sydney", "2025-04-01T10:00", 660, "2025-04-10T10:00", 600, (9, 1, 0)),
        # Half an hour's change.
        ("Australia/Lord_Howe", "2025-04-01T10:00", 660, "2025-04-10T10:00", 630, (9, 0, 30)),
        # A zone of three quarters of an hour, without change.
        ("Asia/Kathmandu", "2025-10-28T09:15", 345, "2025-11-09T14:40", 345, (12, 5, 25)),
    ],
)
def test_a_duration_across_a_clock_change_is_right_to_the_minute(
    zone_name: str,
    begin: str,
    begin_offset: int,
    end: str,
    end_offset: int,
    days_hours_minutes: tuple[int, ...],
) -> None:
    first, last = read_time(begin, zone_name), read_time(end, zone_name)
    assert (first.state, last.state) == ("fine", "fine")
    assert first.utc_min == by_hand(begin, begin_offset)
    assert last.utc_min == by_hand(end, end_offset)
    days, hours, minutes = days_hours_minutes
    assert last.utc_min - first.utc_min == (days * 24 + hours) * 60 + minutes


def test_every_time_of_the_example_agrees_with_arithmetic_by_hand() -> None:
    survey, _ = load_folder(example())
    assert survey is not None
    placed = {row.sampler_id: row._asdict() for row in survey.rows(Deployment)}
    with (EXAMPLE / "field/deployments.csv").open(newline="", encoding="utf-8") as handle:
        rows = list(csv.DictReader(handle))
    across = 0
    for row in rows:
        found = placed[row["sampler_id"]]
        for name in ("placed_at", "retrieved_at"):
            if row[name] in ("", "NA"):
                continue
            # Chicago: five hours behind UTC before 2 November 2025, six from then on.
            offset = -300 if row[name] < "2025-11-02T02:00" else -360
            assert found[f"{name}_utc"] == by_hand(row[name], offset)
        across += row["placed_at"] < "2025-11-02" < row["retrieved_at"] < "A"
    assert across > 40


def test_an_hour_that_comes_twice_needs_an_offset() -> None:
    twice = read_time("2025-11-02T01:30", "America/Chicago")
    first = read_time("2025-11-02T01:30-05:00", "America/Chicago")
    second = read_time("2025-11-02T01:30-06:00", "America/Chicago")
    assert (twice.state, first.state, second.state) == ("occurs twice", "fine", "fine")
    assert first.utc_min == twice.utc_min == by_hand("2025-11-02T01:30", -300)
    assert second.utc_min == by_hand("2025-11-02T01:30", -360)


@pytest.mark.parametrize(
    ("text", "state"),
    [
        ("2025-03-09T02:30", "does not exist"),
        ("2025-03-09T02:30-06:00", "does not exist"),
        ("2025-03-09T01:59", "fine"),
        ("2025-03-09T03:00", "fine"),
        ("2025-11-02T01:30-07:00", "offset disagrees"),
        ("2025-06-01T12:00Z", "offset disagrees"),
        ("2025-06-01 12:00", "unreadable"),
        ("2025-06-31T12:00", "unreadable"),
        ("2025-06-01T24:00", "unreadable"),
        ("2025-06-01T12:00+25:00", "unreadable"),
        ("6/1/2025 12:00", "unreadable"),
        ("9999-12-31T23:59", "unreadable"),
        ("", "unreadable"),
    ],
)
def test_the_state_of_a_time(text: str, state: str) -> None:
    assert read_time(text, "America/Chicago").state == state


@pytest.mark.parametrize("name", ["", "Mars/Base", "../../etc/passwd", "UTC/../UTC", "America", "Etc/GMT+5x"])
def test_a_name_that_is_no_zone_is_none(name: str) -> None:
    assert zone(name) is None
    assert read_time("2025-06-01T12:00", name).state == "unreadable"


def test_minutes_are_written_back_as_local_time() -> None:
    for text in ("2025-11-02T00:30", "2025-11-02T03:30"):
        minutes = read_time(text, "America/Chicago").utc_min
        assert minutes is not None
        assert local_text(minutes, "America/Chicago") == text.replace("T", " ")
    assert zone_letters(by_hand("2025-11-02T00:30", -300), "America/Chicago") == "CDT"
    assert zone_letters(by_hand("2025-11-02T03:30", -360), "America/Chicago") == "CST"


@pytest.mark.parametrize("text", ["0001-01-01T00:00", "1899-12-31T23:59", "2200-01-01T00:00", "9999-12-31T23:59"])
def test_a_year_that_nobody_surveyed_in_is_unreadable(text: str) -> None:
    """Years outside 1900 to 2199 are slips; the ends of the calendar could not be shown in every zone."""
    assert read_time(text, "America/Chicago") == Instant(None, "unreadable")
