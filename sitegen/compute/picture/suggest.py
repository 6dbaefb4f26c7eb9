"""Where the survey's widest gaps are: places inside the boundary furthest from any usable sampler.

A gap says where nothing is known, and nothing else: not where vapour is, nor where a hole
may be made.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from sitegen.compute.design.keepoff import Margins, margins
from sitegen.compute.design.surround import NearUtility, utilities_near
from sitegen.compute.evaluate import Evaluation
from sitegen.compute.place.points import map_crs, on_map
from sitegen.compute.place.thin import thinned
from sitegen.compute.statistics.kriging import Floats, distances
from sitegen.project.schema import SOIL_MEDIA
from sitegen.project.survey import Survey

COUNT = 3
"""Places suggested at most."""

_CELLS = 160
_OUTLINE_VERTICES = 200
_CORNERS = 3
_SLACK_M = 1e-6
"""A spot as far from an edge as asked for is not left out by rounding."""
_KEPT_OUT = ("building", "tank", "utility", "surface_water")


@dataclass(frozen=True, slots=True)
class Gap:
    """A suggested place in the map CRS (m): its distance to the nearest usable sampler, and whose.

    ``nearest`` names a location, or an earlier suggestion by its number. ``utility`` is the nearest drawn utility, None
    where none is drawn.
    """

    number: int
    x: float
    y: float
    distance_m: float
    nearest: str
    utility: NearUtility | None = None


def gaps(survey: Survey, evaluation: Evaluation) -> tuple[Gap, ...]:
    """Return the widest gaps, widest first, each taken as filled before the next is sought.

    Utilities, buildings, tanks and surface water that are drawn are left out with a margin, ``clearance``, and so is
    a strip along the boundary (``gap_inset_m``). Without a boundary or a usable sampler: none.
    """
    boundary = next((f.geometry for f in survey.features if f.kind == "site_boundary"), None)
    used = usable_places(evaluation)
    if boundary is None or not used:
        return ()
    site, limits = on_map(boundary, map_crs(survey)), evaluation.limits
    spots = grid(site, limits["gap_inset_m"].value)
    found = widest(spots[~_kept_out(survey, spots, clearance(survey, evaluation))], used, COUNT)
    utilities = [one for one in survey.features if one.kind == "utility"]
    near = utilities_near([(gap.x, gap.y) for gap in found], utilities, map_crs(survey))
    return tuple(replace(gap, utility=utility) for gap, utility in zip(found, near, strict=True))


def clearance(survey: Survey, evaluation: Evaluation) -> Margins:
    """Return the distances kept from what is drawn: those of the plan, nowhere less than ``utility_distance_m``."""
    plan, least = margins(survey), evaluation.limits["utility_distance_m"].value
    kept = {kind: max(getattr(plan, kind), least) for kind in _KEPT_OUT}
    return replace(plan, **kept)


def usable_places(evaluation: Evaluation) -> Mapping[str, tuple[float, float]]:
    """Return the soil points whose sampler has results and carries no mark of its own."""
    rows = evaluation.primary[evaluation.primary["medium"].isin(SOIL_MEDIA) & ~evaluation.primary["rejected"]]
    sound = rows[rows["sampler_id"].map(evaluation.marks.unmarked).astype(bool)]
    with_results = set(sound["location_id"])
    return {p.location_id: (p.x, p.y) for p in evaluation.points if p.location_id in with_results}


def _kept_out(survey: Survey, spots: Floats, away: Margins) -> NDArray[np.bool_]:
    """Tell which spots lie in or near something drawn; shapes are asked one by one, never joined."""
    target, places = map_crs(survey), shapely.points(spots)
    out = np.zeros(len(spots), dtype=bool)
    for kind in _KEPT_OUT:
        tree = shapely.STRtree([on_map(f.geometry, target) for f in survey.features if f.kind == kind])
        margin_m = float(getattr(away, kind)) - _SLACK_M
        out[tree.query(places, predicate="dwithin", distance=max(margin_m, 0.0))[0]] = True
    return out


def widest(spots: Floats, used: Mapping[str, tuple[float, float]], count: int) -> tuple[Gap, ...]:
    """Return those of some spots that lie furthest from the places in use.

    >>> corners = np.array([(0.0, 0.0), (0.0, 100.0), (100.0, 100.0)])
    >>> gap = widest(corners, {"A": (0.0, 0.0)}, 1)[0]
    >>> round(gap.x), round(gap.y), gap.nearest
    (100, 100, 'A')
    """
    names, places = list(used), np.array(list(used.values()), dtype=float)
    filled: list[Gap] = []
    away = _least(spots, places)
    for number in range(1, count + 1):
        if not len(spots):
            break
        at = int(np.argmax(np.round(away, 6)))
        x, y = (float(value) for value in spots[at])
        nearest = int(np.argmin(distances(spots[at : at + 1], places)[0]))
        filled.append(Gap(number, x, y, float(away[at]), names[nearest]))
        names.append(str(number))
        places = np.vstack([places, spots[at]])
        away = np.minimum(away, distances(spots, places[-1:])[:, 0])
    return tuple(filled)


def grid(site: BaseGeometry, inset_m: float) -> Floats:
    """Return the spots of a fine grid over a site that lie in it, a strip along its edge left out."""
    west, south, east, north = shapely.total_bounds(shapely.buffer(_outlines(site), -inset_m))
    if not (west < east and south < north):
        return np.empty((0, 2))
    steps = max(east - west, north - south) / _CELLS
    xs = np.linspace(west, east, max(2, round((east - west) / steps) + 1))
    ys = np.linspace(south, north, max(2, round((north - south) / steps) + 1))
    spots = np.column_stack([axis.ravel() for axis in np.meshgrid(xs, ys)])
    inside = spots[shapely.intersects_xy(site, spots[:, 0], spots[:, 1])]
    edge = shapely.boundary(site)
    shapely.prepare(edge)
    near = shapely.dwithin(edge, shapely.points(inside), inset_m - _SLACK_M)
    return np.asarray(inside[~near], dtype=np.float64)


def _outlines(site: BaseGeometry) -> list[BaseGeometry]:
    """Return a site, or its rings with no more vertices than a strip along them is drawn for in a moment."""
    rings = [tuple(ring.coords) for part in shapely.get_parts(site) for ring in shapely.get_rings(part)]
    lines, step_m = thinned(rings, _OUTLINE_VERTICES)
    return [shapely.Polygon(line) for line in lines if len(line) > _CORNERS] if step_m else [site]


def _least(spots: Floats, places: Floats) -> Floats:
    """Return each spot's distance to the nearest place."""
    parts: Sequence[Floats] = [
        distances(spots[start : start + 2048], places).min(axis=1) for start in range(0, len(spots), 2048)
    ]
    return np.concatenate(parts) if parts else np.empty(0)
