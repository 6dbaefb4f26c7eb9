"""The conflicts of exports that nobody has decided yet, as the folder's own list of them has it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from contextlib import suppress

from sitegen.fieldwork.evening.record import Open
from sitegen.fieldwork.takein.decisions import FILE, Entry, is_open, key_text, read_entries
from sitegen.fieldwork.takein.exports import NAMES
from sitegen.fieldwork.takein.held import Held, UnreadError, held_tables, tidied
from sitegen.project.folder import Folder


def open_conflicts(folder: Folder) -> tuple[Open, ...]:
    """Return the conflicts that are open: nobody signed them, and the folder's text is what it was."""
    tables = _tables(folder, {entry.table for entry in _entries(folder)})
    found = []
    for number, entry in enumerate(_entries(folder), start=2):
        now = _now(tables, entry)
        if is_open(entry, entry.folder_value if now is None else now):
            found.append(Open(*entry[:6], where=f"{FILE}, row {number}"))
    return tuple(found)


def told_conflicts(folder: Folder) -> int:
    """Return how many conflicts were told."""
    return len(_entries(folder))


def _entries(folder: Folder) -> tuple[Entry, ...]:
    """Return the rows of the list; of one that can't be read, a row that says so."""
    try:
        return read_entries(folder.content(FILE))
    except ValueError:
        return (Entry("", "", "", "", "", ""),)


def _tables(folder: Folder, names: Iterable[str]) -> Mapping[str, Held]:
    """Return the tables that can be read, each on its own: a fault in one hides no other."""
    found: dict[str, Held] = {}
    for name in NAMES:
        if name in names:
            with suppress(UnreadError):
                found |= held_tables(folder, [name])
    return found


def _now(tables: Mapping[str, Held], entry: Entry) -> str | None:
    """Return what the folder has now for the cell of a conflict; None where its table can't be read."""
    held = tables.get(entry.table)
    if held is None:
        return None
    row = next((row for key, row in held.rows.items() if key_text(key) == entry.key), None)
    return tidied(row.texts.get(entry.column, "")) if row else ""
