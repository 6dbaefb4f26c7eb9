"""Kendall's trend, the sign test and the tolerance limit, held to scipy, to counting out, and by hand."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from scipy import stats

from sitegen.compute.statistics.kendall import COUNTED_ROUNDS, kendall, least_p, variance
from sitegen.compute.statistics.signs import sign_test
from sitegen.compute.statistics.tolerance import least_count, tolerance_rank

RANDOM = np.random.default_rng(7)


def of(*values: float, seen: tuple[bool, ...] = ()) -> tuple[np.ndarray, np.ndarray]:
    return np.array([values]), np.array([seen or (True,) * len(values)])


@pytest.mark.parametrize("n", range(3, COUNTED_ROUNDS + 1))
def test_without_censoring_it_is_scipys_kendall_with_the_exact_p(n: int) -> None:
    """scipy.stats.kendalltau, method exact, without ties."""
    for _ in range(5):
        values = RANDOM.permutation(n).astype(float)
        theirs = stats.kendalltau(np.arange(n), values, method="exact")
        ours = kendall(*of(*values))
        assert ours.method == "exact"
        assert ours.tau_b == pytest.approx(theirs.statistic, abs=1e-12)
        assert ours.p == pytest.approx(theirs.pvalue, rel=1e-9)


@pytest.mark.parametrize("n", [9, 15, 40])
def test_many_rounds_have_scipys_p_of_the_normal_law_ties_included(n: int) -> None:
    """scipy.stats.kendalltau, method asymptotic: its variance with ties is Kendall's own."""
    for most in (1000, 4):
        values = RANDOM.integers(0, most, n).astype(float)
        theirs = stats.kendalltau(np.arange(n), values, method="asymptotic")
        ours = kendall(*of(*values))
        assert ours.method == "normal"
        assert ours.tau_b == pytest.approx(theirs.statistic, abs=1e-12)
        assert ours.p == pytest.approx(theirs.pvalue, rel=1e-9)


def test_the_variance_is_that_of_all_orders_for_any_matrix() -> None:
    """Counted out over the 120 orders of five rounds, for matrices that no series without censoring has."""
    for _ in range(5):
        upper = np.triu(RANDOM.integers(-3, 4, (5, 5)), 1)
        square = upper - upper.T
        sums = [sum(square[order[a], order[b]] for a in range(5) for b in range(a + 1, 5))
                for order in itertools.permutations(range(5))]  # fmt: skip
        assert math.fsum(sums) == 0
        assert variance(square) == pytest.approx(sum(s * s for s in sums) / 120)


def test_a_censored_series_by_hand() -> None:
    """<10, 5, <4, 12: of six pairs four have an order.

    <10 against 5 unknown, <10 against <4 unknown, <10 < 12; 5 > <4; 5 < 12; <4 < 12: S = 3 − 1 = 2, tau-b =
    2/√(6 × 4). Over the 24 orders |S| ≤ 4; those with |S| < 2 have S = 0, counted here by the definition.
    """
    values, seen = (10.0, 5.0, 4.0, 12.0), (False, True, False, True)
    found = kendall(*of(*values, seen=seen))
    assert (found.s, found.pairs, found.ordered, found.series) == (2, 6, 4, 1)
    assert found.tau_b == pytest.approx(2 / math.sqrt(24))
    known = {(0, 3): 1, (1, 2): -1, (1, 3): 1, (2, 3): 1}  # round and later round: rises or falls
    sign = {**known, **{(b, a): -s for (a, b), s in known.items()}}
    sums = [sum(sign.get(pair, 0) for pair in itertools.combinations(order, 2))
            for order in itertools.permutations(range(4))]  # fmt: skip
    assert found.p == sum(abs(s) >= 2 for s in sums) / 24


def test_what_has_no_order_has_no_p() -> None:
    """Three non-detects; one result alone; none."""
    for values, seen in (((10.0, 20.0, 5.0), (False,) * 3), ((math.nan, 4.0, math.nan), (False, True, False))):
        found = kendall(*of(*values, seen=seen))
        assert (found.s, found.ordered, found.tau_b, found.p, found.method) == (0, 0, None, None, "")
    assert kendall(np.empty((0, 3)), np.empty((0, 3), dtype=bool)).p is None


def test_series_are_pooled_by_adding_s_and_rounds_change_places_together() -> None:
    """Two series over three rounds, one of them without the second round: S = 3 + 1; of six orders two reach 4."""
    values = np.array([[1.0, 2.0, 3.0], [1.0, math.nan, 2.0]])
    found = kendall(values, ~np.isnan(values))
    assert (found.s, found.pairs, found.ordered, found.series) == (4, 4, 4, 2)
    assert found.p == pytest.approx(2 / 6)


@pytest.mark.parametrize("n", [3, 4, 5, 6])
def test_no_series_has_a_p_below_the_least(n: int) -> None:
    """2/n!, as rising all the way gives."""
    assert kendall(*of(*range(1, n + 1))).p == pytest.approx(least_p(n))
    assert least_p(n) == pytest.approx(stats.kendalltau(range(n), range(n), method="exact").pvalue)


@pytest.mark.parametrize("n", [1, 2, 7, 30, 301])
def test_the_sign_test_is_scipys_binomial_test(n: int) -> None:
    """scipy.stats.binomtest, two-sided, at one half."""
    for higher in {0, 1, n // 3, n // 2, n}:
        assert sign_test(higher, n - higher) == pytest.approx(stats.binomtest(higher, n).pvalue, rel=1e-9)


def test_a_sign_test_of_thousands_is_a_number() -> None:
    """2 / 2⁵⁰⁰⁰ is below what a float holds, and is 0 rather than an error."""
    assert sign_test(5000, 0) == 0.0
    assert sign_test(0, 0) is None


@pytest.mark.parametrize(("coverage", "confidence"), [(0.9, 0.95), (0.95, 0.95), (0.8, 0.9), (0.99, 0.9)])
def test_the_tolerance_rank_is_the_least_that_the_binomial_law_allows(coverage: float, confidence: float) -> None:
    """scipy.stats.binom: P(X ≤ r − 1; n, coverage) ≥ confidence at r and not at r − 1."""
    for n in (1, 10, 28, 29, 45, 46, 58, 59, 120, 300):
        fits = [r for r in range(1, n + 1) if stats.binom.cdf(r - 1, n, coverage) >= confidence]
        assert tolerance_rank(n, coverage, confidence) == (fits[0] if fits else None)


def test_the_least_counts_are_those_of_the_tables() -> None:
    """29 and 59 for the largest value at 95 % confidence: Hahn and Meeker, table A.16, from memory."""
    assert [least_count(c, 0.95) for c in (0.9, 0.95, 0.99)] == [29, 59, 299]
    assert least_count(0.5, 0.5) == 1
    for coverage, confidence in ((0.0, 0.95), (1.0, 0.95), (0.9, 1.0), (0.9, 0.0), (1.2, 0.95)):
        assert (tolerance_rank(9, coverage, confidence), least_count(coverage, confidence)) == (None, 0)
