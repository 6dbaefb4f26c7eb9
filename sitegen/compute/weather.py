"""Weather over the exposure: totals and extremes, by day and in all."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from sitegen.compute.exposure import Placement
from sitegen.project.survey import Survey


@dataclass(frozen=True, slots=True)
class Day:
    """One day's weather: rain in mm, lowest and highest temperature (°C) and pressure (hPa)."""

    day: str
    rain_mm: float
    temperature_c: tuple[float, float] | None
    pressure_hpa: tuple[float, float] | None


@dataclass(frozen=True, slots=True)
class Weather:
    """The days, the rain in all, and the pressure with the time of its lowest reading."""

    days: tuple[Day, ...]
    rain_mm: float
    pressure_low: float | None
    pressure_high: float | None
    lowest_at: str
    sources: tuple[str, ...]


def weather(survey: Survey) -> Weather:
    """Summarise the weather table by day; blank readings are left out."""
    rows = survey.records("weather")
    by_day: dict[str, list[dict[str, float]]] = {}
    for row in rows:
        by_day.setdefault(row["at"][:10], []).append(row)
    pressures = [(row["pressure_hpa"], row["at"]) for row in rows if not math.isnan(row["pressure_hpa"])]
    lowest = min(pressures, default=(None, ""))
    highest = max(pressures, default=(None, ""))
    days = tuple(
        Day(day, _total(items), _range(items, "temperature_c"), _range(items, "pressure_hpa"))
        for day, items in sorted(by_day.items())
    )
    sources = tuple(dict.fromkeys(row["source"] for row in rows if row["source"]))
    return Weather(days, sum(day.rain_mm for day in days), lowest[0], highest[0], lowest[1], sources)


def _total(rows: list[dict[str, float]]) -> float:
    return sum(row["rain_mm"] for row in rows if not math.isnan(row["rain_mm"]))


def _range(rows: list[dict[str, float]], name: str) -> tuple[float, float] | None:
    values = [row[name] for row in rows if not math.isnan(row[name])]
    return (min(values), max(values)) if values else None


def mean_temperature_c(survey: Survey, placed: Iterable[Placement]) -> float | None:
    """Return the mean of the temperature readings from the first placing to the last retrieval in °C.

    None where no reading falls into that time. Readings count alike, whatever the time between them.
    """
    known = [p for p in placed if p.retrieved_utc is not None and p.placed_utc >= 0]
    if not known:
        return None
    start, end = min(p.placed_utc for p in known), max(p.retrieved_utc or 0 for p in known)
    readings = [
        row["temperature_c"]
        for row in survey.records("weather")
        if start <= row["at_utc"] <= end and not math.isnan(row["temperature_c"])
    ]
    return math.fsum(readings) / len(readings) if readings else None
