"""Data tables to download: values as numbers, non-detects without one, every row with its origin."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from math import isnan
from typing import Any

from sitegen.compute.results.reported import printed_text, qualifier
from sitegen.compute.results.store import StoredResult
from sitegen.findings.problems import Severity
from sitegen.project.schema import AIR_MEDIA, SOIL_MEDIA
from sitegen.project.tables import TABLE, Location
from sitegen.report.data.records import record_exports
from sitegen.report.field.surveyed import SURVEYED_FIELDS, surveyed_values
from sitegen.report.record.exports import CELL_CHARS, SHEET_ROWS, ExportField, ExportLink, ExportTable
from sitegen.report.record.pages import Meta
from sitegen.report.results.contouring import contours_export
from sitegen.report.write.blanking import partly_silent
from sitegen.report.write.context import Context
from sitegen.report.write.values import origin_of
from sitegen.report.write.words import lexicon, say
from sitegen.units import UNIT_TEXT

_TEXT, _NUMBER, _INTEGER, _BOOLEAN = "string", "number", "integer", "boolean"
_MEDIA = (*SOIL_MEDIA, *AIR_MEDIA)
_TO_LOCATIONS = ExportLink("location_id", "locations", "location_id")
_TO_COMPOUNDS = ExportLink("analyte_id", "compounds", "analyte_id")


def export_tables(context: Context, meta: Meta) -> tuple[ExportTable, ...]:
    """Return the tables to download, first the one that explains the others."""
    tables = (
        results_export(context),
        locations_export(context),
        compounds_export(context),
        findings_export(context),
        *record_exports(context),
        *contours_export(context),
    )
    return (columns_export(context, tables, meta), *tables)


_COLUMN_FIELDS = (
    ExportField("about", _TEXT, "", "the report, all files, or a table", required=True),
    ExportField("column", _TEXT, "", "column of that table; empty where the line is about all of it"),
    ExportField("unit", _TEXT, "", "unit of the column"),
    ExportField("meaning", _TEXT, "", "what it is", required=True),
)


def columns_export(context: Context, tables: Sequence[ExportTable], meta: Meta) -> ExportTable:
    """Return what a reader of the tables must know: report, units, non-detects, every column."""
    title, note = say("export.columns_title"), say("export.columns_note")
    rows = [
        *((about, "", "", text) for about, text in _about_report(context, meta, contours=has_contours(tables))),
        *(row for table in tables for row in _about_table(table)),
    ]
    return ExportTable("columns", title, note, _COLUMN_FIELDS, tuple(rows))


def has_contours(tables: Iterable[ExportTable]) -> bool:
    """Tell whether contour areas are among the tables: lines or areas come from nowhere else."""
    return any(table.shapes for table in tables)


def _about_report(context: Context, meta: Meta, *, contours: bool) -> Iterator[tuple[str, str]]:
    report, files = say("export.about_report"), say("export.about_files")
    yield report, say("export.report", meta=meta)
    yield report, say("export.state", meta=meta)
    for notice in meta.notices:
        yield report, notice
    unit, features = context.mass_unit.text, bool(context.survey.features)
    for name in ("mass", "nondetects", "marks", "text", "formulas", "places"):
        yield files, say(f"export.{name}", unit=unit, most=CELL_CHARS, contours=contours, features=features)


def _about_table(table: ExportTable) -> Iterator[tuple[str, str, str, str]]:
    rows = len(table.rows)
    told = say("export.table", title=table.title, note=table.note, rows=rows, held=rows <= SHEET_ROWS)
    yield table.name, "", "", told
    for field in table.fields:
        yield table.name, field.name, field.unit, field.meaning


_RESULT_FIELDS = (
    ExportField("location_id", _TEXT, "", "point; empty for a blank"),
    ExportField("sampler_id", _TEXT, "", "serial of the sampler; leading zeros count"),
    ExportField(
        "role", _TEXT, "", "what the sampler is at its point; empty for a blank that was opened nowhere",
        choices=tuple(lexicon("labels")["role"]),
    ),
    ExportField("stands_for_point", _BOOLEAN, "", "true where summaries and maps take this sampler", required=True),
    ExportField(
        "kind", _TEXT, "", "sample, field duplicate or blank",
        choices=(*TABLE["samplers"].column("kind").choices, *TABLE["lab_samples"].column("type").choices),
    ),
    ExportField("medium", _TEXT, "", "medium; empty for a blank", choices=_MEDIA),
    ExportField("lab_sample_id", _TEXT, "", "laboratory sample", required=True),
    ExportField("batch_id", _TEXT, "", "batch"),
    ExportField("analyte_id", _TEXT, "", "compound", required=True),
    ExportField("compound", _TEXT, "", "name of the compound"),
    ExportField("detected", _BOOLEAN, "", "false for a non-detect and for a rejected result", required=True),
    ExportField("value", _NUMBER, "as in unit", "empty for a non-detect: a non-detect is not a number"),
    ExportField("unit", _TEXT, "", "unit of value and limits", required=True, choices=tuple(UNIT_TEXT.values())),
    ExportField("rl", _NUMBER, "as in unit", "reporting limit"),
    ExportField("mdl", _NUMBER, "as in unit", "detection limit"),
    ExportField("shown", _TEXT, "", "as tables show it: the laboratory's text, its qualifier, a non-detect's limit"),
    ExportField("result_text", _TEXT, "", "as the laboratory wrote it"),
    ExportField("qualifier", _TEXT, "", "the qualifier in force: a person's before the laboratory's"),
    ExportField("proposed", _TEXT, "", "qualifiers that rules propose, separated by a semicolon; they decide nothing"),
    ExportField("marks", _TEXT, "", "marks, separated by a semicolon"),
    ExportField("reportable", _BOOLEAN, "", "false for a run replaced by another", required=True),
    ExportField("source_file", _TEXT, "", "file that the row came from", required=True),
    ExportField("source_row", _INTEGER, "", "row in that file; the header is row 1", required=True),
    ExportField("source_column", _TEXT, "", "column of the result in that file", required=True),
    ExportField("source_sha256", _TEXT, "", "SHA-256 of that file", required=True),
)  # fmt: skip


def results_export(context: Context) -> ExportTable:
    """Return every result, blanks and re-runs included."""
    rows = tuple(_result_row(context, row) for row in context.results)
    return ExportTable(
        "results",
        say("export.results_title"),
        say("export.results_note", unit=context.mass_unit.text),
        _RESULT_FIELDS,
        rows,
        key=("lab_sample_id", "analyte_id"),
        links=(_TO_LOCATIONS, _TO_COMPOUNDS),
        apart="unit",
    )


def _result_row(context: Context, row: StoredResult) -> tuple[Any, ...]:
    return (
        row.location_id,
        row.sampler_id,
        row.role,
        row.stands,
        row.kind or row.type,
        row.medium,
        row.lab_sample_id,
        row.batch_id,
        row.analyte_id,
        context.name(row.analyte_id),
        row.detected,
        _known(row.value) if row.detected else None,
        UNIT_TEXT.get(row.unit, row.unit),
        _known(row.rl),
        _known(row.mdl),
        printed_text(row, context.display),
        row.result_text,
        qualifier(row),
        "; ".join(context.proposed.get(row.key, ())),
        "; ".join(mark.word for mark in context.marks(row)),
        row.reportable,
        *origin_of(row),
        context.survey.folder.sha256(row.origin.file),
    )


def _known(value: float) -> float | None:
    return None if isnan(value) else float(value)


_LOCATION_FIELDS = (
    ExportField("location_id", _TEXT, "", "point", required=True),
    ExportField("medium", _TEXT, "", "medium", choices=_MEDIA),
    ExportField("surface", _TEXT, "", "surface", choices=TABLE["locations"].column("surface").choices),
    ExportField("design", _TEXT, "", "why it stands in the plan", choices=TABLE["locations"].column("design").choices),
    ExportField(
        "state", _TEXT, "", "what became of the point", required=True, choices=tuple(lexicon("labels")["state"])
    ),
    ExportField("x", _NUMBER, "m", "easting on the map grid; empty where no position is on record"),
    ExportField("y", _NUMBER, "m", "northing on the map grid; empty where no position is on record"),
    ExportField("crs", _TEXT, "", "coordinate reference system of x and y"),
    ExportField("longitude", _NUMBER, "degrees", "WGS 84; empty where no position is on record"),
    ExportField("latitude", _NUMBER, "degrees", "WGS 84; empty where no position is on record"),
    ExportField("sampler_id", _TEXT, "", "the sampler that stands for the point"),
    ExportField("exposure_min", _INTEGER, "min", "exposure in UTC minutes"),
    ExportField("depth_m", _NUMBER, "m", "depth of the sampler"),
    ExportField("compounds_detected", _INTEGER, "", "number of compounds detected", required=True),
    ExportField("compounds_analysed", _INTEGER, "", "number of compounds analysed", required=True),
    *SURVEYED_FIELDS,
)


def locations_export(context: Context) -> ExportTable:
    """Return every point, its position blank where none is on record."""
    return ExportTable(
        "locations",
        say("export.locations_title"),
        say("export.locations_note", unplaced=context.unplaced),
        _LOCATION_FIELDS,
        tuple(_location_row(context, row) for row in context.locations),
        "longitude",
        "latitude",
        x="x",
        y="y",
        crs=context.crs,
        key=("location_id",),
    )


def _location_row(context: Context, row: Location) -> tuple[Any, ...]:
    point = context.points.get(row.location_id)
    placement = context.primary_at(row.location_id)
    results = context.by_location.get(row.location_id, [])
    return (
        row.location_id,
        row.medium,
        row.surface,
        row.design,
        context.state_of(row),
        *((round(point.x, 3), round(point.y, 3), context.crs, point.lon, point.lat) if point else _NO_POSITION),
        placement.sampler_id if placement else "",
        placement.exposure_min if placement else None,
        round(placement.depth_m, 3) if placement and placement.depth_m is not None else None,
        sum(result.detected for result in results),
        len(results),
        *surveyed_values(context, point, row),
    )


_NO_POSITION = (None, None, "", None, None)


_COMPOUND_FIELDS = (
    ExportField("analyte_id", _TEXT, "", "compound", required=True),
    ExportField("compound", _TEXT, "", "name"),
    ExportField("cas", _TEXT, "", "CAS number"),
    ExportField(
        "group",
        _TEXT,
        "",
        "summarised: soil, paved, unpaved points, surface_unrecorded; indoor_air, outdoor_air with duplicates",
        required=True,
    ),
    ExportField("analysed", _INTEGER, "", "results", required=True),
    ExportField("detected", _INTEGER, "", "detections", required=True),
    ExportField(
        "not_blank_affected",
        _INTEGER,
        "",
        "detections that no blank affects, whatever the rule; empty where no blank has results and its bag, batch or "
        "day on record",
    ),
    ExportField(
        "detected_under_rule", _INTEGER, "", "detections left by a blank rule that makes non-detects; else empty"
    ),
    ExportField("lowest", _NUMBER, "as in unit", "lowest detection"),
    ExportField("highest", _NUMBER, "as in unit", "highest detection"),
    ExportField("highest_at", _TEXT, "", "point of the highest detection"),
    ExportField("lowest_qualifier", _TEXT, "", "qualifier of the lowest detection"),
    ExportField("highest_qualifier", _TEXT, "", "qualifier of the highest detection"),
    ExportField("median", _NUMBER, "as in unit", "Kaplan-Meier; empty where it falls among non-detects"),
    ExportField("p90", _NUMBER, "as in unit", "Kaplan-Meier; empty where it falls among non-detects"),
    ExportField(
        "median_under_rule", _NUMBER, "as in unit", "the same with what a blank rule makes non-detects as such"
    ),
    ExportField("p90_under_rule", _NUMBER, "as in unit", "the same with what a blank rule makes non-detects as such"),
    ExportField("rl_low", _NUMBER, "as in unit", "lowest reporting limit"),
    ExportField("rl_high", _NUMBER, "as in unit", "highest reporting limit"),
    ExportField("unit", _TEXT, "", "unit", required=True, choices=tuple(UNIT_TEXT.values())),
)


def compounds_export(context: Context) -> ExportTable:
    """Return the summaries per compound and group of points."""
    rows = tuple(
        (
            s.analyte_id,
            context.name(s.analyte_id),
            context.compounds[s.analyte_id].cas,
            s.group,
            s.analysed,
            s.detected,
            s.unblanked if context.evaluation.blanks_speak else None,
            ruled.detected if ruled else None,
            s.lowest,
            s.highest,
            s.highest_at,
            s.lowest_qualifier,
            s.highest_qualifier,
            s.percentiles[0].value,
            s.percentiles[2].value,
            ruled.percentiles[0].value if ruled else None,
            ruled.percentiles[2].value if ruled else None,
            _known(s.rl_low),
            _known(s.rl_high),
            UNIT_TEXT.get(s.unit, s.unit),
        )
        for key, s in context.evaluation.summaries.items()
        for ruled in (context.evaluation.ruled_summaries.get(key),)
    )
    return ExportTable(
        "compounds",
        say("export.compounds_title"),
        say("export.compounds_note", unit=context.mass_unit.text, silent=partly_silent(context)),
        _COMPOUND_FIELDS,
        rows,
        key=("analyte_id", "group"),
    )


_FINDING_FIELDS = (
    ExportField("key", _TEXT, "", "stable key of the finding", required=True),
    ExportField(
        "severity", _TEXT, "", "stop, hold, flag or note", required=True, choices=tuple(one.value for one in Severity)
    ),
    ExportField("code", _TEXT, "", "check", required=True),
    ExportField("subject", _TEXT, "", "what it is about"),
    ExportField("file", _TEXT, "", "file"),
    ExportField("row", _INTEGER, "", "row"),
    ExportField("column", _TEXT, "", "column"),
    ExportField("found", _TEXT, "", "what was found"),
    ExportField("expected", _TEXT, "", "what was expected"),
    ExportField("disposition", _TEXT, "", "what was decided"),
)
_ADVICE_FIELD = ExportField("do", _TEXT, "", "what to do")


def findings_export(context: Context) -> ExportTable:
    """Return every finding; what to do about it is told to the team alone."""
    team, decided = context.for_team, context.dispositions
    rows = tuple(
        (
            f.key, f.severity.value, f.code, f.subject, f.where.file, f.where.row, f.where.column or "",
            f.found, f.expected, *((f.do,) if team else ()), decided[f.key].disposition if f.key in decided else "",
        )
        for f in context.findings
    )  # fmt: skip
    return ExportTable(
        "findings",
        say("export.findings_title"),
        say("export.findings_note"),
        (*_FINDING_FIELDS[:-1], *((_ADVICE_FIELD,) if team else ()), _FINDING_FIELDS[-1]),
        rows,
        key=("key",),
        links=(ExportLink("file", "files", "file"),),
    )
