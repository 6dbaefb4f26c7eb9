"""The revision history of print: what changed in each revision, by what it is and not by its key, and why."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from sitegen.checks.changes import covers
from sitegen.compute.evidence.difference import Change, Difference
from sitegen.project.tables import ChangeReason
from sitegen.report.evidence.changeresults import Reader, reader_for, result_text
from sitegen.report.evidence.changetables import extent
from sitegen.report.record.pages import Table
from sitegen.report.record.specs import Spec, table
from sitegen.report.write.context import Context
from sitegen.report.write.traced import traced
from sitegen.report.write.words import say, word
from sitegen.voice import worded

MOST_TOLD = 5
"""How many changes one line of the history names; the page on changes has them all."""


@dataclass(frozen=True, slots=True)
class Entry:
    """A line of the history: the revision, what changed, and the reason, "" where none is on record."""

    revision: int
    changed: str
    reason: str


@traced
def history_table(context: Context, found: Difference | None = None) -> Table | None:
    """Return what changed in each revision and why, None where nothing is on record.

    Of this revision the values before and after are told, if it was compared with the previous one; of
    earlier ones what their keys name.
    """
    entries = [*_entries(context, found)]
    if not entries:
        return None
    columns: list[Spec[Entry]] = [
        Spec("revision", "Revision", kind="number", cell=lambda one: str(one.revision)),
        Spec("changed", "Change", kind="wide", cell=lambda one: one.changed),
        Spec("reason", "Reason", kind="wide", cell=lambda one: one.reason or say("changes.no_reason")),
    ]
    return table("history", say("chapter.history_caption"), columns, entries)


def _entries(context: Context, found: Difference | None) -> Iterator[Entry]:
    rows = context.survey.rows(ChangeReason)
    now = context.survey.settings.project.revision
    reader = reader_for(context, found) if found else Reader(team=context.for_team)
    taken: set[str] = set()
    for row in rows:
        mine = [c for c in found.changes if covers(row, c)] if found and row.revision == now else []
        fresh = [change for change in mine if change.key not in taken]
        taken |= {change.key for change in fresh} if row.reason else set()
        if found and fresh:
            yield Entry(now, _told(found, fresh, reader), row.reason)
        elif not mine:
            yield Entry(int(row.revision), key_words(context, row.key, team=reader.team), row.reason)
    left = [change for change in found.changes if change.key not in taken] if found else []
    if found and left and (told := _told(found, left, reader)):
        yield Entry(now, told, "")


def _told(found: Difference, changes: Sequence[Change], reader: Reader) -> str:
    """Write the changes of a line, results first; "" where the reader may be told of none."""
    keys = {change.key for change in changes}
    results = [one for one in found.results if one.changes[0].key in keys and reader.may_see(one)]
    about = {change.key for one in found.results for change in one.changes}
    lines = [result_text(one, found.names, reader.display) for one in results]
    lines += [*_others((change for change in changes if change.key not in about), reader)]
    rest = len(lines) - MOST_TOLD
    return say("changes.lines", lines=lines[:MOST_TOLD], rest=max(rest, 0))


def _others(changes: Iterable[Change], reader: Reader) -> Iterator[str]:
    for change in changes:
        points = change.key.startswith("locations:") and change.kind in ("moved", "added", "removed")
        if change.kind == "text":
            yield say("changes.key_text", section=word("section", change.subject).lower())
        elif points and change.location_id not in reader.hidden:
            by = extent(change) if change.moved_m is not None else ""
            yield say("changes.point_turn", point=change.location_id, kind=change.kind, by=by)
        elif reader.team:
            yield say("changes.other_turn", change=change, kind=word("change", change.kind))


def key_words(context: Context, key: str, *, team: bool) -> str:
    """Say what the key of a change names: a result by compound and point, a section by its heading.

    Others than the team are not told the names of settings and of records.
    """
    kind, _, name = key.partition(":")
    if kind == "results":
        sample, _, analyte = name.rpartition("+")
        row = context.by_key.get((sample, analyte))
        where = row.location_id if row else ""
        return say("changes.key_result", compound=context.name(analyte), point=where, sample=sample, name=name)
    if kind == "text":
        return say("changes.key_text", section=word("section", name).lower())
    if kind == "locations":
        return say("changes.key_point", point=name)
    if team or ":" not in key:
        return key
    return say("changes.key_other", kind=kind if kind in ("file", "setting") else worded(kind.replace("_", " ")))
