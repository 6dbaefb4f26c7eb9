"""Ordering statistics for left-censored data, without putting a number for a non-detect.

The distribution function is the Kaplan–Meier estimate for left-censored data
(D. R. Helsel, Nondetects and Data Analysis, 2005, ch. 6): it is stepped at detections,
and a non-detect counts as lying below each detection at or above its limit.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class StepFunction:
    """P(X ≤ x) at each distinct detection, ascending; ``below`` is the share left under the lowest."""

    values: NDArray[np.float64]
    cumulative: NDArray[np.float64]
    below: float


def kaplan_meier(values: NDArray[np.float64], detected: NDArray[np.bool_]) -> StepFunction:
    """Estimate the distribution of left-censored data.

    ``values`` holds detections, and the limit of each non-detect, in one unit;
    ``detected`` tells which is which.

    >>> step = kaplan_meier(np.array([1.0, 2.0, 3.0, 4.0]), np.array([False, True, True, True]))
    >>> step.cumulative.tolist(), step.below
    ([0.5, 0.75, 1.0], 0.25)
    """
    hits = np.unique(values[detected])
    ordered = np.sort(values)
    at_risk = np.searchsorted(ordered, hits, side="right")
    steps = np.searchsorted(np.sort(values[detected]), hits, side="right") - np.searchsorted(
        np.sort(values[detected]), hits, side="left"
    )
    ratio = 1.0 - steps / np.maximum(at_risk, 1)
    # P(X < x) is the product of the ratios from x upwards; P(X <= x) that of those above x.
    product = np.cumprod(ratio[::-1])[::-1]
    cumulative: NDArray[np.float64] = np.append(product[1:], np.ones(min(1, len(hits))))
    return StepFunction(hits, cumulative, float(product[0]) if len(hits) else 1.0)


def percentile(step: StepFunction, share: float) -> float | None:
    """Return the lowest detection x with P(X ≤ x) ≥ share; None where it lies among non-detects.

    >>> step = kaplan_meier(np.array([1.0, 2.0, 3.0, 4.0]), np.array([False, True, True, True]))
    >>> percentile(step, 0.5), percentile(step, 0.2)
    (2.0, None)
    """
    if not len(step.values) or share <= step.below + 1e-12:
        return None
    at = int(np.searchsorted(step.cumulative, share - 1e-12, side="left"))
    return float(step.values[min(at, len(step.values) - 1)])


def mean(step: StepFunction, tail: float) -> float:
    """Return the Kaplan–Meier mean, with the share below the lowest detection placed at ``tail``.

    The estimate says nothing of where that share lies. The convention (see
    :func:`lowest`) is part of the number and must be printed with it. ValueError where
    nothing was detected.

    >>> step = kaplan_meier(np.array([1.0, 2.0, 3.0, 4.0]), np.array([False, True, True, True]))
    >>> mean(step, 1.0), mean(step, 2.0)
    (2.5, 2.75)
    """
    values, shares = _masses(step, tail)
    return float(np.sum(values * shares))


def spread(step: StepFunction, tail: float) -> float:
    """Return the Kaplan–Meier standard deviation (population form), with the same tail."""
    values, shares = _masses(step, tail)
    centre = np.sum(values * shares)
    return float(np.sqrt(np.sum(shares * (values - centre) ** 2)))


def lowest(values: NDArray[np.float64]) -> float:
    """Return where the tail of a mean is placed: at the lowest of all detections and limits.

    US EPA 530/R-09-007 (2009), example 15-1, places it at the lowest limit; where a
    detection lies lower still, no share is left below it.
    """
    return float(np.min(values))


def _masses(step: StepFunction, tail: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    if not len(step.values):
        raise ValueError("no detection to estimate from")
    values = np.concatenate(([tail], step.values))
    return values, np.diff(np.concatenate(([0.0, step.below], step.cumulative)))
