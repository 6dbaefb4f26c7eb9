"""A gap in the weather is time that passed; a schedule kept by the wall clock has none where clocks change."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from builders import Change, changed, content, every, survey_findings

HEAD = "at,rain_mm,temperature_c,pressure_hpa,pressure_kind,source,station,distance_km"


def every_hours(hours: int, *, without: tuple[str, ...] = ()) -> Change:
    """Return readings by the wall clock over the example's exposure, which has the change of 2 November in it."""
    start = datetime(2025, 10, 23, tzinfo=UTC)
    times = [(start + timedelta(hours=n)).strftime("%Y-%m-%dT%H:%M") for n in range(0, 24 * 15 + 1, hours)]
    rows = [f"{time},0,5,957,station,log,mast,1" for time in times if time not in without]
    return content("field/weather.csv", "\n".join((HEAD, *rows, "")).encode())


def gaps(*changes: Change) -> list[str]:
    return [finding.found for finding in survey_findings(changed(*changes)) if finding.code == "weather-gap"]


def test_readings_at_six_and_six_have_no_gap_where_the_clocks_go_back() -> None:
    """From midnight to noon of 2 November 13 h pass; the schedule of 12 h by the wall clock was kept."""
    assert gaps(every_hours(12)) == []


def test_a_missing_reading_across_the_change_is_a_gap_of_the_time_that_passed() -> None:
    """With readings every 6 h, those of 06:00 gone: 00:00 CDT to 12:00 CST are 13 h, and no usual step."""
    assert gaps(every_hours(6, without=("2025-11-02T06:00",))) == ["13 h without a reading from 2 November 2025, 00:00"]
    found = gaps(every_hours(12, without=("2025-11-02T12:00",)))
    assert found == ["25 h without a reading from 2 November 2025, 00:00"]


def test_gaps_are_sought_while_no_sampler_is_retrieved_yet() -> None:
    still = every("field/deployments.csv", lambda _: {"retrieved_at": "", "bag_id": "", "condition": ""})
    assert gaps(still, every_hours(6, without=("2025-10-30T06:00", "2025-10-30T12:00"))) == [
        "18 h without a reading from 30 October 2025, 00:00"
    ]


def test_a_reading_between_two_others_is_no_gap_nor_is_what_lies_before_the_first_placing() -> None:
    """Readings every 6 h and one more an hour after noon; a day without any ends before the samplers were placed."""
    between = "2025-10-30T13:00,0,5,957,station,log,mast,1\n"
    early = "2025-10-21T00:00,0,5,957,station,log,mast,1\n2025-10-22T00:00,0,5,957,station,log,mast,1\n"
    assert gaps(every_hours(6), Change("field/weather.csv", lambda rows: rows + (between + early).encode())) == []
