"""A table to download over several rounds: the rows of each, told apart by their round."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from typing import Any

from sitegen.report.record.exports import ExportField, ExportTable
from sitegen.report.record.specs import TEXT
from sitegen.report.rounds.sides import round_ids
from sitegen.report.write.context import Context
from sitegen.report.write.words import say
from sitegen.voice import worded

ROUND = "round"


def over_rounds(context: Context, made: Callable[[Context], ExportTable]) -> ExportTable:
    """Return a table with the rows of every round, in order of time; of one round as it is made.

    A column that a round's own table lacks is empty in its rows. The round is part of the key and of each link. A
    row of the record that belongs to several rounds comes once for each.
    """
    if not context.earlier:
        return made(context)
    ids = round_ids(context)
    parts = [_recorded(made(one)) for one in context.rounds]
    fields = tuple(_fields(parts))
    return replace(
        parts[-1],
        note=_note(ids, parts),
        fields=fields,
        rows=tuple(row for name, part in zip(ids, parts, strict=True) for row in _rows(name, part, fields)),
        places=tuple(place for part in parts for place in part.places),
        shapes=tuple(shape for part in parts for shape in part.shapes),
        key=(ROUND, *parts[-1].key) if parts[-1].key else (),
        links=tuple(link._replace(beside=ROUND) for link in parts[-1].links),
    )


def _recorded(part: ExportTable) -> ExportTable:
    """Return a table whose own column of rounds, as the record has it, is told from the one that is added."""
    fields = (field._replace(name=f"{ROUND}_recorded") if field.name == ROUND else field for field in part.fields)
    return replace(part, fields=tuple(fields))


def _fields(parts: Sequence[ExportTable]) -> Iterator[ExportField]:
    """Yield the round, then the columns of all parts as the last of them that has one tells it."""
    yield ExportField(ROUND, TEXT, "", worded("round, its supplements with it"), required=True)
    found = {field.name: field for part in parts for field in part.fields}
    order = dict.fromkeys(field.name for part in reversed(parts) for field in part.fields)
    for name in order:
        yield found[name]._replace(choices=_choices(name, parts))


def _choices(name: str, parts: Sequence[ExportTable]) -> tuple[str, ...]:
    every = [field.choices for part in parts for field in part.fields if field.name == name]
    return tuple(dict.fromkeys(word for words in every for word in words)) if all(every) else ()


def _rows(name: str, part: ExportTable, fields: Sequence[ExportField]) -> Iterator[tuple[Any, ...]]:
    own = {field.name: at for at, field in enumerate(part.fields)}
    places = [own.get(field.name) for field in fields[1:]]
    blanks = ["" if field.type == TEXT else None for field in fields[1:]]
    for row in part.rows:
        told = (blank if at is None else row[at] for at, blank in zip(places, blanks, strict=True))
        yield (name, *told)


def _note(ids: Sequence[str], parts: Sequence[ExportTable]) -> str:
    """Return what the table holds, once where it is the same of each round that has rows."""
    held = {name: part.note for name, part in zip(ids, parts, strict=True) if part.rows}
    alike = len(set(held.values())) < 2
    notes = [parts[-1].note if not held else next(iter(held.values()))] if alike else held.items()
    return say("export.rounds_note", rounds=len(ids), notes=notes, alike=alike)
