"""Exports merged with the folder's tables: what may be written, and what a person has to decide.

A blank cell is filled where all devices that say something of it say the same; a cell that has a text is
never written over, but by the device whose own earlier text it has, and that says why it changed it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import partial
from itertools import groupby
from typing import NamedTuple

from sitegen.fieldwork.takein.claims import Cell, Claim
from sitegen.fieldwork.takein.decisions import Entry, is_decided
from sitegen.fieldwork.takein.held import Held, HeldRow, Key, tidied
from sitegen.project.cellfills import Fill, NewRow
from sitegen.project.schema import Kind, TableSpec
from sitegen.project.zones import local_text, read_time


class Told(NamedTuple):
    """A cell on which records differ: where it stands, what the folder has, and what each device says.

    ``against`` are the texts of devices that are not the folder's.
    """

    cell: Cell
    file: str
    row: int | None
    folder: str
    said: tuple[tuple[str, str], ...]
    against: tuple[tuple[str, str], ...]
    reasons: tuple[str, ...] = ()


@dataclass(slots=True)
class Merged:
    """What a merge comes to: the edits by table, and the cells that were updated, are open or were decided."""

    fills: dict[str, list[Fill]] = field(default_factory=dict)
    rows: dict[str, list[NewRow]] = field(default_factory=dict)
    updated: list[Told] = field(default_factory=list)
    conflicts: list[Told] = field(default_factory=list)
    decided: list[Told] = field(default_factory=list)


class _Row(NamedTuple):
    """A row that is being merged: its place in the folder, or None where it is new."""

    held: Held
    key: Key
    row: HeldRow | None

    def told(
        self, cell: Cell, claims: Iterable[Claim], against: Iterable[Claim], reasons: tuple[str, ...] = ()
    ) -> Told:
        number = self.row.number if self.row else None
        return Told(cell, self.held.called, number, self.text(cell.column), _texts(claims), _texts(against), reasons)

    def text(self, column: str) -> str:
        return tidied(self.row.texts.get(column, "")) if self.row else ""


def _texts(claims: Iterable[Claim]) -> tuple[tuple[str, str], ...]:
    return tuple(dict.fromkeys((claim.device, claim.text) for claim in claims))


def merge(
    tables: Mapping[str, Held],
    said: Mapping[Cell, tuple[Claim, ...]],
    asked: Collection[Cell],
    entries: Iterable[Entry],
) -> Merged:
    """Merge what devices said into the folder's tables.

    ``said`` is what all devices say, those that were taken in earlier with it; written are the cells ``asked``
    for alone. ``entries`` are the conflicts that were told earlier.
    """
    merged = Merged()
    told = tuple(entries)
    cells = sorted((cell for cell in asked if cell.table in tables), key=_place)
    for (table, key), own in groupby(cells, lambda cell: (cell.table, cell.key)):
        held = tables[table]
        row = _Row(held, key, held.rows.get(key))
        known = {cell: said[cell] for cell in own}
        if gone := _taken_back(row, known):
            _tell_gone(row, gone, told, merged)
        else:
            _edit(row, dict(_written(row, known, told, merged)), merged)
    for name, rows in merged.rows.items():
        rows.sort(key=lambda new: _in_time(tables[name].spec, new))
    return merged


def _place(cell: Cell) -> tuple[str, Key, str]:
    return (cell.table, cell.key, cell.column)


def _taken_back(row: _Row, said: Mapping[Cell, tuple[Claim, ...]]) -> tuple[Claim, ...]:
    """Return the claims on a row's key where every device that had the row took it back; none elsewhere."""
    on_key = tuple(claim for cell, every in said.items() if cell.column in row.held.spec.key for claim in every)
    return () if any(claim.text for claim in on_key) else on_key


def _tell_gone(row: _Row, claims: tuple[Claim, ...], entries: tuple[Entry, ...], merged: Merged) -> None:
    """Tell of a row that the folder has and its devices took back: a person deletes it, or signs that it stays."""
    if row.row is None:
        return
    cell = Cell(row.held.spec.name, row.key, row.held.spec.key[0])
    reasons = tuple(dict.fromkeys(reason for claim in claims for _, given in claim.before for reason in given))
    is_open = [one for one in claims if not is_decided(cell, one, row.text(cell.column), entries)]
    (merged.conflicts if is_open else merged.decided).append(row.told(cell, claims, claims, reasons))


def _written(
    row: _Row, said: Mapping[Cell, tuple[Claim, ...]], entries: tuple[Entry, ...], merged: Merged
) -> Iterator[tuple[str, str]]:
    """Yield the texts to write into a row, by column; keep what is told of the others."""
    for cell, every in said.items():
        claims = tuple(claim for claim in every if claim.text) or every
        if cell.column in row.held.spec.key:
            if row.row is None:
                yield cell.column, claims[0].text
            continue
        if row.row is not None:
            claims = tuple(claim for claim in claims if claim.own)
        text = row.text(cell.column)
        against = [one for one in claims if not row.held.same(cell.column, one.text, text, row.row)]
        if not against:
            continue
        agree = all(row.held.same(cell.column, one.text, claims[0].text) for one in claims)
        if agree and not text:
            yield cell.column, claims[0].text
        elif agree and (mine := _replaces(row, cell.column, text, claims)):
            merged.updated.append(row.told(cell, mine[:1], mine[:1], mine[1]))
            yield cell.column, mine[0].text
        else:
            is_open = [one for one in against if not is_decided(cell, one, text, entries)]
            (merged.conflicts if is_open else merged.decided).append(row.told(cell, claims, against))


def _replaces(row: _Row, column: str, text: str, claims: Iterable[Claim]) -> tuple[Claim, tuple[str, ...]] | None:
    """Return the claim that replaces the folder's text, and why: its device wrote that text, as a kept export shows."""
    alike = partial(row.held.same, column, other=text, row=row.row)
    for claim in claims:
        reasons = next((reasons for old, reasons in claim.before if alike(old)), None)
        if reasons is not None and any(map(alike, claim.kept)):
            return claim, reasons
    return None


def _edit(row: _Row, texts: Mapping[str, str], merged: Merged) -> None:
    """Keep the edits of one row: cells filled, or a row added; that of a serial in a range is like the range's."""
    spec, name = row.held.spec, row.held.spec.name
    if row.row is None or row.row.ranged:
        keys = dict(zip(spec.key, row.key, strict=True)) if row.row else {}
        if texts and all(column in {**keys, **texts} for column in spec.key):
            new = NewRow({**keys, **texts}, row.row.number if row.row else 0)
            merged.rows.setdefault(name, []).append(new)
        return
    for column, text in texts.items():
        was = row.row.received.get(column, "")
        merged.fills.setdefault(name, []).append(Fill(row.row.number, column, _local(row, column, text), was))


def _local(row: _Row, column: str, text: str) -> str:
    """Return a time of the project's zone as a row of another zone has it."""
    kind = row.held.spec.column(column)
    zone = row.held.zone_of(kind, row.row)
    minutes = read_time(text, row.held.time_zone).utc_min if kind.kind is Kind.TIME else None
    if minutes is None or zone == row.held.time_zone:
        return text
    return local_text(minutes, zone).replace(" ", "T")


def _in_time(spec: TableSpec, row: NewRow) -> tuple[str, tuple[str, ...]]:
    """Order rows by their first time, then by key."""
    times = (row.texts.get(column.name, "") for column in spec.columns if column.kind is Kind.TIME)
    return next(times, ""), tuple(row.texts.get(name, "") for name in spec.key)
