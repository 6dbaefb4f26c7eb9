"""Variograms and ordinary kriging, in plain numpy.

The variogram is the classical one (Matheron 1962) with a spherical model, fitted by
weighted least squares with weights N/h² per lag. Kriging is ordinary, with all points
(Cressie 1993, Statistics for Spatial Data, section 3.2). Left-out errors are taken in
closed form from one inverse matrix (Dubrule 1983, Mathematical Geology 15, 687–699).
Coordinates are metres of a projected system, arrays of shape (n, 2).

A library would add size and no accuracy: the comparison stands in ``docs/measurements.md``.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
_CHUNK = 4096
_ROUNDS = 60
_GOLDEN = (5**0.5 - 1) / 2


@dataclass(frozen=True, slots=True)
class Lag:
    """One lag of an empirical variogram: pairs, their mean distance, their semivariance."""

    pairs: int
    distance_m: float
    semivariance: float


@dataclass(frozen=True, slots=True)
class Spherical:
    """A spherical variogram: nugget and partial sill in squared units of the values, range in m.

    >>> model = Spherical(0.1, 0.9, 100.0)
    >>> model.at(np.array([0.0, 20.0, 100.0, 500.0])).round(4)
    array([0.    , 0.3664, 1.    , 1.    ])
    """

    nugget: float
    partial_sill: float
    range_m: float

    def at(self, distance_m: Floats) -> Floats:
        """Return the semivariance at distances, 0 at no distance."""
        return np.where(distance_m > 0, self.nugget + self.partial_sill * _shape(distance_m, self.range_m), 0.0)

    def covariance(self, distance_m: Floats) -> Floats:
        """Return the covariance of the part that varies in space, the nugget left out."""
        return self.partial_sill * (1.0 - _shape(distance_m, self.range_m))


def _shape(distance_m: Floats, range_m: float) -> Floats:
    share = np.minimum(distance_m / range_m, 1.0)
    return 1.5 * share - 0.5 * share**3


def distances(a: Floats, b: Floats) -> Floats:
    """Return the distances between two sets of places, shape (len(a), len(b))."""
    return np.hypot(a[:, None, 0] - b[None, :, 0], a[:, None, 1] - b[None, :, 1])


def empirical(places_m: Floats, values: Floats, cutoff_m: float, width_m: float) -> tuple[Lag, ...]:
    """Return the empirical variogram in lags of a width, up to a distance.

    A pair belongs to the lag whose upper bound it does not exceed. Empty lags are left out.
    """
    first, second = np.triu_indices(len(values), 1)
    away = np.hypot(*(places_m[first] - places_m[second]).T)
    half = 0.5 * (values[first] - values[second]) ** 2
    near = (away > 0) & (away <= cutoff_m)
    numbers = np.ceil(away[near] / width_m).astype(int)
    return tuple(
        Lag(int(of_lag.sum()), float(away[near][of_lag].mean()), float(half[near][of_lag].mean()))
        for of_lag in (numbers == number for number in np.unique(numbers))
    )


def fit_spherical(lags: tuple[Lag, ...], longest_m: float, least_nugget: float = 0.0) -> Spherical:
    """Fit a spherical model with a range up to ``longest_m`` by least squares, weights N/h².

    For any one range the best nugget and partial sill follow in closed form (the nugget not
    below ``least_nugget``, the sill not below 0), so that only the range is searched: on a
    grid, then by golden section.

    Raises ValueError where there are fewer than three lags.
    """
    if len(lags) < 3:
        raise ValueError("a variogram needs at least three lags")
    distance = np.array([lag.distance_m for lag in lags])
    gamma = np.array([lag.semivariance for lag in lags])
    weight = np.array([lag.pairs for lag in lags]) / distance**2

    def attempt(range_m: float) -> tuple[float, Spherical]:
        nugget, sill = _sills(_shape(distance, range_m), gamma, weight, least_nugget)
        model = Spherical(nugget, sill, range_m)
        return float(np.sum(weight * (model.at(distance) - gamma) ** 2)), model

    ranges = np.geomspace(distance[0], longest_m, 80)
    best = int(np.argmin([attempt(float(range_m))[0] for range_m in ranges]))
    low, high = float(ranges[max(best - 1, 0)]), float(ranges[min(best + 1, len(ranges) - 1)])
    for _ in range(_ROUNDS):
        left, right = high - _GOLDEN * (high - low), low + _GOLDEN * (high - low)
        low, high = (low, right) if attempt(left)[0] <= attempt(right)[0] else (left, high)
    return attempt((low + high) / 2)[1]


def _sills(shape: Floats, gamma: Floats, weight: Floats, least_nugget: float) -> tuple[float, float]:
    """Return nugget and partial sill of least squares, the nugget at least ``least_nugget``, the sill at least 0."""
    w, wf, wff = weight.sum(), (weight * shape).sum(), (weight * shape**2).sum()
    wg, wfg = (weight * gamma).sum(), (weight * shape * gamma).sum()
    determinant = w * wff - wf**2
    if determinant > 1e-12 * w * wff:
        nugget, sill = (wff * wg - wf * wfg) / determinant, (w * wfg - wf * wg) / determinant
        if nugget >= least_nugget and sill >= 0:
            return float(nugget), float(sill)
    flat, steep = max(wg / w, least_nugget), max((wfg - least_nugget * wf) / wff, 0.0)
    flat_error = (weight * (flat - gamma) ** 2).sum()
    steep_error = (weight * (least_nugget + steep * shape - gamma) ** 2).sum()
    return (least_nugget, float(steep)) if steep_error < flat_error else (float(flat), 0.0)


@dataclass(frozen=True, slots=True)
class Kriged:
    """Points with a variogram, ready to be interpolated from.

    ``inverse`` is the inverse of the kriging matrix with its row for the unbiased sum.
    """

    places_m: Floats
    values: Floats
    model: Spherical
    inverse: Floats

    def at(self, targets_m: Floats) -> tuple[Floats, Floats]:
        """Return the estimates and kriging variances at places, both of shape (len(targets_m),).

        The nugget counts as variation of single samplers: at a point itself the estimate
        is the smooth surface there, and a variance is that of a new sampler.
        """
        estimates, variances = np.empty(len(targets_m)), np.empty(len(targets_m))
        bordered = np.append(self.values, 0.0)
        total = self.model.nugget + self.model.partial_sill
        for start in range(0, len(targets_m), _CHUNK):
            part = slice(start, start + _CHUNK)
            near = self.model.covariance(distances(targets_m[part], self.places_m))
            right = np.hstack([near, np.ones((len(near), 1))])
            weights = right @ self.inverse
            estimates[part] = weights @ bordered
            variances[part] = total - np.einsum("ij,ij->i", weights, right)
        return estimates, variances

    def left_out(self) -> tuple[Floats, Floats]:
        """Return each value less its estimate from all others, and the variance of that estimate."""
        n = len(self.values)
        spread = 1.0 / np.diag(self.inverse)[:n]
        return (self.inverse[:n, :n] @ self.values) * spread, spread


def krige(places_m: Floats, values: Floats, model: Spherical) -> Kriged:
    """Prepare ordinary kriging from points of shape (n, 2) with n values.

    Raises ValueError where the matrix is singular: two points in one place without a
    nugget, or a model without any variance.
    """
    n = len(values)
    matrix = np.ones((n + 1, n + 1))
    matrix[:n, :n] = model.covariance(distances(places_m, places_m)) + model.nugget * np.eye(n)
    matrix[n, n] = 0.0
    try:
        inverse = np.asarray(np.linalg.inv(matrix), dtype=np.float64)
    except np.linalg.LinAlgError:
        raise ValueError("points in one place, or values without variance, can't be kriged") from None
    return Kriged(places_m, values, model, inverse)
