"""Variogram and kriging against published figures for the zinc of the Meuse flood plain.

The 155 samples (Rikken and Van Rijn 1993) come with the package scikit-gstat. The fit is
that of the gstat vignette (Pebesma): spherical model of ln(zinc), 15 lags to 1,596.6 m,
nugget 0.05066, partial sill 0.59061, range 897.02 m. No published left-out figures for
this very model were found, so those are held against leaving points out one by one, and,
where it is installed, against another library.
"""

from __future__ import annotations

import csv
from importlib.util import find_spec
from pathlib import Path

import numpy as np
import pytest

from sitegen.compute.statistics.kriging import Floats, Spherical, empirical, fit_spherical, krige

PUBLISHED = Spherical(nugget=0.05066, partial_sill=0.59061, range_m=897.02)
CUTOFF_M = 1596.6


@pytest.fixture(scope="module")
def zinc() -> tuple[Floats, Floats]:
    found = find_spec("skgstat")
    if found is None or found.origin is None:
        pytest.skip("scikit-gstat, which carries the data, is not installed")
    path = Path(found.origin).parent / "data" / "samples" / "meuse.txt"
    with path.open(encoding="utf-8", newline="") as lines:
        rows = list(csv.DictReader(lines))
    places = np.array([(float(row["x"]), float(row["y"])) for row in rows])
    return places, np.log([float(row["zinc"]) for row in rows])


def test_the_cutoff_is_a_third_of_the_diagonal(zinc: tuple[Floats, Floats]) -> None:
    assert np.hypot(*np.ptp(zinc[0], axis=0)) / 3 == pytest.approx(CUTOFF_M, abs=0.05)


@pytest.mark.published
def test_the_first_lags_are_the_published_ones(zinc: tuple[Floats, Floats]) -> None:
    """Gstat prints 57 pairs at 79.29 m, 0.1234, then 299 pairs at 163.97 m, 0.2162 (from memory)."""
    first, second = empirical(*zinc, CUTOFF_M, CUTOFF_M / 15)[:2]
    assert (first.pairs, second.pairs) == (57, 299)
    assert first.distance_m == pytest.approx(79.29244, abs=1e-4)
    assert first.semivariance == pytest.approx(0.1234479, abs=1e-6)
    assert second.semivariance == pytest.approx(0.2162185, abs=1e-6)


@pytest.mark.published
def test_the_published_fit_is_found(zinc: tuple[Floats, Floats]) -> None:
    model = fit_spherical(empirical(*zinc, CUTOFF_M, CUTOFF_M / 15), 2 * CUTOFF_M)
    assert model.nugget == pytest.approx(PUBLISHED.nugget, abs=5e-6)
    assert model.partial_sill == pytest.approx(PUBLISHED.partial_sill, abs=5e-6)
    assert model.range_m == pytest.approx(PUBLISHED.range_m, abs=0.02)


def test_left_out_errors_in_closed_form_are_those_of_leaving_out(zinc: tuple[Floats, Floats]) -> None:
    places, values = zinc
    errors, variances = krige(places, values, PUBLISHED).left_out()
    for i in range(0, len(values), 7):
        kept = np.arange(len(values)) != i
        estimate, variance = krige(places[kept], values[kept], PUBLISHED).at(places[i : i + 1])
        assert errors[i] == pytest.approx(values[i] - estimate[0], abs=1e-9)
        assert variances[i] == pytest.approx(variance[0], abs=1e-9)


def test_left_out_errors_are_unbiased_and_as_large_as_the_model_says(zinc: tuple[Floats, Floats]) -> None:
    """Mean 0 and mean squared z-score 1 are what theory asks for; the error beats the plain spread."""
    errors, variances = krige(*zinc, PUBLISHED).left_out()
    assert abs(errors.mean()) < 0.005
    assert 0.7 < float(np.mean(errors**2 / variances)) < 1.3
    assert np.sqrt(np.mean(errors**2)) < 0.6 * zinc[1].std()


@pytest.mark.published
def test_estimates_and_variances_agree_with_another_library(zinc: tuple[Floats, Floats]) -> None:
    ok = pytest.importorskip("pykrige.ok")
    places, values = zinc
    parameters = {"nugget": 0.05066, "psill": 0.59061, "range": 897.02}
    other = ok.OrdinaryKriging(*places.T, values, "spherical", parameters)
    targets = places.min(axis=0) + np.random.default_rng(1).random((200, 2)) * np.ptp(places, axis=0)
    estimate, variance = krige(places, values, PUBLISHED).at(targets)
    its_estimate, its_variance = other.execute("points", *targets.T)
    assert np.abs(estimate - its_estimate).max() < 1e-9
    assert np.abs(variance - its_variance).max() < 1e-9
