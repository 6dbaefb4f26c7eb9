"""What stands around a table: a line such as ``Units: ng/sampler`` or two cells that say the same."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from sitegen.project.proposal.table import Table
from sitegen.project.proposal.words import LONGEST, role_of, unit_of

_SAID = ("unit", "method", "batch_id", "analysed_at", "lab_received_at", "dilution")


@dataclass(frozen=True, slots=True)
class Said:
    """Something that the text around a table says of all of it: our column, the text, and the cell."""

    role: str
    text: str
    cell: str


def said_around(table: Table, rows: Sequence[int]) -> dict[str, Said]:
    """Return what rows around a table say, the first of each kind."""
    found: dict[str, Said] = {}
    for row in rows:
        for said in _said(table, row):
            found.setdefault(said.role, said)
    return found


def _said(table: Table, row: int) -> Iterator[Said]:
    filled = [(at, cell) for at, cell in enumerate(table.rows[row]) if cell]
    for place, (at, cell) in enumerate(filled):
        label, colon, rest = cell[: 4 * LONGEST].partition(":")
        role, weak = role_of(label)
        beside = filled[place + 1][1] if place + 1 < len(filled) and not rest.strip() else rest.strip()
        if role in _SAID and not weak and beside and (colon or len(filled) == 2):
            if role != "unit" or unit_of(beside):
                yield Said(role, beside, table.ref(row, at))
        elif unit := _unit_behind(cell):
            yield Said("unit", unit, table.ref(row, at))


def _unit_behind(text: str) -> str:
    """Return the unit at the end of a sentence such as "All results in ng per sampler".

    >>> _unit_behind("All results in ng per sampler."), _unit_behind("Sampled in Utah")
    ('ng per sampler', '')
    """
    for word in (" in ", " als ", " en "):
        _, found, tail = text[-LONGEST:].rpartition(word)
        if found and unit_of(tail.rstrip(". ")):
            return tail.rstrip(". ")
    return ""
