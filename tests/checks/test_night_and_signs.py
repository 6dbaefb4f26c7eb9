"""Hours at night, and longitudes on the other side of Greenwich, in surveys of a few rows."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from builders import Row
from few_rows import survey_of, told

from sitegen.checks.hemisphere import longitude_signs
from sitegen.checks.night import times_at_night

DAY = "2025-10-23T"


def crew(*times: str, who: str = "FS-1") -> list[Row]:
    """Return samplers that one role placed at these times of one day."""
    return [
        {"sampler_id": f"S-{at}", "location_id": f"P-{at}", "placed_at": DAY + time, "placed_by": who}
        for at, time in enumerate(times, start=1)
    ]


def nights(rows: list[Row], settings: str = "") -> list[str]:
    """Return the samplers whose time is said to be at night."""
    return [finding.subject for finding in times_at_night(survey_of({"deployments": rows}, settings))]


def test_a_time_of_one_among_times_of_the_day_is_told_with_the_one_meant() -> None:
    (finding,) = times_at_night(survey_of({"deployments": crew("11:40", "12:20", "01:03", "13:30")}))
    assert (finding.subject, finding.where.row, finding.where.column) == ("S-3+placed_at", 4, "placed_at")
    assert f"{DAY}13:03" in finding.do
    assert "project default, no published source" in finding.expected


@pytest.mark.parametrize(("time", "late"), [("21:59", False), ("22:00", True), ("04:59", True), ("05:00", False)])
def test_the_night_is_from_ten_to_five(time: str, late: bool) -> None:
    assert bool(nights(crew("12:00", time))) is late


def test_a_crew_that_worked_through_the_night_is_not_told() -> None:
    """Three at night: each has two others beside it, and none by day."""
    assert nights(crew("23:10", "23:40", "23:55")) == []


def test_two_at_night_are_told_for_neither_has_several_others() -> None:
    assert nights(crew("23:10", "23:40")) == ["S-1+placed_at", "S-2+placed_at"]


def test_afternoons_without_their_twelve_hours_are_told_for_most_of_the_shift_is_by_day() -> None:
    """Three at one to two o'clock and four in the morning: a clock of twelve hours, no work at night."""
    rows = crew("08:10", "09:20", "10:10", "11:05", "01:10", "01:25", "01:40")
    assert nights(rows) == ["S-5+placed_at", "S-6+placed_at", "S-7+placed_at"]


def test_another_crew_at_night_says_nothing_of_this_one() -> None:
    others = [row | {"sampler_id": f"T-{at}"} for at, row in enumerate(crew("01:00", "01:20", "01:40", who="FS-2"))]
    assert nights([*crew("12:00", "01:03"), *others]) == ["S-2+placed_at"]


def test_the_project_says_when_its_nights_are() -> None:
    words = '[limits.night_begins_h]\nvalue = 19\nunit = "h"\nsource = "site rules"\nkind = "plan"'
    assert nights(crew("12:00", "19:30")) == []
    assert nights(crew("12:00", "19:30"), words) == ["S-2+placed_at"]


def test_a_retrieval_at_night_is_told_in_its_own_column() -> None:
    rows = crew("12:00")
    rows[0] |= {"retrieved_at": "2025-11-03T02:00", "retrieved_by": "FS-1"}
    assert nights(rows) == ["S-1+retrieved_at"]


def point(name: str, longitude: str, latitude: str = "43.08", **others: str) -> Row:
    return {"location_id": name, "longitude": longitude, "latitude": latitude} | others


def test_of_points_alone_the_one_on_the_other_side_of_most_is_told() -> None:
    rows = [point("P-1", "-99.36"), point("P-2", "-99.37"), point("P-3", "99.365")]
    assert told(longitude_signs(survey_of({"locations": rows}))) == [
        "location P-3 (4 longitude): longitude 99.365, on the other side of the earth; -99.365 is at the site"
    ]


def test_a_point_that_lies_nowhere_near_with_either_sign_is_not_told() -> None:
    west = [point(f"P-{at}", longitude) for at, longitude in enumerate(("-99.36", "-99.37", "-99.365"), start=1)]
    rows = [*west, point("P-4", "98.0"), point("P-5", "99.365", "20.0")]
    assert told(longitude_signs(survey_of({"locations": rows}))) == []


def test_a_site_at_greenwich_has_points_on_both_sides() -> None:
    rows = [point("P-1", "-0.001"), point("P-2", "0.001"), point("P-3", "0.002")]
    assert told(longitude_signs(survey_of({"locations": rows}))) == []


def test_easting_and_northing_tell_where_the_site_is() -> None:
    """Every longitude lacks its minus, and the other two columns say so."""
    rows = [point(f"P-{at}", "99.3676", "43.0828", easting="470073.99", northing="4770074.09") for at in (1, 2)]
    assert [f.subject for f in longitude_signs(survey_of({"locations": rows}))] == ["P-1", "P-2"]
