"""What the crew wrote down: all notes in one table, and the short record on a printed sheet."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import NamedTuple

from sitegen.compute.field.exposure import LOST
from sitegen.project.schema import Origin
from sitegen.project.tables import Location, ReturnBag, Sampler
from sitegen.report.field.surveyed import surveyed_cell
from sitegen.report.record.pages import Cell, Facts, Ref, Table
from sitegen.report.record.specs import Spec, table
from sitegen.report.trace.printed import record_ref
from sitegen.report.write.columns import SAMPLER, point_cell
from sitegen.report.write.context import Context
from sitegen.report.write.publish import allowed_classes
from sitegen.report.write.traced import traced
from sitegen.report.write.values import place_text
from sitegen.report.write.words import say, word
from sitegen.voice import worded


class _Note(NamedTuple):
    """What the crew noted about a point or bag: of which sampler, when on site and by whom, as far as on record."""

    about: Cell
    text: str
    origin: Origin
    sampler_id: str = ""
    when: str = "–"
    who: str = "–"


_NOTE_COLUMNS: list[Spec[_Note]] = [
    Spec("about", "Point or bag", cell=lambda note: note.about),
    SAMPLER,
    Spec("when", "On site", cell=lambda note: note.when),
    Spec("who", "Role", cell=lambda note: note.who),
    Spec("note", "Note", kind="wide", cell=lambda note: note.text),
    Spec("evidence", "Recorded in", cell=lambda note: row_cell(note.origin)),
]


@traced
def notes_table(context: Context) -> Table:
    """Return every note of the crew, point by point and then bags; where they are withheld, how many remarks are."""
    caption, none = say("field.notes_caption"), say("field.notes_none")
    if "field_comments" not in allowed_classes(context.survey.settings.publish):
        remarks = context.survey.withheld.remarks
        empty = say("publish.remarks", remarks=remarks) if remarks else none
        return table("notes", caption, _NOTE_COLUMNS, (), empty=empty)
    return table("notes", caption, _NOTE_COLUMNS, _notes(context), note=say("field.notes_note"), empty=none)


def _notes(context: Context) -> Iterator[_Note]:
    noted = {row.sampler_id: row for row in context.survey.rows(Sampler) if row.note}
    for point in context.locations:
        yield from _of_point(context, point, noted)
    for name, row in noted.items():
        if name not in context.placed:
            yield _of_sampler(context, row)
    for bag in context.survey.rows(ReturnBag):
        if bag.note:
            about = Cell(say("field.notes_bag", bag=bag.bag_id), Ref("bag", bag.bag_id))
            when = context.moment(bag.sealed_at_utc)
            yield _Note(about, bag.note, bag.origin, when=when, who=bag.sealed_by or "–")


def _of_point(context: Context, point: Location, noted: Mapping[str, Sampler]) -> Iterator[_Note]:
    """Yield what was noted about a point, its placements and their samplers."""
    name = point.location_id
    here = point_cell(name)
    if point.comment:
        yield _Note(here, point.comment, point.origin)
    for p in (*context.placed_at.get(name, ()), *context.opened_at.get(name, ())):
        if p.comment:
            times = (p.placed_utc, p.retrieved_utc)
            when = "; ".join(context.when(at) for at in times if at is not None and at >= 0) or "–"
            yield _Note(here, p.comment, p.origin, p.sampler_id, when, _roles(p.placed_by, p.retrieved_by))
        if p.sampler_id in noted:
            yield _of_sampler(context, noted[p.sampler_id])


def _of_sampler(context: Context, row: Sampler) -> _Note:
    place = context.placed.get(row.sampler_id)
    about = point_cell(place.location_id) if place else Cell(word("kind", row.kind))
    return _Note(about, row.note, row.origin, row.sampler_id)


def row_cell(origin: Origin) -> Cell:
    """Return the place of a row in one of our own files, leading to the row as received."""
    return Cell(place_text(origin), record_ref(origin.where()))


def _roles(*roles: str) -> str:
    return ", ".join(dict.fromkeys(role for role in roles if role)) or "–"


def sheet_facts(context: Context, row: Location) -> Facts:
    """Return a point's record as it stands on its printed sheet: place, times, depth and surface, notes."""
    name = row.location_id
    placed = context.primary_at(name)
    facts: list[tuple[str, Cell]] = []
    point = context.points.get(name)
    if point:
        facts.append((worded("Position"), Cell(position_text(context, name))))
        facts.append((worded("Coordinates as surveyed"), surveyed_cell(context, point, row)))
    if placed:
        lost = worded("not recovered") if placed.state == LOST else word("state", placed.state)
        out = context.told_at(placed.retrieved_utc) if placed.retrieved_utc is not None else lost
        times = (_by(context.told_at(placed.placed_utc), placed.placed_by), _by(out, placed.retrieved_by))
        facts.append((worded("Installed; retrieved"), Cell("; ".join(times))))
    hole = (placed.depth_text if placed else "", word("surface", row.surface) if row.surface else "")
    if any(hole):
        facts.append((worded("Depth and surface"), Cell(", ".join(part for part in hole if part))))
    notes = [row.comment, *(p.comment for p in context.placed_at.get(name, ()))]
    if any(notes):
        facts.append((worded("Field notes"), Cell(" / ".join(note for note in notes if note))))
    measured = frozenset(map(worded, ("Position", "Coordinates as surveyed", "Depth and surface")))
    return Facts(tuple(facts), measured)


def position_text(context: Context, name: str) -> str:
    """Return a point's position on the map grid, and whether it was surveyed."""
    point = context.points[name]
    where = worded("planned position") if point.as_planned else worded("surveyed position")
    return worded("{x:.2f} E, {y:.2f} N ({system}; {where})", x=point.x, y=point.y, system=context.crs, where=where)


def _by(when: str, role: str) -> str:
    return f"{when}, {role}" if role else when
