"""Rules on times, at the minute where they begin to tell and the minute before: what, where, and of which row."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from builders import Row
from few_rows import Tables, deployed, sampler, survey_of, told

from sitegen.checks import handling, weather
from sitegen.checks import time as times
from sitegen.compute.evaluate import evaluate
from sitegen.compute.formats import stamp_text
from sitegen.project.survey import Survey


@pytest.mark.parametrize(
    ("kind", "retrieved", "tells"),
    [
        ("sample", "2025-06-02T08:01", False),
        ("sample", "2025-06-02T08:00", True),
        ("sample", "2025-06-02T07:59", True),
        ("field_blank", "2025-06-02T08:00", False),
        ("field_blank", "2025-06-02T07:59", True),
    ],
)
def test_a_sampler_is_in_the_ground_for_a_minute_at_least(kind: str, retrieved: str, *, tells: bool) -> None:
    """A field blank may be closed within the minute in which it was opened."""
    tables = {"samplers": [sampler(kind)], "deployments": [deployed("2025-06-02T08:00", retrieved)]}
    expected = f"sampler S-1 (2 retrieved_at): {retrieved}, installed 2025-06-02T08:00"
    assert told(times.retrieval_after_placing(survey_of(tables))) == ([expected] if tells else [])


ORDERS: tuple[tuple[str, Tables, str], ...] = (
    (
        "prepared on the day of packing",
        {"samplers": [sampler(prepared_on="2025-06-01", shipment_id="O-1")], "shipments": [
            {"shipment_id": "O-1", "direction": "out", "packed_at": "2025-06-01T00:00"}]},
        "",
    ),
    (
        "prepared on the day after packing",
        {"samplers": [sampler(prepared_on="2025-06-02", shipment_id="O-1")], "shipments": [
            {"shipment_id": "O-1", "direction": "out", "packed_at": "2025-06-01T23:59"}]},
        ("sampler O-1+S-1 (2 prepared_on): prepared_on of 1 sampler (S-1; 2025-06-02) after packed_at of O-1 "
        "(2025-06-01T23:59)"),
    ),
    (
        "placed in the minute of receipt",
        {"samplers": [sampler(shipment_id="O-1")], "deployments": [deployed("2025-06-02T08:00", "")], "shipments": [
            {"shipment_id": "O-1", "direction": "out", "received_at": "2025-06-02T08:00"}]},
        "",
    ),
    (
        "placed a minute before receipt",
        {"samplers": [sampler(shipment_id="O-1")], "deployments": [deployed("2025-06-02T08:00", "")], "shipments": [
            {"shipment_id": "O-1", "direction": "out", "received_at": "2025-06-02T08:01"}]},
        ("sampler O-1+S-1 (2 placed_at): placed_at of 1 sampler (S-1; 2025-06-02T08:00) before received_at of O-1 "
        "(2025-06-02T08:01)"),
    ),
    (
        "sealed in the minute of retrieval",
        {"deployments": [deployed("2025-06-02T08:00", "2025-06-10T08:00", bag_id="B-1")], "return_bags": [
            {"bag_id": "B-1", "sealed_at": "2025-06-10T08:00"}]},
        "",
    ),
    (
        "two samplers retrieved a minute after the bag was sealed",
        {"deployments": [
            deployed("2025-06-02T08:00", "2025-06-10T08:00", bag_id="B-1"),
            deployed("2025-06-02T09:00", "2025-06-10T08:01", bag_id="B-2", sampler_id="S-2"),
            deployed("2025-06-02T09:00", "2025-06-10T08:01", bag_id="B-2", sampler_id="S-3")], "return_bags": [
            {"bag_id": "B-1", "sealed_at": "2025-06-10T08:00"}, {"bag_id": "B-2", "sealed_at": "2025-06-10T08:00"}]},
        ("bag B-2 (3 sealed_at): retrieved_at of 2 samplers (S-2, S-3; 2025-06-10T08:01) after sealed_at of B-2 "
        "(2025-06-10T08:00)"),
    ),
    (
        "packed in the minute of sealing",
        {"return_bags": [{"bag_id": "B-1", "sealed_at": "2025-06-10T08:00", "shipment_id": "R-1"}], "shipments": [
            {"shipment_id": "R-1", "direction": "return", "packed_at": "2025-06-10T08:00"}]},
        "",
    ),
    (
        "packed a minute before sealing",
        {"return_bags": [{"bag_id": "B-1", "sealed_at": "2025-06-10T08:01", "shipment_id": "R-1"}], "shipments": [
            {"shipment_id": "R-1", "direction": "return", "packed_at": "2025-06-10T08:00"}]},
        ("bag R-1+B-1 (2 sealed_at): sealed_at of 1 bag (B-1; 2025-06-10T08:01) after packed_at of R-1 "
        "(2025-06-10T08:00)"),
    ),
)  # fmt: skip


@pytest.mark.parametrize(("tables", "expected"), [case[1:] for case in ORDERS], ids=[case[0] for case in ORDERS])
def test_samplers_go_through_their_stations_in_order(tables: Tables, expected: str) -> None:
    """One row out of order is told at itself, several at the row that they refer to."""
    assert told(times.in_order(survey_of(tables))) == ([expected] if expected else [])


@pytest.mark.parametrize(("later", "tells"), [("2025-06-03T08:00", False), ("2025-06-03T07:59", True)])
def test_the_times_of_one_row_may_be_one_minute_but_not_the_wrong_way_round(later: str, *, tells: bool) -> None:
    earlier = "2025-06-03T08:00"
    survey = survey_of({
        "shipments": [{"shipment_id": "O-1", "direction": "out", "packed_at": earlier, "received_at": later}],
        "lab_samples": [
            {"lab_sample_id": "L-1", "type": "method_blank", "lab_received_at": earlier, "analysed_at": later}
        ],
        "clearance": [{"ticket": "T-1", "valid_from": earlier, "valid_to": later}],
    })  # fmt: skip
    assert (
        told(times.row_order(survey))
        == [
            f"shipment O-1 (2 received_at): received_at {later}, packed_at {earlier}",
            f"lab_sample L-1 (2 analysed_at): analysed_at {later}, lab_received_at {earlier}",
            f"ticket T-1 (2 valid_to): valid_to {later}, valid_from {earlier}",
        ]
        * tells
    )


@pytest.mark.parametrize(
    ("received", "analysed", "tells"),
    [
        ("2025-06-10T08:00", "", False),
        ("2025-06-10T07:59", "2025-06-20T08:00", True),
        ("", "2025-06-10T08:00", False),
        ("", "2025-06-10T07:59", True),
    ],
)
def test_the_laboratory_has_no_sampler_that_is_in_the_ground(received: str, analysed: str, *, tells: bool) -> None:
    """The receipt counts; where none is on record, the analysis."""
    sample = {"lab_sample_id": "L-1", "sampler_id": "S-1", "type": "sample"}
    survey = survey_of({
        "samplers": [sampler()],
        "deployments": [deployed("2025-06-02T08:00", "2025-06-10T08:00")],
        "lab_samples": [sample | {"lab_received_at": received, "analysed_at": analysed}],
    })  # fmt: skip
    found = list(times.laboratory_order(survey))
    words = f"received {stamp_text(received) or 'NA'}, analysed {stamp_text(analysed) or 'NA'}"
    assert told(found) == ([f"lab_sample L-1 (2 lab_received_at): {words}"] if tells else [])
    assert {f.expected for f in found} <= {"a time after 10 June 2025, 08:00, when it was retrieved"}


@pytest.mark.parametrize(("minute", "tells"), [("2025-12-31T23:59", False), ("2026-01-01T00:00", True)])
def test_the_last_minute_of_the_report_s_day_is_in_time(minute: str, *, tells: bool) -> None:
    """Of each column of times, the first late row is told, with how many are."""
    early = "2025-06-02T08:00"
    survey = survey_of({
        "deployments": [
            deployed(early, early), deployed(minute, minute, sampler_id="S-2"), deployed(minute, "", sampler_id="S-3")
        ],
        "shipments": [{"shipment_id": "O-1", "direction": "out", "received_at": minute}],
        "custody": [
            {"event_id": "E-1", "subject_kind": "sampler", "subject_id": "S-1", "event": "stored", "at": minute}
        ],
        "lab_samples": [{"lab_sample_id": "L-1", "type": "method_blank", "analysed_at": minute}],
    })  # fmt: skip
    late = stamp_text(minute)
    assert (
        told(times.not_after_report(survey))
        == [
            f" deployments+placed_at (3 placed_at): {late} in 2 rows",
            f" deployments+retrieved_at (3 retrieved_at): {late} in 1 row",
            f" shipments+received_at (2 received_at): {late} in 1 row",
            f" custody+at (2 at): {late} in 1 row",
            f" lab_samples+analysed_at (2 analysed_at): {late} in 1 row",
        ]
        * tells
    )


@pytest.mark.parametrize(
    ("minutes", "expected"),
    [
        (("01", "00", "30", "02", "03", "04", "05", "06"), []),
        (("01", "00", "30", "02", "00", "04", "05", "06"), ["38 % of 8 times on the hour or half hour"]),
        (("00", "00", "30", "00", "00", "00", "30"), []),
        (("00", "30", "00", "30", "00", "30", "00", "30"), ["100 % of 8 times on the hour or half hour"]),
    ],
)
def test_more_than_a_quarter_of_eight_times_or_more_are_rounded(minutes: tuple[str, ...], expected: list[str]) -> None:
    """2 of 8 are 25 %, the limit; 3 are 37.5 %; seven times tell nothing. The first rounded one is shown."""
    rows = [deployed(f"2025-06-02T08:{m}", "", sampler_id=f"S-{at}") for at, m in enumerate(minutes)]
    found = list(times.rounded_times(survey_of({"deployments": rows})))
    assert [f.found for f in found] == expected
    first = next(at for at, m in enumerate(minutes) if m in ("00", "30"))
    assert [f.where.row for f in found] == [first + 2] * len(expected)


def test_a_retrieval_not_on_record_is_no_time() -> None:
    """Eight of nine samplers came up on the half hour; the ninth is in the ground yet."""
    rows = [deployed(f"2025-06-02T08:0{n}", f"2025-06-{10 + n}T08:30", sampler_id=f"S-{n}") for n in range(8)]
    found = times.rounded_times(survey_of({"deployments": [*rows, deployed("2025-06-02T09:01", "")]}))
    assert told(found) == [" retrieved_at (2 retrieved_at): 100 % of 8 times on the hour or half hour"]


def hours_after(start: str, hours: float) -> str:
    return (datetime.fromisoformat(start) + timedelta(hours=hours)).isoformat(timespec="minutes")


@pytest.mark.parametrize(("minutes", "tells"), [(30 * 1440, False), (30 * 1440 + 1, True)])
def test_the_holding_time_ends_with_its_last_minute(minutes: int, *, tells: bool) -> None:
    """30 days; the finding marks the results of that sampler alone."""
    out = "2025-06-10T08:00"
    survey = survey_of({
        "samplers": [sampler()],
        "locations": [{"location_id": "P-1", "medium": "soil_gas"}],
        "deployments": [deployed("2025-06-02T08:00", out, condition="intact")],
        "lab_samples": [{"lab_sample_id": "L-1", "sampler_id": "S-1", "type": "sample",
                         "analysed_at": hours_after(out, minutes / 60)}],
    })  # fmt: skip
    found = list(times.holding(survey, evaluate(survey)))
    assert told(found) == ["lab_sample L-1 (2 analysed_at): 30.0 days after retrieval"] * tells
    assert [[t.sampler_id for t in f.touches] for f in found] == [["S-1"]] * tells


@pytest.mark.parametrize(("minutes", "tells"), [(24 * 60, False), (24 * 60 + 6, True)])
def test_a_bag_is_sealed_within_a_day_of_its_last_sampler(minutes: int, *, tells: bool) -> None:
    """Of two samplers one waits longer than the limit, and it alone is told and marked."""
    out = "2025-06-10T08:00"
    survey = survey_of({
        "samplers": [sampler(), sampler(sampler_id="S-2")],
        "locations": [{"location_id": "P-1", "medium": "soil_gas"}],
        "deployments": [
            deployed("2025-06-02T08:00", out, condition="intact", bag_id="B-1"),
            deployed("2025-06-02T08:00", "2025-06-11T07:00", condition="intact", bag_id="B-1", sampler_id="S-2"),
        ],
        "return_bags": [{"bag_id": "B-1", "sealed_at": hours_after(out, minutes / 60), "seal_applied": "7"}],
    })  # fmt: skip
    found = list(handling.seals_in_time(survey, evaluate(survey)))
    words = "1 d 6 min between retrieval and sealing for 1 sampler of bag B-1: S-1 (P-1)"
    assert told(found) == [f"bag B-1 (2 sealed_at): {words}"] * tells
    assert [[t.sampler_id for t in f.touches] for f in found] == [["S-1"]] * tells


# --- weather ---------------------------------------------------------------------------------


def weather_of(*readings: Row) -> Survey:
    """Return readings beside a sampler that is in the ground from 2 June at 08:00 to 10 June at 08:00."""
    return survey_of({
        "samplers": [sampler()],
        "deployments": [deployed("2025-06-02T08:00", "2025-06-10T08:00", condition="intact")],
        "weather": list(readings),
    })  # fmt: skip


@pytest.mark.parametrize(
    ("first", "last", "row"),
    [
        ("2025-06-02T20:00", "2025-06-09T20:00", None),
        ("2025-06-02T20:01", "2025-06-09T20:00", 2),
        ("2025-06-02T20:00", "2025-06-09T19:59", 3),
    ],
)
def test_readings_may_begin_and_end_half_a_day_inside_the_exposure(first: str, last: str, row: int | None) -> None:
    """12 h is the longest time between readings; a minute more at either end is told, at the reading of that end."""
    found = told(weather.covers_exposure(weather_of({"at": first}, {"at": last})))
    span = f"{stamp_text(first)} to {stamp_text(last)}"
    assert found == ([f" survey ({row} at): {span}"] if row else [])


@pytest.mark.parametrize(("second", "tells"), [("2025-06-05T20:00", False), ("2025-06-05T20:01", True)])
def test_half_a_day_between_two_readings_is_no_gap(second: str, *, tells: bool) -> None:
    """12 h and a minute are 12.0 h to three figures; rows may stand in any order."""
    found = weather.no_gaps(weather_of({"at": "2025-06-05T21:00"}, {"at": second}, {"at": "2025-06-05T08:00"}))
    words = " 2025-06-05T08:00 (3 at): 12 h without a reading from 5 June 2025, 08:00"
    assert told(found) == [words] * tells


@pytest.mark.parametrize(
    ("before", "after"),
    [("2025-06-01T08:00", "2025-06-02T08:00"), ("2025-06-10T08:00", "2025-06-11T08:00")],
)
def test_a_gap_that_only_touches_the_exposure_is_none(before: str, after: str) -> None:
    """A day without readings ends as the sampler goes in, or begins as it comes out."""
    others = [{"at": before}, {"at": after}, {"at": hours_after(after, 1)}, {"at": hours_after(before, -1)}]
    assert told(weather.no_gaps(weather_of(*others))) == []


def test_readings_at_the_bounds_of_weather_are_taken_and_beyond_are_told() -> None:
    """-90 to 60 °C, 500 to 1,090 hPa, up to 500 mm; less rain than none is refused when it is read."""
    bounds = [
        {"at": "2025-06-03T00:00", "temperature_c": "-90", "pressure_hpa": "500", "rain_mm": "0"},
        {"at": "2025-06-03T01:00", "temperature_c": "60", "pressure_hpa": "1090", "rain_mm": "500"},
    ]
    assert told(weather.plausible(weather_of(*bounds))) == []
    beyond = [
        {"at": "2025-06-03T00:00", "temperature_c": "-90.5", "pressure_hpa": "499.5", "rain_mm": "0"},
        {"at": "2025-06-03T01:00", "temperature_c": "60.5", "pressure_hpa": "1090.5", "rain_mm": "500.5"},
    ]
    assert told(weather.plausible(weather_of(*beyond))) == [
        " 2025-06-03T00:00+temperature_c (2 temperature_c): -90.5",
        " 2025-06-03T01:00+temperature_c (3 temperature_c): 60.5",
        " 2025-06-03T00:00+pressure_hpa (2 pressure_hpa): 499.5",
        " 2025-06-03T01:00+pressure_hpa (3 pressure_hpa): 1090.5",
        " 2025-06-03T01:00+rain_mm (3 rain_mm): 500.5",
    ]


def test_a_station_may_be_25_km_away() -> None:
    near, far = {"at": "2025-06-03T00:00", "distance_km": "25"}, {"at": "2025-06-03T01:00", "distance_km": "25.1"}
    assert told(weather.station_near(weather_of(near))) == []
    assert told(weather.station_near(weather_of(near, far))) == [" survey (3 distance_km): a station 25.1 km away"]


@pytest.mark.parametrize(
    ("kinds", "expected"),
    [
        (("station", "station", "station"), []),
        (("station", "sea_level", "station"), [" survey (3 pressure_kind): 1 sea_level and 2 station"]),
        (("", "", ""), [" survey (2 pressure_kind): 3 unsaid"]),
    ],
)
def test_pressures_are_of_one_kind_that_is_said(kinds: tuple[str, ...], expected: list[str]) -> None:
    """The rarer kind is shown; readings without a pressure need no kind."""
    hours = (f"2025-06-03T0{at}:00" for at in range(9))
    readings = [{"at": next(hours), "pressure_hpa": "950", "pressure_kind": kind} for kind in kinds]
    assert told(weather.one_pressure(weather_of(*readings, {"at": next(hours)}))) == expected
