"""Exact intervals of a share, and rank correlation, against figures from elsewhere."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from sitegen.compute.statistics.intervals import share_interval
from sitegen.compute.statistics.rank import orders, tau_b

Numbers = tuple[float, ...]


@pytest.mark.published
@pytest.mark.parametrize(
    ("found", "of", "confidence", "expected", "within"),
    [
        # A. Agresti, Categorical Data Analysis, 2nd ed. 2002, 1.4.3: none of 25 students (from memory).
        pytest.param(0, 25, 0.95, (0.0, 0.137), 5e-4, id="agresti"),
        # W. J. Conover, Practical Nonparametric Statistics, 1971, p. 97, as R's help works it (from memory).
        pytest.param(682, 925, 0.95, (0.7076683, 0.7654066), 5e-8, id="conover"),
        # NIST/SEMATECH e-Handbook, 7.2.4.2: 4 of 20 units, 90 % (case read, limits from
        # memory; the page finds them by a search that stops short of the sixth figure).
        pytest.param(4, 20, 0.90, (0.071354, 0.401029), 2e-6, id="nist"),
    ],
)
def test_exact_intervals_are_those_of_the_textbooks(
    found: int, of: int, confidence: float, expected: Numbers, within: float
) -> None:
    """Three printed Clopper–Pearson intervals."""
    interval = share_interval(found, of, confidence)
    assert (interval.low, interval.high) == pytest.approx(expected, abs=within)


@pytest.mark.published
def test_exact_intervals_agree_with_scipy() -> None:
    """scipy.stats.binomtest solves the binomial tails by a search of its own."""
    for of in (1, 2, 7, 51, 400):
        for found in {0, 1, of // 3, of - 1, of}:
            theirs = stats.binomtest(found, of).proportion_ci(0.95, method="exact")
            ours = share_interval(found, of)
            assert (ours.low, ours.high) == pytest.approx((theirs.low, theirs.high), abs=1e-9)


def _tau(x: Numbers, y: Numbers) -> float:
    seen = np.ones(len(x), dtype=bool)
    return tau_b(orders(np.array(x), seen), orders(np.array(y), seen))


@pytest.mark.published
def test_tau_of_the_tuna_is_the_published_one() -> None:
    """Hollander and Wolfe, Nonparametric Statistical Methods, 1973, p. 188, table 1: 4/9.

    Data and 0.4444444 read in course notes of the University of South Carolina
    (www.stat.sc.edu/~habing/courses/518splus3F98.html).
    """
    lightness = (44.4, 45.9, 41.9, 53.3, 44.7, 44.1, 50.7, 45.2, 60.1)
    panel = (2.6, 3.1, 2.5, 5.0, 3.6, 4.0, 5.2, 2.8, 3.8)
    assert _tau(lightness, panel) == pytest.approx(0.4444444, abs=5e-8)


@pytest.mark.published
def test_tau_with_ties_is_that_of_the_scipy_manual() -> None:
    """The worked example of scipy.stats.kendalltau: −0.47140452079103173 (from memory)."""
    assert _tau((12, 2, 1, 12, 2), (1, 4, 7, 1, 0)) == pytest.approx(-0.47140452079103173, abs=1e-15)


@pytest.mark.published
def test_tau_agrees_with_scipy_where_nothing_is_censored() -> None:
    """scipy.stats.kendalltau over data with many ties."""
    rng = np.random.default_rng(3)
    for _ in range(30):
        x, y = rng.integers(0, 8, 25), rng.integers(0, 8, 25)
        assert _tau(tuple(x.astype(float)), tuple(y.astype(float))) == pytest.approx(
            stats.kendalltau(x, y).statistic, abs=1e-12
        )
