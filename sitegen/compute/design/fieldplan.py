"""The plan as the crew carries it: each point with its place, depth, ground and ties, and each sampler with its use."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal, TypeAlias

from shapely import STRtree
from shapely.geometry import Point as Dot
from shapely.geometry.base import BaseGeometry
from shapely.ops import nearest_points

from sitegen.compute.design.allocation import Allocation, allocate, count_samplers
from sitegen.compute.design.asked import length_text
from sitegen.compute.design.walking import walking_order
from sitegen.compute.place.points import Point, bearing_deg, direction_word, map_crs, on_map, points
from sitegen.project.schema import PAVED_SURFACES, SOIL_MEDIA
from sitegen.project.survey import Feature, Survey
from sitegen.project.tables import Location
from sitegen.units import to_metres

Ground: TypeAlias = Literal["unpaved", "paved", "slab", "air"]
"""What a sampler is placed in: soil, soil below paving, below a building's floor, or air: of a room, of the crawl
space below a floor, or outdoors. Only in air no hole is made."""

_TIES = 2
_REACH_M = 25.0
"""Features are sought so near first, then four times as far, and so on."""
_FURTHEST_M = 1e8
"""Further apart than this nothing lies on earth."""
_FIXED = ("building", "well", "paved_area", "site_boundary")
"""Kinds of features that stay and that a tape can be held to, the best to measure from first.

Utilities and tanks are none: most lie below the ground, where nobody sees them.
"""


@dataclass(frozen=True, slots=True)
class Tie:
    """A fixed feature that a point can be found from: its name, the distance in metres and the way from it in words."""

    name: str
    distance_m: float
    direction: str


@dataclass(frozen=True, slots=True)
class PlannedPoint:
    """A point as planned, or as surveyed where that is known.

    ``x_m`` and ``y_m`` are in the map's system, ``easting`` and ``northing`` in the project's own, as it gives
    them. ``depth_text`` is the planned depth with its unit, "" for air and where the plan states none.
    """

    location_id: str
    medium: str
    design: str
    rationale: str
    ground: Ground
    surface: str
    surface_thickness_in: float | None
    building: str
    x_m: float
    y_m: float
    easting: float
    northing: float
    longitude: float
    latitude: float
    depth_text: str
    ties: tuple[Tie, ...]
    comment: str


@dataclass(frozen=True, slots=True)
class FieldPlan:
    """The points that are still in the plan, in walking order, and the samplers that they need.

    ``unplaced`` are points without a position: they are counted, and come last in the order.
    """

    points: tuple[PlannedPoint, ...]
    unplaced: tuple[str, ...]
    allocation: Allocation


def field_plan(survey: Survey) -> FieldPlan:
    """Return the plan of a survey; points that are not done or abandoned have left it."""
    rows = [row for row in survey.rows(Location) if row.status not in ("not_done", "abandoned")]
    placed = {point.location_id: point for point in points(survey)}
    kept = {row.location_id for row in rows}
    way = walking_order([(name, point.x, point.y) for name, point in placed.items() if name in kept])
    unplaced = tuple(row.location_id for row in rows if row.location_id not in placed)
    left = [row.location_id for row in survey.rows(Location) if row.location_id not in kept]
    plan = survey.plan
    counts = count_samplers(
        len(rows), plan.duplicate_rate, least=plan.least_duplicates, field_blanks=plan.field_blanks,
        per_bag=plan.samplers_per_bag, spares=plan.spares,
    )  # fmt: skip
    by_id = {row.location_id: row for row in rows}
    planned = tuple(_planned(survey, by_id[name], placed[name]) for name in way)
    return FieldPlan(_with_ties(survey, planned), unplaced, allocate([*way, *unplaced], counts, left))


def ground_of(row: Location) -> Ground:
    """Return what a sampler at a point is placed in, by its medium and surface."""
    if row.medium not in SOIL_MEDIA or row.medium == "crawl_space":
        return "air"
    if row.medium == "sub_slab" or row.surface == "interior_slab":
        return "slab"
    return "paved" if row.surface in PAVED_SURFACES else "unpaved"


def building_words(survey: Survey, name: str) -> str:
    """Name a building as the crew should know it: of an occupied one, that it is."""
    occupied = any(one.occupied for one in survey.features if one.kind == "building" and one.name == name)
    return f"{name} (occupied)" if name and occupied else name


def _planned(survey: Survey, row: Location, at: Point) -> PlannedPoint:
    depth = survey.plan.depth
    ground = ground_of(row)
    given = at.given
    return PlannedPoint(
        row.location_id, row.medium, row.design, row.rationale, ground, row.surface,
        None if math.isnan(row.surface_thickness_in) else row.surface_thickness_in, row.building,
        at.x, at.y, given.x if given else at.x, given.y if given else at.y, at.lon, at.lat,
        length_text(depth) if depth and ground in ("unpaved", "paved") else "", (), row.comment,
    )  # fmt: skip


def _with_ties(survey: Survey, planned: Sequence[PlannedPoint]) -> tuple[PlannedPoint, ...]:
    """Return points with the nearest two features of a name that can be measured from."""
    fixed = [feature for feature in survey.features if feature.kind in _FIXED and feature.name]
    if not fixed or not planned:
        return tuple(planned)
    shapes = [_line(on_map(feature.geometry, map_crs(survey))) for feature in fixed]
    dots = [Dot(point.x_m, point.y_m) for point in planned]
    near = _within_reach(dots, STRtree(shapes), len({feature.name for feature in fixed}), fixed)
    made = []
    for point, dot, ones in zip(planned, dots, near, strict=True):
        ranked = sorted(
            (round(shapes[one].distance(dot), 2), _FIXED.index(fixed[one].kind), fixed[one].name, one) for one in ones
        )
        first = {name: one for _, _, name, one in reversed(ranked)}
        names = list(dict.fromkeys(name for _, _, name, _ in ranked))[:_TIES]
        made.append(replace(point, ties=tuple(_tie(dot, name, shapes[first[name]]) for name in names)))
    return tuple(made)


def _within_reach(dots: Sequence[Dot], tree: STRtree, names: int, fixed: Sequence[Feature]) -> list[list[int]]:
    """Return for each point features among which are the nearest of as many names as ties are wanted."""
    wanted = min(_TIES, names)
    near: list[list[int]] = [[] for _ in dots]
    open_, reach_m = list(range(len(dots))), _REACH_M
    while open_ and reach_m < _FURTHEST_M:
        found: dict[int, list[int]] = {at: [] for at in open_}
        left, right = tree.query([dots[at] for at in open_], predicate="dwithin", distance=reach_m)
        for at, one in zip(left.tolist(), right.tolist(), strict=True):
            found[open_[at]].append(one)
        near = [found.get(at, ones) for at, ones in enumerate(near)]
        open_ = [at for at, ones in found.items() if len({fixed[one].name for one in ones}) < wanted]
        reach_m *= 4
    return near


def _line(shape: BaseGeometry) -> BaseGeometry:
    """Return the outline of an area, which is what a tape is held to; lines and places as they are."""
    return shape.boundary if shape.geom_type.endswith("Polygon") else shape


def _tie(dot: Dot, name: str, shape: BaseGeometry) -> Tie:
    near, _ = nearest_points(shape, dot)
    distance = near.distance(dot)
    word = direction_word(bearing_deg(near.x, near.y, dot.x, dot.y)) if distance > 0 else ""
    return Tie(name, round(distance, 2), word)


def planned_depth_m(survey: Survey) -> float | None:
    """Return the planned depth in metres, None where the plan states none."""
    depth = survey.plan.depth
    return to_metres(depth.value, depth.unit) if depth else None
