"""Weather: readings that cover the exposure, without gaps, of one kind, within what weather does."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from sitegen.checks.catalogue import find
from sitegen.checks.rows import first_numbers, surplus
from sitegen.compute.field.exposure import LOST, placements
from sitegen.compute.field.weather import exposure_window
from sitegen.compute.formats import moment_text, spanned
from sitegen.compute.limits import limits
from sitegen.findings.problems import Finding
from sitegen.project.survey import Survey, SurveyTable
from sitegen.project.zones import local_text, wall_minutes
from sitegen.voice import thousands, worded

WORLD = {"temperature_c": (-90.0, 60.0), "pressure_hpa": (500.0, 1090.0), "rain_mm": (0.0, 500.0)}
"""Readings outside these bounds have not been seen on land, or are not of this unit: project default,
no published source."""


def covers_exposure(survey: Survey) -> Iterator[Finding]:
    """Readings run from the first placing to the last retrieval."""
    table, order, at, reach = _readings(survey)
    window = exposure_window(survey)
    if not len(at) or window is None:
        return
    if at[0] > window.start_utc + reach or at[-1] < window.end_utc - reach:
        spans = ((at[0], at[-1]), (window.start_utc, window.end_utc))
        found, wanted = (spanned(*(moment_text(float(t), survey.time_zone) for t in span)) for span in spans)
        row = order[0] if at[0] > window.start_utc + reach else order[-1]
        yield find("weather-short", "survey", table.where(row, "at"), found, wanted)


def no_gaps(survey: Survey) -> Iterator[Finding]:
    """Readings have no gaps while samplers are in place.

    A gap is time that has passed. Where the clocks were put back, a schedule that is kept by
    the wall clock has one step that is longer by the hour: it is no gap.
    """
    table, order, at, reach = _readings(survey)
    window = exposure_window(survey)
    if len(at) < 2 or window is None:
        return
    during = (at[1:] > window.start_utc) & (at[:-1] < window.end_utc) & _in_place(survey, at)
    for i in np.flatnonzero((np.diff(at) > reach) & during & ~_on_schedule(at, reach, survey.time_zone)):
        since = local_text(float(at[i]), survey.time_zone)
        found = worded(
            "{hours} h without a reading from {time}",
            hours=_hours(at[i + 1] - at[i]),
            time=moment_text(float(at[i]), survey.time_zone),
        )
        where = table.where(order[i + 1], "at")
        yield find(
            "weather-gap", since.replace(" ", "T"), where, found, worded("at most {hours:g} h", hours=reach / 60)
        )


def _hours(minutes: float) -> str:
    """Write minutes as hours of three figures, of whole hours from 100 on.

    >>> _hours(60 * 13.25), _hours(60 * 1272.2)
    ('13.2', '1,272')
    """
    hours = minutes / 60
    return f"{hours:.3g}" if hours < 100 else thousands(f"{hours:,.0f}")


def _in_place(survey: Survey, at: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Tell between which readings a sampler was in place: between a round and its supplement none may be."""
    found = np.zeros(len(at) - 1, dtype=bool)
    for p in placements(survey):
        if p.state == LOST and p.retrieved_utc is None:
            continue  # nobody knows how long it was there
        out = at[-1] if p.retrieved_utc is None else p.retrieved_utc
        found |= (at[1:] > p.placed_utc) & (at[:-1] < out)
    return found


def _on_schedule(at: NDArray[np.float64], reach: float, zone_name: str) -> NDArray[np.bool_]:
    """Tell which steps are, by the wall clock, the usual step of the record and no longer than the longest gap."""
    steps = np.diff([wall_minutes(float(t), zone_name) for t in at])
    return np.asarray((steps <= reach) & (steps == np.median(steps)))


def _readings(survey: Survey) -> tuple[SurveyTable, NDArray[np.int_], NDArray[np.float64], float]:
    """Return the table, rows in order of time, their times in UTC minutes, and the longest gap in minutes."""
    table = survey.tables["weather"]
    times = table.frame["at_utc"].to_numpy(dtype=float)
    order = np.argsort(times, kind="stable")[: int((~np.isnan(times)).sum())]
    return table, order, times[order], limits(survey.settings)["weather_gap_h"].value * 60


def plausible(survey: Survey) -> Iterator[Finding]:
    """Readings are ones that weather gives, in the units of their columns."""
    table = survey.tables["weather"]
    for column, (low, high) in WORLD.items():
        readings = table.frame[column]
        bad = (readings < low) | (readings > high)
        for at in first_numbers(bad):
            yield find(
                "weather-implausible",
                f"{table.frame['at'].iloc[at]}+{column}",
                table.where(at, column),
                f"{readings.iloc[at]:g}",
                worded("{low:g} to {high:g}", low=low, high=high),
            )
        yield from surplus("weather-implausible", table, bad, column)


def one_pressure(survey: Survey) -> Iterator[Finding]:
    """Pressures are all of one kind, and said to be."""
    table = survey.tables["weather"]
    kinds = table.frame.loc[table.frame["pressure_hpa"].notna(), "pressure_kind"]
    counts = kinds.value_counts().sort_index()
    if len(counts) > 1 or (counts.index == "").any():
        rare = counts.idxmin()
        at = int(np.flatnonzero((table.frame["pressure_kind"] == rare).to_numpy())[0])
        found = f" {worded('and')} ".join(f"{count} {kind or worded('unsaid')}" for kind, count in counts.items())
        where = table.where(at, "pressure_kind")
        yield find("pressure-kinds-mixed", "survey", where, found, worded("station or sea_level, throughout"))


def station_near(survey: Survey) -> Iterator[Finding]:
    """The station stands near enough."""
    limit = limits(survey.settings)["station_distance_km"]
    table = survey.tables["weather"]
    far = table.frame["distance_km"] > limit.value
    if far.any():
        at = int(np.flatnonzero(far.to_numpy())[0])
        found = worded("a station {distance_km:g} km away", distance_km=table.frame["distance_km"].iloc[at])
        where = table.where(at, "distance_km")
        yield find("weather-far", "survey", where, found, worded("at most {limit}", limit=limit.text))


RULES = (covers_exposure, no_gaps, plausible, one_pressure, station_near)
