"""A CSV table of the folder edited in place: cells filled, rows added, every other byte as it was.

The file keeps its encoding, its delimiter, its line ends, the form of its dates and numbers, the order of
its columns and whatever else it holds. What is written is read again, and must be the old table with
the edits and nothing else.
"""

from __future__ import annotations

import codecs
import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from sitegen.findings.problems import Finding
from sitegen.project.intake.reform import DAYS, NUMBERS, plain_number
from sitegen.project.read.csvtext import RawTable, read_csv
from sitegen.project.read.forms import in_form
from sitegen.project.schema import Column, TableSpec
from sitegen.project.settings import FilePart

_BOM = "\ufeff"


class NotEditableError(Exception):
    """A file can't be edited without a loss; the message says why."""


@dataclass(frozen=True, slots=True)
class Fill:
    """A new text, in the form of the format, for the cell of a row that has the text ``was`` in its file.

    ``row`` is the number that a spreadsheet shows.
    """

    row: int
    column: str
    text: str
    was: str = ""


@dataclass(frozen=True, slots=True)
class NewRow:
    """A row to add: texts in the form of the format, by column.

    Where ``like`` is the number of a row, the new one has that row's other cells, as the file has them.
    """

    texts: Mapping[str, str]
    like: int = 0


@dataclass(slots=True)
class _Record:
    """One record of a CSV file: its cells as written, quotes included, and the line end after it."""

    cells: list[str]
    end: str


def edited_csv(
    spec: TableSpec, content: bytes | None, how: FilePart, fills: Iterable[Fill], rows: Sequence[NewRow]
) -> bytes:
    r"""Return the bytes of a table's CSV file with cells filled and rows added; ``content`` is None for a new file.

    A column that is filled and that the file lacks is added at its right. Raises NotEditableError where
    the file can't be read without a fault or written again byte for byte, where a cell no longer has the text
    that it is said to have, or where its encoding lacks a character.

    >>> from sitegen.project.tables import TABLE
    >>> old = b"bag_id;x_box;note\r\nRB-1;7;\r\n"
    >>> fills, rows = [Fill(2, "note", "a; b")], [NewRow({"bag_id": "RB-2"})]
    >>> edited_csv(TABLE["return_bags"], old, FilePart(delimiter=";"), fills, rows)
    b'bag_id;x_box;note\r\nRB-1;7;"a; b"\r\nRB-2;;\r\n'
    """
    fills = list(fills)
    if content is None:
        content = (how.delimiter.join(spec.column_names) + "\n").encode(how.encoding)
    before = _read(spec, content, how)
    codec, text = _decoded(content, how.encoding)
    records = _records(text.removeprefix(_BOM), how.delimiter)
    after = _edit(spec, before, records, how, fills, rows)
    written = "".join(how.delimiter.join(record.cells) + record.end for record in records)
    try:
        new = ((_BOM if text.startswith(_BOM) else "") + written).encode(codec)
    except UnicodeEncodeError as error:
        sign = written[error.start]
        raise NotEditableError(f"{how.encoding} has no character {sign!r}; save the file as UTF-8") from error
    again = _read(spec, new, how)
    if (again.header, list(again.rows)) != after:
        raise NotEditableError("its quotes or line ends cannot be kept; save it again as CSV from a spreadsheet")
    return new


def _read(spec: TableSpec, content: bytes, how: FilePart) -> RawTable:
    table, findings = read_csv(spec.path, content, encoding=how.encoding, delimiter=how.delimiter)
    if table is None or findings:
        raise NotEditableError(_fault(findings[0]) if findings else "it cannot be read")
    return table


def _fault(finding: Finding) -> str:
    row = finding.where.row
    return finding.found if row is None else f"row {row}: {finding.found}"


def _decoded(content: bytes, encoding: str) -> tuple[str, str]:
    """Return a codec that keeps a byte-order mark as a character, and the text by it."""
    name = codecs.lookup(encoding).name
    codec = {"utf-8-sig": "utf-8", "utf-16": "utf-16-be" if content.startswith(codecs.BOM_UTF16_BE) else "utf-16-le"}
    codec_name = codec.get(name, name)
    text = content.decode(codec_name)
    if text.encode(codec_name) != content:
        raise NotEditableError(f"its bytes cannot be kept in {encoding}; save it as UTF-8")
    return codec_name, text


def _records(text: str, delimiter: str) -> list[_Record]:
    r"""Split a text into records as the csv module does, with nothing lost.

    >>> [record.cells for record in _records('a,"b,\nc"\r\n\r\n1,', ",")]
    [['a', '"b,\nc"'], [''], ['1', '']]
    """
    sign = re.escape(delimiter)
    cell = re.compile(rf'((?:"(?:[^"]|"")*+")?[^{sign}\r\n]*)({sign}|\r\n|\r|\n|\Z)')
    records: list[_Record] = []
    cells: list[str] = []
    at = 0
    while at < len(text) or cells:
        match = cell.match(text, at)
        if match is None:
            raise NotEditableError("a quote in it does not close")
        cells.append(match[1])
        at = match.end()
        if match[2] != delimiter:
            records.append(_Record(cells, match[2]))
            cells = []
    return records


def _edit(
    spec: TableSpec,
    before: RawTable,
    records: list[_Record],
    how: FilePart,
    fills: Sequence[Fill],
    rows: Sequence[NewRow],
) -> tuple[tuple[str, ...], list[list[str]]]:
    """Edit the records, and return header and rows that a reader must then find."""
    body = dict(zip(before.numbers, before.rows, strict=True))
    head = next(record for record in records if any(cell.strip() for cell in record.cells))
    header = _header(spec, before, fills, rows)
    quoted = all(cell.startswith('"') for cell in head.cells)
    for at, name in enumerate(header[len(before.header) :], start=len(before.header)):
        _put(head, at, _written(name, how.delimiter, quoted=quoted))
    expected = {number: [*row, *[""] * (len(header) - len(row))] for number, row in body.items()}
    for number in body:
        _put(records[number - 1], len(header) - 1, None)
    place = {name: at for at, name in enumerate(header)}
    for fill in fills:
        row, at = expected[fill.row], place[fill.column]
        if row[at].strip() != fill.was.strip():
            raise NotEditableError(f"row {fill.row} has a different {fill.column} than before")
        row[at] = in_their_form(spec.column(fill.column), fill.text, how)
        _put(records[fill.row - 1], at, _written(row[at], how.delimiter, quoted=quoted))
    added = [_new_row(spec, row, header, expected, how) for row in rows]
    _append(records, added, how.delimiter, quoted=quoted)
    return header, [*expected.values(), *added]


def _header(spec: TableSpec, before: RawTable, fills: Iterable[Fill], rows: Iterable[NewRow]) -> tuple[str, ...]:
    """Return the header with the columns that the edits need and the file lacks, in the format's order."""
    needed = {fill.column for fill in fills}.union(*(row.texts for row in rows)) - {*before.header}
    return (*before.header, *(name for name in spec.column_names if name in needed))


def _put(record: _Record, at: int, cell: str | None) -> None:
    """Set a cell of a record, which gets as many cells as that takes; None leaves the cell as it is."""
    record.cells += [""] * (at + 1 - len(record.cells))
    if cell is not None:
        record.cells[at] = cell


def _new_row(
    spec: TableSpec, row: NewRow, header: Sequence[str], old: Mapping[int, Sequence[str]], how: FilePart
) -> list[str]:
    base = list(old[row.like]) if row.like else [""] * len(header)
    return [
        in_their_form(spec.column(name), row.texts[name], how) if name in row.texts else was
        for name, was in zip(header, base, strict=True)
    ]


def _append(records: list[_Record], rows: Sequence[Sequence[str]], delimiter: str, *, quoted: bool) -> None:
    """Add rows after the last record, with the line end that the file has most often."""
    if not rows:
        return
    ends = Counter(record.end for record in records if record.end)
    end = ends.most_common(1)[0][0] if ends else "\n"
    last = records[-1].end
    records[-1].end = last or end
    records += [_Record([_written(text, delimiter, quoted=quoted) for text in row], end) for row in rows]
    records[-1].end = last and end


def _written(text: str, delimiter: str, *, quoted: bool) -> str:
    """Return a cell as a CSV file has it (RFC 4180).

    >>> print(_written('a, "b" c', ",", quoted=False), _written("7", ",", quoted=True))
    "a, ""b"" c" "7"
    """
    if quoted or text != text.strip() or any(sign in text for sign in (delimiter, '"', "\r", "\n")):
        return '"' + text.replace('"', '""') + '"'
    return text


def in_their_form(column: Column, text: str, how: FilePart) -> str:
    """Return a text of the format in the form that a file has; ISO stays where the form can't say all of it.

    >>> from sitegen.project.tables import TABLE
    >>> in_their_form(TABLE["deployments"].column("depth_m"), "0.9", FilePart(decimal=","))
    '0,9'
    """
    if column.kind in DAYS and how.dates:
        return in_form(text, how.dates) or text
    if column.kind in NUMBERS and how.decimal != ".":
        theirs = text.replace(".", how.decimal)
        return theirs if plain_number(theirs, how.decimal, how.thousands) else text
    return text
