"""Sums that rest on results above the calibration: more than half of a sum of detected masses.

Such a result is an estimate, often too low; a sum that it makes most of is no better.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from sitegen.units import MASS_UNITS

MOST = 0.5
"""A result, or several together, make most of a sum where their share is above this."""
_BETWEEN = re.compile(r"[\s,;/]+")


@dataclass(frozen=True, slots=True)
class Resting:
    """A sum, at a point or over several, that rests on results above the calibration.

    ``results`` are (point, lab_sample_id, analyte_id), the highest first; ``share`` is theirs of the sum.
    """

    share: float
    results: tuple[tuple[str, str, str], ...]


def above_calibration(rows: pd.DataFrame) -> pd.Series[bool]:
    """Tell which results are detections above the top of their calibration, or carry the laboratory's E."""
    flagged = np.array(["E" in _BETWEEN.split(text) for text in rows["lab_qualifier"]], dtype=bool)
    return rows["detected"] & ~rows["rejected"] & ((rows["value"] > rows["calibration_top"]) | flagged)


@dataclass(frozen=True, slots=True)
class Tops:
    """Reported results of samplers with the top of their calibration on file, against which they are held.

    ``results`` counts them, ``detections`` those that are detections, of ``of`` detections in all. ``marked``
    are detections without a top that the laboratory alone says lie above it, by its E.
    """

    results: int
    detections: int
    of: int
    marked: int


def calibration_tops(store: pd.DataFrame) -> Tops:
    """Count the reported results of samplers by whether the top of their calibration is on file."""
    rows = store[store["reportable"] & (store["sampler_id"] != "")]
    known, detected = rows["calibration_top"].notna(), rows["detected"]
    marked = above_calibration(rows[~known])
    return Tops(int(known.sum()), int((known & detected).sum()), int(detected.sum()), int(marked.sum()))


def resting(rows: pd.DataFrame) -> Resting | None:
    """Return what makes most of the sum of the detected masses of some results, None where it is not such.

    ``rows`` are results that stand for their points; rejected ones, and those in another unit, are left out.
    """
    kept = rows[rows["detected"] & ~rows["rejected"] & rows["unit"].isin(MASS_UNITS)]
    over = kept[above_calibration(kept)].sort_values(["location_id", "analyte_id"])
    over = over.sort_values("value", ascending=False, kind="stable")
    whole = math.fsum(kept["value"])
    if not whole or math.fsum(over["value"]) <= MOST * whole:
        return None
    keys = zip(over["location_id"], over["lab_sample_id"], over["analyte_id"], strict=True)
    return Resting(math.fsum(over["value"]) / whole, tuple(keys))


def resting_points(rows: pd.DataFrame) -> Mapping[str, Resting]:
    """Return the points whose sum of detected masses rests on such results, by id."""
    over = set(rows.loc[above_calibration(rows), "location_id"])
    parts = {name: resting(rows[rows["location_id"] == name]) for name in sorted(over)}
    return {name: rests for name, rests in parts.items() if rests is not None}


def resting_groups(
    rows: pd.DataFrame, groups: Mapping[str, str], summed: Iterable[str]
) -> Mapping[str, Mapping[str, Resting]]:
    """Return the same by group of compounds, for the groups that have sums."""
    group = rows["analyte_id"].map(groups)
    by_group = {name: resting_points(rows[group == name]) for name in summed}
    return {name: points for name, points in by_group.items() if points}
