"""The results of one point: its table, its drawing, its duplicate."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from math import isnan
from typing import Any, NamedTuple

from sitegen.compute.quality.duplicates import IN_PERCENT, Pair, PairResult
from sitegen.compute.results.concentration import Concentration
from sitegen.compute.results.reported import qualifier
from sitegen.compute.results.store import StoredResult, is_within
from sitegen.compute.statistics.classes import size_class
from sitegen.compute.statistics.rounding import as_reported, percent_beside, rounded_text
from sitegen.figures.bars import ranked_bars
from sitegen.figures.inputs import ResultBar
from sitegen.report.record.pages import Cell, Column, Figure, Ref, Table
from sitegen.report.record.specs import Spec, table
from sitegen.report.results.aircells import concentration_text
from sitegen.report.write.columns import POINT_OR_LABEL, compound_column
from sitegen.report.write.context import Context
from sitegen.report.write.traced import traced
from sitegen.report.write.values import (
    limit_cell,
    reported_cell,
    sample_source,
    value_cell,
    value_text,
)
from sitegen.report.write.words import lexicon, say, word
from sitegen.units import UNIT_TEXT
from sitegen.voice import worded

MOST_BARS = 25
"""The most detections that a point's drawing shows; its table shows all, non-detects included.

Drawn, sixty open marks at as many limits tell nothing more, and were a third of a page's bytes.
"""


def headline(context: Context, results: list[StoredResult]) -> dict[str, Any]:
    """Return what the sentences about a point's results say: counts, and the highest masses."""
    found = sorted((r for r in results if r.detected), key=lambda r: -r.value)
    top = found[0] if found else None
    return {
        "analysed": len(results),
        "detected": len(found),
        "top_name": context.name(top.analyte_id) if top else "",
        "top_value": value_text(top, context.display) if top else "",
        "unit": _unit(context, results),
        "top": "; ".join(
            f"{context.name(r.analyte_id)} {value_text(r, context.display)} {UNIT_TEXT[r.unit]}" for r in found[:3]
        ),
    }


def _unit(context: Context, results: list[StoredResult]) -> str:
    return UNIT_TEXT.get(results[0].unit, "") if results else context.mass_unit.text


@traced
def results_table(context: Context, name: str, results: list[StoredResult], sampler: str = "") -> Table:
    """Return every result of a point with limits, qualifiers and marks: made once, for its page and its sheet.

    ``sampler`` names the sampler where it is not the one that stands for the point.
    """
    key = f"{name}-{sampler}" if sampler else name
    if key not in context.tables:
        context.tables[key] = _results_table(context, name, results, sampler)
    return context.tables[key]


class _Result(NamedTuple):
    """A result of a point, and its concentration in air where there is one."""

    row: StoredResult
    air: Concentration | None


@traced
def _results_table(context: Context, name: str, results: list[StoredResult], sampler: str) -> Table:
    unit = _unit(context, results)
    items = [_Result(row, context.evaluation.concentrations.get(row.key)) for row in results]
    with_air = any(item.air and item.air.rate for item in items)
    return table(
        f"results-{name}-{sampler}" if sampler else f"results-{name}",
        say("location.results_caption", location=name, unit=unit, sampler=sampler),
        _result_columns(context, unit, with_air=with_air),
        items,
        note=say("location.results_note", unit=unit, air=with_air),
        sources=(sample_source(results[0]),),
    )


def _result_columns(context: Context, unit: str, *, with_air: bool) -> list[Spec[_Result]]:
    air: list[Spec[_Result]] = [Spec("air", "In air", "µg/m³", "number", cell=_air_cell)]
    return [
        compound_column(context).of(lambda one: one.row),
        Spec(
            "result",
            "As reported",
            unit,
            "number",
            cell=lambda one: reported_cell(one.row, context.display, context.marks(one.row)),
        ),
        *(air if with_air else ()),
        Spec("rl", "Reporting limit", unit, "number", cell=lambda one: limit_cell(one.row, "rl")),
        Spec("mdl", "Detection limit", unit, "number", cell=lambda one: limit_cell(one.row, "mdl")),
        Spec("lab", "Laboratory's qualifier", cell=lambda one: one.row.lab_qualifier or "–"),
        Spec("review", "Reviewer's qualifier", cell=lambda one: _review(one.row)),
        Spec("proposed", "Proposed by rule", cell=lambda one: ", ".join(context.proposed.get(one.row.key, ())) or "–"),
    ]


def _air_cell(one: _Result) -> Cell:
    text = "–" if one.air is None else concentration_text(one.air, qualifier(one.row))
    return Cell(text, tone="nondetect" if one.air and not one.air.detected else "")


def with_qualifiers_together(results: Table) -> Table:
    """Return a point's results with all qualifiers in one column that says who gave each: paper is narrow."""
    givers: Mapping[str, str] = lexicon("labels")["qualifier_givers"]

    def together(cells: Mapping[str, Cell]) -> Cell:
        given = (f"{giver} {cells[key].text}" for key, giver in givers.items() if cells[key].text != "–")
        return Cell("; ".join(given) or "–")

    keys = [column.key for column in results.columns]
    kept = [column for column in results.columns if column.key not in givers]
    by_key = (dict(zip(keys, row, strict=True)) for row in results.rows)
    rows = tuple((*(cells[column.key] for column in kept), together(cells)) for cells in by_key)
    return replace(results, columns=(*kept, Column("qualifiers", worded("Qualifiers"))), rows=rows)


def _review(row: StoredResult) -> str:
    if not row.validation_qualifier:
        return "–"
    reason = f" ({row.validation_reason})" if row.validation_reason else ""
    return f"{row.validation_qualifier}{reason}"


def result_figures(context: Context, name: str, results: list[StoredResult]) -> Iterator[Figure]:
    """Draw what was detected, the highest first; nothing where nothing was."""
    items = tuple(
        ResultBar(
            context.name(row.analyte_id),
            value_text(row, context.display),
            row.value,
            row.rl if row.rl == row.rl else None,
            size_class(row.value),
            context.has_ring(row),
        )
        for row in results
        if row.detected
    )
    if items:
        facts = headline(context, results) | {"location": name}
        yield Figure(
            f"bars-{name}",
            ranked_bars(f"bars-{name}", items, context.mass_unit.text, most=MOST_BARS),
            say("location.bars_caption", **facts),
            say("location.bars_alt", **facts),
            say("location.bars_words", **facts),
        )


@traced
def runs_table(
    context: Context, table_id: str, caption: str, results: Iterable[StoredResult], *, with_point: bool = False
) -> Table | None:
    """Return the other runs on file of reported results, beside them; None where there are none.

    Nothing is chosen: each run has its value, its own range and what the laboratory says of it.
    """
    pairs = [_Runs(row, run) for row in results for run in context.other_runs.get((row.sampler_id, row.analyte_id), ())]
    if not pairs:
        return None
    unit = f" {worded('or')} ".join(dict.fromkeys(UNIT_TEXT.get(pair.run.unit, pair.run.unit) for pair in pairs))
    columns = _run_columns(context, unit, with_point=with_point)
    return table(table_id, caption, columns, pairs, note=say("location.runs_note"))


class _Runs(NamedTuple):
    """A reported result, and another run of it on file."""

    row: StoredResult
    run: StoredResult


def _run_columns(context: Context, unit: str, *, with_point: bool) -> list[Spec[_Runs]]:
    point: list[Spec[_Runs]] = [POINT_OR_LABEL.of(lambda pair: pair.row)] if with_point else []
    return [
        *point,
        compound_column(context).of(lambda pair: pair.row),
        Spec(
            "result",
            "Reported",
            unit,
            "number",
            cell=lambda pair: value_cell(pair.row, context.display, context.marks(pair.row)),
        ),
        Spec(
            "other",
            "Other run",
            unit,
            "number",
            cell=lambda pair: value_cell(pair.run, context.display, context.marks(pair.run)),
        ),
        Spec("top", "Top of calibration", unit, "number", cell=_top_text),
        Spec("range", "Within calibration range", cell=lambda pair: _range_word(pair.run)),
        Spec(
            "run",
            "Laboratory sample",
            cell=lambda pair: Cell(pair.run.lab_sample_id, Ref("source", pair.run.lab_sample_id)),
        ),
        Spec("why", "Reason on record", kind="wide", cell=lambda pair: _reason(context, pair)),
    ]


def _top_text(pair: _Runs) -> str:
    return "–" if isnan(pair.run.calibration_top) else as_reported(pair.run.calibration_top)


def _reason(context: Context, pair: _Runs) -> str:
    reasons = {sample.lab_sample_id: sample.modification for sample in context.runs.get(pair.row.sampler_id, ())}
    return reasons.get(pair.run.lab_sample_id) or worded("no reason recorded")


def _range_word(run: StoredResult) -> str:
    if not run.detected:
        return worded("not detected")
    if isnan(run.calibration_top):
        return worded("no top of calibration given")
    return word("calibration_range", "within" if is_within(run) else "above")


@traced
def duplicate_table(context: Context, pair: Pair) -> Table:
    """Return a duplicate pair compound by compound, those with a figure first."""
    unit = UNIT_TEXT[pair.results[0].primary.unit] if pair.results else context.mass_unit.text
    limit_pct = context.evaluation.limits["duplicate_rpd_pct"].value
    columns: list[Spec[PairResult]] = [
        compound_column(context),
        Spec(
            "primary",
            worded("Primary {sampler}", sampler=pair.primary_id),
            unit,
            "number",
            cell=lambda result: value_cell(result.primary, context.display, ()),
        ),
        Spec(
            "duplicate",
            worded("Duplicate {sampler}", sampler=pair.duplicate_id),
            unit,
            "number",
            cell=lambda result: value_cell(result.duplicate, context.display, ()),
        ),
        Spec("measure", "Compared by", cell=lambda result: word("measure", result.measure)),
        Spec("figure", "Figure", kind="number", cell=lambda result: _figure(result, limit_pct)),
        Spec("verdict", word("verdict_head", "Outcome"), cell=_verdict_cell, tells=True),
    ]
    caption = say(
        "location.duplicate_caption",
        location=pair.location_id,
        primary=pair.primary_id,
        duplicate=pair.duplicate_id,
        unit=unit,
    )
    results = sorted(pair.results, key=lambda result: result.figure is None)
    return table(f"duplicate-{pair.duplicate_id}", caption, columns, results)


def _verdict_cell(result: PairResult) -> Cell:
    return Cell(worded(result.verdict), tone="flag" if result.verdict == "differs" else "")


def _figure(result: PairResult, limit_pct: float) -> str:
    if result.figure is None:
        return "–"
    return percent_beside(result.figure, limit_pct) if result.measure in IN_PERCENT else rounded_text(result.figure)
