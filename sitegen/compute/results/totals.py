"""Sums of what was detected, per point and over the survey, each with how many it speaks for.

A sum adds compounds that a sampler takes up at different rates, and leaves non-detects
out: it orders points at a glance and means nothing more. It is always given as
"n of m detected".
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import pandas as pd

from sitegen.project.schema import SOIL_MEDIA
from sitegen.units import MASS_UNITS


@dataclass(frozen=True, slots=True)
class DetectedSum:
    """A sum of detected masses in the unit of the data, over ``detected`` of ``analysed`` results.

    A blank touches ``touched`` of the detections; they are in the sum, as nothing is subtracted.
    """

    mass_ng: float
    detected: int
    touched: int
    analysed: int


def detected_sums(primary: pd.DataFrame, touched: frozenset[tuple[str, str]]) -> Mapping[str, DetectedSum]:
    """Return the sum at each point that has masses, points by id; rejected results are left out."""
    rows = primary[~primary["rejected"] & primary["unit"].isin(MASS_UNITS)]
    masses: dict[str, list[float]] = {}
    counts: dict[str, list[int]] = {}
    columns = (rows[n] for n in ("location_id", "lab_sample_id", "analyte_id", "detected", "value"))
    for location_id, lab_sample_id, analyte_id, detected, value in zip(*columns, strict=True):
        held, count = masses.setdefault(location_id, []), counts.setdefault(location_id, [0, 0])
        count[0] += 1
        if detected:
            held.append(value)
            count[1] += (lab_sample_id, analyte_id) in touched
    return {
        name: DetectedSum(math.fsum(held), len(held), counts[name][1], counts[name][0])
        for name, held in sorted(masses.items())
    }


def soil_sum(primary: pd.DataFrame, touched: frozenset[tuple[str, str]]) -> DetectedSum:
    """Return the sum over every soil point of the survey."""
    sums = detected_sums(primary[primary["medium"].isin(SOIL_MEDIA)], touched).values()
    return DetectedSum(
        math.fsum(s.mass_ng for s in sums),
        sum(s.detected for s in sums),
        sum(s.touched for s in sums),
        sum(s.analysed for s in sums),
    )
