"""What the crew wrote down: all notes in one table, and the short record on a printed sheet."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from sitegen.compute.field.exposure import LOST
from sitegen.project.schema import Origin
from sitegen.project.tables import Location, ReturnBag, Sampler
from sitegen.report.field.surveyed import surveyed_cell
from sitegen.report.record.pages import Cell, Column, Facts, Ref, Table
from sitegen.report.trace.printed import record_ref
from sitegen.report.write.context import Context, location_ref
from sitegen.report.write.publish import allowed
from sitegen.report.write.traced import traced
from sitegen.report.write.values import place_text
from sitegen.report.write.words import say, word


@traced
def notes_table(context: Context) -> Table:
    """Return every note of the crew, point by point and then bags; where they are withheld, how many remarks are."""
    columns = (
        Column("about", "Point or bag"),
        Column("sampler", "Sampler"),
        Column("when", "On site"),
        Column("who", "Who"),
        Column("note", "Note", kind="wide"),
        Column("evidence", "Recorded in"),
    )
    if "field_comments" not in allowed(context.survey.settings.publish):
        remarks = context.survey.withheld.remarks
        empty = say("publish.remarks", remarks=remarks) if remarks else say("field.notes_none")
        return Table("notes", say("field.notes_caption"), columns, (), empty=empty)
    noted = {row.sampler_id: row for row in context.survey.rows(Sampler) if row.note}
    rows = tuple(row for at in context.locations for row in _of_point(context, at, noted))
    rows += tuple(_of_sampler(context, row) for name, row in noted.items() if name not in context.placed)
    rows += tuple(_of_bags(context))
    return Table(
        "notes", say("field.notes_caption"), columns, rows, note=say("field.notes_note"), empty=say("field.notes_none")
    )


def _of_point(context: Context, point: Location, noted: Mapping[str, Sampler]) -> Iterator[tuple[Cell, ...]]:
    """Yield what was noted about a point, its placements and their samplers."""
    name = point.location_id
    here = Cell(name, location_ref(name))
    if point.comment:
        record = row_cell(point.origin)
        yield (here, Cell("–"), Cell("–"), Cell("–"), Cell(point.comment), record)
    for p in (*context.placed_at.get(name, ()), *context.opened_at.get(name, ())):
        if p.comment:
            times = (p.placed_utc, p.retrieved_utc)
            yield (
                here,
                Cell(p.sampler_id, Ref("sampler", p.sampler_id)),
                Cell("; ".join(context.when(at) for at in times if at is not None and at >= 0) or "–"),
                Cell(_roles(p.placed_by, p.retrieved_by)),
                Cell(p.comment),
                row_cell(p.origin),
            )
        if p.sampler_id in noted:
            yield _of_sampler(context, noted[p.sampler_id])


def _of_sampler(context: Context, row: Sampler) -> tuple[Cell, ...]:
    name = row.sampler_id
    place = context.placed.get(name)
    about = Cell(place.location_id, location_ref(place.location_id)) if place else Cell(word("kind", row.kind))
    sampler, note = Cell(name, Ref("sampler", name)), Cell(row.note)
    return (about, sampler, Cell("–"), Cell("–"), note, row_cell(row.origin))


def _of_bags(context: Context) -> Iterator[tuple[Cell, ...]]:
    for row in context.survey.rows(ReturnBag):
        if row.note:
            yield (
                Cell(say("field.notes_bag", bag=row.bag_id), Ref("bag", row.bag_id)),
                Cell("–"),
                Cell(context.moment(row.sealed_at_utc)),
                Cell(row.sealed_by or "–"),
                Cell(row.note),
                row_cell(row.origin),
            )


def row_cell(origin: Origin) -> Cell:
    """Return the place of a row in one of our own files, leading to the row as received."""
    return Cell(place_text(origin), record_ref(origin.file, origin.row))


def _roles(*roles: str) -> str:
    return ", ".join(dict.fromkeys(role for role in roles if role)) or "–"


def sheet_facts(context: Context, row: Location) -> Facts:
    """Return a point's record as it stands on its printed sheet: place, times, depth and surface, notes."""
    name = row.location_id
    placed = context.primary_at(name)
    facts: list[tuple[str, Cell]] = []
    point = context.points.get(name)
    if point:
        facts.append(("Position", Cell(position_text(context, name))))
        facts.append(("Coordinates as surveyed", surveyed_cell(context, point, row)))
    if placed:
        lost = "not recovered" if placed.state == LOST else word("state", placed.state)
        out = context.moment(placed.retrieved_utc) if placed.retrieved_utc is not None else lost
        times = (_by(context.moment(placed.placed_utc), placed.placed_by), _by(out, placed.retrieved_by))
        facts.append(("Placed; retrieved", Cell("; ".join(times))))
    hole = (placed.depth_text if placed else "", word("surface", row.surface) if row.surface else "")
    if any(hole):
        facts.append(("Depth and surface", Cell(", ".join(part for part in hole if part))))
    notes = [row.comment, *(p.comment for p in context.placed_at.get(name, ()))]
    if any(notes):
        facts.append(("Notes of the crew", Cell(" / ".join(note for note in notes if note))))
    measured = frozenset({"Position", "Coordinates as surveyed", "Depth and surface"})
    return Facts(tuple(facts), measured)


def position_text(context: Context, name: str) -> str:
    """Return a point's position on the map grid, and whether it was surveyed."""
    point = context.points[name]
    where = "planned position" if point.as_planned else "surveyed position"
    return f"{point.x:.2f} E, {point.y:.2f} N ({context.crs}; {where})"


def _by(when: str, role: str) -> str:
    return f"{when}, {role}" if role else when
