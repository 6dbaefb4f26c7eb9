"""Weather over the exposure: from the first placing to the last retrieval, and nothing beyond.

Where no sampler is retrieved yet, the window ends with the last reading. A reading belongs
to the window by its time; those outside are counted and add to nothing. Pressures are
compared only with others of the same kind, source, station and distance.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import accumulate
from typing import NamedTuple

from sitegen.compute.field.exposure import FIELD_BLANK, Placement, placements
from sitegen.compute.limits import limits
from sitegen.project.survey import Survey
from sitegen.project.tables import WeatherReading


class Window(NamedTuple):
    """The exposure of a survey in UTC minutes; ``retrieved`` is False where it ends with the last reading."""

    start_utc: int
    end_utc: int
    retrieved: bool


class ReadingOrigin(NamedTuple):
    """Where readings come from: source, station, its distance from the site (None where none is recorded)."""

    source: str
    station: str
    distance_km: float | None


class Reading(NamedTuple):
    """One row of the table; None for a quantity that was not read. ``rain_mm`` fell since the previous row."""

    at_utc: int
    day: str
    rain_mm: float | None
    temperature_c: float | None
    pressure_hpa: float | None
    pressure_kind: str
    origin: ReadingOrigin


class Fall(NamedTuple):
    """A fall of pressure from one reading to a later one."""

    hpa: float
    before: Reading
    after: Reading


@dataclass(frozen=True, slots=True)
class Pressure:
    """The pressures of one kind and origin: how many, the lowest and highest, and the largest fall within the span.

    ``fall`` is None where no reading is lower than an earlier one within the span.
    """

    kind: str
    origin: ReadingOrigin
    readings: int
    lowest: Reading
    highest: Reading
    fall: Fall | None


@dataclass(frozen=True, slots=True)
class Day:
    """One day: rain in mm (None where none was read), lowest and highest temperature (°C) and pressure (hPa)."""

    day: str
    rain_mm: float | None
    temperature_c: tuple[float, float] | None
    pressure_hpa: tuple[float, float] | None


@dataclass(frozen=True, slots=True)
class Weather:
    """The readings within the window, in order of time, and what they say.

    ``rain_mm`` is None where no rain was read. ``previous`` and ``following`` are the readings
    next to the window: rain of the first reading may have begun before it, rain of the
    following one may have begun within it. ``before`` and ``after`` count the readings outside.
    ``idle`` are the times within the window when no sampler was in place, in UTC minutes.
    """

    window: Window
    readings: tuple[Reading, ...]
    previous: Reading | None
    following: Reading | None
    before: int
    after: int
    days: tuple[Day, ...]
    rain_mm: float | None
    rain_readings: int
    pressures: tuple[Pressure, ...]
    origins: tuple[ReadingOrigin, ...]
    idle: tuple[tuple[int, int], ...] = ()


def exposure_window(survey: Survey) -> Window | None:
    """Return the window of the exposure, None where no placing, or no end of it, is on record."""
    placed = [p for p in placements(survey) if p.role != FIELD_BLANK and p.placed_utc >= 0]
    if not placed:
        return None
    start = min(p.placed_utc for p in placed)
    retrieved = [p.retrieved_utc for p in placed if p.retrieved_utc is not None]
    ends = retrieved or [reading.at_utc for reading in readings(survey)]
    return Window(start, max(ends), bool(retrieved)) if ends else None


def idle_spans(survey: Survey) -> tuple[tuple[int, int], ...]:
    """Return the times within the window, in UTC minutes, when no sampler was in place: before a supplement, say.

    A sampler whose retrieval is not on record may have been there to the end: from its placing on none is told.
    """
    known = [p for p in placements(survey) if p.role != FIELD_BLANK and p.placed_utc >= 0]
    stays = sorted((p.placed_utc, math.inf if p.retrieved_utc is None else p.retrieved_utc) for p in known)
    out = list(accumulate((end for _, end in stays), max))
    return tuple((int(end), placed) for end, (placed, _) in zip(out, stays[1:], strict=False) if end < placed)


def readings(survey: Survey) -> tuple[Reading, ...]:
    """Return the rows whose time can be read, in order of time."""
    rows = (row for row in survey.rows(WeatherReading) if not math.isnan(row.at_utc))
    return tuple(sorted(map(_reading, rows), key=lambda reading: reading.at_utc))


def _reading(row: WeatherReading) -> Reading:
    rain, temperature, pressure, distance = (
        None if math.isnan(number) else number
        for number in (row.rain_mm, row.temperature_c, row.pressure_hpa, row.distance_km)
    )
    origin = ReadingOrigin(row.source, row.station, distance)
    return Reading(int(row.at_utc), row.at[:10], rain, temperature, pressure, row.pressure_kind, origin)


def weather(survey: Survey) -> Weather | None:
    """Summarise the weather over the exposure; None without a placing or without a reading."""
    every, window = readings(survey), exposure_window(survey)
    if not every or window is None:
        return None
    before = [reading for reading in every if reading.at_utc < window.start_utc]
    after = [reading for reading in every if reading.at_utc > window.end_utc]
    inside = every[len(before) : len(every) - len(after)]
    rain = [reading.rain_mm for reading in inside if reading.rain_mm is not None]
    return Weather(
        window,
        inside,
        before[-1] if before else None,
        after[0] if after else None,
        len(before),
        len(after),
        _days(inside),
        math.fsum(rain) if rain else None,
        len(rain),
        _pressures(inside, limits(survey.settings)["pressure_fall_h"].value * 60),
        tuple(dict.fromkeys(reading.origin for reading in inside)),
        idle_spans(survey),
    )


def mean_temperature_c(survey: Survey, placed: Iterable[Placement]) -> float | None:
    """Return the mean of the temperature readings from the first placing to the last retrieval in °C.

    None where no reading falls into that time. Readings count alike, whatever the time between them.
    """
    known = [p for p in placed if p.retrieved_utc is not None and p.placed_utc >= 0]
    if not known:
        return None
    start, end = min(p.placed_utc for p in known), max(p.retrieved_utc or 0 for p in known)
    read = [r.temperature_c for r in readings(survey) if start <= r.at_utc <= end and r.temperature_c is not None]
    return math.fsum(read) / len(read) if read else None


def _days(inside: Iterable[Reading]) -> tuple[Day, ...]:
    by_day: dict[str, list[Reading]] = {}
    for reading in inside:
        by_day.setdefault(reading.day, []).append(reading)
    return tuple(_day(day, by_day[day]) for day in sorted(by_day))


def _day(day: str, read: Sequence[Reading]) -> Day:
    rain = [reading.rain_mm for reading in read if reading.rain_mm is not None]
    return Day(
        day,
        math.fsum(rain) if rain else None,
        _range(reading.temperature_c for reading in read),
        _range(reading.pressure_hpa for reading in read),
    )


def _range(numbers: Iterable[float | None]) -> tuple[float, float] | None:
    values = [value for value in numbers if value is not None]
    return (min(values), max(values)) if values else None


def _pressures(inside: Iterable[Reading], span_min: float) -> tuple[Pressure, ...]:
    """Return the pressures by kind and origin, in the order in which they begin."""
    series: dict[tuple[str, ReadingOrigin], list[Reading]] = {}
    for reading in inside:
        if reading.pressure_hpa is not None:
            series.setdefault((reading.pressure_kind, reading.origin), []).append(reading)
    return tuple(
        Pressure(kind, origin, len(read), min(read, key=_hpa), max(read, key=_hpa), largest_fall(read, span_min))
        for (kind, origin), read in series.items()
    )


def largest_fall(read: Iterable[Reading], span_min: float) -> Fall | None:
    """Return the largest fall from a reading to a later one at most ``span_min`` minutes after it.

    ``read`` is in order of time and of one kind. Of equal falls the first counts; None where
    no later reading is lower.
    """
    highest: deque[Reading] = deque()  # within the span, each lower than the one before it
    best: Fall | None = None
    for reading in read:
        while highest and highest[0].at_utc < reading.at_utc - span_min:
            highest.popleft()
        fallen = round(_hpa(highest[0]) - _hpa(reading), 6) if highest else 0.0
        if fallen > (best.hpa if best else 0.0):
            best = Fall(fallen, highest[0], reading)
        while highest and _hpa(highest[-1]) <= _hpa(reading):
            highest.pop()
        highest.append(reading)
    return best


def _hpa(reading: Reading) -> float:
    return reading.pressure_hpa if reading.pressure_hpa is not None else math.nan
