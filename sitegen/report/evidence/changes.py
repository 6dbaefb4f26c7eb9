"""The page on changes: what differs from the previous revision, and why."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from sitegen.checks.changes import reason_for, reasons_of
from sitegen.compute.evidence.difference import VALUE_KINDS, Change, Difference
from sitegen.figures.ground import Ground
from sitegen.figures.sitemap import changed_map
from sitegen.findings.problems import Finding
from sitegen.project.tables import ChangeReason
from sitegen.report.evidence.changeresults import Reader, before_and_after, reader_for
from sitegen.report.evidence.changetables import (
    extent,
    points_table,
    results_table,
    section_cell,
    sections_table,
    statements_table,
)
from sitegen.report.evidence.changewords import change_sentences
from sitegen.report.record.pages import Block, Cell, Facts, Figure, Page, Ref, Section, Table
from sitegen.report.record.specs import Spec, table
from sitegen.report.write.columns import POINT_ITSELF
from sitegen.report.write.context import Context, location_ref
from sitegen.report.write.traced import traced
from sitegen.report.write.words import prose, say, word
from sitegen.voice import worded

CHANGES = Ref("page", "changes")
OTHER = ("added", "removed", "moved", "cell", "feature", "file")
SET = ("setting",)


@traced
def changes_page(context: Context, found: Difference, ground: Ground | None = None) -> Page:
    """Return the page on what changed from the previous revision, with a map where there is a ground for it.

    Whoever may see the comparison gets all of it. Other readers get the sentences, and what changed of results,
    points, sections and statements with the reasons on record: no keys, settings, records or findings, and no
    words or points that this revision does not have.
    """
    reader = reader_for(context, found)
    told = change_sentences(context, found)
    how = prose("changes.how", sentences=told[1:], team=reader.team, changes=len(found.changes), revision=_since(found))
    sections = _team_sections(context, found, ground) if reader.team else _reader_sections(context, found, reader)
    blocks: tuple[Block, ...] = (how, _facts(found), *sections) if reader.team else (how, *sections)
    return Page(CHANGES, worded("Changes"), say("changes.lead", first=told[0]), blocks, group="Findings and advice")


def _since(found: Difference) -> int:
    return found.revisions[0]


def _team_sections(context: Context, found: Difference, ground: Ground | None) -> tuple[Section, ...]:
    reasons = reasons_of(context.survey)
    return (
        Section("values", worded("Results"), (changes_table(found, VALUE_KINDS, "values", reasons),)),
        Section("statements", worded("Statements"), (statements_table(context, found, team=True),)),
        Section("records", worded("Records"), (changes_table(found, OTHER, "records", reasons),)),
        Section("text", worded("Text"), (_text_table(found, reasons),)),
        Section("settings", worded("Settings and limits"), (changes_table(found, SET, "settings", reasons),)),
        Section("points", worded("Points affected"), (*_map(context, found, ground), _points_table(found))),
        Section("findings", worded("Findings"), (_findings_table(found),)),
    )


def _reader_sections(context: Context, found: Difference, reader: Reader) -> tuple[Section, ...]:
    return (
        Section("values", worded("Results"), (results_table(found, reader, context.evaluation.states),)),
        Section("statements", worded("Statements"), (statements_table(context, found, team=False),)),
        Section("points", worded("Points"), (points_table(found, reader),)),
        Section("text", worded("Text"), (sections_table(context, found, reader),)),
    )


def _facts(found: Difference) -> Facts:
    same = found.tools[0] == found.tools[1]
    return Facts(
        (
            (worded("Revisions"), Cell(say("changes.pair", old=found.revisions[0], new=found.revisions[1]))),
            (worded("Content digests"), Cell(say("changes.pair", old=found.digests[0][:8], new=found.digests[1][:8]))),
            (
                worded("Tool"),
                Cell(found.tools[1] if same else say("changes.pair", old=found.tools[0], new=found.tools[1])),
            ),
        )
    )


def changes_table(found: Difference, kinds: Iterable[str], name: str, reasons: Iterable[ChangeReason]) -> Table:
    """Return the changes of some kinds, each with its reason."""
    wanted = frozenset(kinds)
    whole = {one.changes[0].key: one for one in found.results}

    def shown(change: Change) -> tuple[str, str]:
        """Return before and now: of a mass with its unit, qualifier and marks."""
        one = whole.get(change.key) if change.kind in ("value", "detection") else None
        return before_and_after(one) if one else changed_to(change)

    columns: list[Spec[Change]] = [
        Spec("about", "Item", cell=_about_cell),
        Spec("kind", "Kind", cell=lambda change: word("change", change.kind)),
        Spec("column", "Column of the file", cell=lambda change: change.column or "–"),
        Spec("old", "Before", kind="wide", cell=lambda change: shown(change)[0]),
        Spec("new", "Now", kind="wide", cell=lambda change: shown(change)[1]),
        Spec("factor", "Factor or distance", cell=extent),
        Spec("summary", "Printed in the summary", cell=lambda change: worded("yes") if change.in_summary else "–"),
        *_reason_columns(reasons),
    ]
    items = [change for change in found.changes if change.kind in wanted]
    return table(
        f"changes-{name}",
        say(f"changes.{name}_caption"),
        columns,
        items,
        note=say("changes.reasons_note") if items else "",
        empty=say("changes.none"),
        filters=("kind",),
        landscape=True,
    )


def _about_cell(change: Change) -> Cell:
    return Cell(change.subject, location_ref(change.location_id) if change.location_id else None)


def _reason_columns(reasons: Iterable[ChangeReason]) -> tuple[Spec[Change], ...]:
    """Return the columns of a change's key and of the reason given for it."""
    given = tuple(reasons)

    def cell(change: Change) -> Cell:
        reason = reason_for(change, given)
        return Cell(reason) if reason else Cell(worded("none yet"), tone="hold")

    return (
        Spec("key", "Key for changes.csv", cell=lambda change: change.key),
        Spec("reason", "Reason", kind="wide", cell=cell),
    )


def changed_to(change: Change) -> tuple[str, str]:
    """Return what stood before and what stands now, a dash for nothing."""
    return change.old or "–", change.new or "–"


def _text_table(found: Difference, reasons: Iterable[ChangeReason]) -> Table:
    columns: list[Spec[Change]] = [
        Spec("section", "Section", cell=section_cell),
        Spec("words", "Text, [-deleted-] and {+inserted+}", kind="wide", cell=marked_words),
        *_reason_columns(reasons),
    ]
    items = [change for change in found.changes if change.kind == "text"]
    return table("changes-text", say("changes.text_caption"), columns, items, empty=say("changes.none"))


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

    def told(point: str) -> str:
        return "; ".join(_told(change) for change in found.changes if change.location_id == point)

    columns: list[Spec[str]] = [
        POINT_ITSELF,
        Spec("map", "On the map", cell=lambda point: Cell(say("changes.on_map", point=point), Ref("map", point))),
        Spec("what", "Changes", kind="wide", cell=told),
    ]
    return table("changes-points", say("changes.points_caption"), columns, found.points, empty=say("changes.none"))


def _told(change: Change) -> str:
    return say("changes.told", subject=change.subject, kind=word("change", change.kind), old=change.old, new=change.new)


class _Turn(NamedTuple):
    """A finding that the previous revision lacks (``opened``), or that this one lacks (``closed``)."""

    state: str
    finding: Finding

    @property
    def tone(self) -> str:
        """The severity of what is open now."""
        return self.finding.severity.value if self.state == "opened" else "muted"

    @property
    def ref(self) -> Ref | None:
        """Where it is told, for a finding that this revision has."""
        return Ref("finding", self.finding.key) if self.state == "opened" else None


def _findings_table(found: Difference) -> Table:
    columns: list[Spec[_Turn]] = [
        Spec("state", "Status", cell=lambda turn: Cell(worded(turn.state), tone=turn.tone)),
        Spec("finding", "Finding", cell=lambda turn: Cell(turn.finding.key, turn.ref)),
        Spec("found", "Details", kind="wide", cell=lambda turn: turn.finding.found),
    ]
    turns = (*(_Turn("opened", f) for f in found.opened), *(_Turn("closed", f) for f in found.closed))
    caption, empty = say("changes.findings_caption"), say("changes.none")
    return table("changes-findings", caption, columns, turns, empty=empty, row_header=-1)
