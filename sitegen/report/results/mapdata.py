"""What the maps draw: points, layers, site features; and the ground for printed maps."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import islice
from typing import Any

import shapely
from shapely.geometry.base import BaseGeometry

from sitegen.compute.evaluate import Compound
from sitegen.compute.marks import MarkFact
from sitegen.compute.picture.leading import leading
from sitegen.compute.place.background import background_fault
from sitegen.compute.place.points import on_map
from sitegen.compute.place.thin import thinned
from sitegen.compute.results.groupsums import GroupSum
from sitegen.compute.results.store import StoredResult
from sitegen.compute.statistics.classes import class_labels, size_class
from sitegen.compute.statistics.rounding import rounded_text
from sitegen.figures.foldout import FEW_WORDS_PT, fold_rooms
from sitegen.figures.ground import PAGE, Ground, Room, prepare_ground
from sitegen.figures.inputs import PlaceFeature, PlacePoint, PlaceValue
from sitegen.project.schema import SOIL_MEDIA
from sitegen.project.survey import Feature
from sitegen.report.record.maps import MapBackground, MapData, MapLayer, MapMark, MapPoint, MapTiles, MapValue
from sitegen.report.write.context import Context
from sitegen.report.write.values import mark_words, value_text
from sitegen.report.write.words import say, word
from sitegen.voice import worded

DRAWN_VERTICES = 5_000
"""Vertices of all shapes on a printed map, which is drawn once for each compound: project default."""
_PROPERTIES = ("kind", "name", "surface", "utility_type", "depth_ft", "occupied", "basement", "water_level_m")


def map_data(context: Context) -> MapData:
    """Return everything that the web map draws."""
    layers = (
        *(_layer(context, compound) for compound in context.evaluation.compounds),
        *_sum_layers(context),
    )
    opens = leading(context.evaluation)
    first = opens.summary.analyte_id if opens else layers[0].id if layers else ""
    features = tuple(_as_geojson(feature) for feature in site_features(context))
    return MapData(
        _points(context),
        layers,
        features,
        _labels(layers),
        first,
        context.crs_name,
        _background(context),
        _tiles(context),
    )


def _points(context: Context) -> tuple[MapPoint, ...]:
    rows = {row.location_id: row for row in context.locations}
    return tuple(
        MapPoint(
            p.location_id,
            p.location_id,
            p.lon,
            p.lat,
            p.x,
            p.y,
            p.medium,
            p.surface,
            context.state_of(rows[p.location_id]),
            _sampler_marks(context, p.location_id),
            context.detected_text(p.location_id),
            _supplement(context, p.location_id),
            above=_above(context, p.location_id),
        )
        for p in context.evaluation.points
    )


def _above(context: Context, location_id: str) -> str:
    """Name the compounds with a concentration above a screening level at a point, "" for none."""
    found = [one.analyte_id for one in context.evaluation.exceedances if one.location_id == location_id]
    return say("occupied.map_above", names=", ".join(map(context.name, found))) if found else ""


def _supplement(context: Context, location_id: str) -> str:
    """Say which supplement a point belongs to and how long after its round it was placed, "" for a point of none."""
    found = context.supplements.get(location_id)
    if found is None:
        return ""
    return say("figures.supplement", title=found.title or found.id, later=later_words(found.days_later))


def later_words(days: float | None) -> str:
    """Write how long after a round its supplement was placed: in weeks from two on.

    >>> later_words(35.2), later_words(9), later_words(None)
    ('5 weeks', '9 days', '')
    """
    if days is None or days < 1:
        return ""
    if days >= 14:
        return worded("{weeks:.0f} weeks", weeks=days / 7)
    return worded("1 day") if round(days) == 1 else worded("{days:.0f} days", days=days)


def _background(context: Context) -> MapBackground | None:
    """Return the picture under the map, None where there is none or its file can't be used."""
    stated = context.survey.settings.map.background
    if stated is None or background_fault(context.survey):
        return None
    return MapBackground(stated.file, stated.west, stated.south, stated.east, stated.north, stated.licence)


def _tiles(context: Context) -> MapTiles | None:
    stated = context.survey.settings.map.tiles
    return MapTiles(stated.url, stated.attribution) if stated else None


def _labels(layers: tuple[MapLayer, ...]) -> tuple[str, ...]:
    return class_labels(max((v.size_class or 0 for layer in layers for v in layer.values), default=0))


def _sampler_marks(context: Context, location_id: str) -> tuple[MapMark, ...]:
    placement = context.primary_at(location_id)
    return map_marks(context.evaluation.marks.by_sampler.get(placement.sampler_id, ())) if placement else ()


def map_marks(facts: Iterable[MarkFact]) -> tuple[MapMark, ...]:
    """Return marks as the map has them, each once."""
    made = (MapMark(word.word, word.reason, fact.scope != "chain") for fact in facts for word in mark_words((fact,)))
    return tuple(dict.fromkeys(made))


def _layer(context: Context, compound: Compound) -> MapLayer:
    at_point, name = context.at_point, compound.analyte_id
    values = tuple(_value(context, at_point.get((point.location_id, name))) for point in context.evaluation.points)
    head = word("compound_group", compound.group)
    return MapLayer(compound.analyte_id, compound.name, context.mass_unit.text, values, head[:1].upper() + head[1:])


def place_values(context: Context, analyte_id: str) -> list[PlaceValue]:
    """Return a compound's class and mark at every point of the ground, for soil points only."""
    at_point = context.at_point
    return [_place_value(context, at_point.get((point.location_id, analyte_id))) for point in context.evaluation.points]


def _place_value(context: Context, row: StoredResult | None) -> PlaceValue:
    if row is None or row.medium not in SOIL_MEDIA or row.rejected:
        return PlaceValue(None)
    return PlaceValue(size_class(row.value) if row.detected else -1, context.has_ring(row))


def _sum_layers(context: Context) -> tuple[MapLayer, ...]:
    """Return a layer per group of compounds: the sum of what was detected, with how many."""
    layers = []
    for group, sums in context.group_sums.items():
        values = tuple(_sum(context, sums.get(point.location_id)) for point in context.evaluation.points)
        title = say("figures.sum_title", group=word("compound_group", group))
        layers.append(
            MapLayer(f"sum-{group}", title, context.mass_unit.text, values, say("figures.sum_group"), whole_words=True)
        )
    return tuple(layers)


def _sum(context: Context, found: GroupSum | None) -> MapValue:
    if found is None:
        return MapValue(say("figures.not_analysed"), None, ())
    text = sum_text(context, found)
    if found.mass_ng is None:
        return MapValue(text, -1, ())
    by_result = context.evaluation.marks.by_result
    marks = [mark for _, sample, analyte in found.detections for mark in by_result.get((sample, analyte), ())]
    return MapValue(text, size_class(found.mass_ng), map_marks(marks))


def sum_text(context: Context, found: GroupSum, words: str = "sum_value") -> str:
    """Write a group's sum with how many compounds it is made of; ``sum_short`` leaves the unit to a column's head."""
    mass = rounded_text(found.mass_ng) if found.mass_ng is not None else ""
    unit = context.mass_unit.text
    return say(f"figures.{words}", mass=mass, unit=unit, detected=found.detected, analysed=found.analysed)


def _value(context: Context, row: StoredResult | None) -> MapValue:
    if row is None or row.rejected:
        return MapValue(worded("not analysed") if row is None else worded("rejected"), None, ())
    own = context.evaluation.marks.by_result.get(row.key, ())
    found = size_class(row.value) if row.detected else -1
    return MapValue(value_text(row, context.display), found, map_marks(own))


def site_features(context: Context) -> tuple[Feature, ...]:
    """Return the site features that the output shows: those that its publish level left in."""
    return context.survey.features


def _as_geojson(feature: Feature) -> dict[str, Any]:
    properties = {name: feature.properties[name] for name in _PROPERTIES if name in feature.properties}
    return {
        "type": "Feature",
        "geometry": shapely.geometry.mapping(feature.geometry),
        "properties": properties | {"kind": feature.kind, "name": feature.name},
    }


def lone_compounds(context: Context, *, every: bool = False) -> list[Compound]:
    """Return the compounds with a map to print alone, in their order: the mapped ones, or all with results in soil."""
    media = {name: {row.medium for row in rows} for name, rows in context.by_compound.items()}
    wanted = (one for one in context.evaluation.compounds if one.mapped or every)
    return [one for one in wanted if not media.get(one.analyte_id, set()).isdisjoint(SOIL_MEDIA)]


def ground(context: Context, rooms: Sequence[Room] = (PAGE,)) -> Ground | None:
    """Prepare the ground of the printed maps, None where there is nothing to draw."""
    points = place_points(context)
    features, step_m = drawn_features(site_features(context), context.crs)
    if not points and not any(feature.kind == "site_boundary" for feature in features):
        return None
    return replace(prepare_ground(points, features, context.crs_name, rooms), step_m=step_m)


def place_points(context: Context) -> tuple[PlacePoint, ...]:
    """Return the points as printed maps draw them, in the order of the evaluation's."""
    rows = {row.location_id: row for row in context.locations}
    return tuple(
        PlacePoint(
            p.location_id,
            p.x,
            p.y,
            p.planned[0] if p.planned else None,
            p.planned[1] if p.planned else None,
            p.medium,
            p.surface,
            context.state_of(rows[p.location_id]),
            bool(_above(context, p.location_id)),
        )
        for p in context.evaluation.points
    )


def fold_out_ground(context: Context, words_pt: float = FEW_WORDS_PT) -> Ground | None:
    """Prepare the ground of maps on fold-out sheets with words below them, None where the project asks for none."""
    stated = context.survey.settings.publish
    return ground(context, fold_rooms(stated.paper, words_pt)) if stated.fold_out_maps else None


def drawn_features(features: Iterable[Feature], crs: str) -> tuple[tuple[PlaceFeature, ...], float]:
    """Return features as a drawing in a system has them, and to how many metres they are drawn."""
    return _thin(PlaceFeature(one.kind, one.name, *_parts(on_map(one.geometry, crs))) for one in features)


def _thin(features: Iterable[PlaceFeature]) -> tuple[tuple[PlaceFeature, ...], float]:
    """Return features with no more vertices than a drawing shows, and to how many metres they are drawn."""
    given = tuple(features)
    lines, step_m = thinned([part for feature in given for part in feature.parts], DRAWN_VERTICES)
    parts = iter(lines)
    return tuple(feature._replace(parts=tuple(islice(parts, len(feature.parts)))) for feature in given), step_m


def _parts(geometry: BaseGeometry) -> tuple[str, tuple[tuple[tuple[float, float], ...], ...]]:
    parts: list[tuple[tuple[float, float], ...]] = []
    kind = ("point", "line", "area")[max(0, int(shapely.get_dimensions(geometry)))]
    for part in shapely.get_parts(geometry):
        if kind == "area" and part.geom_type == "Polygon":
            parts += [tuple(ring.coords) for ring in (part.exterior, *part.interiors)]
        elif part.geom_type in ("LineString", "LinearRing", "Point"):
            parts.append(tuple(part.coords))
    return kind, tuple(parts)
