"""Tails of the normal and of the beta law, as far as fits and intervals of a share need them.

The standard library has the error function, the gamma function and the normal quantile. With
them four functions take the place of a library of 143 MB, to which tests compare them.
"""

from __future__ import annotations

import math
from itertools import accumulate
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_SCORE = NormalDist().inv_cdf
_LOG_ROOT_2PI = math.log(2 * math.pi) / 2
_FAR = -20.0
"""From here down the tail is taken from its asymptotic series; the error function would run out of range."""
_ROUNDS = 500


def normal_scores(shares: Floats) -> Floats:
    """Return the normal quantile of each share between 0 and 1.

    >>> normal_scores(np.array([0.5, 0.975])).round(4).tolist()
    [0.0, 1.96]
    """
    return np.array([_SCORE(share) for share in shares.tolist()], dtype=np.float64)


def log_below(score: float) -> float:
    """Return the logarithm of the normal probability of lying below a score, ln Φ(z).

    >>> log_below(0.0) == math.log(0.5), round(log_below(-40.0), 4)
    (True, -804.6084)
    """
    if score > 0:
        return math.log1p(-math.erfc(score / math.sqrt(2)) / 2)
    if score > _FAR:
        return math.log(math.erfc(-score / math.sqrt(2)) / 2)
    return -(score**2) / 2 - _LOG_ROOT_2PI - math.log(hazard(score))


def hazard(score: float) -> float:
    """Return the normal density at a score over the probability of lying below it, φ(z)/Φ(z)."""
    if score <= _FAR:
        # Abramowitz and Stegun 26.2.12: Φ(z) = φ(z)/|z| · (1 − 1/z² + 3/z⁴ − 15/z⁶ + …).
        terms = accumulate(range(1, 20, 2), lambda term, odd: -term * odd / score**2, initial=1.0)
        return -score / math.fsum(terms)
    return math.exp(-(score**2) / 2 - _LOG_ROOT_2PI - log_below(score))


def beta_tails(x: float, a: float, b: float) -> tuple[float, float, float]:
    """Return the beta law's probabilities of lying below and above ``x``, and x (1 − x) times its density.

    ``a`` and ``b`` are its shape. By the continued fraction of DLMF 8.17.22, on the side of
    the mean on which it runs fast; the smaller tail is exact to its own size.
    """
    scale = math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b)
    front = math.exp(a * math.log(x) + b * math.log1p(-x) + scale)
    if x * (a + b + 2) < a + 1:
        below = front * _fraction(x, a, b) / a
        return below, 1 - below, front
    above = front * _fraction(1 - x, b, a) / b
    return 1 - above, above, front


def _fraction(x: float, a: float, b: float) -> float:
    """Return the continued fraction 1/(1 + d₁/(1 + d₂/(1 + …))) by Lentz's way; left of the mean no part is nothing."""
    c, d = 1.0, 1 / (1 - (a + b) * x / (a + 1))
    value = d
    for m in range(1, _ROUNDS):
        two = a + 2 * m
        even = m * (b - m) * x / ((two - 1) * two)
        odd = -(a + m) * (a + b + m) * x / (two * (two + 1))
        d = 1 / (1 + even * d)
        c = 1 + even / c
        change = d * c
        d = 1 / (1 + odd * d)
        c = 1 + odd / c
        change *= d * c
        value *= change
        if -1e-15 < change - 1 < 1e-15:
            break
    return value


def beta_bound(a: float, b: float, tail: float, *, upper: bool) -> float:
    """Return where the beta law leaves the share ``tail`` below, or with ``upper`` above.

    By Newton's steps from near the mean, each within the bounds known so far, else halved. They double
    the figures that are right, so that the last one, of a billionth, leaves no error.

    >>> round(beta_bound(1, 25, 0.975, upper=False), 4) == round(beta_bound(1, 25, 0.025, upper=True), 4)
    True
    """
    least, most = 0.0, 1.0
    x = _first_guess(a, b, tail, upper=upper)
    for _ in range(_ROUNDS):
        below, above, front = beta_tails(x, a, b)
        excess = tail - above if upper else below - tail
        least, most = (least, x) if excess > 0 else (x, most)
        step = excess * x * (1 - x) / front if front else math.inf
        if abs(step) <= 1e-9 * x:
            return x - step
        x = x - step if least < x - step < most else (least + most) / 2
    return x


def _first_guess(a: float, b: float, tail: float, *, upper: bool) -> float:
    """Return the bound of a normal law in its place (Wilson 1927), which lies within 0 and 1."""
    score = _SCORE(1 - tail if upper else tail)
    whole, square = a + b, score**2
    middle = (a + square / 2) / (whole + square)
    return middle + score * math.sqrt(a * b / whole + square / 4) / (whole + square)
