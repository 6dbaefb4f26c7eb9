"""More tables to download: air beside levels, quality control, blanks, duplicates, departures, custody, limits."""

from __future__ import annotations

from collections.abc import Iterator
from math import isnan
from typing import Any

from sitegen.compute.results.concentration import Concentration
from sitegen.compute.results.reported import printed_text, qualifier
from sitegen.compute.results.screening import Comparison
from sitegen.compute.results.store import StoredResult
from sitegen.project.tables import LabControl
from sitegen.report.record.exports import ExportField, ExportLink, ExportTable
from sitegen.report.results.air import concentration_text
from sitegen.report.write.context import Context
from sitegen.report.write.words import say
from sitegen.units import UNIT_TEXT

_TEXT, _NUMBER, _INTEGER, _BOOLEAN = "string", "number", "integer", "boolean"
_TO_COMPOUNDS = ExportLink("analyte_id", "compounds", "analyte_id")
_COMPOUND = (
    ExportField("analyte_id", _TEXT, "", "compound", required=True),
    ExportField("compound", _TEXT, "", "name of the compound"),
)
_SOURCE = (
    ExportField("source_file", _TEXT, "", "file that the row came from", required=True),
    ExportField("source_row", _INTEGER, "", "row in that file; the header is row 1", required=True),
    ExportField("source_column", _TEXT, "", "column of the value in that file", required=True),
)
_SOURCE_ROW = ExportField("source_row", _INTEGER, "", "row in the input file; the header is row 1", required=True)
_UNIT = ExportField("unit", _TEXT, "", "unit of the numbers beside it", required=True)


def record_exports(context: Context) -> tuple[ExportTable, ...]:
    """Return these tables as far as they hold rows."""
    made = (
        air_export(context),
        control_export(context),
        duplicates_export(context),
        blanks_export(context),
        departures_export(context),
        custody_export(context),
        limits_export(context),
    )
    return tuple(table for table in made if table.rows)


def _table(name: str, fields: tuple[ExportField, ...], rows: Iterator[tuple[Any, ...]], *key: str) -> ExportTable:
    links = (_TO_COMPOUNDS,) if _COMPOUND[0] in fields else ()
    title, note = say(f"export.{name}_title"), say(f"export.{name}_note")
    return ExportTable(name, title, note, fields, tuple(rows), key=key, links=links)


def _unit(row: StoredResult) -> str:
    return UNIT_TEXT.get(row.unit, row.unit)


def _known(value: float) -> float | None:
    return None if isnan(value) else float(value)


_AIR_FIELDS = (
    ExportField("location_id", _TEXT, "", "point"),
    ExportField("medium", _TEXT, "", "medium of concentration and level", required=True),
    ExportField("lab_sample_id", _TEXT, "", "laboratory sample", required=True),
    ExportField("sampler_id", _TEXT, "", "serial of the sampler", required=True),
    ExportField("role", _TEXT, "", "what the sampler is at its point", required=True),
    *_COMPOUND,
    ExportField("detected", _BOOLEAN, "", "false for a non-detect", required=True),
    ExportField("concentration", _NUMBER, "as in unit", "empty for a non-detect: a non-detect is not a number"),
    ExportField("reporting_limit", _NUMBER, "as in unit", "reporting limit as a concentration"),
    _UNIT,
    ExportField("shown", _TEXT, "", "as the report shows it"),
    ExportField("qualifier", _TEXT, "", "the qualifier in force: a person's before the laboratory's"),
    ExportField("marks", _TEXT, "", "marks, separated by a semicolon"),
    ExportField("rate_source", _TEXT, "", "source of the uptake rate; empty where the laboratory gave a concentration"),
    ExportField("level_set", _TEXT, "", "set of the level; empty where no level is on file"),
    ExportField("land_use", _TEXT, "", "land use that the level is for"),
    ExportField("level", _NUMBER, "as in unit", "screening level"),
    ExportField("level_source", _TEXT, "", "source of the level, with its edition"),
    ExportField("answer", _TEXT, "", "above, at or below, or cannot tell"),
    ExportField("near", _BOOLEAN, "", "true for a detection near the level, on either side"),
    ExportField("ratio", _NUMBER, "", "concentration over level, of detections"),
)


def air_export(context: Context) -> ExportTable:
    """Return each air concentration, once for each level for its compound and medium."""
    return _table("air", _AIR_FIELDS, _air_rows(context))


def _air_rows(context: Context) -> Iterator[tuple[Any, ...]]:
    beside: dict[tuple[str, str], list[Comparison]] = {}
    for one in context.evaluation.comparisons:
        beside.setdefault((one.concentration.lab_sample_id, one.concentration.analyte_id), []).append(one)
    for key, found in context.evaluation.concentrations.items():
        row = context.by_key.get(key)
        if row is not None:
            own = _air_cells(context, row, found)
            for against in beside.get(key) or (None,):
                yield (*own, *_level_cells(against))


def _air_cells(context: Context, row: StoredResult, found: Concentration) -> tuple[Any, ...]:
    return (
        row.location_id,
        found.medium,
        found.lab_sample_id,
        row.sampler_id,
        row.role,
        found.analyte_id,
        context.name(found.analyte_id),
        found.detected,
        float(found.ug_m3) if found.detected else None,
        _known(found.rl_ug_m3),
        "µg/m³",
        concentration_text(found, qualifier(row)),
        qualifier(row),
        "; ".join(mark.word for mark in context.marks(row)),
        found.rate.source if found.rate else "",
    )


def _level_cells(one: Comparison | None) -> tuple[Any, ...]:
    if one is None:
        return ("", "", None, "", "", None, None)
    level = one.level
    source = f"{level.source}, edition of {level.edition_date or 'unknown date'}"
    return (level.level_set, level.land_use, float(level.ug_m3), source, one.answer, one.near, one.ratio)


_CONTROL_FIELDS = (
    ExportField("lab_sample_id", _TEXT, "", "laboratory sample", required=True),
    ExportField("qc_type", _TEXT, "", "what was controlled", required=True),
    ExportField("name", _TEXT, "", "surrogate or compound"),
    ExportField("value", _NUMBER, "as in unit", "recovery or value found"),
    ExportField("unit", _TEXT, "", "unit of value and limits"),
    ExportField("lower", _NUMBER, "as in unit", "lower limit as stated by the laboratory"),
    ExportField("upper", _NUMBER, "as in unit", "upper limit as stated by the laboratory"),
    ExportField("limit_source", _TEXT, "", "source of the limits"),
    ExportField("verdict", _TEXT, "", "within its limits, low, very low, high, or not judged for want of a limit"),
    *_SOURCE,
)


def control_export(context: Context) -> ExportTable:
    """Return recoveries of surrogates and controls, and calibration checks."""
    sides = {one.origin: one.side for one in context.evaluation.controls}
    rows = (
        (
            row.lab_sample_id,
            row.qc_type,
            row.name,
            _known(row.value),
            row.unit,
            _known(row.lower),
            _known(row.upper),
            row.limit_source,
            sides.get(row.origin, ""),
            *row.origin.cell("value"),
        )
        for row in context.survey.rows(LabControl)
    )
    return _table("quality_control", _CONTROL_FIELDS, rows)


_DUPLICATE_FIELDS = (
    ExportField("location_id", _TEXT, "", "point", required=True),
    ExportField("primary_id", _TEXT, "", "serial of the primary sampler", required=True),
    ExportField("duplicate_id", _TEXT, "", "serial of its duplicate", required=True),
    *_COMPOUND,
    ExportField("primary_shown", _TEXT, "", "the primary's result as the report shows it, with its qualifier"),
    ExportField("duplicate_shown", _TEXT, "", "the duplicate's result as the report shows it, with its qualifier"),
    ExportField("unit", _TEXT, "", "unit of both results", required=True),
    ExportField("measure", _TEXT, "", "how compared, whether a limit is missing; empty for two non-detects"),
    ExportField("figure", _NUMBER, "", "an RPD in %; of the other measures in the unit of the results"),
    ExportField("verdict", _TEXT, "", "agrees, differs, or not calculable", required=True),
)


def duplicates_export(context: Context) -> ExportTable:
    """Return the outcome of each compound of each duplicate pair."""
    rows = (
        (
            pair.location_id,
            pair.primary_id,
            pair.duplicate_id,
            one.analyte_id,
            context.name(one.analyte_id),
            printed_text(one.primary, context.display),
            printed_text(one.duplicate, context.display),
            _unit(one.primary),
            one.measure,
            None if one.figure is None else float(one.figure),
            one.verdict,
        )
        for pair in context.evaluation.pairs
        for one in pair.results
    )
    return _table("duplicates", _DUPLICATE_FIELDS, rows, "duplicate_id", "analyte_id")


_BLANK_FIELDS = (
    ExportField("kind", _TEXT, "", "trip, method or field blank", required=True),
    ExportField("lab_sample_id", _TEXT, "", "laboratory sample of the blank", required=True),
    ExportField("reach", _TEXT, "", "whether it applies to a bag, a batch or a day", required=True),
    ExportField("speaks_for", _TEXT, "", "bag, batch or day that the blank applies to; empty where none is on record"),
    *_COMPOUND,
    ExportField("value", _NUMBER, "as in unit", "found in the blank; never subtracted"),
    ExportField("reporting_limit", _NUMBER, "as in unit", "reporting limit"),
    _UNIT,
    ExportField("shown", _TEXT, "", "as the report shows it, with its qualifier"),
    ExportField("samples", _INTEGER, "", "samples that it speaks for; empty where speaks_for is"),
    ExportField("touched", _INTEGER, "", "detections that it touches; empty where speaks_for is"),
    *_SOURCE,
)


def blanks_export(context: Context) -> ExportTable:
    """Return the detections in blanks with the number of results that each touches."""
    rows = (
        (
            hit.kind,
            hit.lab_sample_id,
            hit.reach,
            hit.group,
            hit.analyte_id,
            context.name(hit.analyte_id),
            hit.value,
            _known(hit.rl),
            _unit(row),
            printed_text(row, context.display),
            hit.members or None,
            len(hit.touched) if hit.members else None,
            *hit.origin.cell("result_text"),
        )
        for hit in context.evaluation.blank_hits
        for row in (context.by_key[hit.lab_sample_id, hit.analyte_id],)
    )
    return _table("blanks", _BLANK_FIELDS, rows)


def departures_export(context: Context) -> ExportTable:
    """Return the departures from the plan, as recorded."""
    return _as_recorded(context, "departures", "deviations")


def custody_export(context: Context) -> ExportTable:
    """Return the events of custody, as recorded."""
    return _as_recorded(context, "custody_events", "custody")


def _as_recorded(context: Context, name: str, table: str) -> ExportTable:
    """Return the columns of a table of texts, with the row of each line."""
    found = context.survey.tables[table]
    fields = (*(ExportField(column.name, _TEXT, "", column.meaning) for column in found.spec.columns), _SOURCE_ROW)
    part = found.frame[[*found.spec.column_names, "_row"]]
    return _table(name, fields, part.itertuples(index=False, name=None), found.spec.column_names[0])


_LIMIT_FIELDS = (
    ExportField("limit", _TEXT, "", "name of the limit", required=True),
    ExportField("meaning", _TEXT, "", "what it limits", required=True),
    ExportField("value", _NUMBER, "as in unit", "its value", required=True),
    ExportField("unit", _TEXT, "", "its unit"),
    ExportField("set_by", _TEXT, "", "the project or default", required=True),
    ExportField("kind", _TEXT, "", "regulation, method, plan or practice", required=True),
    ExportField("source", _TEXT, "", "its source", required=True),
)


def limits_export(context: Context) -> ExportTable:
    """Return the limits in force with their sources."""
    rows = (
        (
            limit.name,
            limit.meaning,
            float(limit.value),
            limit.unit,
            "the project" if limit.from_project else "default",
            limit.kind,
            limit.source,
        )
        for limit in context.evaluation.limits.values()
    )
    return _table("limits", _LIMIT_FIELDS, rows, "limit")
