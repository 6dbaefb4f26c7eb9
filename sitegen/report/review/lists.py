"""Lists for the reviewer: the checks, the limits in force, and the program's words."""

from __future__ import annotations

from sitegen.checks.catalogue import Check, catalogue
from sitegen.compute.limits import LimitRecord
from sitegen.project.schema import SETTINGS_FILE
from sitegen.report.record.pages import Block, Cell, Page, Ref, Section, Table
from sitegen.report.record.specs import Spec, table
from sitegen.report.trace.printed import own_defaults
from sitegen.report.trace.sources import file_source
from sitegen.report.write.audience import severity_cell
from sitegen.report.write.citing import citations_table
from sitegen.report.write.context import Context
from sitegen.report.write.traced import traced
from sitegen.report.write.words import lexicon, opening, say, word
from sitegen.voice import worded


@traced
def checks_page(context: Context) -> Page:
    """Return the check catalogue; what to do about a finding is told to the team alone."""
    found = catalogue()
    advice: list[Spec[Check]] = [Spec("do", "Action", kind="wide", cell=lambda check: check.do)]
    columns: list[Spec[Check]] = [
        Spec("check", "Check", cell=lambda check: Cell(check.code, Ref("check", check.code))),
        Spec("severity", "Severity", cell=lambda check: severity_cell(context, check.severity)),
        Spec("subject", "Subject", cell=lambda check: word("subject", check.subject)),
        Spec("rule", "Rule", kind="wide", cell=lambda check: check.rule),
        Spec("from_stage", "Applies from", cell=lambda check: word("applies_from", check.from_stage)),
        *(advice if context.for_team else ()),
        Spec("limits", "Limit", cell=lambda check: ", ".join(check.limits) or "–"),
        Spec("source", "Source", kind="wide", cell=lambda check: "; ".join(map(worded, check.source.split("; ")))),
    ]
    checks = table("checks", say("review.checks_caption"), columns, found.values(), filters=("severity", "subject"))
    return Page(
        Ref("page", "checks"),
        worded("Check catalogue"),
        say("review.checks_lead", count=len(found)),
        (checks,),
        group="For reviewers",
    )


@traced
def glossary_table(context: Context) -> Table:
    """Return the terms with their meanings, in the words of the readers that the report is for."""
    terms = lexicon("glossary") if context.for_team else _outside()
    unit = context.mass_unit.text
    columns: list[Spec[str]] = [
        Spec("term", "Term", cell=lambda term: Cell(word("term", term), Ref("term", term))),
        Spec("meaning", "Meaning", kind="wide", cell=lambda term: terms[term].format(unit=unit)),
    ]
    ordered = sorted(terms, key=lambda term: word("term", term).casefold())
    return table("glossary", say("review.glossary_caption"), columns, ordered)


def _outside() -> dict[str, str]:
    """Return the terms for readers outside the team: theirs stand for those of the team's work."""
    instead = lexicon("glossary_outside")
    terms = {term: meaning for term, meaning in lexicon("glossary").items() if term not in instead["left_out"]}
    return {**terms, **instead["terms"]}


@traced
def limits_page(context: Context, *more: Section) -> Page:
    """Return every limit in force with its source, and what else bounds what the survey can say."""
    return Page(
        Ref("page", "limits"),
        worded("Limits and sources"),
        say("review.limits_lead"),
        (*more, *limits_blocks(context)),
        group="Quality",
    )


@traced
def limits_blocks(context: Context) -> tuple[Block, ...]:
    """Return the limits in force, and how their published sources are known."""
    return (limits_table(context, own_only=False), citations_table())


@traced
def limits_table(context: Context, *, own_only: bool) -> Table:
    """Return limits with their sources: all, or those that the project set."""
    columns: list[Spec[LimitRecord]] = [
        Spec("meaning", "Limit", cell=lambda limit: opening(worded(limit.meaning))),
        Spec("value", "Value", kind="number", cell=lambda limit: limit.text),
        Spec("by", "Set by", cell=lambda limit: worded("the project" if limit.from_project else "default")),
        Spec("source", "Source", kind="wide", cell=lambda limit: limit.source),
        Spec("name", "Key in the settings", cell=lambda limit: Cell(limit.name, tone="muted")),
    ]
    shown = [limit for limit in context.evaluation.limits.values() if limit.from_project or not own_only]
    name = "limits-own" if own_only else "limits"
    caption = say("front.overrides_caption") if own_only else say("review.limits_caption")
    ours = () if all(limit.from_project for limit in shown) else (own_defaults(),)
    return table(name, caption, columns, shown, sources=(file_source(SETTINGS_FILE), *ours))
