"""What lies around planned points: how far they are apart, the nearest utility, and the strips that they keep off."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Point as Dot
from shapely.geometry.base import BaseGeometry

from sitegen.compute.design.fieldplan import PlannedPoint
from sitegen.compute.place.points import map_crs, on_map
from sitegen.project.survey import Feature, Survey
from sitegen.units import to_metres

_AT_ONCE = 256


@dataclass(frozen=True, slots=True)
class Spacing:
    """Distances in metres from each of some points to its nearest neighbour: how many, least, median and most."""

    points: int
    least_m: float
    median_m: float
    most_m: float


def spacing(places: Sequence[tuple[float, float]]) -> Spacing | None:
    """Return how far places are from their nearest neighbours, None for fewer than two; metres of one system.

    >>> spacing([(0, 0), (3, 4), (3, 10)])
    Spacing(points=3, least_m=5.0, median_m=5.0, most_m=6.0)
    """
    if len(places) < 2:
        return None
    xy = np.array(places, dtype=float)
    apart = _nearest_m(xy)
    return Spacing(len(places), float(apart.min()), float(np.median(apart)), float(apart.max()))


def _nearest_m(xy: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the distance of each place from the nearest other one, a part of the places at once to bound memory."""
    found = []
    for start in range(0, len(xy), _AT_ONCE):
        part = xy[start : start + _AT_ONCE]
        apart = np.hypot(part[:, None, 0] - xy[None, :, 0], part[:, None, 1] - xy[None, :, 1])
        itself = np.arange(len(part))
        apart[itself, start + itself] = np.inf
        found.append(apart.min(axis=1))
    return np.concatenate(found)


@dataclass(frozen=True, slots=True)
class NearUtility:
    """The mapped utility that is nearest to a point, its type as recorded, and the distance in metres."""

    name: str
    type: str
    distance_m: float


def nearest_utilities(survey: Survey, points: Sequence[PlannedPoint]) -> Mapping[str, NearUtility]:
    """Return the nearest mapped utility of each point, by its id; nothing where none is mapped."""
    utilities = [one for one in survey.features if one.kind == "utility"]
    found = utilities_near([(point.x_m, point.y_m) for point in points], utilities, map_crs(survey))
    return {point.location_id: near for point, near in zip(points, found, strict=True) if near is not None}


def utilities_near(
    places: Sequence[tuple[float, float]], utilities: Sequence[Feature], target: str
) -> list[NearUtility | None]:
    """Return the nearest of some utilities for each place of the map, whose system is ``target``; None without any."""
    lines = [(one, on_map(one.geometry, target)) for one in utilities]
    return [_nearest(Dot(x, y), lines) if lines else None for x, y in places]


def _nearest(dot: Dot, lines: Sequence[tuple[Feature, BaseGeometry]]) -> NearUtility:
    distance, _, one = min((round(line.distance(dot), 2), at, one) for at, (one, line) in enumerate(lines))
    return NearUtility(one.name, str(one.properties.get("utility_type") or ""), distance)


@dataclass(frozen=True, slots=True)
class Margin:
    """A strip along features of a kind that points keep off, by its width in metres and its shape on the map.

    ``of`` is ``building``, ``utility``, ``surface_water`` or ``site_boundary``. ``stated`` says whether the plan
    states the width; else it is a limit in force.
    """

    of: str
    width_m: float
    stated: bool
    shape: BaseGeometry


def margins(survey: Survey, utility_limit_m: float) -> tuple[Margin, ...]:
    """Return the strips that planned holes keep off; of utilities the limit applies where the plan states no width.

    Along buildings and water the strip is outside, along utilities on both sides, along the boundary inside.
    """
    return tuple(_margins(survey, utility_limit_m))


def _margins(survey: Survey, utility_limit_m: float) -> Iterator[Margin]:
    asked = survey.plan.keep_off
    widths = (
        ("building", asked.buildings, None),
        ("utility", asked.utilities, utility_limit_m),
        ("surface_water", asked.water, None),
        ("site_boundary", asked.boundary, None),
    )
    for kind, stated, otherwise in widths:
        width = to_metres(stated.value, stated.unit) if stated else otherwise
        shapes = [on_map(one.geometry, map_crs(survey)) for one in survey.features if one.kind == kind]
        if width and shapes:
            strip = shapely.union_all([_strip(kind, shape, width) for shape in shapes])
            yield Margin(kind, width, stated is not None, strip)


def _strip(kind: str, shape: BaseGeometry, width_m: float) -> BaseGeometry:
    if kind == "site_boundary":
        return shape.difference(shape.buffer(-width_m))
    return shape.buffer(width_m) if kind == "utility" else shape.buffer(width_m).difference(shape)
