"""Conflicts that were told, kept in ``records/field/conflicts.csv`` until a person has decided them.

Each row is what one device says of a cell, beside what the folder had when that was told. A person decides
by typing what is right into the table; where the table is right as it is, by a role code in ``decided_by``.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from sitegen.fieldwork.takein.claims import Cell, Claim
from sitegen.findings.problems import no_formula
from sitegen.project.read.csvtext import read_csv
from sitegen.render.data.exports import csv_lines

FILE = "records/field/conflicts.csv"
COLUMNS = ("table", "key", "column", "device", "device_value", "folder_value", "decided_by", "reason")


class Entry(NamedTuple):
    """A row of the file: a cell, a device with its text, what the folder had, and who decided it."""

    table: str
    key: str
    column: str
    device: str
    device_value: str
    folder_value: str
    decided_by: str = ""
    reason: str = ""


def read_entries(content: bytes | None) -> tuple[Entry, ...]:
    """Return the conflicts that were told. Raises ValueError where the file can't be read."""
    if content is None:
        return ()
    table, findings = read_csv(FILE, content)
    if table is None or findings:
        raise ValueError(findings[0].line())
    if missing := [name for name in COLUMNS if name not in table.header]:
        raise ValueError(f"{FILE} lacks the column {missing[0]}; restore it")
    at = [table.header.index(name) for name in COLUMNS]
    return tuple(Entry(*(row[place].strip() for place in at)) for row in table.rows)


def key_text(key: Iterable[str]) -> str:
    """Return a row's key as the file has it.

    >>> key_text(["0204"]), key_text(["-7"])
    ('0204', "'-7")
    """
    return _kept(" + ".join(key))


def entries_of(cell: Cell, folder: str, against: Iterable[tuple[str, str]]) -> list[Entry]:
    """Return the rows that tell a conflict: one for each text of a device that is not the folder's."""
    place = (cell.table, key_text(cell.key), cell.column)
    return [Entry(*place, device, _kept(text), _kept(folder)) for device, text in against]


def is_decided(cell: Cell, claim: Claim, folder: str, entries: Iterable[Entry]) -> bool:
    """Tell whether a person has decided between a device's text and the folder's.

    So it is where the conflict was told and the folder's text has changed since, or somebody signed it; and
    where the device's text was taken in before and the folder's was changed after that.
    """
    wanted = entries_of(cell, folder, [(claim.device, claim.text)])[0][:5]
    told = [entry for entry in entries if entry[:5] == wanted]
    if not told:
        return not claim.new and folder != ""
    return not all(is_open(entry, folder) for entry in told)


def is_open(entry: Entry, folder: str) -> bool:
    """Tell whether nobody signed a conflict and the folder's text is what it was when that was told."""
    return not entry.decided_by and entry.folder_value == _kept(folder)


def with_entries(content: bytes | None, new: Sequence[Entry]) -> bytes | None:
    """Return the file with new conflicts added, each once and all else as it was; None where there is none to add."""
    known = {entry[:6] for entry in read_entries(content)}
    added = [entry for entry in dict.fromkeys(new) if entry[:6] not in known]
    if not added:
        return None
    if content is None:
        return csv_lines(COLUMNS, added)
    table, _ = read_csv(FILE, content)
    header = table.header if table else COLUMNS
    lines = csv_lines(header, [[entry._asdict().get(name, "") for name in header] for entry in added])
    return content + (b"" if content.endswith(b"\n") else b"\r\n") + lines.split(b"\r\n", 1)[1]


def _kept(text: str) -> str:
    return no_formula(text).replace("\r\n", "\n").strip()
