"""Concentrations, where and only where an uptake rate for that very medium is on file.

A mass per sampler becomes a concentration in air only through an uptake
rate for the compound, the sampler type and the medium. There is no other way: a
:class:`Concentration` can't be made without its rate, and screening takes nothing else.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from sitegen.compute.results.store import StoredResult
from sitegen.project.survey import Survey
from sitegen.project.tables import StatedRate
from sitegen.units import RESULT_UNITS

RateKey = tuple[str, str, str]


@dataclass(frozen=True, slots=True)
class UptakeRate:
    """An uptake rate of one sampler type for one compound in one medium.

    Temperature and relative standard uncertainty are None where the table gives none.
    """

    sampler_type: str
    analyte_id: str
    medium: str
    rate_ml_min: float
    source: str
    temperature_c: float | None = None
    uncertainty_pct: float | None = None


@dataclass(frozen=True, slots=True)
class Concentration:
    """A time-weighted mean concentration in µg/m³; ``detected`` False makes it the limit alone.

    ``rate`` is None only where the laboratory itself reported a concentration.
    """

    lab_sample_id: str
    analyte_id: str
    medium: str
    ug_m3: float
    rl_ug_m3: float
    detected: bool
    rate: UptakeRate | None


def uptake_rates(survey: Survey) -> dict[RateKey, UptakeRate]:
    """Return the rates on file by (sampler type, compound, medium)."""
    return {
        (row.sampler_type, row.analyte_id, row.medium): UptakeRate(
            row.sampler_type,
            row.analyte_id,
            row.medium,
            row.rate_ml_min,
            row.source_title,
            _number_or_none(row.temperature_c),
            _number_or_none(row.uncertainty_pct),
        )
        for row in survey.rows(StatedRate)
        if row.rate_ml_min > 0
    }


def _number_or_none(value: float) -> float | None:
    return None if math.isnan(value) else value


def from_mass(mass_ng: float, rate_ml_min: float, exposure_min: float) -> float:
    """Return C = 1000 m / (U t) in µg/m³ for m in ng, U in mL/min and t in minutes.

    EPA Method 325B, equation for the mean concentration over the exposure, with the
    units used here. Raises ValueError where rate or time is not positive.

    >>> round(from_mass(100.0, 0.5, 20_160.0), 3)
    9.921
    """
    if rate_ml_min <= 0 or exposure_min <= 0:
        raise ValueError("rate and exposure must be positive")
    return 1000.0 * mass_ng / (rate_ml_min * exposure_min)


def concentration(
    row: StoredResult, exposure_min: float | None, rates: Mapping[RateKey, UptakeRate]
) -> Concentration | None:
    """Return a result's concentration, or None where no rate for its medium is on file.

    A detection without a reporting limit has a concentration, and NaN for its limit.
    """
    unit = RESULT_UNITS[row.unit]
    if unit.kind == "concentration":
        limit = unit.factor * row.rl
        value = unit.factor * row.value if row.detected else limit
        return Concentration(row.lab_sample_id, row.analyte_id, row.medium, value, limit, row.detected, None)
    rate = rates.get((row.sampler_type, row.analyte_id, row.medium))
    if rate is None or not exposure_min:
        return None
    limit = from_mass(unit.factor * row.rl, rate.rate_ml_min, exposure_min)
    value = from_mass(unit.factor * row.value, rate.rate_ml_min, exposure_min) if row.detected else limit
    return Concentration(row.lab_sample_id, row.analyte_id, row.medium, value, limit, row.detected, rate)
