"""What the page on field work says of the weather is what was computed for the exposure, and its scope."""

from __future__ import annotations

from builders import Change, Row, changed, content, every, load, setting, table

from sitegen.compute.evaluate import evaluate
from sitegen.compute.field.weather import weather
from sitegen.project.zones import local_text, read_time
from sitegen.report.field.custodyview import day_ticks
from sitegen.report.field.weatherview import _stays, weather_blocks
from sitegen.report.record.pages import Block, Figure, Prose
from sitegen.report.write.context import Context
from sitegen.voice import Voice, speaking

HEAD = "at,rain_mm,temperature_c,pressure_hpa,pressure_kind,source,station,distance_km"


def blocks(*changes: Change) -> tuple[Block, ...]:
    survey = load(changed(*changes))
    return weather_blocks(Context(survey, evaluate(survey), ()))


def drawn(*changes: Change) -> Figure:
    (figure,) = blocks(*changes)
    assert isinstance(figure, Figure)
    return figure


def readings(*rows: str) -> Change:
    return content("field/weather.csv", "\n".join((HEAD, *rows, "")).encode())


SPELL = (
    readings(
        "2025-10-24T06:00,1.5,4,990.5,station,log,mast,1",
        "2025-10-24T12:00,0.5,9,985,station,log,mast,1",
        "2025-10-25T06:00,6,3,,,log,mast,1",
        "2025-10-26T06:00,,,1010,sea_level,office,town,",
    ),
)


def test_the_window_the_rain_and_the_fall_are_told_with_kind_and_source() -> None:
    said = drawn().description
    assert "from the first installation of a sampler (23 October 2025, 08:11)" in said
    assert "to the last retrieval on record (6 November 2025, 12:58)" in said
    assert "Rain amounted to 28.0 mm in 114 readings" in said
    assert "at station level" in said
    fall = (
        "fall within 24 h (project default, no published source) was 14.6 hPa, from 961 hPa on 28 October 2025, 09:00"
    )
    assert fall in said
    assert "Readings outside the exposure period are not included: 3 before it, 4 after it." in said
    assert "station Ostrel Bend water works (invented), 3.4 km from the site" in said


def test_the_drawing_names_the_samplers_whose_exposures_it_shows() -> None:
    """58 were placed: three duplicates are not drawn, and the end of the lost one is not on record."""
    figure = drawn()
    assert figure.caption == "Exposure of the primary samplers with rain and air pressure, local time."
    assert figure.alt.startswith("Exposures of 54 primary samplers with rain and air pressure")


def test_rain_that_may_belong_on_either_side_of_an_end_is_told() -> None:
    said = drawn(
        readings(
            "2025-10-23T06:00,0,,,,log,,",
            "2025-10-23T09:00,3,,,,log,,",
            "2025-11-06T12:00,1,,,,log,,",
            "2025-11-06T15:00,7,,,,log,,",
        )
    )
    assert "Rain amounted to 4.0 mm in 2 readings" in said.description
    assert "3.0 mm was read at 23 October 2025, 09:00 and may have begun before" in said.description
    assert "A further 7.0 mm, read after the period at 6 November 2025, 15:00" in said.description
    assert "No air pressure is on record" in said.description
    assert "4 mm in total" in said.svg  # the drawing adds up what the sentence does


def test_no_record_is_not_zero_and_nothing_retrieved_is_said() -> None:
    nothing = every("field/deployments.csv", lambda _: {"retrieved_at": "", "bag_id": "", "condition": ""})
    said = drawn(nothing, readings("2025-10-24T09:00,,4,990,station,log,,")).description
    assert "the last reading (24 October 2025, 09:00), as no retrieval is on record yet" in said
    assert "No rain reading is on record for the period." in said
    assert " mm " not in said


def test_readings_of_another_time_are_told_as_such() -> None:
    (only,) = blocks(readings("2024-10-24T09:00,5,4,990,station,log,,"))
    assert isinstance(only, Prose)
    assert "1 weather reading on record, but none within the exposure period" in only.markdown.replace("\\", "")


def test_each_day_tells_its_own_rain_and_ranges() -> None:
    """Sums, lowest and highest by hand; a quantity that was not read is a dash, which is not 0."""
    figure = drawn(*SPELL)
    assert figure.table is not None
    assert [[cell.text for cell in row] for row in figure.table.rows] == [
        ["2025-10-24", "2.0", "4 to 9", "985 to 990.5"],
        ["2025-10-25", "6.0", "3", "–"],
        ["2025-10-26", "–", "–", "1010"],
    ]
    assert "Rain amounted to 8.0 mm in 3 readings; the wettest day was 25 October 2025 (6.0 mm)." in figure.description


def test_each_kind_of_pressure_has_its_own_lowest_highest_and_fall() -> None:
    """990.5 to 985 hPa in six hours is a fall of 5.5 at the mast; the town's one reading has none."""
    said = drawn(*SPELL).description
    mast, town = "log, station mast, 1 km from the site", "office, station town, distance not recorded"
    assert (
        f"Air pressure (at station level; {mast}; 2 readings) ranged from 985 hPa on 24 October 2025, 12:00 to "
        "990.5 hPa on 24 October 2025, 06:00. The largest fall within 24 h (project default, no published source) "
        "was 5.5 hPa, "
        "from 990.5 hPa on 24 October 2025, 06:00 to 985 hPa on 24 October 2025, 12:00."
    ) in said
    assert f"; {town}; 1 reading) ranged from 1010 hPa" in said
    assert "No reading was lower than one up to 24 h earlier" in said
    assert said.endswith(f"Source of the readings: {mast}; {town}.")


def test_stays_are_drawn_of_primaries_alone_and_to_the_window_s_end_while_in_place() -> None:
    """Of four samplers one is a duplicate and one lost; one is in the ground when the last one known was retrieved."""

    def four(rows: list[Row]) -> list[Row]:
        first, second, third, fourth = rows[:4]
        gone = {"retrieved_at": "", "bag_id": "", "condition": ""}
        return [
            first | {"placed_at": "2025-10-23T08:00", "retrieved_at": "2025-10-25T08:00"},
            second | {"duplicate_of": first["sampler_id"], "retrieved_at": "2025-10-24T10:00"},
            third | {"placed_at": "2025-10-24T08:00"} | gone,
            fourth | gone | {"condition": "not_recovered"},
        ]

    today = setting("report_date = 2025-12-12", "report_date = 2025-11-05")
    survey = load(changed(table("field/deployments.csv", four), *SPELL, today))
    seen = weather(survey)
    assert seen is not None
    start, later, end = (read_time(f"2025-10-{day}T08:00", survey.time_zone).utc_min for day in ("23", "24", "25"))
    stays = _stays(Context(survey, evaluate(survey), ()), seen)
    assert [stay[:3] for stay in stays] == [("SG-50", start, end), ("SG-29", later, end)]


def test_days_are_ticked_at_their_local_midnight_and_no_more_than_a_dozen() -> None:
    """The clocks went back on 2 November 2025: midnight is 5:00 UTC before it and 6:00 after; of 30 days each third."""
    survey = load(changed())
    context = Context(survey, evaluate(survey), ())

    def ticks(start: str, end: str) -> list[tuple[str, str]]:
        ends = [read_time(at, "UTC").utc_min or 0 for at in (start, end)]
        return [(local_text(tick.at_min, "UTC"), tick.label) for tick in day_ticks(context, *ends)]

    assert ticks("2025-10-31T18:00", "2025-11-03T06:00") == [
        ("2025-11-01 05:00", "1 Nov"), ("2025-11-02 05:00", "2 Nov"), ("2025-11-03 06:00", "3 Nov"),
    ]  # fmt: skip
    assert [label for _, label in ticks("2025-06-01T05:00", "2025-06-30T12:00")] == [
        f"{day} Jun" for day in range(1, 31, 3)
    ]
    with speaking(Voice(language="es")):
        assert [label for _, label in ticks("2025-08-31T05:00", "2025-09-01T12:00")] == ["31 ago", "1 sep"]
