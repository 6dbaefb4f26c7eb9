"""The results of one point: its table, its drawing, its duplicate."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from math import isnan
from typing import Any

from sitegen.compute.quality.duplicates import IN_PERCENT, Pair, PairResult
from sitegen.compute.results.store import StoredResult, is_within
from sitegen.compute.statistics.classes import size_class
from sitegen.compute.statistics.rounding import as_reported, percent_beside, shown
from sitegen.figures.bars import ranked_bars
from sitegen.figures.inputs import ResultBar
from sitegen.report.record.pages import Cell, Column, Figure, Ref, Table
from sitegen.report.results.air import concentration_text
from sitegen.report.write.context import Context, location_ref
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

MOST_BARS = 25
"""The most detections that a point's drawing shows; its table shows all."""


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


@traced
def _results_table(context: Context, name: str, results: list[StoredResult], sampler: str) -> Table:
    unit = _unit(context, results)
    air = [context.evaluation.concentrations.get(r.key) for r in results]
    with_air = any(item and item.rate for item in air)
    columns = [
        Column("compound", "Compound"),
        Column("result", "As reported", unit, "number"),
        Column("rl", "Reporting limit", unit, "number"),
        Column("mdl", "Detection limit", unit, "number"),
        Column("lab", "Laboratory's qualifier"),
        Column("review", "Reviewer's qualifier"),
        Column("proposed", "Proposed by rule"),
    ]
    if with_air:
        columns.insert(2, Column("air", "In air", "µg/m³", "number"))
    rows = []
    for row, item in zip(results, air, strict=True):
        cells = [
            Cell(context.name(row.analyte_id), Ref("compound", row.analyte_id)),
            reported_cell(row, context.display, context.marks(row)),
            limit_cell(row, "rl"),
            limit_cell(row, "mdl"),
            Cell(row.lab_qualifier or "–"),
            Cell(_review(row)),
            Cell(", ".join(context.proposed.get(row.key, ())) or "–"),
        ]
        if with_air:
            text = "–" if item is None else concentration_text(item, "")
            tone = "nondetect" if item and not item.detected else ""
            cells.insert(2, Cell(text, tone=tone))
        rows.append(tuple(cells))
    return Table(
        f"results-{name}-{sampler}" if sampler else f"results-{name}",
        say("location.results_caption", location=name, unit=unit, sampler=sampler),
        tuple(columns),
        tuple(rows),
        note=say("location.results_note", unit=unit, air=with_air),
        sources=(sample_source(results[0]),),
    )


def with_qualifiers_together(table: Table) -> Table:
    """Return a point's results with all qualifiers in one column that says who gave each: paper is narrow."""
    keys = [column.key for column in table.columns]
    at = {keys.index(key): giver for key, giver in lexicon("labels")["qualifier_givers"].items()}
    kept = [index for index in range(len(keys)) if index not in at]
    rows = []
    for row in table.rows:
        given = (f"{giver} {row[index].text}" for index, giver in at.items() if row[index].text != "–")
        rows.append((*(row[index] for index in kept), Cell("; ".join(given) or "–")))
    columns = (*(table.columns[index] for index in kept), Column("qualifiers", "Qualifiers"))
    return replace(table, columns=columns, rows=tuple(rows))


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
            context.marked(row),
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
    pairs = [(row, run) for row in results for run in context.other_runs.get((row.sampler_id, row.analyte_id), ())]
    rows = [_run_cells(context, row, run, with_point=with_point) for row, run in pairs]
    unit = " or ".join(dict.fromkeys(UNIT_TEXT.get(run.unit, run.unit) for _, run in pairs))
    columns = (
        *((Column("point", "Point"),) if with_point else ()),
        Column("compound", "Compound"),
        Column("result", "Reported", unit, "number"),
        Column("other", "Other run", unit, "number"),
        Column("top", "Top of its calibration", unit, "number"),
        Column("range", "In its range"),
        Column("run", "Laboratory sample"),
        Column("why", "What the record says of it", kind="wide"),
    )
    return Table(table_id, caption, columns, tuple(rows), note=say("location.runs_note")) if rows else None


def _run_cells(context: Context, row: StoredResult, run: StoredResult, *, with_point: bool) -> tuple[Cell, ...]:
    where = "not detected" if not run.detected else "no top given" if isnan(run.calibration_top) else _range_word(run)
    reasons = {sample.lab_sample_id: sample.modification for sample in context.runs.get(row.sampler_id, ())}
    point = row.location_id or row.label
    return (
        *((Cell(point, location_ref(point) if row.location_id else None),) if with_point else ()),
        Cell(context.name(row.analyte_id), Ref("compound", row.analyte_id)),
        value_cell(row, context.display, context.marks(row)),
        value_cell(run, context.display, context.marks(run)),
        Cell("–" if isnan(run.calibration_top) else as_reported(run.calibration_top)),
        Cell(where),
        Cell(run.lab_sample_id, Ref("source", run.lab_sample_id)),
        Cell(reasons.get(run.lab_sample_id) or "no reason recorded"),
    )


def _range_word(run: StoredResult) -> str:
    return "within" if is_within(run) else "above"


@traced
def duplicate_table(context: Context, pair: Pair) -> Table:
    """Return a duplicate pair compound by compound, those with a figure first."""
    unit = UNIT_TEXT[pair.results[0].primary.unit] if pair.results else context.mass_unit.text
    rows = tuple(
        (
            Cell(context.name(result.analyte_id), Ref("compound", result.analyte_id)),
            value_cell(result.primary, context.display, ()),
            value_cell(result.duplicate, context.display, ()),
            Cell(word("measure", result.measure)),
            Cell(_figure(result, context.evaluation.limits["duplicate_rpd_pct"].value)),
            Cell(result.verdict, tone="flag" if result.verdict == "differs" else ""),
        )
        for result in sorted(pair.results, key=lambda result: result.figure is None)
    )
    columns = (
        Column("compound", "Compound"),
        Column("primary", f"Primary {pair.primary_id}", unit, "number"),
        Column("duplicate", f"Duplicate {pair.duplicate_id}", unit, "number"),
        Column("measure", "Compared by"),
        Column("figure", "Figure", kind="number"),
        Column("verdict", "Outcome", tells=True),
    )
    caption = say(
        "location.duplicate_caption",
        location=pair.location_id,
        primary=pair.primary_id,
        duplicate=pair.duplicate_id,
        unit=unit,
    )
    return Table(f"duplicate-{pair.duplicate_id}", caption, columns, rows)


def _figure(result: PairResult, limit_pct: float) -> str:
    if result.figure is None:
        return "–"
    return percent_beside(result.figure, limit_pct) if result.measure in IN_PERCENT else shown(result.figure)
