"""Qualifiers proposed by rule: each beside those of the laboratory and of a reviewer, and the rules themselves."""

from __future__ import annotations

from typing import NamedTuple

from sitegen.compute.quality.blanks import BlankRule
from sitegen.compute.quality.proposals import ESTIMATES, Estimate, Proposed
from sitegen.compute.results.store import StoredResult
from sitegen.report.record.pages import Cell, Ref, Table
from sitegen.report.record.specs import Spec, table
from sitegen.report.write.columns import POINT_OR_LABEL, compound_column
from sitegen.report.write.context import Context
from sitegen.report.write.traced import traced
from sitegen.report.write.values import proposal_text, value_cell
from sitegen.report.write.words import lexicon, say, word
from sitegen.voice import worded


class _OnResult(NamedTuple):
    """A proposed qualifier, and the result that it is for."""

    proposed: Proposed
    row: StoredResult


@traced
def proposed_table(context: Context) -> Table:
    """Return every proposed qualifier beside the others."""
    columns: list[Spec[_OnResult]] = [
        POINT_OR_LABEL.of(lambda one: one.row),
        compound_column(context).of(lambda one: one.row),
        Spec(
            "result",
            "Result",
            context.mass_unit.text,
            "number",
            cell=lambda one: value_cell(one.row, context.display, ()),
        ),
        Spec("lab", "Laboratory qualifier", cell=lambda one: one.row.lab_qualifier or "–"),
        Spec("review", "Reviewer qualifier", cell=lambda one: one.row.validation_qualifier or "–"),
        Spec("proposed", "Proposed qualifier", cell=_proposal),
        Spec("why", "Reason", cell=_why_cell),
    ]
    rows = ((one, context.by_key.get((one.lab_sample_id, one.analyte_id))) for one in context.evaluation.proposed)
    return table(
        "proposed",
        say("defence.proposed_caption"),
        columns,
        [_OnResult(one, row) for one, row in rows if row is not None],
        note=say("defence.proposed_note"),
        empty=say("defence.proposed_none"),
        filters=("compound", "why"),
    )


def _proposal(one: _OnResult) -> str:
    return proposal_text(one.proposed.qualifier, reject=one.proposed.reject)


def _why_cell(one: _OnResult) -> Cell:
    key = one.proposed.key
    return Cell(lexicon("marks")[key.partition(":")[0]]["word"], Ref("finding", key))


class _Rule(NamedTuple):
    """What a rule proposes, "" for nothing: why, in which case, for which results, by which source."""

    why: Cell
    case: str
    reach: str
    detected: str
    nondetect: str
    source: str


@traced
def rules_table(context: Context) -> Table:
    """Return what each rule proposes for a detection and for a non-detect, on what it acts, and its source."""
    rule = context.evaluation.blank_rule
    nothing = say("defence.proposes_nothing")
    columns: list[Spec[_Rule]] = [
        Spec("why", "Criterion not met", cell=lambda one: one.why),
        Spec("case", "Case", cell=lambda one: one.case),
        Spec("reach", "Results concerned", kind="wide", cell=lambda one: one.reach),
        Spec("detected", "Detection", cell=lambda one: one.detected or nothing),
        Spec("nondetect", "Non-detect", cell=lambda one: one.nondetect or nothing),
        Spec("source", "Source", kind="wide", cell=lambda one: one.source),
    ]
    rules = (_rule_of_blanks(rule), *map(_rule_of_controls, ESTIMATES))
    note = say("defence.rules_note", rule=word("rule", rule.name))
    return table("proposal-rules", say("defence.rules_caption"), columns, rules, note=note)


def _rule_of_blanks(rule: BlankRule) -> _Rule:
    return _Rule(
        why=Cell(say("defence.rule_blank")),
        case=word("recovery_side", ""),
        reach=say("defence.reach_blank"),
        detected=_of_blanks(rule.proposes),
        nondetect="",
        source=rule.source,
    )


def _of_blanks(proposes: str) -> str:
    """Write what a rule of blanks proposes for a detection: by its level, one of two qualifiers."""
    if proposes in ("", "U"):
        return proposes
    return worded("{first} or {last}", first="U", last=proposes)


def _rule_of_controls(one: Estimate) -> _Rule:
    return _Rule(
        why=Cell(lexicon("marks")[one.code]["word"], Ref("check", one.code)),
        case=word("recovery_side", one.side),
        reach=word("proposal_reach", one.code),
        detected=proposal_text(one.detected, reject=one.reject),
        nondetect=proposal_text(one.nondetect, reject=one.reject),
        source=worded(one.source),
    )
