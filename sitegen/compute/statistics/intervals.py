"""How sure a frequency is, and means where a project asks for them.

A mean is refused where a source says that the data can't carry it. The refusal is a
record with its source, and is printed in the place of the number.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from sitegen.compute.statistics.censored import kaplan_meier, lowest, mean
from sitegen.compute.statistics.fits import Flags, Floats, lognormal_fit, order_fit
from sitegen.compute.statistics.tails import beta_bound

CONFIDENCE = 0.95
HELSEL = "Helsel, Nondetects and Data Analysis, 2005, ch. 6"
EPA_2009 = "US EPA 530/R-09-007, 2009, ch. 15"


@dataclass(frozen=True, slots=True)
class Interval:
    """A confidence interval of a share, from 0 to 1."""

    low: float
    high: float
    confidence: float


@lru_cache(maxsize=1 << 12)
def share_interval(count: int, of: int, confidence: float = CONFIDENCE) -> Interval:
    """Return the exact interval of a share of ``count`` in ``of``.

    Clopper and Pearson (1934), Biometrika 26(4), 404–413, in the form of beta quantiles.
    ValueError where nothing was counted.

    >>> interval = share_interval(0, 25)
    >>> interval.low, round(interval.high, 3)
    (0.0, 0.137)
    """
    if not 0 <= count <= of or of == 0:
        raise ValueError("a share needs 0 ≤ count ≤ of, and something counted")
    tail = (1 - confidence) / 2
    low = beta_bound(count, of - count + 1, tail, upper=False) if count else 0.0
    high = beta_bound(count + 1, of - count, tail, upper=True) if count < of else 1.0
    return Interval(low, high, confidence)


@dataclass(frozen=True, slots=True)
class Demand:
    """What an estimator of a mean demands of the data, and who says so."""

    estimator: str
    least_results: int
    most_nondetect_pct: float
    source: str


DEMANDS: tuple[Demand, ...] = (
    Demand("kaplan_meier", 8, 50.0, f"{EPA_2009}; {HELSEL}"),
    Demand("order_statistics", 8, 80.0, f"{EPA_2009}; {HELSEL}"),
    Demand("lognormal", 50, 80.0, HELSEL),
)
"""Least number of results, and largest share of non-detects, for each estimator."""

TOO_FEW, TOO_MANY_NONDETECTS, ONE_VALUE = "too few results", "too many non-detects", "one detected value"


@dataclass(frozen=True, slots=True)
class Mean:
    """A mean by one estimator in the unit of the results, or None and why it is refused.

    ``tail`` is where the Kaplan–Meier tail was placed; None where there is none.
    """

    demand: Demand
    value: float | None
    refusal: str = ""
    tail: float | None = None


def means(values: Floats, detected: Flags) -> tuple[Mean, ...]:
    """Return the mean by each estimator, or its refusal.

    ``values`` holds detections and the limits of non-detects, in one unit.

    >>> [m.refusal for m in means(np.array([1.0, 2.0]), np.array([True, False]))][0]
    'too few results'
    """
    return tuple(_mean(demand, values, detected) for demand in DEMANDS)


def _mean(demand: Demand, values: Floats, detected: Flags) -> Mean:
    refusal = refusal_of(demand, values, detected)
    if refusal:
        return Mean(demand, None, refusal)
    if demand.estimator == "order_statistics":
        return Mean(demand, order_fit(values, detected).mean)
    if demand.estimator == "lognormal":
        return Mean(demand, lognormal_fit(values, detected).mean)
    step = kaplan_meier(values, detected)
    tail = lowest(values)
    return Mean(demand, mean(step, tail), tail=tail if step.below > 0 else None)


def refusal_of(demand: Demand, values: Floats, detected: Flags) -> str:
    """Return why the data can't carry an estimator's mean, "" where they can."""
    if len(values) < demand.least_results:
        return TOO_FEW
    if 100.0 * np.mean(~detected) > demand.most_nondetect_pct:
        return TOO_MANY_NONDETECTS
    return ONE_VALUE if len(np.unique(values[detected])) < 2 else ""
