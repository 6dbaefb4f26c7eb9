"""Summaries per compound, by group of points, and of the survey."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from sitegen.compute.statistics.censored import kaplan_meier, percentile
from sitegen.compute.statistics.intervals import Interval, Mean, means, share_interval
from sitegen.project.schema import PAVED_SURFACES, SOIL_MEDIA

PERCENTILES = (0.5, 0.75, 0.9)


@dataclass(frozen=True, slots=True)
class Percentile:
    """A percentile: a value (with the qualifier of a result that has it), or below a limit."""

    share: float
    value: float | None
    limit: float
    qualifier: str = ""


@dataclass(frozen=True, slots=True)
class Summary:
    """One compound over one group of points; masses in the unit of the results.

    ``unblanked`` counts the detections that no blank touches. ``lowest`` and ``highest``
    are of detections, each with the qualifier that it prints; ``highest_at`` and ``highest_sample``
    are point and laboratory sample of the highest. ``rl_low`` and ``rl_high``
    are over all results. ``frequency`` is the interval of the detection frequency, and
    ``means`` is empty unless asked for.
    """

    analyte_id: str
    group: str
    unit: str
    analysed: int
    detected: int
    unblanked: int
    lowest: float | None
    highest: float | None
    lowest_qualifier: str
    highest_qualifier: str
    highest_at: str
    highest_sample: str
    percentiles: tuple[Percentile, ...]
    rl_low: float
    rl_high: float
    frequency: Interval
    means: tuple[Mean, ...] = ()


_COLUMNS = [
    "lab_sample_id", "analyte_id", "location_id", "medium", "surface", "unit", "detected", "value", "rl", "lod",
    "lab_qualifier", "validation_qualifier",
]  # fmt: skip
"""What a summary needs: fewer columns make lighter groups."""


def groups(frame: pd.DataFrame) -> Mapping[str, pd.Series[bool]]:
    """Return the groups of points that are summarised apart, each as a mask of results.

    A soil point whose surface is not on record is in neither the paved nor the unpaved.
    """
    soil = frame["medium"].isin(SOIL_MEDIA)
    paved = frame["surface"].isin(PAVED_SURFACES)
    unrecorded = frame["surface"] == ""
    return {
        "soil": soil,
        "paved": soil & paved,
        "unpaved": soil & ~paved & ~unrecorded,
        "surface_unrecorded": soil & unrecorded,
        "indoor_air": frame["medium"] == "indoor_air",
        "outdoor_air": frame["medium"] == "outdoor_air",
    }


def summaries(
    primary: pd.DataFrame,
    touched: frozenset[tuple[str, str]],
    order: Iterable[str],
    *,
    with_means: bool = False,
) -> dict[tuple[str, str], Summary]:
    """Summarise each compound in each group that has results.

    ``primary`` is the store's primary results, ``touched`` the results a blank touches.
    Rejected results are left out. Keys are (analyte_id, group).
    """
    usable = primary.loc[~primary["rejected"], _COLUMNS]
    by_group: dict[tuple[str, str], Summary] = {}
    for name, mask in groups(usable).items():
        part = dict(iter(usable[mask].groupby("analyte_id", sort=False)))
        for analyte_id in order:
            if analyte_id in part:
                by_group[analyte_id, name] = summarise(part[analyte_id], name, touched, with_means=with_means)
    return by_group


def summarise(
    rows: pd.DataFrame, group: str, touched: frozenset[tuple[str, str]], *, with_means: bool = False
) -> Summary:
    """Summarise the results of one compound."""
    detected = rows["detected"].to_numpy(dtype=bool)
    values = rows["value"].to_numpy(dtype=float)
    analyte_id = str(rows["analyte_id"].iloc[0])
    samples = rows["lab_sample_id"].to_numpy()[detected]
    points = rows["location_id"].to_numpy()
    highest = _first_at(values, np.nanmax(values), points) if detected.any() else None
    lowest = _first_at(values, np.nanmin(values), points) if detected.any() else None
    ordered = np.where(detected, values, rows["lod"].to_numpy(dtype=float))
    return Summary(
        analyte_id,
        group,
        str(rows["unit"].iloc[0]),
        len(rows),
        int(detected.sum()),
        sum((sample, analyte_id) not in touched for sample in samples),
        float(values[lowest]) if lowest is not None else None,
        float(values[highest]) if highest is not None else None,
        _qualifier(rows, lowest),
        _qualifier(rows, highest),
        str(points[highest]) if highest is not None else "",
        str(rows["lab_sample_id"].iloc[highest]) if highest is not None else "",
        _percentiles(rows, ordered, detected),
        float(rows["rl"].min()),
        float(rows["rl"].max()),
        share_interval(int(detected.sum()), len(rows)),
        means(ordered, detected) if with_means else (),
    )


def _first_at(values: NDArray[np.float64], value: float, points: NDArray[np.object_]) -> int:
    """Return where a value stands; of equal ones that at the first point by id."""
    return int(min(np.flatnonzero(values == value), key=lambda at: str(points[at])))


def _qualifier(rows: pd.DataFrame, at: int | None) -> str:
    """Return the qualifier that a detection prints: a person's before the laboratory's."""
    if at is None:
        return ""
    stated = str(rows["validation_qualifier"].iloc[at] or rows["lab_qualifier"].iloc[at])
    return "" if stated == "U" else stated


def _percentiles(
    rows: pd.DataFrame, ordered: NDArray[np.float64], detected: NDArray[np.bool_]
) -> tuple[Percentile, ...]:
    step = kaplan_meier(ordered, detected)
    largest = float(rows["rl"].to_numpy(dtype=float)[~detected].max()) if (~detected).any() else 0.0
    percentiles = []
    for share in PERCENTILES:
        value = percentile(step, share)
        qualifier = ""
        if value is not None:
            there = np.flatnonzero(detected & (ordered == value))
            stated = [mark for at in there if (mark := _qualifier(rows, int(at)))]
            qualifier = next((mark for mark in stated if mark.startswith("J")), next(iter(stated), ""))
        percentiles.append(Percentile(share, value, largest, qualifier))
    return tuple(percentiles)
