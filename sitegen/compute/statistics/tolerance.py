"""Distribution-free tolerance limits: which order statistic covers a share of a law, whatever the law is.

S. S. Wilks (1941), Annals of Mathematical Statistics 12(1), 91–96; Hahn and Meeker, Statistical Intervals, 1991,
section 5.3 (from memory; tests work the binomial out anew with another library).
"""

from __future__ import annotations

from fractions import Fraction
from math import ceil, comb, log


def tolerance_rank(count: int, coverage: float, confidence: float) -> int | None:
    """Return the least r whose r-th smallest of ``count`` independent draws lies above the share ``coverage``.

    It does so with at least ``confidence``: P(X ≤ r − 1) ≥ confidence for X binomial of ``count`` and ``coverage``.
    None where even the largest does not, and where a share is not between 0 and 1.

    >>> tolerance_rank(28, 0.9, 0.95), tolerance_rank(29, 0.9, 0.95), tolerance_rank(46, 0.9, 0.95)
    (None, 29, 45)
    """
    if not (0 < coverage < 1 and 0 < confidence < 1):
        return None
    share = Fraction(coverage).limit_denominator(10**6)
    won, lost = share.numerator, share.denominator - share.numerator
    wanted = Fraction(confidence).limit_denominator(10**6) * share.denominator**count
    above = share.denominator**count
    found = None
    for r in range(count, 0, -1):
        above -= comb(count, r) * won**r * lost ** (count - r)
        if above < wanted:
            break
        found = r
    return found


def least_count(coverage: float, confidence: float) -> int:
    """Return how many draws it takes for the largest to be a limit, 0 where no number does.

    1 − coverageⁿ ≥ confidence.

    >>> least_count(0.9, 0.95), least_count(0.95, 0.95), least_count(1.0, 0.95)
    (29, 59, 0)
    """
    if not (0 < coverage < 1 and 0 < confidence < 1):
        return 0
    n = max(1, ceil(log(1 - confidence) / log(coverage)) - 1)
    while tolerance_rank(n, coverage, confidence) is None:
        n += 1
    return n
