"""The maps to print alone: which there are, and what stands on each."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

from sitegen.compute.design.feet import positions_in_feet
from sitegen.compute.evaluate import Compound
from sitegen.compute.results.groupsums import GroupSum
from sitegen.compute.results.store import StoredResult
from sitegen.compute.statistics.classes import class_labels, size_class
from sitegen.figures.inputs import MOVED_M, PlaceFeature, PlacePoint, PlaceValue
from sitegen.project.place.coordinates import WGS84
from sitegen.project.schema import SOIL_MEDIA
from sitegen.report.record.lone import NO_ATLAS, Atlas, LoneGround, LoneMap
from sitegen.report.record.maps import MapData
from sitegen.report.results.compound import soil_rows
from sitegen.report.results.mapdata import (
    drawn_features,
    lone_compounds,
    place_points,
    place_values,
    site_features,
    sum_text,
)
from sitegen.report.write.campaign import whole_name
from sitegen.report.write.context import Context
from sitegen.report.write.values import mark_words, value_text
from sitegen.report.write.words import say, word
from sitegen.voice import worded

POINTS = "points"
"""The id of the map of the points themselves."""

MOST_RINGED = 20
"""Points that a note on marks names; of more it says how many. Project default."""


class _Shown(NamedTuple):
    """What a map shows at its points: classes, texts, how many were detected, where most, and the marks of rings."""

    values: tuple[PlaceValue, ...]
    texts: tuple[str, ...]
    masses: tuple[float | None, ...]
    """In ng, of soil points: None for a non-detect or nothing."""
    marks: tuple[tuple[str, str], ...]
    """(word, point) of each ring."""


class _Round(NamedTuple):
    """A round to draw: its points and features in project metres, and its place among the grounds."""

    context: Context
    points: tuple[PlacePoint, ...]
    features: tuple[PlaceFeature, ...]
    step_m: float
    ground: int

    @property
    def unit(self) -> str:
        return self.context.mass_unit.text

    def ids(self, layer: str) -> tuple[str, str, int]:
        """Return a map's id, the layer of the web map that shows the same, and its ground."""
        if not self.ground:
            return layer, layer, 0
        return f"{self.context.campaign.id or self.ground}/{layer}", "", self.ground


def atlas(context: Context, *, every: bool = False) -> Atlas:
    """Return the maps of this round, then those of earlier rounds: compounds, sums by group, and the points.

    Of the compounds they are the mapped ones, or with ``every`` all that have results in soil. A survey without
    results has the points alone, and these only with ``every``: its report has them otherwise.
    """
    rounds = [_round(one, at) for at, one in enumerate((context, *reversed(context.earlier)))]
    maps = tuple(one for found in rounds if found.context.with_results or every for one in _maps(found, every=every))
    return Atlas(tuple(_ground(found, maps) for found in rounds), maps) if maps else NO_ATLAS


def paged(data: MapData, found: Atlas) -> MapData:
    """Return what the web map draws with the page of each layer's map to print alone."""
    pages = {one.layer: at for at, one in enumerate(found.maps, 1) if one.layer}
    return replace(data, layers=tuple(replace(layer, page=pages.get(layer.id, 0)) for layer in data.layers))


def _round(context: Context, ground: int) -> _Round:
    features, step_m = drawn_features(site_features(context), context.crs)
    return _Round(context, place_points(context), features, step_m, ground)


def _ground(found: _Round, maps: Iterable[LoneMap]) -> LoneGround:
    """Return what the maps of a round share; a sum may be of a higher class than any compound."""
    context = found.context
    feet = positions_in_feet(context.survey)
    highest = max((v.size_class or 0 for one in maps if one.ground == found.ground for v in one.values), default=0)
    labels = max(context.class_labels, class_labels(highest), key=len)
    own = context.survey.settings.space.crs
    crs_text = say("lone.crs", drawn=context.crs_name, own=own if own not in (context.crs, WGS84) else "")
    return LoneGround(found.points, found.features, labels, crs_text, feet, tuple(_facts(context)))


def _facts(context: Context) -> Iterator[tuple[str, str]]:
    if name := whole_name(context):
        yield worded("Round"), name
    for what, label in (("placed", "Samplers placed"), ("retrieved", "Samplers retrieved")):
        first, last = (context.tokens[f"date.{what}.{which}"] for which in ("first", "last"))
        yield worded(label), say("lone.days", first=first, last=last)


def _maps(found: _Round, *, every: bool) -> Iterator[LoneMap]:
    context = found.context
    if not found.points:
        return
    for compound in lone_compounds(context, every=every):
        yield _compound_map(found, compound, soil_rows(context, compound))
    for group, sums in context.group_sums.items():
        shown = _sums(found, sums)
        if any(value.size_class is not None for value in shown.values):
            yield _sum_map(found, group, shown)
    yield _points_map(found)


def _compound_map(found: _Round, compound: Compound, rows: Sequence[StoredResult]) -> LoneMap:
    title = say("lone.title", name=compound.name, cas=compound.cas)
    subtitle = say("lone.subtitle", unit=found.unit, media=_media(rows))
    shown = _results(found.context, compound)
    notes = (say("lone.nondetect"), *_notes(found, shown, rows))
    valued = say("lone.valued", unit=found.unit)
    words = (title, subtitle, _alt(found, compound.name, shown), found.unit)
    return LoneMap(
        *found.ids(compound.analyte_id), *words, shown.values, shown.texts, tuple(_cautions(found)), notes, valued
    )


def _sum_map(found: _Round, group: str, shown: _Shown) -> LoneMap:
    rows = [row for rows in found.context.by_location.values() for row in rows if row.medium in SOIL_MEDIA]
    title = say("figures.sum_title", group=word("compound_group", group))
    subtitle = say("lone.sum_subtitle", unit=found.unit, media=_media(rows))
    notes = (say("lone.sum"), *_notes(found, shown, rows))
    valued = say("lone.sum_valued", unit=found.unit)
    words = (title, subtitle, _alt(found, title, shown), found.unit)
    return LoneMap(
        *found.ids(f"sum-{group}"), *words, shown.values, shown.texts, tuple(_cautions(found)), notes, valued
    )


def _points_map(found: _Round) -> LoneMap:
    """Return the map of the points themselves."""
    points = found.context.evaluation.points
    moved = sum(one.moved_m is not None and one.moved_m > MOVED_M for one in points)
    planned = sum(one.as_planned for one in points)
    facts = {"points": len(points), "moved": moved, "planned": planned, "least": f"{MOVED_M:g}"}
    words = (say("lone.points_title"), say("lone.points_subtitle", **facts), say("lone.points_alt", **facts), "")
    notes = tuple(_sources(found, ()))
    none = ("",) * len(found.points)
    return LoneMap(*found.ids(POINTS), *words, (), none, tuple(_cautions(found, masses=False)), notes, "")


def _alt(found: _Round, name: str, shown: _Shown) -> str:
    hits = [(mass, point.label) for mass, point in zip(shown.masses, found.points, strict=True) if mass is not None]
    analysed = sum(value.size_class is not None for value in shown.values)
    return say(
        "lone.alt",
        name=name,
        unit=found.unit,
        analysed=analysed,
        detected=len(hits),
        nondetects=analysed - len(hits),
        where=max(hits, key=lambda hit: hit[0])[1] if hits else "",
    )


def _media(rows: Iterable[StoredResult]) -> tuple[str, ...]:
    there = {row.medium for row in rows}
    return tuple(word("medium", medium) for medium in SOIL_MEDIA if medium in there)


def _results(context: Context, compound: Compound) -> _Shown:
    name = compound.analyte_id
    rows = [context.at_point.get((point.location_id, name)) for point in context.evaluation.points]
    soil = [row if row is not None and row.medium in SOIL_MEDIA else None for row in rows]
    return _Shown(
        tuple(place_values(context, name)),
        tuple(_marked(value_text(row, context.display), _ring_words(context, row)) if row else "" for row in soil),
        tuple(row.value if row and row.detected and not row.rejected else None for row in soil),
        tuple((ring, row.location_id) for row in soil if row for ring in _ring_words(context, row)),
    )


def _ring_words(context: Context, row: StoredResult) -> tuple[str, ...]:
    """Return the words of the marks that a result's ring stands for; a rejected one is drawn without."""
    return () if row.rejected else tuple(dict.fromkeys(mark.word for mark in context.ringed(row)))


def _marked(words: str, rings: tuple[str, ...]) -> str:
    return f"{words} [{', '.join(rings)}]" if rings else words


def _sums(found: _Round, sums: Mapping[str, GroupSum]) -> _Shown:
    at_points = [sums.get(spot.label) if spot.medium in SOIL_MEDIA else None for spot in found.points]
    rings = [_rings(found.context, one) if one else () for one in at_points]
    classes = [None if one is None else -1 if one.mass_ng is None else size_class(one.mass_ng) for one in at_points]
    return _Shown(
        tuple(PlaceValue(*pair) for pair in zip(classes, map(bool, rings), strict=True)),
        tuple(
            _marked(sum_text(found.context, one, "sum_short"), own) if one else ""
            for one, own in zip(at_points, rings, strict=True)
        ),
        tuple(one.mass_ng if one else None for one in at_points),
        tuple((ring, spot.label) for spot, own in zip(found.points, rings, strict=True) for ring in own),
    )


def _rings(context: Context, found: GroupSum) -> tuple[str, ...]:
    marks = context.evaluation.marks
    facts = [mark for key in found.detections for mark in marks.ringed(*key)]
    return tuple(dict.fromkeys(mark.word for mark in mark_words(facts)))


def _cautions(found: _Round, *, masses: bool = True) -> Iterator[str]:
    """Yield what must be read: a mass is no concentration, and what is drawn under the ground does not clear a hole."""
    if masses:
        yield say("lone.not_concentration")
    features = site_features(found.context)
    occupied = tuple(one.name or say("lone.unnamed") for one in features if one.kind == "building" and one.occupied)
    utilities = any(feature.kind == "utility" for feature in features)
    if utilities or occupied:
        yield say("lone.caution", utilities=utilities, occupied=occupied)


def _notes(found: _Round, shown: _Shown, rows: Iterable[StoredResult]) -> Iterator[str]:
    by_word: dict[str, list[str]] = {}
    for ring, point in dict.fromkeys(shown.marks):
        by_word.setdefault(ring, []).append(point)
    yield say("lone.marks", marks=tuple(by_word.items()), most=MOST_RINGED) if by_word else say("lone.no_marks")
    yield from _sources(found, tuple(dict.fromkeys(row.origin.file for row in rows)))


def _sources(found: _Round, results: tuple[str, ...]) -> Iterator[str]:
    context = found.context
    yield say(
        "lone.source",
        results=results,
        positions=context.path("locations"),
        features=tuple(dict.fromkeys(feature.where.file for feature in site_features(context))),
        step=f"{found.step_m:g}" if found.step_m else "",
    )
    if context.unplaced:
        yield say("lone.unplaced", unplaced=context.unplaced)
