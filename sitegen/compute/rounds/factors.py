"""Classes of the factor between two masses, for the size of symbols: the same in every comparison."""

from __future__ import annotations

import math
from bisect import bisect_right

from sitegen.voice import worded

BOUNDS = (3.0, 10.0)
"""Half decades, of which two make one class of mass: common practice, no source."""


def factor_class(factor: float) -> int:
    """Return the class of a factor, later by earlier mass: the same for as many times more and less.

    >>> [factor_class(factor) for factor in (1.0, 2.9, 3.0, 10.0, 0.5, 0.3, 0.1)]
    [0, 0, 1, 2, 0, 1, 2]
    """
    times = max(factor, 1 / factor) if factor > 0 else math.inf
    return bisect_right(BOUNDS, times)


def factor_labels() -> tuple[str, ...]:
    """Return each class in words, lowest first.

    >>> factor_labels()
    ('below 3 times', '3 to 10 times', '10 times and above')
    """
    low, high = (f"{bound:g}" for bound in BOUNDS)
    return (
        worded("below {low} times", low=low),
        worded("{low} to {high} times", low=low, high=high),
        worded("{high} times and above", high=high),
    )
