"""Hours at night: 01:03 written for 13:03 is a time like any other, but one at which few crews work."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from sitegen.checks.catalogue import find
from sitegen.checks.rows import first_numbers, surplus
from sitegen.compute.limits import limits
from sitegen.findings.problems import Finding
from sitegen.project.survey import Survey
from sitegen.voice import worded

SHIFT_MIN = 12 * 60
"""Events of a crew that lie no further apart may be of one shift: project default, no published source."""

SEVERAL = 2
"""So many other events at night, and more than by day, say that a crew did work at night."""
_EVENTS = (("placed_at", "placed_by"), ("retrieved_at", "retrieved_by"))
_HOUR = slice(11, 13)


def is_night(hour: NDArray[np.float64], begins: float, ends: float) -> NDArray[np.bool_]:
    """Tell which hours of the day are at night, which may last over midnight; none where an hour is not known.

    >>> is_night(np.array([1.0, 5.0, 13.0, 23.0, np.nan]), 22, 5).tolist()
    [True, False, False, True, False]
    """
    late, early = hour >= begins, hour < ends
    return late | early if begins > ends else late & early


def times_at_night(survey: Survey) -> Iterator[Finding]:
    """A sampler is placed and retrieved by day, unless others of its crew's events about then are at night too."""
    set_limits = limits(survey.settings)
    begins, ends = set_limits["night_begins_h"], set_limits["night_ends_h"]
    table = survey.tables["deployments"]
    events = _events(table.frame)
    events["night"] = is_night(events["hour"].to_numpy(), begins.value, ends.value)
    alone = events["night"] & ~_with_others(events)
    for column, _ in _EVENTS:
        bad = alone[events["column"] == column].reset_index(drop=True)
        for at in first_numbers(bad):
            sampler, time = (str(table.frame[name].iloc[at]) for name in ("sampler_id", column))
            yield find(
                "time-at-night",
                f"{sampler}+{column}",
                table.where(at, column),
                worded("{time}, at night, while other times of the crew are by day", time=time),
                worded(
                    "a time from {ends:02.0f}:00 to {begins:02.0f}:00 (project default, no published source)",
                    ends=ends.value,
                    begins=begins.value,
                ),
                do=worded(
                    "check the time on the field sheet: write {other} if that is correct",
                    other=_other_half(time),
                ),
                kind="sampler",
            )
        yield from surplus("time-at-night", table, bad, column)


def _events(frame: pd.DataFrame) -> pd.DataFrame:
    """Return every placing and retrieval: column, moment, hour of the day as written, and who did it."""
    parts = (
        pd.DataFrame(
            {
                "column": column,
                "utc": frame[f"{column}_utc"].to_numpy(dtype=float),
                "hour": pd.to_numeric(frame[column].str[_HOUR], errors="coerce").to_numpy(dtype=float),
                "who": frame[by].to_numpy(),
            }
        )
        for column, by in _EVENTS
    )
    return pd.concat(parts, ignore_index=True)


def _with_others(events: pd.DataFrame) -> pd.Series[bool]:
    """Tell which events stand among several others of the same role at night, more than by day, within a shift."""
    found = pd.Series(data=False, index=events.index)
    known = events[events["utc"].notna()]
    for _, crew in known.sort_values("utc", kind="stable").groupby("who", sort=True):
        utc = crew["utc"].to_numpy()
        nights = np.concatenate(([0], np.cumsum(crew["night"].to_numpy())))
        first = np.searchsorted(utc, utc - SHIFT_MIN, side="left")
        behind = np.searchsorted(utc, utc + SHIFT_MIN, side="right")
        others = nights[behind] - nights[first] - 1
        by_day = behind - first - others - 1
        found.loc[crew.index] = (others >= SEVERAL) & (others > by_day)
    return found


def _other_half(time: str) -> str:
    """Return a time at the same hour of the other half of the day.

    >>> _other_half("2025-10-22T01:03"), _other_half("2025-10-22T22:40-05:00")
    ('2025-10-22T13:03', '2025-10-22T10:40-05:00')
    """
    hour = (int(time[_HOUR]) + 12) % 24
    return f"{time[:11]}{hour:02d}{time[13:]}"


RULES = (times_at_night,)
