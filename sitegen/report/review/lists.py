"""The program's own lists: its checks and its words."""

from __future__ import annotations

from sitegen.checks.catalogue import Check, catalogue
from sitegen.report.record.pages import Cell, Page, Ref, Table
from sitegen.report.record.specs import Spec, table
from sitegen.report.write.audience import severity_cell
from sitegen.report.write.context import Context
from sitegen.report.write.traced import traced
from sitegen.report.write.words import lexicon, say, word
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
