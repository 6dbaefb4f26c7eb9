"""What the page on field work says of the weather is what was computed for the exposure, and its scope."""

from __future__ import annotations

from builders import Change, changed, content, every, load

from sitegen.compute.evaluate import evaluate
from sitegen.report.field.weatherview import weather_blocks
from sitegen.report.record.pages import Block, Figure, Prose
from sitegen.report.write.context import Context

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


def test_the_window_the_rain_and_the_fall_are_told_with_kind_and_source() -> None:
    said = drawn().description
    assert "from the first placing of a sampler (2025-10-23 08:11 CDT)" in said
    assert "to the last retrieval on record (2025-11-06 12:58 CST)" in said
    assert "28.0 mm of rain fell in 114 readings" in said
    assert "at station level" in said
    fall = "fall within 24 h (project default, no published source) was 14.6 hPa, from 961 hPa at 2025-10-28 09:00 CDT"
    assert fall in said
    assert "Readings outside the exposure, not included: 3 before it, 4 after it." in said
    assert "station Ostrel Bend water works (invented), 3.4 km from the site" in said


def test_the_drawing_names_the_samplers_whose_exposures_it_shows() -> None:
    """58 were placed: three duplicates are not drawn, and the end of the lost one is not on record."""
    figure = drawn()
    assert figure.caption == "Exposure of the primary samplers over rain and air pressure, local time."
    assert figure.alt.startswith("Exposures of 54 primary samplers over rain and air pressure")


def test_rain_that_may_belong_on_either_side_of_an_end_is_told() -> None:
    said = drawn(
        readings(
            "2025-10-23T06:00,0,,,,log,,",
            "2025-10-23T09:00,3,,,,log,,",
            "2025-11-06T12:00,1,,,,log,,",
            "2025-11-06T15:00,7,,,,log,,",
        )
    )
    assert "4.0 mm of rain fell in 2 readings" in said.description
    assert "3.0 mm was read at 2025-10-23 09:00 CDT and may have begun before" in said.description
    assert "A further 7.0 mm, read after the window at 2025-11-06 15:00 CST" in said.description
    assert "No air pressure is on record" in said.description
    assert "4 mm in all" in said.svg  # the drawing adds up what the sentence does


def test_no_record_is_not_zero_and_nothing_retrieved_is_said() -> None:
    nothing = every("field/deployments.csv", lambda _: {"retrieved_at": "", "bag_id": "", "condition": ""})
    said = drawn(nothing, readings("2025-10-24T09:00,,4,990,station,log,,")).description
    assert "the last reading (2025-10-24 09:00 CDT), as no retrieval is on record yet" in said
    assert "No rain reading is on record for it." in said
    assert " mm " not in said


def test_readings_of_another_time_are_told_as_such() -> None:
    (only,) = blocks(readings("2024-10-24T09:00,5,4,990,station,log,,"))
    assert isinstance(only, Prose)
    assert "1 weather reading on file, but none within the exposure" in only.markdown.replace("\\", "")
