"""Weather over the exposure: a drawing, what it says in sentences, and a table by day."""

from __future__ import annotations

from typing import Any

from sitegen.compute.field.exposure import IN_PLACE, PRIMARY
from sitegen.compute.field.weather import Day, Fall, Pressure, Reading, ReadingOrigin, Weather
from sitegen.compute.formats import day_text, spanned
from sitegen.figures.inputs import ExposureWindow, WeatherRow
from sitegen.figures.weather import exposure_weather
from sitegen.report.field.custodyview import day_ticks
from sitegen.report.record.pages import Block, Figure, Table
from sitegen.report.record.specs import Spec, table
from sitegen.report.write.context import Context
from sitegen.report.write.traced import traced
from sitegen.report.write.words import prose, say, word

_OUT_OF_PLAN = ("exposure-out-of-plan", "exposure-off-median")


@traced
def weather_blocks(context: Context) -> tuple[Block, ...]:
    """Return the weather over the exposure; nothing where no reading or no placing is on record."""
    seen = context.weather
    if seen is None:
        return ()
    facts = _facts(context, seen)
    if not seen.readings:
        return (prose("field.weather_outside", window=facts["window"], count=seen.before + seen.after),)
    window = seen.window
    rows = _rows(seen)
    stays = _stays(context, seen)
    ticks = day_ticks(context, window.start_utc, window.end_utc)
    figure = Figure(
        "weather",
        exposure_weather("weather", stays, rows, window.start_utc, window.end_utc, ticks),
        say("field.weather_caption"),
        say("field.weather_alt", count=len(stays), window=facts["window"]),
        say("field.weather_words", **facts),
        _days_table(seen),
    )
    return (figure,)


def _rows(seen: Weather) -> tuple[WeatherRow, ...]:
    """Return the readings to draw, led by the one before the window, which the first rain began at."""
    series = {(p.kind, p.origin): number for number, p in enumerate(seen.pressures)}
    led = (*((seen.previous,) if seen.previous else ()), *seen.readings)
    return tuple(
        WeatherRow(r.at_utc, r.rain_mm, r.pressure_hpa, series.get((r.pressure_kind, r.origin), 0)) for r in led
    )


def _stays(context: Context, seen: Weather) -> tuple[ExposureWindow, ...]:
    """Return the stay of each primary; one still in place is drawn to the window's end."""
    marks = context.evaluation.marks.by_sampler
    stays = []
    for p in context.evaluation.placements:
        end = seen.window.end_utc if p.state == IN_PLACE else p.retrieved_utc
        if end is not None and p.placed_utc >= 0 and p.role == PRIMARY:
            marked = any(mark.code in _OUT_OF_PLAN for mark in marks.get(p.sampler_id, ()))
            stays.append(ExposureWindow(p.location_id, p.placed_utc, end, marked))
    return tuple(stays)


def _facts(context: Context, seen: Weather) -> dict[str, Any]:
    wettest = max((day for day in seen.days if day.rain_mm), key=lambda day: day.rain_mm or 0.0, default=None)
    span = context.evaluation.limits["pressure_fall_h"]
    return {
        "window": _window_text(context, seen),
        "zone": context.survey.time_zone,
        "idle": [tuple(map(context.told_at, span)) for span in seen.idle],
        "rain": "" if seen.rain_mm is None else f"{seen.rain_mm:.1f}",
        "rained": bool(seen.rain_mm),
        "rain_readings": seen.rain_readings,
        "wettest": day_text(wettest.day) if wettest else "",
        "wettest_mm": f"{wettest.rain_mm:.1f}" if wettest else "",
        "began": _rain_at(context, seen.readings[0] if seen.readings else None),
        "later": _rain_at(context, seen.following),
        "pressures": [_pressure(context, one) for one in seen.pressures],
        "span": span.text,
        "span_source": span.source,
        "origins": [_origin_text(origin) for origin in seen.origins],
        "several": len(seen.origins) > 1,
        "before": seen.before,
        "after": seen.after,
    }


def _window_text(context: Context, seen: Weather) -> str:
    start, end, retrieved = seen.window
    return say("field.weather_window", start=context.told_at(start), end=context.told_at(end), retrieved=retrieved)


def _rain_at(context: Context, reading: Reading | None) -> dict[str, str] | None:
    """Return rain read at an end of the window, None where there was none."""
    if reading is None or not reading.rain_mm:
        return None
    return {"mm": f"{reading.rain_mm:.1f}", "at": context.told_at(reading.at_utc)}


def _pressure(context: Context, found: Pressure) -> dict[str, Any]:
    return {
        "kind": word("pressure_kind", found.kind or "unsaid"),
        "origin": _origin_text(found.origin),
        "readings": found.readings,
        "low": _hpa(found.lowest),
        "low_at": context.told_at(found.lowest.at_utc),
        "high": _hpa(found.highest),
        "high_at": context.told_at(found.highest.at_utc),
        "fall": _fall(context, found.fall) if found.fall else None,
    }


def _fall(context: Context, fall: Fall) -> dict[str, str]:
    return {
        "hpa": f"{fall.hpa:g}",
        "from": _hpa(fall.before),
        "from_at": context.told_at(fall.before.at_utc),
        "to": _hpa(fall.after),
        "to_at": context.told_at(fall.after.at_utc),
    }


def _hpa(reading: Reading) -> str:
    return f"{reading.pressure_hpa:g}"


def _origin_text(origin: ReadingOrigin) -> str:
    return say("field.weather_origin", source=origin.source, station=origin.station, distance=origin.distance_km)


def _days_table(seen: Weather) -> Table:
    columns: list[Spec[Day]] = [
        Spec("day", "Day", cell=lambda day: day.day),
        Spec("rain", "Rain", "mm", "number", cell=lambda day: "–" if day.rain_mm is None else f"{day.rain_mm:.1f}"),
        Spec("temperature", "Temperature", "°C", "number", cell=lambda day: _span_text(day.temperature_c)),
        Spec("pressure", "Pressure", "hPa", "number", cell=lambda day: _span_text(day.pressure_hpa)),
    ]
    return table("weather-days", say("field.weather_days_caption"), columns, seen.days)


def _span_text(limits: tuple[float, float] | None) -> str:
    """Write the lowest and highest reading, once where they are the same.

    >>> _span_text((1010.0, 1014.5)), _span_text((12.0, 12.0)), _span_text(None)
    ('1010 to 1014.5', '12', '–')
    """
    if limits is None:
        return "–"
    least, most = (f"{end:g}" for end in limits)
    return least if least == most else spanned(least, most)
