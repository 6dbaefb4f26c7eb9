"""Tables of what changed for every reader: results, points, sections of the text, and statements that are touched."""

from __future__ import annotations

import re
from collections.abc import Callable, Container
from typing import TypeVar

from sitegen.checks.changes import reason_for
from sitegen.compute.evidence.difference import Change, Difference
from sitegen.compute.evidence.revised import Revised
from sitegen.compute.evidence.statements import Named, Statement
from sitegen.compute.statistics.rounding import rounded_text
from sitegen.compute.text.tokens import TOKEN
from sitegen.report.evidence.changeresults import Reader, before_and_after, details, outside, provenance, subject
from sitegen.report.record.pages import Cell, Ref, Table
from sitegen.report.record.specs import Spec, table
from sitegen.report.write.context import Context, location_ref
from sitegen.report.write.words import say, word

T = TypeVar("T")


def results_table(found: Difference, reader: Reader, linked: Container[str] = ()) -> Table:
    """Return the results that changed, each with what was and what is on record and the reason for it.

    ``linked`` are the points that have a page to lead to.
    """
    columns: list[Spec[Revised]] = [
        Spec("about", "Result", kind="wide", cell=lambda one: _about(found, one, linked)),
        Spec("old", "Before", kind="wide", cell=lambda one: before_and_after(one, reader.display)[0]),
        Spec("new", "Now", kind="wide", cell=lambda one: _now(one, reader)),
        Spec("factor", "Factor", kind="wide", cell=lambda one: factor_text(one.factor)),
        Spec("file", "Laboratory file", kind="wide", cell=lambda one: provenance(found, one, reader).files),
        _reason_column(lambda one: provenance(found, one, reader).reason),
    ]
    shown = [one for one in found.results if reader.may_see(one)]
    caption, empty = say("changes.results_caption"), say("changes.no_result", apart=outside(found))
    return table("changes-results", caption, columns, shown, empty=empty)


def _about(found: Difference, one: Revised, linked: Container[str]) -> Cell:
    point = one.row.location_id
    return Cell(subject(one, found.names), location_ref(point) if point in linked else None)


def _now(one: Revised, reader: Reader) -> str:
    after, more = before_and_after(one, reader.display)[1], details(one, reader.display)
    return f"{after}; {more}" if more else after


def _reason_column(reason: Callable[[T], str]) -> Spec[T]:
    def cell(one: T) -> Cell:
        return Cell(reason(one)) if reason(one) else Cell(say("changes.no_reason"), tone="muted")

    return Spec("reason", "Reason on record", kind="wide", cell=cell)


def points_table(found: Difference, reader: Reader) -> Table:
    """Return the points that moved, came or went, without what their rows say."""
    columns: list[Spec[Change]] = [
        Spec("point", "Point", cell=lambda change: change.location_id),
        Spec("kind", "Change", cell=lambda change: word("change", change.kind)),
        Spec("distance", "Distance", cell=extent),
        _reason_column(lambda change: reason_for(change, reader.reasons)),
    ]
    shown = [
        change
        for change in found.changes
        if change.key.startswith("locations:")
        and change.kind in ("moved", "added", "removed")
        and change.location_id not in reader.hidden
    ]
    caption, empty = say("changes.point_caption"), say("changes.none")
    return table("changes-points", caption, columns, shown, empty=empty, row_header=-1)


def sections_table(context: Context, found: Difference, reader: Reader) -> Table:
    """Return the sections whose text changed, with the words that this revision put in."""
    columns: list[Spec[Change]] = [
        Spec("section", "Section", cell=section_cell),
        Spec("new", "Words inserted", kind="wide", cell=lambda change: _filled(context, change.new) or "–"),
        _reason_column(lambda change: reason_for(change, reader.reasons)),
    ]
    shown = [change for change in found.changes if change.kind == "text"]
    return table("changes-text", say("changes.section_caption"), columns, shown, empty=say("changes.none"))


def _filled(context: Context, text: str) -> str:
    """Return words of a text with the numbers that it takes from the data."""
    return TOKEN.sub(lambda match: context.tokens.get(match["name"], match[0]), text)


def section_cell(change: Change) -> Cell:
    """Return the section that a change is of, leading to its text."""
    return Cell(word("section", change.subject), Ref("page", "report", f"text-{change.subject}"))


def statements_table(context: Context, found: Difference, *, team: bool) -> Table:
    """Return the sentences that a change touches, as printed before and now.

    Others than the team are not shown words that this revision no longer has.
    """
    columns: list[Spec[Statement]] = [
        Spec("section", "Section", cell=lambda one: Cell(word("section", one.section), Ref("page", "claims"))),
        Spec("old", "Before", kind="wide", cell=lambda one: before_text(one, team=team)),
        Spec("new", "Now", kind="wide", cell=lambda one: one.after or say("changes.gone")),
        Spec("names", "Refers to changed data", cell=lambda one: names_text(context, one.names, team=team) or "–"),
        Spec("state", "Check against the record", cell=lambda one: word("statement_state", one.state)),
    ]
    touched = [one for one in found.statements if one.touched and (team or one.after)]
    caption, empty = say("changes.statements_caption"), say("changes.no_statement")
    return table("changes-statements", caption, columns, touched, empty=empty)


def before_text(one: Statement, *, team: bool) -> str:
    """Return how a sentence was printed before, as far as the reader is shown it."""
    if one.before == one.after:
        return say("changes.same_text")
    if not one.before:
        return say("changes.new_sentence")
    return one.before if team or one.same_words else say("changes.other_words")


def names_text(context: Context, names: tuple[Named, ...], *, team: bool) -> str:
    """Write what a sentence names that changed; others than the team do not know tokens by their names."""
    told = (say("changes.a_number") if one.kind == "token" and not team else _name(context, one) for one in names)
    return "; ".join(dict.fromkeys(told))


def _name(context: Context, one: Named) -> str:
    if one.kind == "compound":
        return context.name(one.name)
    return word("compound_group", one.name) if one.kind == "group" else one.name


def extent(change: Change) -> str:
    """Say how far a change goes: the factor of a value, the distance of a point."""
    if change.factor is not None:
        return factor_text(change.factor)
    return f"{change.moved_m:.2f} m" if change.moved_m is not None else "–"


_DIVIDES = re.compile(r"[,\u202f]")


def factor_text(factor: float | None) -> str:
    """Write a factor as numbers are shown, in more digits where it would read as one; a dash for none."""
    if factor is None:
        return "–"
    longer = (f"{factor:.{digits}g}" for digits in range(4, 9))
    return "× " + next((text for text in (rounded_text(factor), *longer) if float(_DIVIDES.sub("", text)) != 1), "1")
