"""The calculation sheet: every formula, its source, and one example with the project's own figures."""

from __future__ import annotations

from collections.abc import Mapping

from sitegen.compute.evidence.published import PublishedCheck, published_checks
from sitegen.compute.evidence.worked import examples
from sitegen.report.record.pages import Block, Cell, Facts, Page, Ref, Section, Table
from sitegen.report.record.specs import Spec, table
from sitegen.report.write.context import Context
from sitegen.report.write.traced import traced
from sitegen.report.write.words import lexicon, prose, say, word
from sitegen.units import ResultUnit
from sitegen.voice import worded

PAGE = Ref("page", "calculation")


@traced
def calculation_page(context: Context) -> Page:
    """Return the page with every formula."""
    return Page(
        PAGE, worded("Calculation sheet"), say("calculation.lead"), calculation_blocks(context), group="For reviewers"
    )


@traced
def calculation_blocks(context: Context) -> tuple[Block, ...]:
    """Return the formulas, each with the example that the data have for it."""
    found = examples(context.evaluation)
    sections = (
        _formula(name, entry, found.get(name), context.mass_unit) for name, entry in lexicon("formulas").items()
    )
    title = say("calculation.checked_title")
    checked = Section("checked", title, (prose("calculation.checked"), checked_table(context)))
    return (prose("calculation.how"), *sections, checked)


@traced
def checked_table(context: Context) -> Table:
    """Return the outside checks: what was compared with which figure, and how that is known."""
    group = "known" if context.for_team else "known_outside"
    columns: list[Spec[PublishedCheck]] = [
        Spec("what", "What", kind="wide", cell=lambda check: worded(check.what)),
        Spec("source", "Source", kind="wide", cell=lambda check: worded(check.source)),
        Spec("known", "Known", cell=lambda check: word(group, check.known)),
    ]
    return table("checked-against", say("calculation.checked_caption"), columns, published_checks(), row_header=-1)


def _formula(name: str, entry: Mapping[str, str], facts: Mapping[str, str] | None, unit: ResultUnit) -> Section:
    words = {"unit": unit.text, "symbol": unit.symbol, "moles": unit.moles}
    tail = facts.get("tail") if facts else ""
    filled = {**(facts or {}), "tail_text": say("calculation.tail", tail=tail, unit=unit.text) if tail else "", **words}
    example = entry["example"].format_map(filled) if facts else say("calculation.no_example")
    rows = (
        (worded("Formula"), Cell(entry["formula"], tone="strong")),
        (worded("Where"), Cell(entry["meaning"].format_map(words))),
        (worded("Source"), Cell(entry["source"])),
        (worded("Example"), Cell(example, tone="" if facts else "muted")),
    )
    return Section(f"formula-{name.replace('_', '-')}", entry["title"], (Facts(rows, frozenset({worded("Example")})),))
