"""The sign test: whether more pairs rose than fell by chance alone would be a surprise (Arbuthnott 1710)."""

from __future__ import annotations

from math import comb


def sign_test(higher: int, lower: int) -> float | None:
    """Return the exact two-sided probability of a split at least as uneven, None where nothing is counted.

    Under no change each of n = higher + lower pairs rises with probability 1/2; pairs without an order are left out.
    p = 2 Σ C(n, k) / 2ⁿ over k ≤ the smaller count, at most 1. By whole numbers up to the one division.

    >>> sign_test(8, 1), sign_test(3, 3), sign_test(0, 0)
    (0.0390625, 1.0, None)
    """
    n = higher + lower
    if n == 0:
        return None
    tail = sum(comb(n, k) for k in range(min(higher, lower) + 1))
    return min(1.0, 2 * tail / (1 << n))
