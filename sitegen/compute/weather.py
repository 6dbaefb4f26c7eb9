"""Weather over the exposure: totals and extremes, by day and in all."""

from __future__ import annotations

import math
from dataclasses import dataclass

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
