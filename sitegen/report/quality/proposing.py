"""Qualifiers proposed by rule: each beside those of the laboratory and of a reviewer, and the rules themselves."""

from __future__ import annotations

from sitegen.compute.quality.proposals import ESTIMATES, Estimate, Proposed
from sitegen.report.record.pages import Cell, Column, Ref, Table
from sitegen.report.write.context import Context, location_ref
from sitegen.report.write.traced import traced
from sitegen.report.write.values import proposal_text, value_cell
from sitegen.report.write.words import lexicon, say, word


@traced
def proposed_table(context: Context) -> Table:
    """Return every proposed qualifier beside the others."""
    columns = (
        Column("point", "Point"),
        Column("compound", "Compound"),
        Column("result", "Result", context.mass_unit.text, "number"),
        Column("lab", "Laboratory's"),
        Column("review", "Reviewer's"),
        Column("proposed", "Proposed"),
        Column("why", "Why"),
    )
    rows = tuple(
        row for proposed in context.evaluation.proposed if (row := _proposed_row(context, proposed)) is not None
    )
    return Table(
        "proposed",
        say("defence.proposed_caption"),
        columns,
        rows,
        note=say("defence.proposed_note"),
        empty=say("defence.proposed_none"),
        filters=("compound", "why"),
    )


def _proposed_row(context: Context, proposed: Proposed) -> tuple[Cell, ...] | None:
    row = context.by_key.get((proposed.lab_sample_id, proposed.analyte_id))
    if row is None:
        return None
    code = proposed.key.partition(":")[0]
    place = row.location_id
    return (
        Cell(place or row.label, location_ref(place) if place else None),
        Cell(context.name(row.analyte_id), Ref("compound", row.analyte_id)),
        value_cell(row, context.display, ()),
        Cell(row.lab_qualifier or "–"),
        Cell(row.validation_qualifier or "–"),
        Cell(proposal_text(proposed.qualifier, reject=proposed.reject)),
        Cell(lexicon("marks")[code]["word"], Ref("finding", proposed.key)),
    )


@traced
def rules_table(context: Context) -> Table:
    """Return what each rule proposes for a detection and for a non-detect, on what it acts, and its source."""
    rule = context.evaluation.blank_rule
    columns = (
        Column("why", "Where out of limits"),
        Column("case", "Case"),
        Column("reach", "Results concerned", kind="wide"),
        Column("detected", "Detection"),
        Column("nondetect", "Non-detect"),
        Column("source", "Source", kind="wide"),
    )
    blanks = (
        Cell(say("defence.rule_blank")),
        Cell(word("recovery_side", "")),
        Cell(say("defence.reach_blank")),
        Cell(" or ".join(dict.fromkeys(("U", rule.proposes))) if rule.proposes else say("defence.proposes_nothing")),
        Cell(say("defence.proposes_nothing")),
        Cell(rule.source),
    )
    rows = (blanks, *map(_rule_row, ESTIMATES))
    note = say("defence.rules_note", rule=word("rule", rule.name))
    return Table("proposal-rules", say("defence.rules_caption"), columns, rows, note=note)


def _rule_row(one: Estimate) -> tuple[Cell, ...]:
    nothing = say("defence.proposes_nothing")
    return (
        Cell(lexicon("marks")[one.code]["word"], Ref("check", one.code)),
        Cell(word("recovery_side", one.side)),
        Cell(word("proposal_reach", one.code)),
        Cell(proposal_text(one.detected, reject=one.reject) or nothing),
        Cell(proposal_text(one.nondetect, reject=one.reject) or nothing),
        Cell(one.source),
    )
