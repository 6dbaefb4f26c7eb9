"""Data tables to download: values as numbers, non-detects without one, every row with its origin."""

from __future__ import annotations

from math import isnan
from typing import Any

from sitegen.project.survey import records
from sitegen.report.context import Context
from sitegen.report.contouring import contours_export
from sitegen.report.location import state_of
from sitegen.report.records import ExportField, ExportTable
from sitegen.report.values import UNIT_TEXT, qualifier, value_text
from sitegen.report.words import say

_TEXT, _NUMBER, _INTEGER, _BOOLEAN = "string", "number", "integer", "boolean"


def export_tables(context: Context) -> tuple[ExportTable, ...]:
    """Return the tables to download."""
    return (
        results_export(context),
        locations_export(context),
        compounds_export(context),
        findings_export(context),
        *contours_export(context),
    )


_RESULT_FIELDS = (
    ExportField("location_id", _TEXT, "", "point"),
    ExportField("sampler_id", _TEXT, "", "serial of the sampler; leading zeros count"),
    ExportField("kind", _TEXT, "", "sample, field duplicate or blank"),
    ExportField("medium", _TEXT, "", "medium"),
    ExportField("lab_sample_id", _TEXT, "", "laboratory sample"),
    ExportField("batch_id", _TEXT, "", "batch"),
    ExportField("analyte_id", _TEXT, "", "compound"),
    ExportField("compound", _TEXT, "", "name of the compound"),
    ExportField("detected", _BOOLEAN, "", "false for a non-detect"),
    ExportField("value", _NUMBER, "as in unit", "empty for a non-detect: a non-detect is not a number"),
    ExportField("unit", _TEXT, "", "unit of value and limits"),
    ExportField("rl", _NUMBER, "as in unit", "reporting limit"),
    ExportField("mdl", _NUMBER, "as in unit", "detection limit"),
    ExportField("shown", _TEXT, "", "as the report shows it"),
    ExportField("result_text", _TEXT, "", "as the laboratory wrote it"),
    ExportField("qualifier", _TEXT, "", "the qualifier in force: a person's before the laboratory's"),
    ExportField("marks", _TEXT, "", "marks, separated by a semicolon"),
    ExportField("reportable", _BOOLEAN, "", "false for a run replaced by another"),
    ExportField("source_file", _TEXT, "", "file that the row came from"),
    ExportField("source_row", _INTEGER, "", "row in that file; the header is row 1"),
    ExportField("source_sha256", _TEXT, "", "SHA-256 of that file"),
)


def results_export(context: Context) -> ExportTable:
    """Return every result, blanks and re-runs included."""
    rows = tuple(_result_row(context, row) for row in records(context.evaluation.store))
    return ExportTable("results", "All results", say("export.results_note"), _RESULT_FIELDS, rows)


def _result_row(context: Context, row: dict[str, Any]) -> tuple[Any, ...]:
    return (
        row["location_id"],
        row["sampler_id"],
        row["kind"] or row["type"],
        row["medium"],
        row["lab_sample_id"],
        row["batch_id"],
        row["analyte_id"],
        context.name(row["analyte_id"]),
        bool(row["detected"]),
        _known(row["value"]) if row["detected"] else None,
        UNIT_TEXT.get(row["unit"], row["unit"]),
        _known(row["rl"]),
        _known(row["mdl"]),
        value_text(row, context.display),
        row["result_text"],
        qualifier(row),
        "; ".join(mark.word for mark in context.marks(row)),
        bool(row["reportable"]),
        row["_file"],
        int(row["_row"]),
        context.survey.folder.sha256(row["_file"]),
    )


def _known(value: float) -> float | None:
    return None if isnan(value) else float(value)


_LOCATION_FIELDS = (
    ExportField("location_id", _TEXT, "", "point"),
    ExportField("medium", _TEXT, "", "medium"),
    ExportField("surface", _TEXT, "", "surface"),
    ExportField("design", _TEXT, "", "why it stands in the plan"),
    ExportField("state", _TEXT, "", "sampled, lost or not done"),
    ExportField("x", _NUMBER, "m", "easting on the map grid"),
    ExportField("y", _NUMBER, "m", "northing on the map grid"),
    ExportField("crs", _TEXT, "", "coordinate reference system of x and y"),
    ExportField("longitude", _NUMBER, "degrees", "WGS 84"),
    ExportField("latitude", _NUMBER, "degrees", "WGS 84"),
    ExportField("sampler_id", _TEXT, "", "primary sampler"),
    ExportField("exposure_min", _INTEGER, "min", "exposure in UTC minutes"),
    ExportField("depth_m", _NUMBER, "m", "depth of the sampler"),
    ExportField("compounds_detected", _INTEGER, "", "number of compounds detected"),
    ExportField("compounds_analysed", _INTEGER, "", "number of compounds analysed"),
)


def locations_export(context: Context) -> ExportTable:
    """Return every point that has coordinates."""
    by_id = {row["location_id"]: row for row in context.locations}
    rows = []
    for point in context.evaluation.points:
        placement = context.primary_at(point.location_id)
        results = context.by_location.get(point.location_id, [])
        rows.append(
            (
                point.location_id,
                point.medium,
                point.surface,
                point.design,
                state_of(context, by_id[point.location_id]),
                round(point.x, 3),
                round(point.y, 3),
                context.crs,
                point.lon,
                point.lat,
                placement.sampler_id if placement else "",
                placement.exposure_min if placement else None,
                round(placement.depth_m, 3) if placement and placement.depth_m is not None else None,
                sum(bool(row["detected"]) for row in results),
                len(results),
            )
        )
    note = say("export.locations_note")
    return ExportTable("locations", "All points", note, _LOCATION_FIELDS, tuple(rows), "longitude", "latitude")


_COMPOUND_FIELDS = (
    ExportField("analyte_id", _TEXT, "", "compound"),
    ExportField("compound", _TEXT, "", "name"),
    ExportField("cas", _TEXT, "", "CAS number"),
    ExportField("group", _TEXT, "", "points summarised: soil, paved, unpaved, indoor_air, outdoor_air"),
    ExportField("analysed", _INTEGER, "", "results"),
    ExportField("detected", _INTEGER, "", "detections"),
    ExportField("after_blank_rule", _INTEGER, "", "detections that no blank touches"),
    ExportField("lowest", _NUMBER, "as in unit", "lowest detection"),
    ExportField("highest", _NUMBER, "as in unit", "highest detection"),
    ExportField("highest_at", _TEXT, "", "point of the highest detection"),
    ExportField("median", _NUMBER, "as in unit", "Kaplan-Meier; empty where it falls among non-detects"),
    ExportField("p90", _NUMBER, "as in unit", "Kaplan-Meier; empty where it falls among non-detects"),
    ExportField("rl_low", _NUMBER, "as in unit", "lowest reporting limit"),
    ExportField("rl_high", _NUMBER, "as in unit", "highest reporting limit"),
    ExportField("unit", _TEXT, "", "unit"),
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
            s.unblanked,
            s.lowest,
            s.highest,
            s.highest_at,
            s.percentiles[0].value,
            s.percentiles[2].value,
            s.rl_low,
            s.rl_high,
            UNIT_TEXT.get(s.unit, s.unit),
        )
        for s in context.evaluation.summaries.values()
    )
    return ExportTable("compounds", "Summaries by compound", say("export.results_note"), _COMPOUND_FIELDS, rows)


_FINDING_FIELDS = (
    ExportField("key", _TEXT, "", "stable key of the finding"),
    ExportField("severity", _TEXT, "", "stop, hold, flag or note"),
    ExportField("code", _TEXT, "", "check"),
    ExportField("subject", _TEXT, "", "what it is about"),
    ExportField("file", _TEXT, "", "file"),
    ExportField("row", _INTEGER, "", "row"),
    ExportField("column", _TEXT, "", "column"),
    ExportField("found", _TEXT, "", "what was found"),
    ExportField("expected", _TEXT, "", "what was expected"),
    ExportField("do", _TEXT, "", "what to do"),
    ExportField("disposition", _TEXT, "", "what was decided"),
)


def findings_export(context: Context) -> ExportTable:
    """Return every finding."""
    rows = tuple(
        (
            f.key, f.severity.value, f.code, f.subject, f.where.file, f.where.row, f.where.column or "",
            f.found, f.expected, f.do, context.dispositions.get(f.key, {}).get("disposition", ""),
        )
        for f in context.findings
    )  # fmt: skip
    return ExportTable("findings", "Findings", say("export.findings_note"), _FINDING_FIELDS, rows)
