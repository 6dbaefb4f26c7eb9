"""The ground of drawings that hold the points of several rounds."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import shapely

from sitegen.compute.place.points import on_map
from sitegen.figures.ground import Ground, prepare_ground
from sitegen.figures.inputs import PlacePoint
from sitegen.report.results.mapdata import place_points
from sitegen.report.write.context import Context


def points_in(context: Context, one: Context) -> tuple[PlacePoint, ...]:
    """Return a round's points as drawings have them, in metres of the system that ``context`` draws in."""
    points = place_points(one)
    if one.crs == context.crs:
        return points
    return tuple(
        _moved(point, context.crs, (own.lon, own.lat)) for point, own in zip(points, one.evaluation.points, strict=True)
    )


def _moved(point: PlacePoint, crs: str, degrees: tuple[float, float]) -> PlacePoint:
    easting_m, northing_m = shapely.get_coordinates(on_map(shapely.Point(degrees), crs))[0].tolist()
    return point._replace(easting_m=easting_m, northing_m=northing_m, plan_easting_m=None, plan_northing_m=None)


@lru_cache(maxsize=16)
def ground_with(drawn: Ground, points: tuple[PlacePoint, ...]) -> Ground:
    """Return a ground on which these points stand in place of its own: the same where it has room for all of them."""
    west_m, east_m, south_m, north_m = drawn.frame.limits_m
    inside = all(west_m < p.easting_m < east_m and south_m < p.northing_m < north_m for p in points)
    if inside:
        return replace(drawn, points=points)
    wider = prepare_ground(points + drawn.points, drawn.features, drawn.crs_text, (drawn.room,))
    return replace(wider, points=points, step_m=drawn.step_m)
