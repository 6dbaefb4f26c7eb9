"""The page on changes: what differs from the previous revision, and why."""

from __future__ import annotations

from collections.abc import Iterable

from sitegen.checks.changes import reason_for, reasons_of
from sitegen.compute.evidence.difference import VALUE_KINDS, Change, Difference
from sitegen.compute.statistics.rounding import shown
from sitegen.figures.ground import Ground
from sitegen.figures.sitemap import changed_map
from sitegen.findings.problems import Finding
from sitegen.project.tables import ChangeReason
from sitegen.report.record.pages import Cell, Column, Facts, Figure, Page, Ref, Section, Table
from sitegen.report.write.context import Context, location_ref
from sitegen.report.write.words import say, word

CHANGES = Ref("page", "changes")
OTHER = ("added", "removed", "moved", "cell", "feature", "file")
SET = ("setting",)


def headline(found: Difference) -> str:
    """Say how many values changed, and how many of them the summary prints."""
    return say("changes.headline", values=len(found.values), summary=found.in_summary)


def changes_page(context: Context, found: Difference, ground: Ground | None = None) -> Page:
    """Return the page on what changed from the previous revision, with a map where there is a ground for it."""
    reasons = reasons_of(context.survey)
    lead = say("changes.lead", headline=headline(found), changes=len(found.changes), revision=found.revisions[0])
    sections = (
        Section("values", "Results", (changes_table(found, VALUE_KINDS, "values", reasons),)),
        Section("records", "Records", (changes_table(found, OTHER, "records", reasons),)),
        Section("text", "Text", (_text_table(found, reasons),)),
        Section("settings", "Settings and limits", (changes_table(found, SET, "settings", reasons),)),
        Section("points", "Points that changed", (*_map(context, found, ground), _points_table(found))),
        Section("findings", "Findings", (_findings_table(found),)),
    )
    return Page(CHANGES, "Changes", lead, (_facts(found), *sections), group="Quality")


def _facts(found: Difference) -> Facts:
    same = found.tools[0] == found.tools[1]
    return Facts(
        (
            ("Revisions", Cell(say("changes.pair", old=found.revisions[0], new=found.revisions[1]))),
            ("Content digests", Cell(say("changes.pair", old=found.digests[0][:8], new=found.digests[1][:8]))),
            ("Tool", Cell(found.tools[1] if same else say("changes.pair", old=found.tools[0], new=found.tools[1]))),
        )
    )


def changes_table(found: Difference, kinds: Iterable[str], name: str, reasons: Iterable[ChangeReason]) -> Table:
    """Return the changes of some kinds, each with its reason."""
    wanted = frozenset(kinds)
    columns = (
        Column("about", "About"),
        Column("kind", "Kind"),
        Column("column", "Column of the file"),
        Column("old", "Before", kind="wide"),
        Column("new", "Now", kind="wide"),
        Column("factor", "Factor or distance"),
        Column("summary", "Printed in the summary"),
        Column("key", "Key for changes.csv"),
        Column("reason", "Reason", kind="wide"),
    )
    given = tuple(reasons)
    rows = tuple(_row(change, reason_for(change, given)) for change in found.changes if change.kind in wanted)
    return Table(
        f"changes-{name}",
        say(f"changes.{name}_caption"),
        columns,
        rows,
        note=say("changes.reasons_note") if rows else "",
        empty=say("changes.none"),
        filters=("kind",),
        landscape=True,
    )


def _row(change: Change, reason: str) -> tuple[Cell, ...]:
    return (
        Cell(change.subject, location_ref(change.location_id) if change.location_id else None),
        Cell(word("change", change.kind)),
        Cell(change.column or "–"),
        *map(Cell, changed_to(change)),
        Cell(extent(change)),
        Cell("yes" if change.in_summary else "–"),
        Cell(change.key),
        Cell(reason or "none yet", tone="" if reason else "hold"),
    )


def extent(change: Change) -> str:
    """Say how far a change goes: the factor of a value, the distance of a point."""
    if change.factor is not None:
        return f"× {_factor_text(change.factor)}"
    return f"{change.moved_m:.2f} m" if change.moved_m is not None else "–"


def _factor_text(factor: float) -> str:
    """Write a factor as numbers are shown, in more digits where it would read as one."""
    longer = (f"{factor:.{digits}g}" for digits in range(4, 9))
    return next((text for text in (shown(factor), *longer) if float(text.replace(",", "")) != 1), "1")


def changed_to(change: Change) -> tuple[str, str]:
    """Return what stood before and what stands now, a dash for nothing."""
    return change.old or "–", change.new or "–"


def _text_table(found: Difference, reasons: Iterable[ChangeReason]) -> Table:
    given = tuple(reasons)
    columns = (
        Column("section", "Section"),
        Column("words", "Words, [-taken out-] and {+put in+}", kind="wide"),
        Column("key", "Key for changes.csv"),
        Column("reason", "Reason", kind="wide"),
    )
    rows = tuple(
        (
            Cell(word("section", change.subject), Ref("page", "report", f"text-{change.subject}")),
            Cell(marked_words(change)),
            Cell(change.key),
            Cell(reason_for(change, given) or "none yet", tone="" if reason_for(change, given) else "hold"),
        )
        for change in found.changes
        if change.kind == "text"
    )
    return Table("changes-text", say("changes.text_caption"), columns, rows, empty=say("changes.none"))


def marked_words(change: Change) -> str:
    """Write a text's changes in one line, what went between minus signs, what came between plus signs."""
    signs = {"same": "{}", "removed": "[-{}-]", "added": "{{+{}+}}"}
    return " ".join(signs[what].format(text) for what, text in change.words)


def _map(context: Context, found: Difference, ground: Ground | None) -> tuple[Figure, ...]:
    """Draw the changed points among all; those of the previous revision alone have no place on it."""
    there = [context.points[point] for point in found.points if point in context.points]
    if ground is None or not there:
        return ()
    facts = {
        "names": [point.location_id for point in there],
        "gone": [name for name in found.points if name not in context.points],
    }
    drawn = changed_map("changed-points", ground, [(point.x, point.y) for point in there])
    caption, alt, words = (say(f"changes.map_{part}", **facts) for part in ("caption", "alt", "words"))
    return (Figure("changed-points", drawn, caption, alt, words),)


def _points_table(found: Difference) -> Table:
    columns = (Column("point", "Point"), Column("map", "On the map"), Column("what", "Changes", kind="wide"))
    rows = tuple(
        (
            Cell(point, location_ref(point)),
            Cell(say("changes.on_map", point=point), Ref("map", point)),
            Cell("; ".join(_told(change) for change in found.changes if change.location_id == point)),
        )
        for point in found.points
    )
    return Table("changes-points", say("changes.points_caption"), columns, rows, empty=say("changes.none"))


def _told(change: Change) -> str:
    return say("changes.told", subject=change.subject, kind=word("change", change.kind), old=change.old, new=change.new)


def _findings_table(found: Difference) -> Table:
    columns = (Column("state", "Since then"), Column("finding", "Finding"), Column("found", "Found", kind="wide"))
    rows = (*(_finding("opened", f) for f in found.opened), *(_finding("closed", f) for f in found.closed))
    return Table(
        "changes-findings", say("changes.findings_caption"), columns, rows, empty=say("changes.none"), row_header=-1
    )


def _finding(state: str, finding: Finding) -> tuple[Cell, ...]:
    ref = Ref("finding", finding.key) if state == "opened" else None
    tone = finding.severity.value if state == "opened" else "muted"
    return Cell(state, tone=tone), Cell(finding.key, ref), Cell(finding.found)
