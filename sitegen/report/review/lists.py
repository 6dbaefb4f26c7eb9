"""The program's own lists: its checks and its words."""

from __future__ import annotations

from sitegen.checks.catalogue import catalogue
from sitegen.report.record.pages import Cell, Column, Page, Ref, Table
from sitegen.report.write.audience import severity_cell
from sitegen.report.write.context import Context
from sitegen.report.write.traced import traced
from sitegen.report.write.words import lexicon, say, word


@traced
def checks_page(context: Context) -> Page:
    """Return the check catalogue; what to do about a finding is told to the team alone."""
    found = catalogue()
    columns = (
        Column("check", "Check"),
        Column("severity", "Severity"),
        Column("subject", "Subject"),
        Column("rule", "Rule", kind="wide"),
        *([Column("do", "What to do", kind="wide")] if context.for_team else ()),
        Column("limits", "Limit"),
        Column("source", "Source", kind="wide"),
    )
    rows = tuple(
        (
            Cell(check.code, Ref("check", check.code)),
            severity_cell(context, check.severity),
            Cell(word("subject", check.subject)),
            Cell(check.rule),
            *([Cell(check.do)] if context.for_team else ()),
            Cell(", ".join(check.limits) or "–"),
            Cell(check.source),
        )
        for check in found.values()
    )
    table = Table("checks", say("review.checks_caption"), columns, rows, filters=("severity", "subject"))
    return Page(
        Ref("page", "checks"),
        "Check catalogue",
        say("review.checks_lead", count=len(found)),
        (table,),
        group="Methods",
    )


@traced
def glossary_table(context: Context) -> Table:
    """Return the terms with their meanings, in the words of the readers that the report is for."""
    terms = lexicon("glossary") if context.for_team else _outside()
    rows = tuple(
        (Cell(term, Ref("term", term)), Cell(meaning.format(unit=context.mass_unit.text)))
        for term, meaning in terms.items()
    )
    return Table(
        "glossary",
        say("review.glossary_caption"),
        (Column("term", "Term"), Column("meaning", "Meaning", kind="wide")),
        rows,
    )


def _outside() -> dict[str, str]:
    """Return the terms for readers outside the team, in order: theirs stand for those of the team's work."""
    instead = lexicon("glossary_outside")
    terms = {term: meaning for term, meaning in lexicon("glossary").items() if term not in instead["left_out"]}
    return dict(sorted((terms | instead["terms"]).items(), key=lambda item: item[0].casefold()))
