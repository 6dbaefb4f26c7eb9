"""The web map of several rounds: the values of each at a choice, and what changed from an earlier one."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from sitegen.compute.evaluate import Compound
from sitegen.compute.results.store import StoredResult
from sitegen.compute.rounds.changes import PointChange
from sitegen.compute.rounds.factors import factor_labels
from sitegen.compute.statistics.rounding import rounded_text
from sitegen.figures.inputs import PlaceChange
from sitegen.report.record.maps import MapChange, MapChangeLayer, MapData, MapLayer, MapMark, MapPoint, MapView
from sitegen.report.results.mapdata import map_data, map_marks
from sitegen.report.rounds.comparing import Compared, compared
from sitegen.report.rounds.naming import id_in, round_name, round_number
from sitegen.report.rounds.pictures import why_text
from sitegen.report.write.context import Context
from sitegen.report.write.values import value_text
from sitegen.report.write.words import say, word
from sitegen.units import UNIT_TEXT


def round_map_data(context: Context) -> MapData:
    """Return everything that the web map draws, of several rounds each of them and what changed between them."""
    own = map_data(context)
    if not context.earlier:
        return own
    earlier = [map_data(one) for one in context.earlier]
    views = (*_round_views(context, earlier), *_change_views(context, own, earlier))
    labels = max((data.class_labels for data in (own, *earlier)), key=len)
    return replace(own, views=views, class_labels=labels, factor_labels=factor_labels())


def _round_views(context: Context, earlier: list[MapData]) -> Iterator[MapView]:
    """Yield the rounds, the one that is reported first."""
    group = say("roundpictures.view_rounds")
    yield MapView(view_id(context, context), "round", round_name(context, context), group, reported=True)
    for one, data in zip(reversed(context.earlier), reversed(earlier), strict=True):
        points = _paged(context, data.points)
        layers = _layers(context, one, data)
        yield MapView(view_id(context, one), "round", round_name(context, one), group, points, layers)


def view_id(context: Context, one: Context) -> str:
    """Return what a round is called in an address: its id, its number where it has none or shares it."""
    ids = [other.campaign.id for other in context.rounds]
    own = one.campaign.id
    return own if own and ids.count(own) == 1 else str(round_number(context, one))


def _paged(context: Context, points: Iterable[MapPoint]) -> tuple[MapPoint, ...]:
    """Return points of an earlier round, each leading to the page that the report has about it, if any."""
    known = {row.location_id for row in context.locations}
    return tuple(point._replace(paged=point.location_id in known) for point in points)


def _layers(context: Context, one: Context, data: MapData) -> tuple[MapLayer, ...]:
    """Return the layers of an earlier round under the ids of the reported one, so that a chosen compound stays."""
    called = {id_in(context, one, name): name for name in context.compounds}
    number = round_number(context, one)
    given: list[MapLayer] = []
    for layer in data.layers:
        other = "" if layer.id in context.compounds else layer.id
        given.append(replace(layer, id=called.get(layer.id) or other or f"{layer.id}-{number}"))
    return tuple(given)


def _change_views(context: Context, own: MapData, earlier: list[MapData]) -> Iterator[MapView]:
    """Yield what changed from each earlier round to this one, the latest first."""
    group = say("roundpictures.view_changes")
    groups = {layer.id: layer.group for layer in own.layers}
    for one, data, change in reversed(list(zip(context.earlier, earlier, context.changes, strict=True))):
        pairs = [compared(context, change, compound) for compound in context.evaluation.compounds]
        shown = [pair for pair in pairs if pair.rows and pair.points]
        if shown:
            points = _points(context, own, data, shown[0])
            layers = tuple(_change_layer(pair, groups.get(pair.compound.analyte_id, "")) for pair in shown)
            title = say(
                "roundpictures.view_change", earlier=round_name(context, one), later=round_name(context, context)
            )
            yield MapView(view_id(context, one), "change", title, group, points, changes=layers)


def _points(context: Context, own: MapData, data: MapData, pair: Compared) -> tuple[MapPoint, ...]:
    """Return the points of a comparison: this round's, then those that the earlier one alone has."""
    gone = {point.label for point in pair.points[len(pair.own) :]}
    points = (*own.points, *_paged(context, (point for point in data.points if point.location_id in gone)))
    return tuple(point._replace(marks=(), detected="") for point in points)


def _change_layer(pair: Compared, group: str) -> MapChangeLayer:
    compound: Compound = pair.compound
    values = tuple(_value(pair, point.label, change) for point, change in zip(pair.points, pair.changes, strict=True))
    return MapChangeLayer(compound.analyte_id, compound.name, pair.context.mass_unit.text, values, group)


def _value(pair: Compared, location_id: str, change: PlaceChange) -> MapChange:
    row = pair.rows.get(location_id)
    said = {
        "kind": word("change_kind", change.kind),
        "factor": rounded_text(row.factor) if row and row.factor is not None else "",
        "why": why_text(row) if row else "",
    }
    text = say("roundpictures.view_value", **said)
    sides = list(_sides(pair, row)) if row else []
    lines = tuple(_line(pair.context, one, result, "" if at == location_id else at) for one, result, at in sides)
    marks = tuple(mark for one, result, _ in sides if result for mark in _marks(pair.context, one, result))
    return MapChange(text, change.kind, change.factor_class, change.below_limit, marks, lines)


def _sides(pair: Compared, row: PointChange) -> Iterator[tuple[Context, StoredResult | None, str]]:
    """Yield each round with its result of a point, and the id that it has for the point."""
    yield pair.earlier, row.before, row.earlier_id
    yield pair.context, row.after, row.location_id


def _line(context: Context, one: Context, row: StoredResult | None, called: str) -> str:
    """Write what a round has of a point, with its own id for it where it is another: ``First round: 25 J ng``."""
    value = value_text(row, one.display) if row else ""
    unit = UNIT_TEXT.get(row.unit, "") if row and not row.rejected else ""
    return say("roundpictures.view_line", round=round_name(context, one), called=called, value=value, unit=unit)


def _marks(context: Context, one: Context, row: StoredResult) -> tuple[MapMark, ...]:
    """Return the marks of a result of either round, their reasons led by the round's name."""
    facts = one.evaluation.marks.of(row.sampler_id, row.lab_sample_id, row.analyte_id)
    name = round_name(context, one)
    return tuple(
        mark._replace(reason=say("roundpictures.view_mark", round=name, reason=mark.reason))
        for mark in map_marks(facts)
    )
