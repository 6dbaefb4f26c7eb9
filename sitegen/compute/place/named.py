"""What a point is called by: the building on its own record, else the site feature that contains it or is near it."""

from __future__ import annotations

from typing import Literal, NamedTuple, TypeAlias

from shapely.geometry import Point as Dot

from sitegen.compute.place.points import Point, map_crs, on_map
from sitegen.project.survey import Feature, Survey
from sitegen.project.tables import Location

Relation: TypeAlias = Literal["in", "beneath", "at", "near"]

NEAR_M = 15.0
"""A feature further away than this names no point. Common practice, no source."""
_NO_PLACE = ("site_boundary", "flow_line")
_OF_BUILDINGS: dict[str, Relation] = {"sub_slab": "beneath", "crawl_space": "beneath", "indoor_air": "in"}


class Place(NamedTuple):
    """A named place and how a point is related to it: ``beneath`` the laundry."""

    relation: Relation
    name: str


def place_of(survey: Survey, row: Location, point: Point | None) -> Place | None:
    """Return the place that a point is named by, None where neither its record nor the site plan has one.

    The building of its own record comes first. Of features the nearest counts, one that contains the point
    before all others, and of several that contain it the smallest. Features that are not public name nothing.
    """
    if row.building and all(feature.public for feature in survey.features if feature.name == row.building):
        return Place(_OF_BUILDINGS.get(row.medium, "at"), row.building)
    if point is None:
        return None
    dot = Dot(point.x, point.y)
    found = []
    for feature in survey.features:
        if feature.name and feature.public and feature.kind not in _NO_PLACE:
            shape = on_map(feature.geometry, map_crs(survey))
            found.append((round(shape.distance(dot), 3), round(shape.area, 3), feature.number, feature))
    distance_m, _, _, nearest = min(found, key=lambda one: one[:3], default=(NEAR_M + 1, 0.0, 0, None))
    if nearest is None or distance_m > NEAR_M:
        return None
    return Place(_relation(nearest, row.medium) if distance_m == 0 else "near", nearest.name)


def _relation(feature: Feature, medium: str) -> Relation:
    return _OF_BUILDINGS.get(medium, "at") if feature.kind == "building" else "at"
