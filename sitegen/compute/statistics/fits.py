"""Fitted estimates for left-censored data: order-statistic regression, and the lognormal law.

Both work on logarithms, so every value must be above zero. They are given only where a
project asks for a mean: a mixture of background and source follows no single law.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sitegen.compute.statistics.tails import hazard, log_below, normal_scores

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class OrderFit:
    """A robust fit by regression on order statistics.

    ``imputed`` holds what stands for the non-detects, ascending, in the unit of the data:
    these serve the mean and standard deviation as a whole and are no values of any point.
    """

    intercept: float
    slope: float
    imputed: Floats
    mean: float
    sd: float
    mean_log: float
    sd_log: float


@dataclass(frozen=True, slots=True)
class LognormalFit:
    """Maximum-likelihood parameters of a lognormal law, natural logarithms."""

    mean_log: float
    sd_log: float

    @property
    def mean(self) -> float:
        """The law's mean, exp(μ + σ²/2)."""
        return float(np.exp(self.mean_log + self.sd_log**2 / 2))

    @property
    def median(self) -> float:
        """The law's median, exp(μ)."""
        return float(np.exp(self.mean_log))

    @property
    def cv(self) -> float:
        """The law's coefficient of variation, √(exp(σ²) − 1)."""
        return float(np.sqrt(np.expm1(self.sd_log**2)))


def exceedance(values: Floats, detected: Flags) -> tuple[Floats, Floats]:
    """Return the distinct limits, ascending, and the probability of reaching each.

    Hirsch and Stedinger (1987), Water Resources Research 23(4), 715–727: counted down
    from the highest limit j,
    P(j) = P(j+1) + A(j)/(A(j)+B(j)) · (1 − P(j+1)),
    where A(j) counts detections from limit j up to the next, and B(j) everything known
    to lie below limit j.

    A limit of −∞ with probability 1 stands first where detections lie below every limit.
    """
    limits = np.unique(values[~detected])
    hits = values[detected]
    if not len(limits) or (hits < limits[0]).any():
        limits = np.concatenate(([-np.inf], limits))
    upper = np.concatenate((limits[1:], [np.inf]))
    chance = np.zeros(len(limits) + 1)
    for j in range(len(limits) - 1, -1, -1):
        above = np.sum((hits >= limits[j]) & (hits < upper[j]))
        below = np.sum(hits < limits[j]) + np.sum(values[~detected] <= limits[j])
        share = above / (above + below) if above else 0.0
        chance[j] = chance[j + 1] + share * (1 - chance[j + 1])
    return limits, chance[:-1]


def plotting_positions(values: Floats, detected: Flags, constant: float = 0.0) -> Floats:
    """Return the plotting position of each value, in the order of ``values``.

    Within the detections between two limits, and within the non-detects of one limit,
    positions stand evenly: (rank − a) / (count + 1 − 2a), a = ``constant`` (0 by Weibull,
    0.375 by Blom).
    """
    limits, chance = exceedance(values, detected)
    following = np.concatenate((chance[1:], [0.0]))
    band = np.searchsorted(limits, values, side="right") - 1
    positions = np.empty(len(values))
    for j in range(len(limits)):
        hits = np.flatnonzero(detected & (band == j))
        positions[hits] = (1 - chance[j]) + (chance[j] - following[j]) * _even_positions(values[hits], constant)
        misses = np.flatnonzero(~detected & (values == limits[j]))
        positions[misses] = (1 - chance[j]) * _even_positions(values[misses], constant)
    return positions


def _even_positions(values: Floats, constant: float) -> Floats:
    ranks = np.empty(len(values))
    ranks[np.argsort(values, kind="stable")] = np.arange(1, len(values) + 1)
    return (ranks - constant) / (len(values) + 1 - 2 * constant)


def order_fit(values: Floats, detected: Flags, constant: float = 0.0) -> OrderFit:
    """Fit log values of detections on normal scores, and take non-detects from the line.

    Robust regression on order statistics (D. R. Helsel, Nondetects and Data Analysis,
    2005, ch. 6): detections stay as they are; the line speaks for non-detects alone.
    ``values`` holds detections and the limits of non-detects, all above zero.

    Raises
    ------
    ValueError
        Fewer than two different detections.

    >>> fit = order_fit(np.array([1.0, 2.0, 4.0, 8.0]), np.array([False, True, True, True]))
    >>> round(fit.mean, 2)
    3.64
    """
    if len(np.unique(values[detected])) < 2:
        raise ValueError("a line needs two different detections")
    scores = normal_scores(plotting_positions(values, detected, constant))
    logs = np.log(values[detected])
    centred = scores[detected] - np.mean(scores[detected])
    slope = float(np.sum(centred * logs) / np.sum(centred**2))
    intercept = float(np.mean(logs) - slope * np.mean(scores[detected]))
    imputed = np.exp(intercept + slope * scores[~detected])
    whole = np.concatenate((imputed, values[detected]))
    return OrderFit(
        intercept,
        slope,
        np.sort(imputed),
        float(np.mean(whole)),
        float(np.std(whole, ddof=1)),
        float(np.mean(np.log(whole))),
        float(np.std(np.log(whole), ddof=1)),
    )


def lognormal_fit(values: Floats, detected: Flags) -> LognormalFit:
    """Fit a lognormal law by maximum likelihood.

    The likelihood takes a detection's density and a non-detect's probability of lying
    below its limit (A. C. Cohen 1959, Technometrics 1(3), 217–237, for one limit). All
    values above zero.

    Raises
    ------
    ValueError
        Fewer than two different detections.
    """
    logs = np.log(values)
    hits, misses = logs[detected], logs[~detected]
    if len(np.unique(hits)) < 2:
        raise ValueError("a law needs two different detections")

    centre, scale = float(np.mean(hits)), float(np.std(hits))
    limits, counts = np.unique((misses - centre) / scale, return_counts=True)
    shift, steepness = _likeliest(len(hits), limits, counts)
    return LognormalFit(centre + scale * shift / steepness, scale / steepness)


_STEPS = 100
_CLOSE = 1e-13


def _likeliest(hits: int, limits: Floats, counts: NDArray[np.int_]) -> tuple[float, float]:
    """Return μ/σ and 1/σ of the likeliest normal law of ``hits`` values of mean 0 and variance 1, and of non-detects.

    ``counts`` non-detects lie below each of ``limits``. In these two numbers the logarithm of the likelihood
    is concave (R. J. Olsen 1978, Econometrica 46(5), 1211–1215), so that Newton's steps, halved where they
    lead down, reach its only top.
    """
    at = np.array([0.0, 1.0])
    top = _log_likelihood(at, hits, limits, counts)
    for _ in range(_STEPS):
        step = _newton(at, hits, limits, counts)
        while at[1] + step[1] <= 0 or _log_likelihood(at + step, hits, limits, counts) < top - _CLOSE * abs(top):
            step = step / 2
        at = at + step
        top = _log_likelihood(at, hits, limits, counts)
        if np.abs(step).max() <= _CLOSE * np.abs(at).max():
            break
    return float(at[0]), float(at[1])


def _log_likelihood(at: Floats, hits: int, limits: Floats, counts: NDArray[np.int_]) -> float:
    shift, steepness = at
    missed = sum(count * log_below(steepness * limit - shift) for limit, count in zip(limits, counts, strict=True))
    return float(hits * (np.log(steepness) - (steepness**2 + shift**2) / 2) + missed)


def _newton(at: Floats, hits: int, limits: Floats, counts: NDArray[np.int_]) -> Floats:
    """Return Newton's step to the top: the slope over the curvature."""
    shift, steepness = at
    scores = steepness * limits - shift
    pull = np.array([hazard(score) for score in scores])
    bend = counts * pull * (scores + pull)
    slope = [
        -hits * shift - np.sum(counts * pull),
        hits / steepness - hits * steepness + np.sum(counts * limits * pull),
    ]
    mixed = -np.sum(bend * limits)
    curve = [[hits + np.sum(bend), mixed], [mixed, hits / steepness**2 + hits + np.sum(bend * limits**2)]]
    return np.linalg.solve(np.array(curve), np.array(slope))
