"""Kriging: what must hold for any data, and surfaces whose truth is known."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sitegen.compute.statistics.kriging import Floats, Lag, Spherical, empirical, fit_spherical, krige

MODEL = Spherical(0.0, 1.0, 120.0)


def grid(columns: int = 8, rows: int = 8, step_m: float = 20.0) -> Floats:
    """Return a grid with small shifts, so that no two distances are alike."""
    spots = np.array([(column, row) for row in range(rows) for column in range(columns)], dtype=float)
    shift = np.random.default_rng(3).uniform(-0.15, 0.15, spots.shape)
    return (spots + shift) * step_m


def fitted(places: Floats, values: Floats) -> Spherical:
    return fit_spherical(empirical(places, values, 110.0, 15.0), 200.0)


def test_a_plane_comes_back() -> None:
    """A tilted plane: inside the points the estimate is within 2 % of its whole rise."""
    places = grid()
    plane = 1.0 + 0.01 * places[:, 0] - 0.004 * places[:, 1]
    targets = np.random.default_rng(5).uniform(25, 115, (200, 2))
    truth = 1.0 + 0.01 * targets[:, 0] - 0.004 * targets[:, 1]
    found, _ = krige(places, plane, fitted(places, plane)).at(targets)
    assert np.abs(found - truth).max() < 0.02 * np.ptp(plane)


def test_a_plume_comes_back() -> None:
    """An elongated plume in log10 mass over two and a half decades: left-out places within 0.25."""

    def plume(spots: Floats) -> Floats:
        along, across = spots[:, 0] - 30, spots[:, 1] - 70
        mass = 8_000 * np.exp(-((along / 60) ** 2) * (along > 0) - (along / 25) ** 2 * (along < 0))
        return np.log10(20 + mass * np.exp(-((across / 28) ** 2)))

    places = grid()
    values = plume(places)
    targets = np.random.default_rng(7).uniform(15, 125, (300, 2))
    found, _ = krige(places, values, fitted(places, values)).at(targets)
    error = found - plume(targets)
    assert np.sqrt(np.mean(error**2)) < 0.1
    assert np.abs(error).max() < 0.4
    errors, _ = krige(places, values, fitted(places, values)).left_out()
    assert np.sqrt(np.mean(errors**2)) < 0.5 * values.std()


def test_without_a_nugget_the_points_themselves_come_back() -> None:
    places = grid(5, 5)
    values = np.sin(places[:, 0] / 30) + np.cos(places[:, 1] / 17)
    found, variance = krige(places, values, MODEL).at(places)
    assert np.abs(found - values).max() < 1e-9
    assert np.abs(variance).max() < 1e-9


@given(st.floats(-3, 3), st.floats(0, 0.5), st.floats(30, 300))
@settings(max_examples=25, deadline=None)
def test_a_constant_stays_that_constant(level: float, nugget: float, range_m: float) -> None:
    places = grid(5, 4)
    found, _ = krige(places, np.full(20, level), Spherical(nugget, 1.0, range_m)).at(places + 3.7)
    assert found == pytest.approx(np.full(20, level), abs=1e-9)


@given(st.floats(-1e4, 1e4), st.floats(-1e4, 1e4))
@settings(max_examples=20, deadline=None)
def test_moving_everything_changes_nothing(east_m: float, north_m: float) -> None:
    places, targets = grid(5, 5), grid(4, 4) + 7.0
    values = np.hypot(*places.T) / 50
    shift = np.array([east_m, north_m])
    here, _ = krige(places, values, MODEL).at(targets)
    there, _ = krige(places + shift, values, MODEL).at(targets + shift)
    assert there == pytest.approx(here, abs=1e-6)


def test_far_from_all_points_the_variance_exceeds_the_sill() -> None:
    """There the estimate is the mean, whose own uncertainty comes on top of the sill."""
    places = grid(5, 5)
    _, variance = krige(places, places[:, 0], Spherical(0.2, 1.0, 80.0)).at(np.array([[9000.0, 9000.0]]))
    assert variance[0] > 1.2


@given(st.floats(0.0, 0.5), st.floats(0.1, 2.0), st.floats(40, 300))
@settings(max_examples=25, deadline=None)
def test_a_model_is_found_again_from_its_own_values(nugget: float, sill: float, range_m: float) -> None:
    truth = Spherical(nugget, sill, range_m)
    away = np.linspace(10, 400, 30)
    lags = tuple(Lag(50, float(h), float(g)) for h, g in zip(away, truth.at(away), strict=True))
    found = fit_spherical(lags, 500.0)
    assert found.at(away) == pytest.approx(truth.at(away), abs=2e-3 * (nugget + sill))


def test_too_few_lags_and_points_in_one_place_are_refused() -> None:
    with pytest.raises(ValueError, match="three lags"):
        fit_spherical((Lag(5, 1.0, 1.0), Lag(5, 2.0, 1.0)), 100.0)
    with pytest.raises(ValueError, match="one place"):
        krige(np.zeros((3, 2)), np.array([1.0, 2.0, 3.0]), Spherical(0.0, 0.0, 50.0))


def test_every_pair_stands_in_one_lag() -> None:
    places = grid(6, 6)
    lags = empirical(places, places[:, 0], 1e4, 15.0)
    assert sum(lag.pairs for lag in lags) == 36 * 35 // 2


def test_the_least_nugget_bounds_the_fit_and_leaves_it_alone_where_the_fit_gives_more() -> None:
    """Of all models with a nugget at or above the bound none on a fine grid fits better than the one found."""
    known = Spherical(0.2, 0.8, 90.0)
    lags = tuple(Lag(20, d, float(known.at(np.array([d]))[0])) for d in (10.0, 25.0, 40.0, 60.0, 80.0, 100.0))
    free = fit_spherical(lags, 200.0)
    assert fit_spherical(lags, 200.0, 0.1) == free
    bound = fit_spherical(lags, 200.0, 0.5)
    assert bound.nugget == pytest.approx(0.5)

    def misfit(model: Spherical) -> float:
        at = model.at(np.array([lag.distance_m for lag in lags])).tolist()
        return sum(
            lag.pairs / lag.distance_m**2 * (value - lag.semivariance) ** 2 for lag, value in zip(lags, at, strict=True)
        )

    tried = [Spherical(n, s, r) for n in np.linspace(0.5, 1.0, 26) for s in np.linspace(0, 1, 51)
             for r in np.linspace(10, 200, 39)]  # fmt: skip
    assert misfit(bound) <= min(map(misfit, tried)) + 1e-9


def test_a_bound_above_every_semivariance_leaves_a_flat_model() -> None:
    lags = (Lag(5, 10.0, 0.1), Lag(5, 20.0, 0.2), Lag(5, 30.0, 0.3))
    found = fit_spherical(lags, 100.0, 2.0)
    assert (found.nugget, found.partial_sill) == (2.0, 0.0)
