"""More tables to download: quality control, blanks, duplicates, departures, custody, limits."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from functools import partial
from operator import itemgetter
from typing import Any, NamedTuple, TypeVar

from sitegen.compute.custody.events import Event
from sitegen.compute.limits import LimitRecord
from sitegen.compute.quality.blanks import BlankHit
from sitegen.compute.quality.duplicates import Pair, PairResult
from sitegen.compute.results.reported import printed_text
from sitegen.compute.results.store import StoredResult
from sitegen.project.schema import Origin
from sitegen.project.tables import LabControl
from sitegen.report.data.air import air_export
from sitegen.report.data.over import over_rounds
from sitegen.report.record.exports import ExportTable
from sitegen.report.record.specs import INTEGER, NUMBER, Spec, export
from sitegen.report.write.context import Context
from sitegen.report.write.derived import derived_events, derived_text
from sitegen.report.write.fields import (
    TO_COMPOUNDS,
    compound_fields,
    figure_field,
    location_field,
    number_or_none,
    source_fields,
    unit_field,
)
from sitegen.report.write.filled import FilledCell, filled_cells
from sitegen.report.write.words import say
from sitegen.voice import worded

T = TypeVar("T")


def record_exports(context: Context) -> tuple[ExportTable, ...]:
    """Return these tables as far as they hold rows, of each round that is on record."""
    told = (over_rounds(context, one) for one in _makers(filed=bool(context.earlier)))
    return tuple(table for table in told if table.rows)


def _makers(*, filed: bool) -> tuple[Callable[[Context], ExportTable], ...]:
    """Return what makes each table of one round; ``filed`` tables of texts have the file of each row."""
    return (
        air_export,
        control_export,
        duplicates_export,
        blanks_export,
        partial(departures_export, filed=filed),
        partial(custody_export, filed=filed),
        limits_export,
        filled_export,
        derived_events_export,
    )


def _table(name: str, specs: Sequence[Spec[T]], items: Iterable[T], *key: str) -> ExportTable:
    links = (TO_COMPOUNDS,) if any(spec.key == TO_COMPOUNDS.field for spec in specs) else ()
    return export(name, say(f"export.{name}_title"), say(f"export.{name}_note"), specs, items, key=key, links=links)


def control_export(context: Context) -> ExportTable:
    """Return recoveries of surrogates and controls, and calibration checks."""
    return _table("quality_control", _control_fields(context), context.survey.rows(LabControl))


def _control_fields(context: Context) -> list[Spec[LabControl]]:
    sides = {one.origin: one.side for one in context.evaluation.controls}
    return [
        Spec("lab_sample_id", meaning="laboratory sample", value=lambda row: row.lab_sample_id, required=True),
        Spec("qc_type", meaning="kind of control", value=lambda row: row.qc_type, required=True),
        Spec("name", meaning="surrogate or compound", value=lambda row: row.name),
        figure_field("value", "recovery or value found", lambda row: number_or_none(row.value)),
        Spec("unit", meaning="unit of value and limits", value=lambda row: row.unit),
        figure_field("lower", "lower limit as stated by the laboratory", lambda row: number_or_none(row.lower)),
        figure_field("upper", "upper limit as stated by the laboratory", lambda row: number_or_none(row.upper)),
        Spec("limit_source", meaning="source of the limits", value=lambda row: row.limit_source),
        Spec(
            "verdict",
            meaning="within its limits, low, very low, high, or not judged because no limit is on record",
            value=lambda row: sides.get(row.origin, ""),
        ),
        *source_fields("value"),
    ]


class _InPair(NamedTuple):
    """One compound of a duplicate pair."""

    pair: Pair
    result: PairResult

    @property
    def location_id(self) -> str:
        return self.pair.location_id

    @property
    def analyte_id(self) -> str:
        return self.result.analyte_id

    @property
    def unit(self) -> str:
        return self.result.primary.unit


def duplicates_export(context: Context) -> ExportTable:
    """Return the outcome of each compound of each duplicate pair."""
    items = (_InPair(pair, result) for pair in context.evaluation.pairs for result in pair.results)
    return _table("duplicates", _duplicate_fields(context), items, "duplicate_id", "analyte_id")


def _duplicate_fields(context: Context) -> list[Spec[_InPair]]:
    return [
        location_field(),
        Spec(
            "primary_id",
            meaning="serial of the primary sampler",
            value=lambda one: one.pair.primary_id,
            required=True,
        ),
        Spec(
            "duplicate_id",
            meaning="serial of its duplicate",
            value=lambda one: one.pair.duplicate_id,
            required=True,
        ),
        *compound_fields(context),
        Spec(
            "primary_shown",
            meaning="the primary's result as the report shows it, with its qualifier",
            value=lambda one: printed_text(one.result.primary, context.display),
        ),
        Spec(
            "duplicate_shown",
            meaning="the duplicate's result as the report shows it, with its qualifier",
            value=lambda one: printed_text(one.result.duplicate, context.display),
        ),
        unit_field("unit of both results"),
        Spec(
            "measure",
            meaning="how compared, whether a limit is missing; empty for two non-detects",
            value=lambda one: one.result.measure,
        ),
        Spec(
            "figure",
            type=NUMBER,
            meaning="an RPD in %; of the other measures in the unit of the results",
            value=lambda one: None if one.result.figure is None else float(one.result.figure),
        ),
        Spec(
            "verdict",
            meaning="agrees, differs, or not calculable",
            value=lambda one: one.result.verdict,
            required=True,
        ),
    ]


class _InBlank(NamedTuple):
    """A detection in a blank: what it touches, and its own result."""

    hit: BlankHit
    row: StoredResult

    @property
    def analyte_id(self) -> str:
        return self.hit.analyte_id

    @property
    def unit(self) -> str:
        return self.row.unit

    @property
    def origin(self) -> Origin:
        return self.hit.origin


def blanks_export(context: Context) -> ExportTable:
    """Return the detections in blanks with the number of results that each touches."""
    hits = context.evaluation.blank_hits
    items = (_InBlank(hit, context.by_key[hit.lab_sample_id, hit.analyte_id]) for hit in hits)
    return _table("blanks", _blank_fields(context), items)


def _blank_fields(context: Context) -> list[Spec[_InBlank]]:
    return [
        Spec("kind", meaning="trip, method or field blank", value=lambda blank: blank.hit.kind, required=True),
        Spec(
            "lab_sample_id",
            meaning="laboratory sample of the blank",
            value=lambda blank: blank.hit.lab_sample_id,
            required=True,
        ),
        Spec(
            "reach",
            meaning="whether it applies to a bag, a batch or a day",
            value=lambda blank: blank.hit.reach,
            required=True,
        ),
        Spec(
            "speaks_for",
            meaning="bag, batch or day that the blank applies to; empty where none is on record",
            value=lambda blank: blank.hit.group,
        ),
        *compound_fields(context),
        figure_field("value", "found in the blank; never subtracted", lambda blank: blank.hit.value),
        figure_field("reporting_limit", "reporting limit", lambda blank: number_or_none(blank.hit.rl)),
        unit_field(),
        Spec(
            "shown",
            meaning="as the report shows it, with its qualifier",
            value=lambda blank: printed_text(blank.row, context.display),
        ),
        Spec(
            "samples",
            type=INTEGER,
            meaning="samples that the blank applies to; empty where speaks_for is",
            value=lambda blank: blank.hit.members or None,
        ),
        Spec(
            "touched",
            type=INTEGER,
            meaning="detections that the blank affects; empty where speaks_for is",
            value=lambda blank: len(blank.hit.touched) if blank.hit.members else None,
        ),
        *source_fields("value"),
    ]


def departures_export(context: Context, *, filed: bool = False) -> ExportTable:
    """Return the departures from the plan, as recorded."""
    return _as_recorded(context, "departures", "deviations", filed=filed)


def custody_export(context: Context, *, filed: bool = False) -> ExportTable:
    """Return the events of custody, as recorded."""
    return _as_recorded(context, "custody_events", "custody", filed=filed)


def _as_recorded(context: Context, name: str, table: str, *, filed: bool) -> ExportTable:
    """Return the columns of a table of texts, with the row of each line, and its file where several are told."""
    found = context.survey.tables[table]
    specs: list[Spec[Mapping[Hashable, Any]]] = [
        *(Spec(column.name, meaning=column.meaning, value=itemgetter(column.name)) for column in found.spec.columns),
        *([Spec("source_file", meaning="input file", value=itemgetter("_file"), required=True)] if filed else ()),
        Spec(
            "source_row",
            type=INTEGER,
            meaning="row in the input file; the header is row 1",
            value=itemgetter("_row"),
            required=True,
        ),
    ]
    return _table(name, specs, found.frame.to_dict("records"), found.spec.column_names[0])


def limits_export(context: Context) -> ExportTable:
    """Return the limits in force with their sources."""
    return _table("limits", _LIMIT_FIELDS, context.evaluation.limits.values(), "limit")


def filled_export(context: Context) -> ExportTable:
    """Return every cell that was filled by a default or by what another row says."""
    return _table("filled_cells", _FILLED_FIELDS, filled_cells(context.survey))


_FILLED_FIELDS: list[Spec[FilledCell]] = [
    Spec("table", meaning="table of the folder", value=lambda cell: cell.table, required=True),
    Spec(
        "id", meaning="id of the row: a sampler, point, bag, shipment or laboratory sample", value=lambda cell: cell.key
    ),
    Spec("column", meaning="column that was filled", value=lambda cell: cell.column, required=True),
    Spec("value", meaning="value supplied", value=lambda cell: cell.one.text, required=True),
    Spec(
        "rule",
        meaning="the default or the record that supplies the value",
        value=lambda cell: worded(cell.one.rule),
        required=True,
    ),
    Spec("source_file", meaning="file of the row", value=lambda cell: cell.origin.file, required=True),
    Spec(
        "source_row",
        type=INTEGER,
        meaning="row in that file; the header is row 1",
        value=lambda cell: cell.origin.row,
        required=True,
    ),
]


def derived_events_export(context: Context) -> ExportTable:
    """Return the custody events that rows of other tables state, where the project asks for them to be told."""
    return _table("derived_events", _derived_fields(context), derived_events(context))


def _derived_fields(context: Context) -> list[Spec[Event]]:
    return [
        Spec("subject_kind", meaning="sampler, bag or shipment", value=lambda event: event.subject_kind, required=True),
        Spec("subject_id", meaning="its id", value=lambda event: event.subject_id, required=True),
        Spec("event", meaning="what happened", value=lambda event: event.kind, required=True),
        Spec("at", meaning="when, local time", value=lambda event: context.when(event.utc), required=True),
        Spec("by_role", meaning="role code of who acted; empty where none is on record", value=lambda event: event.by),
        Spec("rule", meaning="the record that it is derived from", value=derived_text, required=True),
        Spec("source_file", meaning="file of that row", value=lambda event: event.origin.file, required=True),
        Spec(
            "source_row",
            type=INTEGER,
            meaning="row in that file; the header is row 1",
            value=lambda event: event.origin.row,
            required=True,
        ),
    ]


_LIMIT_FIELDS: list[Spec[LimitRecord]] = [
    Spec("limit", meaning="name of the limit", value=lambda limit: limit.name, required=True),
    Spec("meaning", meaning="what it limits", value=lambda limit: worded(limit.meaning), required=True),
    figure_field("value", "its value", lambda limit: float(limit.value), required=True),
    Spec("unit", meaning="its unit", value=lambda limit: limit.unit),
    Spec(
        "set_by",
        meaning="the project or default",
        value=lambda limit: worded("the project") if limit.from_project else worded("default"),
        required=True,
    ),
    Spec("kind", meaning="regulation, method, plan or practice", value=lambda limit: limit.kind, required=True),
    Spec("source", meaning="its source", value=lambda limit: limit.source, required=True),
]
