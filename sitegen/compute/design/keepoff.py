"""Where no point is proposed: in what is drawn on the map, near it, and outside the site."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from sitegen.compute.design.layout import Floats
from sitegen.compute.limits import limits
from sitegen.compute.place.points import map_crs, on_map
from sitegen.project.settings import Length
from sitegen.project.survey import Feature, Survey
from sitegen.units import to_metres

Why: TypeAlias = Literal["outside", "edge", "in", "near", "existing", "proposed"]
"""Outside the boundary, near its inner edge, in or near something drawn, at a point of the table, at a proposed one."""

Group: TypeAlias = Literal["building", "tank", "utility", "surface_water"]
GROUPS: tuple[Group, ...] = ("building", "tank", "utility", "surface_water")
"""What is kept off, the first named where several are near. A tank is kept off as utilities are."""


ON_M = 0.01
"""So near to an edge a place is on it: positions are written to a centimetre."""

_SLACK_M = 1e-6
"""A place as far from the boundary as asked for is not left out by rounding."""


@dataclass(frozen=True, slots=True, order=True)
class Reason:
    """Why a place is left out: ``name`` and ``kind`` are those of what is there, ``margin_m`` the distance kept."""

    why: Why
    kind: str = ""
    name: str = ""
    margin_m: float = 0.0


@dataclass(frozen=True, slots=True)
class Margins:
    """The distances that are kept, in metres; 0 keeps off the thing itself alone."""

    building: float
    tank: float
    utility: float
    surface_water: float
    boundary: float


def margins(survey: Survey) -> Margins:
    """Return the distances of the plan; for utilities and tanks else the limit ``utility_distance_m``, for others 0."""
    stated = survey.plan.keep_off
    utility = limits(survey.settings)["utility_distance_m"].value if stated.utilities is None else _m(stated.utilities)
    return Margins(_m(stated.buildings), utility, utility, _m(stated.water), _m(stated.boundary))


def _m(length: Length | None) -> float:
    return to_metres(length.value, length.unit) if length else 0.0


@dataclass(frozen=True)
class KeepOff:
    """What is kept off, in map metres. Features are asked by a tree, one by one, and never joined."""

    boundary: BaseGeometry
    margins: Margins
    features: Mapping[Group, tuple[Feature, ...]]
    trees: Mapping[Group, shapely.STRtree]

    def reasons(self, xy: Floats, *, off_site: bool = False) -> list[Reason | None]:
        """Return for each place why it is left out, None where nothing is against it.

        With ``off_site`` a place may lie outside the boundary, or near it.
        """
        found: list[Reason | None] = [None] * len(xy)
        dots = [shapely.Point(x, y) for x, y in xy.tolist()]
        for at, reason in self._each(dots, off_site=off_site):
            found[at] = found[at] or reason
        return found

    def _each(self, dots: Sequence[BaseGeometry], *, off_site: bool) -> Iterator[tuple[int, Reason]]:
        if not off_site:
            yield from self._at_the_edge(dots)
        for group in GROUPS:
            yield from self._at(group, dots)

    def _at_the_edge(self, dots: Sequence[BaseGeometry]) -> Iterator[tuple[int, Reason]]:
        edge, least = shapely.boundary(self.boundary), self.margins.boundary
        shapely.prepare([self.boundary, edge])
        inside = shapely.contains_properly(self.boundary, dots) & ~shapely.dwithin(edge, dots, ON_M)
        near = shapely.dwithin(edge, dots, max(least - _SLACK_M, 0.0))
        for at, (within, close) in enumerate(zip(inside.tolist(), near.tolist(), strict=True)):
            if not within:
                yield at, Reason("outside")
            elif close:
                yield at, Reason("edge", margin_m=least)

    def _at(self, group: Group, dots: Sequence[BaseGeometry]) -> Iterator[tuple[int, Reason]]:
        """Yield what is at places: of several the nearest, what a place is in before what it is near."""
        least, tree = float(getattr(self.margins, group)), self.trees[group]
        if not len(tree):
            return
        if least > ON_M:
            (at, one), apart = tree.query_nearest(dots, max_distance=least, return_distance=True)
        else:
            at, one = tree.query(dots, predicate="dwithin", distance=ON_M)
            apart = np.zeros(len(at))
        for place, number, away in sorted(zip(at.tolist(), one.tolist(), apart.tolist(), strict=True)):
            if away < least or away <= ON_M:
                feature = self.features[group][number]
                name = feature.name or f"feature {feature.number}"
                near = away > ON_M
                yield place, Reason("near" if near else "in", feature.kind, name, least if near else 0.0)


def keep_off(survey: Survey, boundary: BaseGeometry) -> KeepOff:
    """Return what the plan of a survey keeps off; the boundary is in the map's system."""
    features = {group: tuple(f for f in survey.features if f.kind == group) for group in GROUPS}
    target = map_crs(survey)
    trees = {group: shapely.STRtree([on_map(f.geometry, target) for f in kept]) for group, kept in features.items()}
    return KeepOff(boundary, margins(survey), features, trees)
