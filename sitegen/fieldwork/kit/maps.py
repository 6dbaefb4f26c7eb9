"""The crew's maps: an overview, and detail maps where its ids would crowd."""

from __future__ import annotations

from collections.abc import Container, Sequence
from dataclasses import dataclass, replace

import shapely
from shapely.geometry.base import BaseGeometry

from sitegen.compute.design.feet import positions_in_feet
from sitegen.compute.design.fieldplan import FieldPlan, PlannedPoint
from sitegen.compute.design.walking import Place
from sitegen.compute.limits import limits
from sitegen.compute.place.points import map_crs, on_map
from sitegen.fieldwork.kit.tiles import groups, halves, window
from sitegen.figures.fieldlook import FEATURE_LOOKS, GROUND_LOOKS
from sitegen.figures.fieldmap import DrawnMap, field_map
from sitegen.figures.fieldscene import CarriedPoint, FieldScene, Window
from sitegen.project.place.coordinates import WGS84, crs
from sitegen.project.survey import Survey
from sitegen.report.results.mapdata import drawn_features
from sitegen.units import to_metres

_MARGIN = 0.04
"""Of the overview's sides; the boundary, which most sites have, needs no more around it."""

_FAR = 0.25
"""Of the site's sides: a point beyond them by more has no room on a map of the site's own. Its own choice."""


@dataclass(frozen=True, slots=True)
class KitMap:
    """A map of the kit: its title, drawing, way up and description.

    ``points`` are the ids that stand on it; ``left_out`` are ids of points in its window that found no room.
    """

    title: str
    svg: str
    landscape: bool
    alt: str
    points: tuple[str, ...]
    left_out: tuple[str, ...] = ()


def kit_maps(survey: Survey, plan: FieldPlan) -> tuple[KitMap, ...]:
    """Return the overview, then the detail maps; there are none of these where every id has room on the overview.

    Each point that has a position stands on one detail map at least. Nothing is drawn of a plan without a
    position and a site without a boundary: the result is empty.
    """
    scene = _scene(survey, plan)
    spots = [(one.easting_m, one.northing_m) for one in scene.points] + _boundary(scene)
    if not spots:
        return ()
    whole = window(spots, _MARGIN)
    overview = field_map("overview", scene, whole)
    if not (overview.left_out or overview.led) or len(scene.points) < 2:
        return (_kit_map("Overview map", scene, overview),)
    sheets = _sheets(scene)
    keyed = replace(scene, sheets=tuple(_window(group) for group in sheets))
    made = [_kit_map("Overview map", keyed, field_map("overview", keyed, whole))]
    for i, group in enumerate(sheets):
        drawn = field_map(f"detail-{i + 1}", keyed, keyed.sheets[i], [name for name, _, _ in group], i)
        made.append(_kit_map(f"Detail map {i + 1} of {len(sheets)}", keyed, drawn))
    return tuple(made)


def keep_off(survey: Survey) -> tuple[float, str]:
    """Return how far holes keep from mapped utilities, in metres and in words: as planned, else the project's limit."""
    stated = survey.plan.keep_off.utilities
    if stated:
        return to_metres(stated.value, stated.unit), f"{stated.value:g} {stated.unit.removeprefix('us_')}"
    limit = limits(survey.settings)["utility_distance_m"]
    return limit.value, f"{limit.value:g} {limit.unit}"


def _scene(survey: Survey, plan: FieldPlan) -> FieldScene:
    code = map_crs(survey)
    known, own = crs(code), survey.settings.space.crs
    distance_m, distance = keep_off(survey)
    zone = _margin(survey, code, distance_m)
    doubled = {slot.location_id for slot in plan.allocation.of("field_duplicate")}
    features, _ = drawn_features(survey.features, code)
    order = list(FEATURE_LOOKS)
    return FieldScene(
        tuple(_carried(one, zone, doubled) for one in plan.points),
        tuple(sorted(features, key=lambda one: order.index(one.kind if one.kind in order else "other"))),
        _rings(zone),
        f"keep out: {distance} from utilities",
        f"Coordinates: {code} ({known.name})" if known else f"Coordinates: {code}",
        other_crs_text="" if own in (code, WGS84) else f"Log sheets and stake-out files use other coordinates: {own}",
        feet=positions_in_feet(survey),
    )


def _carried(point: PlannedPoint, zone: BaseGeometry, doubled: Container[str]) -> CarriedPoint:
    """Return a point as the maps have it; where air is sampled there is no hole."""
    near = point.ground != "air" and bool(zone.intersects(shapely.Point(point.x_m, point.y_m)))
    name = point.location_id
    return CarriedPoint(name, point.x_m, point.y_m, point.ground, name in doubled, near)


def _margin(survey: Survey, code: str, distance_m: float) -> BaseGeometry:
    """Return what lies within a distance of a utility, in the map's system."""
    lines = [on_map(one.geometry, code) for one in survey.features if one.kind == "utility"]
    return shapely.union_all([one.buffer(distance_m) for one in lines])


def _rings(zone: BaseGeometry) -> tuple[tuple[tuple[float, float], ...], ...]:
    areas = [part for part in shapely.get_parts(zone) if part.geom_type == "Polygon" and not part.is_empty]
    return tuple(tuple(ring.coords) for area in areas for ring in (area.exterior, *area.interiors))


def _boundary(scene: FieldScene) -> list[tuple[float, float]]:
    return [spot for one in scene.features if one.kind == "site_boundary" for part in one.parts for spot in part]


def _sheets(scene: FieldScene) -> list[tuple[Place, ...]]:
    """Return the points of each detail map: few enough, and halved again where an id of theirs finds no room.

    Points far from the site have maps of their own: one of them would make a map too coarse for the others on it.
    """
    waiting = [group for side in _sides(scene) for group in groups(side)]
    done: list[tuple[Place, ...]] = []
    while waiting:
        group = waiting.pop(0)
        own = [name for name, _, _ in group]
        room = replace(scene, sheets=(_window(group),))
        if len(group) > 1 and set(own) & set(field_map("trial", room, _window(group), own, 0).left_out):
            waiting[:0] = halves(group)
        else:
            done.append(group)
    return done


def _sides(scene: FieldScene) -> tuple[list[Place], list[Place]]:
    """Return the points on the site or near it, and those far from it; without a boundary none is far."""
    places = [(one.label, one.easting_m, one.northing_m) for one in scene.points]
    spots = _boundary(scene)
    if not spots:
        return places, []
    site = window(spots, _FAR)
    far = [
        place for place in places
        if not (site.west_m <= place[1] <= site.east_m and site.south_m <= place[2] <= site.north_m)
    ]  # fmt: skip
    return [place for place in places if place not in far], far


def _window(group: Sequence[Place]) -> Window:
    return window([(x, y) for _, x, y in group])


def _kit_map(title: str, scene: FieldScene, drawn: DrawnMap) -> KitMap:
    return KitMap(title, drawn.svg, drawn.landscape, _alt(title, scene, drawn), drawn.labelled, drawn.left_out)


def _alt(title: str, scene: FieldScene, drawn: DrawnMap) -> str:
    """Describe a map: how many points of which ground stand on it, and in which order."""
    shown = [one for one in scene.points if one.label in set(drawn.labelled)]
    if not shown:
        return f"{title}: the site without points."
    by_ground = [(look.word, sum(one.ground == name for one in shown)) for name, look in GROUND_LOOKS.items()]
    counted = ", ".join(f"{count} {word}" for word, count in by_ground if count)
    said = f"{title}: {len(shown)} point{'s' * (len(shown) > 1)} ({counted})"
    return f"{said}, in walking order {', '.join(one.label for one in shown)}."
