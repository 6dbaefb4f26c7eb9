"""Tails of the normal and the beta law, and the likeliest lognormal law, held to scipy's over wide ranges."""

from __future__ import annotations

import math
import subprocess
import sys

import numpy as np
import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st
from scipy.optimize import root
from scipy.special import betainc, betaincinv, log_ndtr, ndtri
from scipy.stats import norm

from sitegen.compute.statistics.fits import Flags, Floats, lognormal_fit
from sitegen.compute.statistics.intervals import share_interval
from sitegen.compute.statistics.tails import beta_tails, hazard, log_below, normal_scores


def test_normal_scores_are_scipys() -> None:
    """Shares from 1e-300 to 1 − 1e-15, and the middle."""
    shares = np.concatenate(
        [np.logspace(-300, -1, 1000), np.linspace(0.001, 0.999, 999), 1 - np.logspace(-15, -3, 200)]
    )
    assert normal_scores(shares) == pytest.approx(ndtri(shares), rel=1e-13, abs=1e-15)


def test_the_logarithm_of_the_tail_is_scipys() -> None:
    """Scores from −1e150 to 37, beyond which there is nothing above; −20 is where the series takes over."""
    scores = np.concatenate(
        [-np.logspace(150, -6, 2000), [-20.0, math.nextafter(-20.0, 0)], np.linspace(-45, 37, 4001)]
    )
    ours = np.array([log_below(score) for score in scores.tolist()])
    assert ours == pytest.approx(log_ndtr(scores), rel=1e-12, abs=0)


def test_the_hazard_is_the_density_over_the_tail() -> None:
    """As scipy has both, and far out as −z (1 + 1/z²), where both are nothing."""
    scores = np.linspace(-37, 37, 2001)
    ours = np.array([hazard(score) for score in scores.tolist()])
    assert ours == pytest.approx(np.exp(norm.logpdf(scores) - log_ndtr(scores)), rel=1e-11)
    assert hazard(-1e6) == pytest.approx(1e6 * (1 + 1e-12), rel=1e-15)


@settings(max_examples=400)
@given(st.integers(1, 10_000), st.integers(1, 10_000), st.floats(1e-9, 1 - 1e-9))
@example(1, 1, 0.5)
@example(10_000, 1, 0.9999)
def test_both_tails_of_the_beta_law_are_scipys(a: int, b: int, x: float) -> None:
    """To 1e-10 of each tail that is a number at all, on either side of the mean."""
    below, above, _ = beta_tails(x, a, b)
    assert below == pytest.approx(betainc(a, b, x), rel=1e-10, abs=1e-250)
    assert above == pytest.approx(betainc(b, a, 1 - x), rel=1e-10 + 2e-16 * (a + b) / min(x, 1 - x), abs=1e-250)


def _theirs(found: int, of: int, confidence: float) -> tuple[float, float]:
    tail = (1 - confidence) / 2
    low = float(betaincinv(found, of - found + 1, tail)) if found else 0.0
    return low, 1 - float(betaincinv(of - found, found + 1, tail)) if found < of else 1.0


@pytest.mark.parametrize("confidence", [0.5, 0.9, 0.95, 0.999, 0.999999])
@pytest.mark.parametrize("of", [1, 2, 3, 10, 51, 100, 650, 1_000, 3_000, 10_000])
def test_intervals_are_those_of_scipys_beta_quantiles(of: int, confidence: float) -> None:
    """Up to 10,000 counted: each bound to 1e-10 of itself, from none found to all."""
    for found in sorted({*range(min(of, 3) + 1), *range(0, of, max(1, of // 40)), of - 1, of}):
        interval = share_interval(found, of, confidence)
        assert (interval.low, interval.high) == pytest.approx(_theirs(found, of, confidence), rel=1e-10, abs=0)


def test_intervals_of_very_many_are_right_to_nine_figures() -> None:
    """100,000 counted: the gamma function's logarithm, some 1e6, leaves nine figures."""
    for found in (0, 1, 17, 50_000, 99_999, 100_000):
        interval = share_interval(found, 100_000)
        assert (interval.low, interval.high) == pytest.approx(_theirs(found, 100_000, 0.95), rel=1e-9, abs=0)


def _root(values: Floats, detected: Flags, start: tuple[float, float]) -> tuple[float, float]:
    """Return where scipy finds no slope of the likelihood in μ and ln σ."""
    logs = np.log(values)
    hits, misses = logs[detected], logs[~detected]

    def slope(at: Floats) -> list[float]:
        middle, scale = at[0], np.exp(at[1])
        z = (misses - middle) / scale
        pull = np.exp(norm.logpdf(z) - log_ndtr(z))
        around = (hits - middle) / scale
        return [float(np.sum(around) - np.sum(pull)), float(np.sum(around**2) - len(hits) - np.sum(pull * z))]

    found = root(slope, [start[0], math.log(start[1])], tol=1e-14)
    assert found.success
    return float(found.x[0]), math.exp(found.x[1])


@settings(max_examples=150, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(3, 300), st.floats(-5, 12), st.floats(0.05, 3), st.floats(0, 0.95))
def test_the_likeliest_law_is_where_scipy_finds_no_slope(
    seed: int, count: int, middle: float, scale: float, below: float
) -> None:
    """Drawn lognormal data with up to five limits: μ to 1e-10 of σ, and σ to 1e-10 of itself."""
    draw = np.random.default_rng(seed)
    drawn = np.exp(draw.normal(middle, scale, count))
    limits = np.exp(middle + scale * norm.ppf(np.clip(below + draw.uniform(-0.3, 0.3, 5), 0.01, 0.97)))
    limit = limits[draw.integers(0, 5, count)]
    detected = drawn > limit
    values = np.where(detected, drawn, limit)
    assume(len(np.unique(values[detected])) > 1)
    fit = lognormal_fit(values, detected)
    mean_log, sd_log = _root(values, detected, (fit.mean_log, fit.sd_log))
    assert fit.mean_log == pytest.approx(mean_log, abs=1e-10 * sd_log)
    assert fit.sd_log == pytest.approx(sd_log, rel=1e-10)


def test_a_law_of_detections_alone_has_their_mean_and_spread() -> None:
    """Without a non-detect the likeliest μ and σ are mean and standard deviation of the logarithms."""
    values = np.array([1.0, 2.0, 4.0, 9.0])
    fit = lognormal_fit(values, np.ones(4, dtype=bool))
    assert fit.mean_log == pytest.approx(np.mean(np.log(values)), rel=1e-14)
    assert fit.sd_log == pytest.approx(np.std(np.log(values)), rel=1e-14)


def test_the_program_runs_without_scipy() -> None:
    """It is there for tests alone: nothing of a project is computed with it, and importing it fails here."""
    code = (
        "import sys; sys.modules['scipy'] = None\n"
        "import numpy as np\n"
        "from sitegen.cli import main\n"
        "from sitegen.compute.statistics.intervals import means, share_interval\n"
        "values = np.arange(1.0, 61.0)\n"
        "assert all(mean.value for mean in means(values, values > 20))\n"
        "assert share_interval(3, 9).low > 0\n"
    )
    subprocess.run([sys.executable, "-c", code], check=True)
