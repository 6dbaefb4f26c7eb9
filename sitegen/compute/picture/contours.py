"""Interpolated pattern of mass: contour areas by ordinary kriging of log10 mass, or why there are none.

Off unless the project asks for it. A sampler with a mark of its own lends no value. The
ground nearer to a point without a usable value than to any other point stays blank, and
so does all ground further from a usable point than the stated reach, or outside the site's
boundary (without one: outside the convex hull of the soil points). The nugget is no smaller
than the variance that duplicates show. A surface of log10 mass, turned back, estimates a
median, not a mean.

contourpy, which comes with matplotlib, traces the areas.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import contourpy
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from sitegen.compute.evaluate import Evaluation
from sitegen.compute.limits import LimitRecord
from sitegen.compute.place.points import Point, map_crs, on_map
from sitegen.compute.quality.repeatability import Repeatability, repeatability
from sitegen.compute.results.summary import Summary
from sitegen.compute.statistics.classes import COUNT
from sitegen.compute.statistics.kriging import (
    Floats,
    Kriged,
    Lag,
    Spherical,
    distances,
    empirical,
    fit_spherical,
    krige,
)
from sitegen.project.schema import SOIL_MEDIA
from sitegen.project.settings import Settings
from sitegen.project.survey import Survey
from sitegen.units import LENGTHS, MASS_UNITS, to_metres

NONDETECT_SHARE = 1.0
"""A non-detect stands at its limit of detection (project default, no published source)."""

OTHER_SHARE = 0.5
"""The alternative that is shown beside it: half of the limit."""

_CELLS = 160
_SAME_PLACE_M = 0.05


class Band(NamedTuple):
    """The ground of one mass class: its shape in the map CRS and its area.

    ``other_area_m2`` is the area with non-detects at the other share of their limit.
    """

    size_class: int
    shape: BaseGeometry
    area_m2: float
    other_area_m2: float


class Extent(NamedTuple):
    """The ground that a pattern is kept to, in the map CRS: the site's ``boundary``, or the points' ``hull``."""

    kind: str
    shape: BaseGeometry


class Bounds(NamedTuple):
    """What bounds every pattern of a survey: its ground, and the least nugget that duplicates show; None for none."""

    extent: Extent | None = None
    repeat: Repeatability | None = None


UNBOUNDED = Bounds()


@dataclass(frozen=True, slots=True)
class Pattern:
    """An interpolated pattern with what a reader needs to judge it.

    ``used`` points carry it, ``outside`` of them lie outside the extent; ``blank`` points have
    no usable value and keep their ground blank. ``error_log10`` is the root mean square of
    the left-out errors in log10 mass, ``spread_log10`` the standard deviation of the values
    themselves.
    """

    used: int
    nondetects: int
    blank: int
    lags: tuple[Lag, ...]
    model: Spherical
    error_log10: float
    spread_log10: float
    reach_m: float
    bands: tuple[Band, ...]
    bounds: Bounds = UNBOUNDED
    outside: int = 0

    @property
    def error_factor(self) -> float:
        """The left-out error as a factor between mass and estimate."""
        return float(10**self.error_log10)


@dataclass(frozen=True, slots=True)
class NoContour:
    """Why no contour is drawn.

    Reasons: ``detections`` (fewer than ``limit``), ``blanks`` (a blank touches ``found`` %
    of the detections), ``positions`` (two points in one place), ``structure`` (left-out
    points are predicted no better than by the mean: error ``found``, spread ``limit``),
    ``extent`` (no ground within the reach ``limit`` of a usable point lies in the extent).
    """

    reason: str
    found: float
    limit: float


def patterns(evaluation: Evaluation, spacing_m: float | None) -> Mapping[str, Pattern | NoContour]:
    """Return the pattern of each mapped compound, or why there is none.

    ``spacing_m`` is the planned spacing of the points; without it the third quartile of
    the distances to the nearest point is taken.
    """
    rows = evaluation.primary[
        evaluation.primary["medium"].isin(SOIL_MEDIA) & evaluation.primary["unit"].isin(MASS_UNITS)
    ]
    points = [point for point in evaluation.points if point.medium in SOIL_MEDIA]
    sound = rows[~rows["rejected"] & rows["sampler_id"].map(evaluation.marks.unmarked).astype(bool)]
    sound = sound[sound["value"].where(sound["detected"], sound["lod"]) > 0]
    bounds = Bounds(extent(evaluation.survey, points), repeatability(evaluation.pairs, evaluation.limits))
    parts = dict(iter(sound.groupby("analyte_id", sort=False)))
    return {
        compound.analyte_id: pattern(
            parts.get(compound.analyte_id, sound.iloc[:0]),
            points,
            evaluation.summaries.get((compound.analyte_id, "soil")),
            evaluation.limits,
            spacing_m,
            bounds,
        )
        for compound in evaluation.compounds
        if compound.mapped
    }


def planned_spacing_m(settings: Settings) -> float | None:
    """Return the spacing that the plan gives, in metres, None where it gives none that can be read."""
    stated = settings.plan.spacing
    if stated is None or stated.unit not in LENGTHS or stated.value <= 0:
        return None
    return to_metres(stated.value, stated.unit)


def pattern(
    rows: pd.DataFrame,
    points: Iterable[Point],
    summary: Summary | None,
    limits: Mapping[str, LimitRecord],
    spacing_m: float | None,
    bounds: Bounds = UNBOUNDED,
) -> Pattern | NoContour:
    """Interpolate one compound.

    ``rows`` are its usable results, one per location; ``points`` all soil points, those
    without a usable result included.
    """
    detections = int(rows["detected"].sum())
    least = limits["contour_detections_min"].value
    if summary is None or detections < least:
        return NoContour("detections", detections, least)
    touched = 100 * (summary.detected - summary.unblanked) / summary.detected
    if touched >= limits["blank_share_pct"].value:
        return NoContour("blanks", touched, limits["blank_share_pct"].value)
    by_place = {point.location_id: (point.x, point.y) for point in points}
    rows = rows[rows["location_id"].isin(list(by_place))]
    used = [by_place[name] for name in rows["location_id"]]
    held = set(rows["location_id"])
    empty = [place for name, place in by_place.items() if name not in held]
    return _interpolate(rows, np.array(used, dtype=float), empty, spacing_m, bounds)


def extent(survey: Survey, points: Sequence[Point]) -> Extent | None:
    """Return the ground that patterns are kept to: the boundary, else the hull of the points; None without either."""
    boundary = next((f.geometry for f in survey.features if f.kind == "site_boundary"), None)
    if boundary is not None:
        return Extent("boundary", shapely.make_valid(on_map(boundary, map_crs(survey))))
    return Extent("hull", shapely.MultiPoint([(p.x, p.y) for p in points]).convex_hull) if points else None


def _interpolate(
    rows: pd.DataFrame,
    places_m: Floats,
    empty: list[tuple[float, float]],
    spacing_m: float | None,
    bounds: Bounds,
) -> Pattern | NoContour:
    nearest = _nearest(places_m)
    if nearest.min() < _SAME_PLACE_M:
        return NoContour("positions", float(nearest.min()), _SAME_PLACE_M)
    values = log_masses(rows, NONDETECT_SHARE)
    diagonal = float(np.hypot(*np.ptp(places_m, axis=0)))
    lags = empirical(places_m, values, diagonal / 2, float(np.median(nearest)))
    if len(lags) < 3 or values.std() == 0:
        return NoContour("structure", 0.0, float(values.std()))
    model = fit_spherical(lags, diagonal, bounds.repeat.floor if bounds.repeat else 0.0)
    kriged = krige(places_m, values, model)
    errors, _ = kriged.left_out()
    error, spread = float(np.sqrt(np.mean(errors**2))), float(values.std(ddof=1))
    if model.partial_sill <= 0 or error >= spread:
        return NoContour("structure", error, spread)
    reach = spacing_m or float(np.quantile(nearest, 0.75))
    ground = support(places_m, empty, reach)
    if bounds.extent:
        ground = shapely.intersection(ground, bounds.extent.shape)
    if ground.area == 0:
        return NoContour("extent", 0.0, reach)
    other = krige(places_m, log_masses(rows, OTHER_SHARE), model)
    bands = _bands(kriged, other, ground)
    nondetects = int((~rows["detected"]).sum())
    outside = _outside(places_m, bounds.extent)
    return Pattern(len(rows), nondetects, len(empty), lags, model, error, spread, reach, bands, bounds, outside)


def _outside(places_m: Floats, kept_to: Extent | None) -> int:
    """Count the points that lie outside the ground that a pattern is kept to."""
    return int((~shapely.intersects_xy(kept_to.shape, *places_m.T)).sum()) if kept_to else 0


def log_masses(rows: pd.DataFrame, share: float) -> Floats:
    """Return log10 of the masses in ng, a non-detect standing at a share of its limit of detection."""
    mass = np.where(rows["detected"], rows["value"], share * rows["lod"])
    return np.asarray(np.log10(mass.astype(float)), dtype=np.float64)


def _nearest(places_m: Floats) -> Floats:
    apart = distances(places_m, places_m)
    np.fill_diagonal(apart, np.inf)
    return np.asarray(apart.min(axis=1))


def support(places_m: Floats, empty: list[tuple[float, float]], reach_m: float) -> BaseGeometry:
    """Return the ground that the points speak for.

    That is all within the reach of a point in use, less what lies nearer to a point
    without a value than to any other.
    """
    ground = shapely.union_all(shapely.buffer(shapely.points(places_m), reach_m, quad_segs=16))
    if not empty:
        return ground
    sites = shapely.MultiPoint(np.vstack([places_m, np.array(empty)]))
    cells = shapely.get_parts(shapely.voronoi_polygons(sites, extend_to=ground))
    holes = shapely.STRtree(cells).query(shapely.points(np.array(empty)), predicate="intersects")[1]
    return shapely.difference(ground, shapely.union_all(cells[np.unique(holes)]))


def _bands(kriged: Kriged, other: Kriged, ground: BaseGeometry) -> tuple[Band, ...]:
    west, south, east, north = shapely.bounds(ground)
    step = max(east - west, north - south) / _CELLS
    xs = np.arange(west - step, east + 2 * step, step)
    ys = np.arange(south - step, north + 2 * step, step)
    targets = np.column_stack([axis.ravel() for axis in np.meshgrid(xs, ys)])
    shapes, others = (
        _shapes(xs, ys, surface.at(targets)[0].reshape(len(ys), len(xs)), ground) for surface in (kriged, other)
    )
    return tuple(
        Band(at, shapes[at], float(shapes[at].area), float(others[at].area))
        for at in range(COUNT)
        if shapes[at].area > 0 or others[at].area > 0
    )


def _shapes(xs: Floats, ys: Floats, surface: Floats, ground: BaseGeometry) -> list[BaseGeometry]:
    """Return the ground of each mass class: class k lies between k and k + 1 in log10."""
    contours = contourpy.contour_generator(xs, ys, surface, fill_type=contourpy.FillType.OuterOffset)
    low, high = float(surface.min()) - 1, float(surface.max()) + 1
    shapes = []
    for at in range(COUNT):
        bottom = low if at == 0 else float(at)
        top = high if at == COUNT - 1 else float(at + 1)
        inside = bottom < high and top > low and bottom < top
        parts = _polygons(*contours.filled(bottom, top)) if inside else []
        shapes.append(shapely.intersection(shapely.union_all(parts), ground) if parts else shapely.Polygon())
    return shapes


def _polygons(rings: list[Floats], offsets: list[NDArray[np.uint32]]) -> list[BaseGeometry]:
    polygons = []
    for corners, starts in zip(rings, offsets, strict=True):
        outer, *holes = [corners[a:b] for a, b in itertools.pairwise(starts)]
        polygons.append(shapely.make_valid(shapely.Polygon(outer, holes)))
    return polygons
