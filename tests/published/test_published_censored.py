"""Left-censored data: means, spreads, fits and steps against figures from elsewhere.

Sources stand in the rows of ``values/censored_answers.csv`` or beside the test.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray
from outside import outside_rows
from scipy import stats

from sitegen.compute.statistics.censored import kaplan_meier, lowest, mean, percentile, spread
from sitegen.compute.statistics.fits import exceedance, lognormal_fit, order_fit, plotting_positions

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]


def data_set(name: str, table: str = "censored_data", value: str = "value_or_detection_limit") -> tuple[Floats, Flags]:
    """Return a data set as values (or limits) and detections."""
    rows = [row for row in outside_rows(table) if row["dataset"] == name]
    return np.array([float(r[value]) for r in rows]), np.array([r["nondetect"] == "0" for r in rows])


def _km_mean(v: Floats, d: Flags) -> float:
    return mean(kaplan_meier(v, d), lowest(v))


def _km_sd(v: Floats, d: Flags) -> float:
    return spread(kaplan_meier(v, d), lowest(v))


def _cv(v: Floats, d: Flags) -> float:
    fit = order_fit(v, d)
    return fit.sd / fit.mean


STATISTICS: dict[str, Callable[[Floats, Flags], object]] = {
    "mle_meanlog": lambda v, d: lognormal_fit(v, d).mean_log,
    "mle_sdlog": lambda v, d: lognormal_fit(v, d).sd_log,
    "mle_mean": lambda v, d: lognormal_fit(v, d).mean,
    "mle_sd": lambda v, d: lognormal_fit(v, d).mean * lognormal_fit(v, d).cv,
    "mle_cv": lambda v, d: lognormal_fit(v, d).cv,
    "mle_median": lambda v, d: lognormal_fit(v, d).median,
    "ros_meanlog": lambda v, d: order_fit(v, d).mean_log,
    "ros_sdlog": lambda v, d: order_fit(v, d).sd_log,
    "ros_mean": lambda v, d: order_fit(v, d).mean,
    "ros_sd": lambda v, d: order_fit(v, d).sd,
    "ros_cv": _cv,
    "ros_meanlog_c0.375": lambda v, d: order_fit(v, d, 0.375).mean_log,
    "ros_sdlog_c0.375": lambda v, d: order_fit(v, d, 0.375).sd_log,
    "ros_prob_exceed": lambda v, d: exceedance(v, d)[1],
    "ros_imputed": lambda v, d: order_fit(v, d).imputed,
    "km_meanlog": lambda v, d: _km_mean(np.log(v), d),
    "km_sdlog": lambda v, d: _km_sd(np.log(v), d),
    "km_mean": _km_mean,
    "km_median": lambda v, d: percentile(kaplan_meier(v, d), 0.5),
}


@pytest.mark.published
@pytest.mark.parametrize("row", outside_rows("censored_answers"), ids=lambda r: f"{r['dataset']}-{r['statistic']}")
def test_two_published_data_sets_give_their_published_answers(row: dict[str, str]) -> None:
    """Helsel's Oahu arsenic and the manganese of EPA 530/R-09-007, example 15-1."""
    expected = [float(part) for part in row["published_value"].split("|")]
    within = 0.0 if row["tolerance"] == "exact" else float(row["tolerance"])
    found = STATISTICS[row["statistic"]](*data_set(row["dataset"]))
    assert np.atleast_1d(found) == pytest.approx(expected, abs=within, rel=0)


HELSEL_B = (
    "2.00= 4.20= 4.62= 5.00< 5.00< 5.50< 5.57= 5.66= 5.75< 5.86= 6.65= 6.78= 6.79= 7.50= 7.50= 7.50= 8.63= 8.71= "
    "8.99= 9.50< 9.50< 9.85= 10.82= 11.00< 11.25= 11.25= 12.20= 14.92= 16.77= 17.81= 19.16= 19.19= 19.64= 20.18= 22.97="
)
"""The basic data of test_ros.py, github statsmodels/statsmodels, commit 0216baa (read)."""

POSITIONS = {
    2.0: 0.055606407322654455, 4.2: 0.11121281464530891, 4.62: 0.16681922196796337, 5.57: 0.24713958810068648,
    5.66: 0.27185354691075514, 5.86: 0.3265238194299979, 6.65: 0.35648013313917204, 8.63: 0.5362180153942168,
    9.85: 0.6459627329192545, 10.82: 0.6658385093167701, 12.2: 0.7642857142857142, 14.92: 0.7904761904761904,
    17.81: 0.8428571428571429, 20.18: 0.9476190476190476, 22.97: 0.9738095238095239,
}  # fmt: skip
"""Plotting positions of detections without ties; same source (read)."""

NONDETECT_POSITIONS = (
    0.07414187643020594, 0.11121281464530891, 0.14828375286041187, 0.1482837528604119,
    0.20869565217391303, 0.34285714285714286, 0.41739130434782606,
)  # fmt: skip
"""Those of the non-detects, which that source sorts as a whole; no mean depends on it (read)."""


@pytest.mark.published
def test_plotting_positions_of_a_third_data_set_are_those_published() -> None:
    """35 values with five limits, detections below the lowest limit among them."""
    values = np.array([float(item[:-1]) for item in HELSEL_B.split()])
    detected = np.array([item.endswith("=") for item in HELSEL_B.split()])
    limits, chance = exceedance(values, detected)
    assert limits[1:].tolist() == [5.0, 5.5, 5.75, 9.5, 11.0]
    expected = [
        1.0,
        0.77757437070938218,
        0.77757437070938218,
        0.7034324942791762,
        0.3739130434782609,
        0.3142857142857143,
    ]
    assert chance == pytest.approx(expected, abs=1e-12)
    found = plotting_positions(values, detected)
    assert sorted(found[~detected]) == pytest.approx(NONDETECT_POSITIONS, abs=1e-12)
    for value, position in POSITIONS.items():
        assert found[detected & (values == value)] == pytest.approx([position], abs=1e-12)


@pytest.mark.published
def test_a_normal_law_with_one_limit_agrees_with_the_textbook() -> None:
    """Berthouex and Brown, Statistics for Environmental Engineers, 2002, example 15.4 (read).

    27 values, four of them below 6 µg/L: mean 7.51, variance 1.844, where the book draws
    straight lines between the entries of Cohen's table: hence the width of the tolerance.
    A normal law of x is a lognormal law of exp(x).
    """
    text = "6.9 7.8 8.9 7.7 9.6 8.7 6.7 8.0 8.5 6.5 9.2 7.4 6.3 7.3 8.3 7.2 7.5 6.1 9.4 7.6 8.1 7.9 10.1"
    hits = [float(x) for x in text.split()]
    values = np.exp(np.array([*hits, 6.0, 6.0, 6.0, 6.0]))
    fit = lognormal_fit(values, np.array([True] * 23 + [False] * 4))
    assert fit.mean_log == pytest.approx(7.51, abs=0.01)
    assert fit.sd_log**2 == pytest.approx(1.844, abs=0.012)


SIMULATED = ("one limit", "three limits", "ties")


@pytest.mark.published
@pytest.mark.parametrize("name", SIMULATED)
def test_steps_agree_with_a_survival_library(name: str) -> None:
    """values/simulated_cumulative.csv: computed with lifelines 0.30.3, left-censoring fit."""
    values, detected = data_set(name, "simulated", "value_or_limit")
    step = kaplan_meier(values, detected)
    rows = [r for r in outside_rows("simulated_cumulative") if r["dataset"] == name]
    theirs = {float(r["at"]): float(r["value"]) for r in rows}
    assert len(step.values) > 10
    assert step.cumulative == pytest.approx([theirs[x] for x in step.values], abs=1e-12)


@pytest.mark.published
@pytest.mark.parametrize("name", SIMULATED)
def test_values_from_the_line_agree_with_a_statistics_library(name: str) -> None:
    """values/simulated_filled.csv: computed with statsmodels 0.15.0, its own regression on order statistics."""
    values, detected = data_set(name, "simulated", "value_or_limit")
    fit = order_fit(values, detected)
    theirs = sorted(float(r["value"]) for r in outside_rows("simulated_filled") if r["dataset"] == name)
    # The same regression, up to that library's line fit in double precision.
    ours = sorted([*fit.imputed.tolist(), *values[detected].tolist()])
    assert ours == pytest.approx(theirs, rel=1e-9)


@pytest.mark.published
def test_steps_agree_with_the_right_censored_estimate_turned_round() -> None:
    """scipy.stats.ecdf knows right censoring: the data, turned round, give the same steps."""
    rng = np.random.default_rng(7)
    for _ in range(40):
        values = rng.integers(1, 12, 30).astype(float)
        detected = rng.random(30) < 0.6
        step = kaplan_meier(values, detected)
        turned = stats.ecdf(stats.CensoredData(uncensored=-values[detected], right=-values[~detected]))
        # P(X ≤ x) is the chance of -X ≥ -x: the survival just before the step at -x.
        before = turned.sf.evaluate(-step.values - 1e-9)
        assert step.cumulative == pytest.approx(before, abs=1e-12)
        assert step.below == pytest.approx(float(turned.sf.evaluate(-step.values[0])), abs=1e-12)
