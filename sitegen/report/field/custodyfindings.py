"""Findings beside custody: those of the whole survey, and those of one sampler, bag or shipment."""

from __future__ import annotations

from collections.abc import Iterable

from sitegen.checks.catalogue import catalogue
from sitegen.findings.problems import Finding, Severity
from sitegen.report.record.pages import Cell, Ref, Section, Table
from sitegen.report.record.specs import Spec, table
from sitegen.report.write.audience import severity_key
from sitegen.report.write.context import Context, about, found_at
from sitegen.report.write.traced import traced
from sitegen.report.write.words import say, word
from sitegen.voice import worded

SUBJECT = "custody"
PAGES = ("bag", "shipment", "sampler")
Thing = tuple[str, str]
"""What a page is about: sampler, bag or shipment, and its id."""


@traced
def trouble_table(context: Context) -> Table:
    """Return every finding on custody, with the parties."""
    found = [f for f in context.own_findings if catalogue()[f.code].subject == SUBJECT]
    caption, empty = say("custody.trouble_caption"), say("custody.trouble_none", bases=context.bases)
    return _table(context, "custody-trouble", caption, found, empty)


def known_section(
    context: Context, thing: Thing, samplers: Iterable[str], around: Iterable[Thing] = ()
) -> list[Section]:
    """Return what is known against one thing: its findings on custody, and all that hold the issue.

    ``samplers`` are those inside; of the things ``around`` it, only what holds the issue is told.
    """
    found = _concerning(context, thing, samplers, around)
    if not found:
        return []
    kind, name = thing
    caption = say("custody.known_caption", kind=kind, name=name, team=context.for_team)
    return [Section("known", say("custody.known_title"), (_table(context, f"known-{name}", caption, found),))]


def _concerning(context: Context, thing: Thing, samplers: Iterable[str], around: Iterable[Thing]) -> list[Finding]:
    own = (thing, *(("sampler", name) for name in samplers))
    told = {at for one in own for at in context.findings_of.get(one, ()) if _bears(context.findings[at])}
    told |= {at for one in around for at in context.findings_of.get(one, ()) if _holds(context.findings[at])}
    return [context.findings[at] for at in sorted(told)]


def _bears(finding: Finding) -> bool:
    return _holds(finding) or catalogue()[finding.code].subject == SUBJECT


def _holds(finding: Finding) -> bool:
    return finding.severity.rank <= Severity.HOLD.rank


@traced
def _table(context: Context, table_id: str, caption: str, found: Iterable[Finding], empty: str = "") -> Table:
    columns: list[Spec[Finding]] = [
        Spec("severity", "Severity", cell=lambda f: _severity_cell(severity_key(context, f.severity))),
        Spec("found", "Found and expected", kind="wide", tells=True, cell=_found_cell),
        Spec("subject", "Applies to", cell=lambda f: _subject_cell(about(f, context.custody_subjects))),
        Spec("touched", "Samplers affected", kind="number", cell=_touched_text),
    ]
    return table(table_id, caption, columns, found, empty=empty, row_header=-1)


def _severity_cell(key: str) -> Cell:
    return Cell(worded(key), tone=key)


def _found_cell(finding: Finding) -> Cell:
    words = say("review.found", found=finding.found, expected=finding.expected, where="")
    return Cell(words, Ref("finding", finding.key), origin=found_at(finding))


def _touched_text(finding: Finding) -> str:
    return str(len({touch.sampler_id for touch in finding.touches})) if finding.touches else "–"


def _subject_cell(thing: Thing) -> Cell:
    kind, name = thing
    return Cell(
        f"{word('subject_kind', kind)} {name}".strip().replace("_", " "), Ref(kind, name) if kind in PAGES else None
    )
