"""Data tables to download: values as numbers, non-detects without one, every row with its origin."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

from sitegen.checks.dispositions import is_star
from sitegen.compute.results.reported import printed_text, qualifier
from sitegen.compute.results.store import StoredResult
from sitegen.compute.results.summary import Summary
from sitegen.findings.problems import Finding, Severity
from sitegen.project.schema import MEDIA
from sitegen.project.tables import TABLE
from sitegen.report.data.over import over_rounds
from sitegen.report.data.places import locations_export
from sitegen.report.data.records import record_exports
from sitegen.report.data.signs import value_style
from sitegen.report.field.surveyed import coordinate_fields
from sitegen.report.record.exports import CELL_CHARS, SHEET_ROWS, ExportLink, ExportTable
from sitegen.report.record.pages import Meta
from sitegen.report.record.specs import BOOLEAN, INTEGER, Spec, export
from sitegen.report.results.contouring import contours_export
from sitegen.report.rounds.exports import round_exports
from sitegen.report.write.blanking import partly_silent
from sitegen.report.write.context import Context
from sitegen.report.write.fields import (
    TO_COMPOUNDS,
    compound_fields,
    figure_field,
    location_field,
    number_or_none,
    source_fields,
    unit_field,
)
from sitegen.report.write.words import lexicon, say
from sitegen.units import RESULT_UNITS

_UNITS = tuple(unit.stated for unit in RESULT_UNITS.values())
_TO_LOCATIONS = ExportLink("location_id", "locations", "location_id")


def export_tables(context: Context, meta: Meta) -> tuple[ExportTable, ...]:
    """Return the tables to download, first the one that explains the others."""
    tables = (
        results_export(context),
        locations_export(context),
        compounds_export(context),
        findings_export(context),
        *record_exports(context),
        *contours_export(context),
        *round_exports(context),
    )
    return (columns_export(context, tables, meta), *tables)


class _Line(NamedTuple):
    """A line of the list of all columns: what it is about, and what that is."""

    about: str
    meaning: str
    column: str = ""
    unit: str = ""


_COLUMN_FIELDS: list[Spec[_Line]] = [
    Spec("about", meaning="the report, all files, or a table", value=lambda line: line.about, required=True),
    Spec(
        "column",
        meaning="column of that table; empty where the line is about all of it",
        value=lambda line: line.column,
    ),
    Spec("unit", meaning="unit of the column", value=lambda line: line.unit),
    Spec("meaning", meaning="definition", value=lambda line: line.meaning, required=True),
]


def columns_export(context: Context, tables: Sequence[ExportTable], meta: Meta) -> ExportTable:
    """Return what a reader of the tables must know: report, units, non-detects of results, every column."""
    note = say("export.columns_note" if context.with_results else "export.plan_columns_note")
    lines = [
        *_about_report(context, meta, contours=has_contours(tables)),
        *(line for table in tables for line in _about_table(table)),
    ]
    return export("columns", say("export.columns_title"), note, _COLUMN_FIELDS, lines)


def has_contours(tables: Iterable[ExportTable]) -> bool:
    """Tell whether contour areas are among the tables: lines or areas come from nowhere else."""
    return any(table.shapes for table in tables)


def _about_report(context: Context, meta: Meta, *, contours: bool) -> Iterator[_Line]:
    report, files = say("export.about_report"), say("export.about_files")
    yield _Line(report, say("export.report", meta=meta))
    yield _Line(report, say("export.state", meta=meta))
    for notice in meta.notices:
        yield _Line(report, notice)
    unit, features = context.mass_unit.text, bool(context.survey.features)
    told = ("mass", "nondetects", "marks", "text", "formulas", "places")
    for name in told if context.with_results else ("text", "formulas", "plan_places"):
        yield _Line(files, say(f"export.{name}", unit=unit, most=CELL_CHARS, contours=contours, features=features))


def _about_table(table: ExportTable) -> Iterator[_Line]:
    rows = len(table.rows)
    told = say("export.table", title=table.title, note=table.note, rows=rows, held=rows <= SHEET_ROWS)
    yield _Line(table.name, told)
    for field in table.fields:
        yield _Line(table.name, field.meaning, field.name, field.unit)


def results_export(context: Context) -> ExportTable:
    """Return every result, blanks and re-runs included; of several rounds those of each, with its round."""
    return over_rounds(context, _results_of)


def _results_of(context: Context) -> ExportTable:
    return export(
        "results",
        say("export.results_title"),
        say("export.results_note", unit=context.mass_unit.text),
        _result_fields(context),
        context.results,
        key=("lab_sample_id", "analyte_id"),
        links=(_TO_LOCATIONS, TO_COMPOUNDS),
        apart="unit",
        styles=(value_style(say("takeaway.values_name"), say("takeaway.values_style"), "value"),),
    )


def _result_fields(context: Context) -> list[Spec[StoredResult]]:
    kinds = (*TABLE["samplers"].column("kind").choices, *TABLE["lab_samples"].column("type").choices)
    return [
        location_field("point; empty for a blank", required=False),
        Spec("sampler_id", meaning="serial of the sampler, with leading zeros", value=lambda row: row.sampler_id),
        Spec(
            "role",
            meaning="role of the sampler at its point; empty for a blank that was opened nowhere",
            value=lambda row: row.role,
            choices=tuple(lexicon("labels")["role"]),
        ),
        Spec(
            "stands_for_point",
            type=BOOLEAN,
            meaning="true where summaries and maps use this sampler",
            value=lambda row: row.stands,
            required=True,
        ),
        Spec(
            "kind",
            meaning="sample, field duplicate or blank",
            value=lambda row: row.kind or row.type,
            choices=kinds,
        ),
        Spec("medium", meaning="medium; empty for a blank", value=lambda row: row.medium, choices=MEDIA),
        Spec("lab_sample_id", meaning="laboratory sample", value=lambda row: row.lab_sample_id, required=True),
        Spec("batch_id", meaning="batch", value=lambda row: row.batch_id),
        *compound_fields(context),
        Spec(
            "detected",
            type=BOOLEAN,
            meaning="false for a non-detect and for a rejected result",
            value=lambda row: row.detected,
            required=True,
        ),
        figure_field(
            "value",
            "empty for a non-detect, which has no numerical value",
            lambda row: number_or_none(row.value) if row.detected else None,
        ),
        unit_field("unit of value and limits", _UNITS),
        figure_field("rl", "reporting limit", lambda row: number_or_none(row.rl)),
        figure_field("mdl", "detection limit", lambda row: number_or_none(row.mdl)),
        Spec(
            "shown",
            meaning="as shown in tables: the laboratory's text, its qualifier, the limit of a non-detect",
            value=lambda row: printed_text(row, context.display),
        ),
        Spec("result_text", meaning="as the laboratory wrote it", value=lambda row: row.result_text),
        Spec("qualifier", meaning="the qualifier in force: a reviewer's before the laboratory's", value=qualifier),
        Spec(
            "proposed",
            meaning="qualifiers proposed by rules, separated by a semicolon; for the reviewer to decide",
            value=lambda row: "; ".join(context.proposed.get(row.key, ())),
        ),
        Spec(
            "marks",
            meaning="qualifications, separated by a semicolon",
            value=lambda row: "; ".join(mark.word for mark in context.marks(row)),
        ),
        Spec(
            "reportable",
            type=BOOLEAN,
            meaning="false for a superseded run",
            value=lambda row: row.reportable,
            required=True,
        ),
        *source_fields("result_text", "result"),
        Spec(
            "source_sha256",
            meaning="SHA-256 of that file",
            value=lambda row: context.survey.folder.sha256(row.origin.file),
            required=True,
        ),
        *coordinate_fields(context),
    ]


class _Summaries(NamedTuple):
    """The summary of a compound over a group of points, and the same under a rule that makes non-detects."""

    plain: Summary
    ruled: Summary | None

    @property
    def analyte_id(self) -> str:
        return self.plain.analyte_id

    @property
    def unit(self) -> str:
        return self.plain.unit


def compounds_export(context: Context) -> ExportTable:
    """Return the summaries per compound and group of points; of several rounds those of each, with its round."""
    return over_rounds(context, _compounds_of)


def _compounds_of(context: Context) -> ExportTable:
    ruled = context.evaluation.ruled_summaries
    return export(
        "compounds",
        say("export.compounds_title"),
        say("export.compounds_note", unit=context.mass_unit.text, silent=partly_silent(context)),
        _summary_fields(context),
        [_Summaries(one, ruled.get(key)) for key, one in context.evaluation.summaries.items()],
        key=("analyte_id", "group"),
    )


_GROUPS = "summarised: soil, paved, unpaved points, surface_unrecorded; indoor_air, outdoor_air with duplicates"
_UNBLANKED = (
    "detections that no blank affects, whatever the rule; empty where no blank has results and its bag, batch or "
    "day on record"
)
_AMONG = "Kaplan-Meier; empty where it falls among non-detects"
_RULED = "the same, counting as non-detects what a blank rule makes non-detects"
_MEDIAN, _P90 = 0, 2


def _summary_fields(context: Context) -> list[Spec[_Summaries]]:
    speak = context.evaluation.blanks_speak
    return [
        *compound_fields(context, "name"),
        Spec("cas", meaning="CAS number", value=lambda one: context.compounds[one.analyte_id].cas),
        Spec("group", meaning=_GROUPS, value=lambda one: one.plain.group, required=True),
        Spec("analysed", type=INTEGER, meaning="results", value=lambda one: one.plain.analysed, required=True),
        Spec("detected", type=INTEGER, meaning="detections", value=lambda one: one.plain.detected, required=True),
        Spec(
            "not_blank_affected",
            type=INTEGER,
            meaning=_UNBLANKED,
            value=lambda one: one.plain.unblanked if speak else None,
        ),
        Spec(
            "detected_under_rule",
            type=INTEGER,
            meaning="detections left by a blank rule that makes non-detects; else empty",
            value=lambda one: one.ruled.detected if one.ruled else None,
        ),
        figure_field("lowest", "lowest detection", lambda one: one.plain.lowest),
        figure_field("highest", "highest detection", lambda one: one.plain.highest),
        Spec("highest_at", meaning="point of the highest detection", value=lambda one: one.plain.highest_at),
        Spec(
            "lowest_qualifier",
            meaning="qualifier of the lowest detection",
            value=lambda one: one.plain.lowest_qualifier,
        ),
        Spec(
            "highest_qualifier",
            meaning="qualifier of the highest detection",
            value=lambda one: one.plain.highest_qualifier,
        ),
        figure_field("median", _AMONG, lambda one: one.plain.percentiles[_MEDIAN].value),
        figure_field("p90", _AMONG, lambda one: one.plain.percentiles[_P90].value),
        figure_field(
            "median_under_rule", _RULED, lambda one: one.ruled.percentiles[_MEDIAN].value if one.ruled else None
        ),
        figure_field("p90_under_rule", _RULED, lambda one: one.ruled.percentiles[_P90].value if one.ruled else None),
        figure_field("rl_low", "lowest reporting limit", lambda one: number_or_none(one.plain.rl_low)),
        figure_field("rl_high", "highest reporting limit", lambda one: number_or_none(one.plain.rl_high)),
        unit_field("unit", _UNITS),
    ]


def findings_export(context: Context) -> ExportTable:
    """Return every finding; what to do about it is told to the team alone."""
    return export(
        "findings",
        say("export.findings_title"),
        say("export.findings_note"),
        _finding_fields(context),
        context.findings,
        key=("key",),
        links=(ExportLink("file", "files", "file"),),
    )


def _decision(context: Context, finding: Finding) -> str:
    """Return what was decided about a finding, and by which star where it was not decided alone."""
    row = context.dispositions.get(finding.key)
    if row is None:
        return ""
    if not is_star(row, finding):
        return row.disposition
    return say("review.decided_by", disposition=row.disposition, key=row.finding_key)


def _finding_fields(context: Context) -> list[Spec[Finding]]:
    advice: list[Spec[Finding]] = [Spec("do", meaning="what to do", value=lambda finding: finding.do)]
    return [
        Spec("key", meaning="stable key of the finding", value=lambda finding: finding.key, required=True),
        Spec(
            "severity",
            meaning="stop, hold, flag or note",
            value=lambda finding: finding.severity.value,
            required=True,
            choices=tuple(one.value for one in Severity),
        ),
        Spec("code", meaning="check", value=lambda finding: finding.code, required=True),
        Spec("subject", meaning="subject", value=lambda finding: finding.about),
        *(
            [Spec("round", meaning="round it refers to; empty for all rounds", value=lambda finding: finding.round)]
            if context.whole
            else ()
        ),
        Spec("file", meaning="file", value=lambda finding: finding.where.file),
        Spec("row", type=INTEGER, meaning="row", value=lambda finding: finding.where.row),
        Spec("column", meaning="column", value=lambda finding: finding.where.column or ""),
        Spec("found", meaning="what was found", value=lambda finding: finding.found),
        Spec("expected", meaning="what was expected", value=lambda finding: finding.expected),
        *(advice if context.for_team else ()),
        Spec(
            "disposition",
            meaning="what was decided",
            value=lambda finding: _decision(context, finding),
        ),
    ]
