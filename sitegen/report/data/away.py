"""What GIS and office take away beside the tables: layers of results by point, the record behind them, two notes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import isnan
from typing import Any, NamedTuple

from sitegen.compute.marks import MarkFact
from sitegen.project.schema import Column, Kind
from sitegen.project.tables import TABLE
from sitegen.report.data.notes import gis_note, office_note
from sitegen.report.data.over import over_rounds
from sitegen.report.data.wide import wide_tables
from sitegen.report.record.exports import ExportTable
from sitegen.report.record.pages import Meta, Volume
from sitegen.report.record.specs import INTEGER, NUMBER, TEXT, Spec, Value, export
from sitegen.report.record.takeaway import TakeAway
from sitegen.report.write.context import Context
from sitegen.report.write.fields import location_field, source_row_field
from sitegen.report.write.values import mark_word
from sitegen.report.write.words import say

_NUMBERS = {Kind.NUMBER: NUMBER, Kind.INTEGER: INTEGER}
_LEFT_OUT = ("comment", "scan_file", "scan_page")
"""Columns of deployments.csv that lead out of the map data: words of the field, and a scan of the folder."""


def take_away(context: Context, meta: Meta, exports: Sequence[ExportTable], volumes: Sequence[Volume] = ()) -> TakeAway:
    """Return what GIS and office take away beside the ``exports``; tables without a row are left out."""
    wide = wide_tables(context) if context.with_results else ()
    records = (deployments(context), custody_marks(context), rates(context), levels(context))
    tables = (*wide, *(one for one in records if one.rows))
    return TakeAway(tables, gis_note(context, meta, exports, tables), office_note(context, meta, exports, volumes))


def deployments(context: Context) -> ExportTable:
    """Return the samplers placed and the field blanks opened, as recorded, remarks aside."""
    return over_rounds(context, lambda one: _as_recorded(one, "deployments"))


def rates(context: Context) -> ExportTable:
    """Return the uptake rates on file with their sources."""
    return _as_recorded(context, "uptake_rates")


def levels(context: Context) -> ExportTable:
    """Return the screening levels on file with their sources."""
    return _as_recorded(context, "screening_levels")


def _as_recorded(context: Context, name: str) -> ExportTable:
    """Return the rows of a table of the folder with its columns as the format has them."""
    spec = TABLE[name]
    fields = [_field(column) for column in spec.columns if column.name not in _LEFT_OUT]
    rows = context.survey.tables[name].rows
    return export(name, say(f"takeaway.{name}_title"), say(f"takeaway.{name}_note"), [*fields, source_row_field()],
                  rows, key=spec.key)  # fmt: skip


def _field(column: Column) -> Spec[Any]:
    def value(row: object) -> Value:
        cell: Value = getattr(row, column.name)
        return None if isinstance(cell, float) and isnan(cell) else cell

    kind = _NUMBERS.get(column.kind, TEXT)
    if kind == INTEGER:
        return Spec(column.name, unit=column.unit, type=INTEGER, meaning=column.meaning,
                    value=lambda row: None if (cell := value(row)) is None else int(cell))  # fmt: skip
    return Spec(column.name, unit=column.unit, type=kind, meaning=column.meaning, value=value)


class _OnSampler(NamedTuple):
    """A mark of custody and the sampler that it lies on."""

    sampler_id: str
    location_id: str
    mark: MarkFact


def custody_marks(context: Context) -> ExportTable:
    """Return the marks that custody and seals lay on samplers, with the reason of each."""
    return over_rounds(context, _custody_marks)


def _custody_marks(context: Context) -> ExportTable:
    fields: list[Spec[_OnSampler]] = [
        Spec("sampler_id", meaning="serial of the sampler, with leading zeros", value=lambda one: one.sampler_id,
             required=True),
        location_field("point; empty for a blank that was opened nowhere", required=False),
        Spec("mark", meaning="qualification, in short", value=lambda one: mark_word(one.mark).word, required=True),
        Spec("reason", meaning="why", value=lambda one: mark_word(one.mark).reason, required=True),
        Spec("finding", meaning="key of the finding behind it", value=lambda one: one.mark.key, required=True),
    ]  # fmt: skip
    return export("custody_marks", say("takeaway.custody_marks_title"), say("takeaway.custody_marks_note"), fields,
                  _on_samplers(context))  # fmt: skip


def _on_samplers(context: Context) -> Iterator[_OnSampler]:
    for sampler, marks in context.evaluation.marks.by_sampler.items():
        placed = context.placed.get(sampler)
        for mark in marks:
            if mark.scope == "chain":
                yield _OnSampler(sampler, placed.location_id if placed else "", mark)
