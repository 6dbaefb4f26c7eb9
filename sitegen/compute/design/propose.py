"""Points that a plan asks for: those that can be proposed, and those that are left out with the reason."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from sitegen.compute.design.asked import Asked, Design, asked
from sitegen.compute.design.keepoff import KeepOff, Reason, keep_off
from sitegen.compute.design.layout import Floats
from sitegen.compute.design.numbering import next_ids
from sitegen.compute.limits import limits
from sitegen.compute.place.points import map_crs, on_map, points
from sitegen.compute.place.systems import is_geographic
from sitegen.project.place.coordinates import transform
from sitegen.project.schema import PAVED_SURFACES, SOIL_MEDIA, SURFACES
from sitegen.project.survey import Survey
from sitegen.project.tables import Location

SAME_M = 0.05
"""Two places so near are one: positions are rounded to a centimetre."""

EDGE_M = 0.5
"""So near to the edge of a mapped surface it is not said which of the two is there."""

_DIGITS_M, _DIGITS_DEG = 2, 7
"""Digits of a position: a centimetre, or a hundredth of a foot; of degrees 7, which is a centimetre."""

_ORDER: tuple[Design, ...] = ("targeted", "background", "grid")
"""Of two proposals at one place, the first of these stays."""


@dataclass(frozen=True, slots=True)
class Proposed:
    """A point to propose: its place in the map's system (m), and in the project's own as it would be written."""

    location_id: str
    design: Design
    rationale: str
    x_m: float
    y_m: float
    easting: str
    northing: str
    surface: str
    off_site: bool
    building: str = ""

    def row(self) -> dict[str, str]:
        """Return the point as a row of ``locations.csv``."""
        return {
            "location_id": self.location_id,
            "medium": "soil_gas",
            "design": self.design,
            "rationale": self.rationale,
            "plan_easting": self.easting,
            "plan_northing": self.northing,
            "surface": self.surface,
            "building": self.building,
            "status": "planned",
            "off_site": "yes" if self.off_site else "no",
        }


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A place that was asked for and is not proposed, in the project's own system, and why."""

    design: Design
    rationale: str
    easting: str
    northing: str
    reason: Reason


@dataclass(frozen=True, slots=True)
class Proposal:
    """What is proposed and what is left out, in the order of the plan.

    ``unplaced`` counts points of the table that have no position, so that nothing could be compared with them.
    ``utilities`` counts the mapped utilities that were kept off.
    """

    points: tuple[Proposed, ...]
    left_out: tuple[LeftOut, ...]
    unplaced: int
    utilities: int


@dataclass(frozen=True, slots=True)
class _Candidate:
    design: Design
    rationale: str
    xy: tuple[float, float]
    texts: tuple[str, str]
    reason: Reason | None
    off_site: bool
    building: str


def propose(survey: Survey) -> Proposal:
    """Return the points that the plan of a survey asks for, checked at their places as they would be written.

    The survey has one boundary that encloses an area, and a plan without faults
    (:func:`sitegen.compute.design.faults.plan_faults`).
    """
    site = boundary(survey)
    kept_off = keep_off(survey, site)
    candidates = [one for entry in asked(survey, site) for one in _candidates(survey, entry, kept_off)]
    decided = _spaced(survey, candidates)
    kept = [one for one, reason in zip(candidates, decided, strict=True) if reason is None]
    ids = next_ids(survey.plan.id_prefix, (row.location_id for row in survey.rows(Location)), len(kept))
    surfaces = _surfaces(survey, [one.xy for one in kept])
    left_out = (
        LeftOut(one.design, one.rationale, *one.texts, reason)
        for one, reason in zip(candidates, decided, strict=True)
        if reason
    )
    proposed = (
        Proposed(name, one.design, one.rationale, *one.xy, *one.texts, surface, one.off_site, one.building)
        for name, one, surface in zip(ids, kept, surfaces, strict=True)
    )
    unplaced = len(survey.rows(Location)) - len(points(survey))
    return Proposal(tuple(proposed), tuple(left_out), unplaced, len(kept_off.features["utility"]))


def boundary(survey: Survey) -> BaseGeometry:
    """Return the site's boundary in the map's system."""
    shapes = [feature.geometry for feature in survey.features if feature.kind == "site_boundary"]
    return on_map(shapely.union_all(shapes), map_crs(survey))


def _candidates(survey: Survey, entry: Asked, kept_off: KeepOff) -> Iterator[_Candidate]:
    """Yield the places of an entry as they would be written, each with what is drawn there."""
    texts, xy = _written(survey, entry.xy)
    outside = ~shapely.contains_xy(kept_off.boundary, xy[:, 0], xy[:, 1]) if len(xy) else np.empty(0, dtype=bool)
    background = entry.design == "background"
    reasons = kept_off.reasons(xy, off_site=background)
    for text, place, reason, out in zip(texts, xy.tolist(), reasons, outside.tolist(), strict=True):
        off_site = background and out
        yield _Candidate(
            entry.design, entry.rationale, (place[0], place[1]), text, reason, off_site, entry.building
        )  # fmt: skip


def _written(survey: Survey, xy: Floats) -> tuple[list[tuple[str, str]], Floats]:
    """Return places in the project's own system as text, and where that text is in the map's."""
    own, target = survey.settings.space.crs, map_crs(survey)
    digits = _DIGITS_DEG if is_geographic(own) else _DIGITS_M
    east, north = transform(target, own, xy[:, 0], xy[:, 1])
    texts = [(f"{x:.{digits}f}", f"{y:.{digits}f}") for x, y in zip(east.tolist(), north.tolist(), strict=True)]
    given = np.array(texts, dtype=float).reshape(-1, 2)
    return texts, np.column_stack(transform(own, target, given[:, 0], given[:, 1]))


def _spaced(survey: Survey, candidates: Sequence[_Candidate]) -> list[Reason | None]:
    """Return why each place is left out, that it is too near to a point or a proposal included."""
    least = max(limits(survey.settings)["point_spacing_min_m"].value, 0.0)
    near = _Near(max(least, SAME_M))
    for name, medium, x, y in _existing(survey):
        near.add(x, y, name, least if medium in SOIL_MEDIA else SAME_M)
    decided = [one.reason for one in candidates]
    for design in _ORDER:
        for at, one in enumerate(candidates):
            if one.design == design and decided[at] is None:
                decided[at] = near.taken(*one.xy)
                if decided[at] is None:
                    near.add(*one.xy, "", least)
    return decided


def _existing(survey: Survey) -> Iterator[tuple[str, str, float, float]]:
    """Yield the places of points in the table: as planned and as surveyed, so that neither is proposed again."""
    for point in points(survey):
        yield point.location_id, point.medium, point.x, point.y
        if point.planned and not point.as_planned:
            yield point.location_id, point.medium, *point.planned


@dataclass
class _Near:
    """Places that keep others off, sorted into squares so that only those around are asked."""

    reach_m: float
    _squares: dict[tuple[int, int], list[tuple[float, float, str, float]]] = field(default_factory=dict)

    def add(self, x: float, y: float, name: str, least_m: float) -> None:
        """Keep others off a place; ``name`` is that of a point in the table, "" of a proposal."""
        self._squares.setdefault(self._square(x, y), []).append((x, y, name, least_m))

    def taken(self, x: float, y: float) -> Reason | None:
        """Return what keeps a place off: the nearest of what is there."""
        column, row = self._square(x, y)
        around = ((column + i, row + j) for i in (-1, 0, 1) for j in (-1, 0, 1))
        found = sorted(
            (round(apart, 6), name, least_m)
            for square in around
            for to_x, to_y, name, least_m in self._squares.get(square, ())
            if (apart := math.hypot(to_x - x, to_y - y)) <= SAME_M or apart < least_m
        )
        for apart, name, least_m in found[:1]:
            return Reason("existing" if name else "proposed", "", name, 0.0 if apart <= SAME_M else least_m)
        return None

    def _square(self, x: float, y: float) -> tuple[int, int]:
        return math.floor(x / self.reach_m), math.floor(y / self.reach_m)


def _surfaces(survey: Survey, places: Iterable[tuple[float, float]]) -> list[str]:
    """Return the surface mapped at each place, "" where the map doesn't say."""
    target = map_crs(survey)
    mapped = [
        (on_map(feature.geometry, target), _surface(str(feature.properties.get("surface") or "")))
        for feature in survey.features
        if feature.kind == "paved_area"
    ]
    tree = shapely.STRtree([shape for shape, _ in mapped])
    return [_surface_at(shapely.Point(place), mapped, tree) for place in places]


def _surface_at(dot: shapely.Point, mapped: Sequence[tuple[BaseGeometry, str]], tree: shapely.STRtree) -> str:
    near = tree.query(dot, predicate="dwithin", distance=EDGE_M).tolist()
    if any(mapped[at][0].boundary.distance(dot) < EDGE_M for at in near):
        return ""
    found = {mapped[at][1] for at in near}
    return found.pop() if len(found) == 1 else ""


def _surface(stated: str) -> str:
    """Return a surface as a point may have it: of an outdoor surface of the format, nothing of other words.

    >>> _surface("gravel"), _surface("tarmac"), _surface("interior_slab")
    ('gravel', '', '')
    """
    return stated if stated in SURFACES and stated != PAVED_SURFACES[-1] else ""
