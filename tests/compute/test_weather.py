"""Weather over the exposure: the window, rain within it, the largest fall of pressure. Answers by hand."""

from __future__ import annotations

import pytest
from builders import Change, changed, content, every, load, table
from journeys import folder

from sitegen.compute.field import weather as weather_module
from sitegen.compute.field.weather import Fall, Reading, ReadingOrigin, Weather, largest_fall, weather
from sitegen.project.tables import WeatherReading
from sitegen.project.zones import read_time

HEAD = "at,rain_mm,temperature_c,pressure_hpa,pressure_kind,source,station,distance_km"
# The example: first placing on 23 October 2025 at 08:11, last retrieval on 6 November at 12:58, in Chicago.


def readings(*rows: str) -> Change:
    return content("field/weather.csv", "\n".join((HEAD, *rows, "")).encode())


def seen(*changes: Change) -> Weather:
    found = weather(load(changed(*changes)))
    assert found is not None
    return found


def utc(text: str) -> int:
    found = read_time(text, "America/Chicago").utc_min
    assert found is not None
    return found


def at(minute: int, hpa: float) -> Reading:
    return Reading(minute, "", None, None, hpa, "station", ReadingOrigin("", "", None))


def test_readings_outside_the_window_are_counted_and_add_nothing() -> None:
    """9 mm before the first placing and 20 mm after the last retrieval are no rain over the exposure: 4 + 2.5."""
    found = seen(
        readings(
            "2025-10-23T07:00,9,1,990,station,log,mast,1",
            "2025-10-23T09:00,4,2,980,station,log,mast,1",
            "2025-11-06T12:00,2.5,3,970,station,log,mast,1",
            "2025-11-06T13:00,20,4,900,station,log,mast,1",
        )
    )
    assert (found.window.start_utc, found.window.end_utc) == (utc("2025-10-23T08:11"), utc("2025-11-06T12:58"))
    assert found.window.retrieved
    assert (found.rain_mm, found.rain_readings, found.before, found.after) == (6.5, 2, 1, 1)
    assert found.previous is not None
    assert found.following is not None
    assert (found.previous.rain_mm, found.following.rain_mm) == (9, 20)
    assert [day.day for day in found.days] == ["2025-10-23", "2025-11-06"]
    (pressure,) = found.pressures
    assert (pressure.lowest.pressure_hpa, pressure.highest.pressure_hpa) == (970, 980)
    assert pressure.fall is None  # the two readings within the window lie fourteen days apart


def test_the_example_is_added_up_by_an_independent_loop() -> None:
    """Rain and the largest fall within 24 h by the plainest double loop over the rows as received."""
    survey = load(changed())
    start, end = utc("2025-10-23T08:11"), utc("2025-11-06T12:58")
    rows = [row for row in survey.rows(WeatherReading) if start <= row.at_utc <= end]
    falls = [a.pressure_hpa - b.pressure_hpa for a in rows for b in rows if 0 < b.at_utc - a.at_utc <= 24 * 60]
    found = seen()
    assert found.rain_mm == pytest.approx(sum(row.rain_mm for row in rows))
    fall = found.pressures[0].fall
    assert fall is not None
    assert fall.hpa == pytest.approx(max(falls))


def test_the_largest_fall_is_between_a_reading_and_a_later_one_within_the_span() -> None:
    """From 1010 to 996 takes 36 h; within 24 h the largest is 1004 to 996 = 8, not the lowest less the highest."""
    read = [at(0, 1010), at(720, 1004), at(1440, 1005), at(2160, 996), at(2880, 1020)]
    assert largest_fall(read, 1440) == Fall(9.0, read[2], read[3])
    assert largest_fall(read, 2160) == Fall(14.0, read[0], read[3])
    assert largest_fall(read, 700) is None
    assert largest_fall([at(0, 990), at(60, 990), at(120, 1000)], 1440) is None
    assert largest_fall(read[:1], 1440) is None


def test_of_equal_falls_the_first_counts_and_the_span_itself_is_within() -> None:
    read = [at(0, 1005), at(1440, 1000), at(4000, 1005), at(4100, 1000)]
    assert largest_fall(read, 1440) == Fall(5.0, read[0], read[1])


def test_pressures_of_two_kinds_or_stations_are_never_taken_from_each_other() -> None:
    """1013 reduced to sea level beside 957 at the station is no fall of 56 hPa."""
    found = seen(
        readings(
            "2025-10-24T06:00,,,957,station,log,mast,1",
            "2025-10-24T07:00,,,1013,sea_level,office,town,9",
            "2025-10-24T08:00,,,955,station,log,mast,1",
            "2025-10-24T09:00,,,1012,sea_level,office,town,9",
        )
    )
    assert found.rain_mm is None  # nothing was read, which is not 0 mm
    assert [(p.kind, p.origin.station, p.fall.hpa if p.fall else None) for p in found.pressures] == [
        ("station", "mast", 2.0),
        ("sea_level", "town", 1.0),
    ]


def test_where_nothing_is_retrieved_the_window_ends_with_the_last_reading() -> None:
    nothing = every("field/deployments.csv", lambda _: {"retrieved_at": "", "bag_id": "", "condition": ""})
    found = seen(nothing)
    assert (found.window.retrieved, found.window.end_utc) == (False, utc("2025-11-07T00:00"))
    assert found.after == 0
    assert weather(load(changed(table("field/deployments.csv", lambda _: [])))) is None


def test_readings_are_in_order_of_time_and_those_of_one_minute_in_that_of_their_rows() -> None:
    """08:00 in Chicago in June is 08:00 of -05:00: the one without rain stands first, as in the file."""
    rows = [{"at": "2025-06-03T09:00", "rain_mm": "1"}, {"at": "2025-06-03T08:00", "rain_mm": ""},
            {"at": "2025-06-03T08:00-05:00", "rain_mm": "2"}]  # fmt: skip
    found = weather_module.readings(load(folder({"weather": rows})))
    assert [reading.rain_mm for reading in found] == [None, 2.0, 1.0]
