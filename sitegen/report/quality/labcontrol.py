"""The laboratory's own quality control as tables: surrogates out of limits, controls, calibration checks."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from sitegen.compute.quality.labqc import NOT_JUDGED, OUT, WITHIN, Control
from sitegen.report.record.pages import Cell, Table
from sitegen.report.record.specs import Spec, table
from sitegen.report.write.columns import sampler_cell
from sitegen.report.write.context import Context
from sitegen.report.write.traced import traced
from sitegen.report.write.values import place_text
from sitegen.report.write.words import say, word
from sitegen.voice import worded


@traced
def surrogates_table(context: Context) -> Table:
    """Return the surrogate recoveries that lie out of limits."""
    samplers = {r.lab_sample_id: r.sampler_id for rows in context.by_sampler.values() for r in rows[:1]}
    measured = [one for one in context.evaluation.controls if one.qc_type == "surrogate"]
    columns: list[Spec[Control]] = [
        Spec("sample", "Laboratory sample", cell=lambda one: one.lab_sample_id),
        Spec("sampler", "Sampler", cell=lambda one: sampler_cell(samplers.get(one.lab_sample_id, ""))),
        Spec("name", "Surrogate", cell=lambda one: one.name),
        Spec("value", "Recovery", kind="number", cell=lambda one: _value_cell(one)._replace(tone="flag")),
        Spec("limits", "Limits", kind="number", cell=lambda one: one.limits_text),
        Spec("side", "Direction", cell=lambda one: word("recovery_side", one.side)),
        Spec("source", "Source row", cell=lambda one: place_text(one.origin)),
    ]
    return table(
        "surrogates",
        say("quality.surrogates_caption"),
        columns,
        [one for one in measured if one.side in OUT],
        note=limits_note(measured),
        empty=say("quality.none_out", judged=sum(one.side != NOT_JUDGED for one in measured)),
    )


def _value_cell(one: Control) -> Cell:
    return Cell(one.value_text, origin=one.origin.cell("value"))


@traced
def controls_table(context: Context) -> Table:
    """Return control samples, calibration checks and internal standards with their limits."""
    measured = [one for one in context.evaluation.controls if one.qc_type != "surrogate" and one.value == one.value]
    columns: list[Spec[Control]] = [
        Spec("sample", "Laboratory sample", cell=lambda one: one.lab_sample_id),
        Spec("type", "Type", cell=lambda one: word("qc_type", one.qc_type)),
        Spec("name", "Compound", cell=lambda one: one.name or "–"),
        Spec("value", "Result", kind="number", cell=_value_cell),
        Spec("limits", "Limits", kind="number", cell=lambda one: one.limits_text or "–"),
        Spec("verdict", "Within limits", cell=lambda one: _verdict_cell(one.side), tells=True),
    ]
    return table(
        "controls",
        say("quality.controls_caption"),
        columns,
        measured,
        note=limits_note(measured),
        empty=say("quality.no_controls"),
        filters=("type", "verdict"),
    )


def _verdict_cell(side: str) -> Cell:
    if side == NOT_JUDGED:
        return Cell(worded("no limits given"))
    return (
        Cell(worded("yes"), tone="yes")
        if side == WITHIN
        else Cell(worded("no, {side}", side=word("recovery_side", side)), tone="flag")
    )


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
