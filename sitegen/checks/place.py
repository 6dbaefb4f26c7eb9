"""Places: spacing, moves, ground surface, buildings, utilities, accuracy."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from difflib import get_close_matches
from itertools import islice

from shapely import STRtree
from shapely.geometry import Point as Dot
from shapely.geometry.base import BaseGeometry

from sitegen.checks.catalogue import find
from sitegen.checks.rows import MAX_TOLD, departures, first_rows, number_of, surplus
from sitegen.compute.evaluate import Evaluation
from sitegen.compute.limits import LimitRecord
from sitegen.compute.place.points import Point, map_crs, on_map
from sitegen.findings.problems import Finding
from sitegen.project.schema import PAVED_SURFACES, SOIL_MEDIA, SURFACES
from sitegen.project.survey import Feature, Survey
from sitegen.project.tables import Deployment, Location
from sitegen.units import to_metres
from sitegen.voice import worded

MOST_PAIRS = 10_000
"""No more pairs of points are counted: of points at one place each is one of a pair with each other."""
_AT_ONCE = 64
EDGE_M = 0.5
"""So near to the edge of a mapped surface, nothing is said about which side a point is on."""


@dataclass(frozen=True, slots=True)
class Shape:
    """A site feature in map metres, with its outline."""

    feature: Feature
    ground: BaseGeometry
    edge: BaseGeometry


def _ground(evaluation: Evaluation) -> list[Point]:
    """Return the points at which a hole was made."""
    holes = {p.location_id for p in evaluation.placements if p.medium in SOIL_MEDIA}
    return [point for point in evaluation.points if point.location_id in holes]


def spacing(_: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """No two points of a kind lie closer than the limit."""
    limit = evaluation.limits["point_spacing_min_m"]
    for soil in (True, False):
        kept = [p for p in evaluation.points if (p.medium in SOIL_MEDIA) is soil]
        pairs = list(islice(_close_pairs([Dot(p.x, p.y) for p in kept], limit.value), MOST_PAIRS))
        for i, j, apart in pairs[:MAX_TOLD]:
            yield find(
                "points-too-close",
                f"{kept[i].location_id}+{kept[j].location_id}",
                kept[j].origin.where("easting"),
                worded(
                    "{point} at {apart:.2f} m from {other}",
                    point=kept[j].location_id,
                    apart=apart,
                    other=kept[i].location_id,
                ),
                worded("at least {limit}", limit=limit.text),
                kind="location",
            )
        yield from _more_pairs([kept[j] for _, j, _ in pairs[MAX_TOLD:]], limit, soil=soil)


def _close_pairs(dots: list[Dot], least_m: float) -> Iterator[tuple[int, int, float]]:
    """Yield the pairs that lie closer than a distance, in order, with how far apart they are."""
    tree = STRtree(dots)
    for start in range(0, len(dots), _AT_ONCE):
        left, right = tree.query(dots[start : start + _AT_ONCE], predicate="dwithin", distance=least_m)
        for i, j in sorted(zip((left + start).tolist(), right.tolist(), strict=True)):
            apart = dots[i].distance(dots[j])
            if i < j and apart < least_m:
                yield i, j, apart


def _more_pairs(seconds: list[Point], limit: LimitRecord, *, soil: bool) -> Iterator[Finding]:
    """Yield one finding for the pairs that are not told one by one, given by their second points."""
    if not seconds:
        return
    pairs, cut = number_of(len(seconds), "more pair"), len(seconds) + MAX_TOLD == MOST_PAIRS
    yield find(
        "points-too-close",
        f"locations+{'soil' if soil else 'air'}+more",
        seconds[0].origin.where("easting"),
        worded("at least {pairs} of this kind, starting here", pairs=pairs)
        if cut
        else worded("{pairs} of this kind, starting here", pairs=pairs),
        worded("at least {limit}", limit=limit.text),
        kind="locations",
        rows=[point.origin.row for point in seconds],
    )


def moves(survey: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """A point lies where it was planned, within the limit or its stated accuracy."""
    limit = evaluation.limits["moved_m"]
    on_record = departures(survey)
    for point in evaluation.points:
        known = on_record.get(point.location_id)
        if point.is_off_plan(limit.value):
            yield find(
                "point-moved",
                point.location_id,
                point.origin.where("easting"),
                worded("{moved_m:.3g} m from the planned position", moved_m=point.moved_m),
                worded("at most {limit}", limit=_may_move(point, limit)),
                do=worded("{known}; decide whether this is sufficient, and write a disposition", known=known)
                if known
                else "",
                kind="location",
            )


def _may_move(point: Point, limit: LimitRecord) -> str:
    """Say how far a point may lie from its plan, and which of limit and accuracy decides."""
    if point.may_move_m(limit.value) > limit.value:
        return worded(
            "{accuracy:g} m, the stated accuracy (limit {limit})", accuracy=point.accuracy_m, limit=limit.text
        )
    return limit.text


def moves_agree(survey: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """The move in the field notes agrees with the coordinates."""
    limit = evaluation.limits["moved_m"]
    places = {point.location_id: point for point in evaluation.points}
    for row in survey.rows(Deployment):
        point, metres = places.get(row.location_id), to_metres(row.moved_ft, "ft")
        if math.isnan(metres) or point is None or point.fits_move(metres, limit.value):
            continue
        yield find(
            "move-disagrees",
            row.sampler_id,
            row.origin.where("moved_ft"),
            worded(
                "moved {metres:.1f} m according to the field notes, {moved_m:.1f} m according to the coordinates",
                metres=metres,
                moved_m=point.moved_m,
            ),
            worded("agreement within {limit}", limit=_may_move(point, limit)),
            kind="sampler",
        )


def surfaces(survey: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """The surface noted at a point is the one mapped there."""
    grounds = shapes(survey, "building"), shapes(survey, "paved_area")
    for point in _ground(evaluation):
        expected, name = _surfaces_at(point, *grounds)
        if expected is None or not point.surface or point.surface in expected:
            continue
        yield find(
            "surface-disagrees",
            point.location_id,
            point.origin.where("surface"),
            _surface_words(point.surface),
            worded(
                "{surfaces}, since the point is {place}",
                surfaces=f" {worded('or')} ".join(map(_surface_words, expected)),
                place=name,
            ),
            kind="location",
        )


def _surface_words(surface: str) -> str:
    """Write a surface as words; one that a map's file states in other words stays as it is."""
    words = surface.replace("_", " ")
    return worded(words) if surface in SURFACES else words


def shapes(survey: Survey, kind: str) -> list[Shape]:
    """Return the site's features of a kind in map metres."""
    target = map_crs(survey)
    placed = [(f, on_map(f.geometry, target)) for f in survey.features if f.kind == kind]
    return [Shape(feature, ground, ground.boundary) for feature, ground in placed]


def _surfaces_at(point: Point, buildings: list[Shape], paved: list[Shape]) -> tuple[tuple[str, ...] | None, str]:
    """Return the surfaces that the map allows at a point (None for any), and where that is."""
    dot = Dot(point.x, point.y)
    grounds = (*buildings, *paved)
    if any(shape.edge.distance(dot) < EDGE_M for shape in grounds):
        return None, ""
    inside = next((shape.feature for shape in grounds if shape.ground.contains(dot)), None)
    if inside is None:
        return _surfaces_off_the_map(point.surface, bool(buildings), bool(paved))
    if inside.kind == "building":
        return ("interior_slab",), worded("in the building {name}", name=inside.name)
    stated = str(inside.properties.get("surface") or "")
    return ((stated,) if stated else PAVED_SURFACES), worded("on {name}", name=inside.name)


def _surfaces_off_the_map(surface: str, has_buildings: bool, has_paving: bool) -> tuple[tuple[str, ...] | None, str]:
    """Return the surfaces allowed where nothing is mapped, on a map that has buildings or paving."""
    if surface == "interior_slab" and has_buildings:
        return (worded("a different surface"),), worded("outside every mapped building")
    if surface in PAVED_SURFACES and has_paving:
        return ("soil", "vegetation", "gravel"), worded("outside every mapped paved area")
    return None, ""


def buildings_known(survey: Survey, _: Evaluation) -> Iterator[Finding]:
    """A building named at a point is one of the map."""
    names = [f.name for f in survey.features if f.kind == "building"]
    file = next((f.where.file for f in survey.features if f.kind == "building"), "").rpartition("/")[2]
    table = survey.tables["locations"]
    bad = (table.frame["building"] != "") & ~table.frame["building"].isin(names)
    if not names:
        return
    for row in first_rows(table, bad, Location):
        nearest = get_close_matches(row.building, names, n=1, cutoff=0.6)
        yield find(
            "building-unknown",
            row.location_id,
            row.origin.where("building"),
            worded("the building {building!r}", building=row.building),
            worded("a building of {file}", file=file),
            do=worded("write {nearest}", nearest=nearest[0]) if nearest else "",
            kind="location",
        )
    yield from surplus("building-unknown", table, bad, "building")


def utilities(survey: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """No hole was made nearer to a mapped utility than the limit."""
    limit = evaluation.limits["utility_distance_m"]
    lines = shapes(survey, "utility")
    for point in _ground(evaluation):
        dot = Dot(point.x, point.y)
        for line in lines:
            apart = line.ground.distance(dot)
            if apart < limit.value:
                feature = line.feature
                name = feature.name if feature.public else worded("utility {number}", number=feature.number)
                yield find(
                    "near-utility",
                    f"{point.location_id}+feature {feature.number}",
                    point.origin.where("easting"),
                    worded("a hole {apart:.2f} m from {name}", apart=apart, name=name),
                    worded("at least {limit}", limit=limit.text),
                    kind="location",
                )


def accuracy(survey: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """Positions are known well enough."""
    limit = evaluation.limits["accuracy_m"]
    table = survey.tables["locations"]
    poor = table.frame["accuracy_m"] > limit.value
    for row in first_rows(table, poor, Location):
        yield find(
            "position-inaccurate",
            row.location_id,
            row.origin.where("accuracy_m"),
            f"{row.accuracy_m:g} m",
            worded("at most {limit}", limit=limit.text),
            kind="location",
        )
    yield from surplus("position-inaccurate", table, poor, "accuracy_m")


EVALUATION_RULES = (
    spacing,
    moves,
    moves_agree,
    surfaces,
    buildings_known,
    utilities,
    accuracy,
)
