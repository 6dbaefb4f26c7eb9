"""The laboratory's own quality control as tables: surrogates out of limits, controls, calibration checks."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from sitegen.compute.quality.labqc import NOT_JUDGED, OUT, WITHIN, Control
from sitegen.report.record.pages import Cell, Column, Ref, Table
from sitegen.report.write.context import Context
from sitegen.report.write.traced import traced
from sitegen.report.write.values import place_text
from sitegen.report.write.words import say, word


@traced
def surrogates_table(context: Context) -> Table:
    """Return the surrogate recoveries that lie out of limits."""
    samplers = {r.lab_sample_id: r.sampler_id for rows in context.by_sampler.values() for r in rows[:1]}
    measured = [one for one in context.evaluation.controls if one.qc_type == "surrogate"]
    columns = (
        Column("sample", "Laboratory sample"),
        Column("sampler", "Sampler"),
        Column("name", "Surrogate"),
        Column("value", "Recovery", kind="number"),
        Column("limits", "Limits", kind="number"),
        Column("side", "Case"),
        Column("source", "Row in file"),
    )
    rows = tuple(
        (
            Cell(one.lab_sample_id),
            _sampler_cell(samplers.get(one.lab_sample_id, "")),
            Cell(one.name),
            Cell(one.value_text, tone="flag", origin=one.origin.cell("value")),
            Cell(one.limits_text),
            Cell(word("recovery_side", one.side)),
            Cell(place_text(one.origin)),
        )
        for one in measured
        if one.side in OUT
    )
    note = limits_note(measured)
    caption, empty = (
        say("quality.surrogates_caption"),
        say("quality.none_out", judged=sum(one.side != NOT_JUDGED for one in measured)),
    )
    return Table("surrogates", caption, columns, rows, note=note, empty=empty)


def _sampler_cell(sampler: str) -> Cell:
    return Cell(sampler, Ref("sampler", sampler)) if sampler else Cell("–")


@traced
def controls_table(context: Context) -> Table:
    """Return control samples, calibration checks and internal standards with their limits."""
    measured = [one for one in context.evaluation.controls if one.qc_type != "surrogate" and one.value == one.value]
    columns = (
        Column("sample", "Laboratory sample"),
        Column("type", "What"),
        Column("name", "Compound"),
        Column("value", "Found", kind="number"),
        Column("limits", "Limits", kind="number"),
        Column("verdict", "Within limits", tells=True),
    )
    rows = tuple(_control_row(one) for one in measured)
    note = limits_note(measured)
    caption, empty = say("quality.controls_caption"), say("quality.no_controls")
    return Table("controls", caption, columns, rows, note=note, empty=empty, filters=("type", "verdict"))


def _control_row(one: Control) -> tuple[Cell, ...]:
    return (
        Cell(one.lab_sample_id),
        Cell(one.qc_type.replace("_", " ")),
        Cell(one.name or "–"),
        Cell(one.value_text, origin=one.origin.cell("value")),
        Cell(one.limits_text or "–"),
        _verdict_cell(one.side),
    )


def _verdict_cell(side: str) -> Cell:
    if side == NOT_JUDGED:
        return Cell("no limits given")
    return Cell("yes", tone="yes") if side == WITHIN else Cell(f"no, {word('recovery_side', side)}", tone="flag")


def limits_note(measured: Sequence[Control]) -> str:
    """Say how many measurements were judged, and by whose limits: each source with its number of rows."""
    judged = [one for one in measured if one.side != NOT_JUDGED]
    sources = Counter(one.limit_source or say("quality.limits_unsourced") for one in judged)
    return say(
        "quality.limits_note",
        measured=len(measured),
        judged=len(judged),
        out=sum(one.side in OUT for one in judged),
        sources=[f"{source} ({count})" for source, count in sources.items()],
    )
