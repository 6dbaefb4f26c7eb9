"""What the soil points of a survey could find within its boundary, and which points and why not."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import shapely
from shapely.geometry.base import BaseGeometry

from sitegen.compute.design.chance import Curve, curve
from sitegen.compute.place.points import map_crs, on_map, points
from sitegen.project.schema import SOIL_MEDIA
from sitegen.project.survey import Survey
from sitegen.project.tables import Location

LEAST_POINTS = 3
"""Fewer points than these have no curve: it would tell of the boundary more than of a design (project default)."""

LONG_RATIO = 0.5
"""The shape of the long areas that stand beside circles: twice as long as wide, as the report says (our default)."""


@dataclass(frozen=True, slots=True)
class Reach:
    """The points that count, those left out, and the curves of circles and of long areas.

    ``used`` are soil points within the boundary. ``air``, ``outside`` and ``unplaced`` are points that were asked
    for and left out: of another medium, beyond the boundary, without a position. ``lacks`` says why there are no
    curves: ``boundary`` (none on record), ``points`` (fewer than three), "" where there are: both of the same sizes.
    """

    used: tuple[str, ...]
    air: tuple[str, ...]
    outside: tuple[str, ...]
    unplaced: tuple[str, ...]
    lacks: str
    round: Curve | None = None
    long: Curve | None = None


def reach(survey: Survey, asked: Collection[str] | None = None) -> Reach:
    """Return what points could find: those ``asked`` for, else all that are still in the plan.

    A point on the boundary itself lies within it.
    """
    rows = [row for row in survey.rows(Location) if _counts(row, asked)]
    air = tuple(row.location_id for row in rows if row.medium not in SOIL_MEDIA)
    soil = [row.location_id for row in rows if row.medium in SOIL_MEDIA]
    at = {point.location_id: (point.x, point.y) for point in points(survey)}
    unplaced = tuple(name for name in soil if name not in at)
    placed = tuple(name for name in soil if name in at)
    site = site_boundary(survey)
    if site is None:
        return Reach(placed, air, (), unplaced, "boundary")
    shapely.prepare(site)
    inside = {name: bool(shapely.intersects_xy(site, *at[name])) for name in placed}
    used = tuple(name for name in placed if inside[name])
    outside = tuple(name for name in placed if not inside[name])
    if len(used) < LEAST_POINTS:
        return Reach(used, air, outside, unplaced, "points")
    places = [at[name] for name in used]
    long = curve(places, site, ratio=LONG_RATIO)
    circles = curve(places, site, sizes_m=[size for size, _, _ in long.rows])
    return Reach(used, air, outside, unplaced, "", circles, long)


def site_boundary(survey: Survey) -> BaseGeometry | None:
    """Return the ground within the site boundary in the map CRS, None where none is on record."""
    shapes = [feature.geometry for feature in survey.features if feature.kind == "site_boundary"]
    whole = shapely.union_all([shapely.make_valid(on_map(shape, map_crs(survey))) for shape in shapes])
    return whole if whole.area > 0 else None


def _counts(row: Location, asked: Collection[str] | None) -> bool:
    if asked is None:
        return row.status not in ("not_done", "abandoned")
    return row.location_id in asked
