"""Mass classes for symbols and shading: whole decades of the unit of the data, the same in every revision."""

from __future__ import annotations

import math

from sitegen.voice import worded

COUNT = 7
"""Classes: below 10, 10 to 100, and so on; the last is open above."""


def size_class(mass_ng: float) -> int:
    """Return the class of a detected mass, 0 for the lowest.

    >>> [size_class(x) for x in (2.1, 10.0, 99.9, 100.0, 53_300.0, 3e9)]
    [0, 1, 1, 2, 4, 6]
    """
    if mass_ng < 10:
        return 0
    # log10 of an exact power of ten is exact in IEEE arithmetic as far as 10^22.
    return min(COUNT - 1, math.floor(math.log10(mass_ng)))


def class_labels(highest: int = COUNT - 1) -> tuple[str, ...]:
    """Return each class in words, without the unit, up to the highest that occurs.

    >>> class_labels(0)
    ('below 10',)
    >>> len(class_labels()), class_labels()[-1]
    (7, '1,000,000 and above')
    """
    inner = tuple(worded("{low:,} to {high:,}", low=10**k, high=10 ** (k + 1)) for k in range(1, COUNT - 1))
    above = worded("{low:,} and above", low=10 ** (COUNT - 1))
    return (worded("below 10"), *inner, above)[: max(highest, 0) + 1]
