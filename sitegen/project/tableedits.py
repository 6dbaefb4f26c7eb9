"""Rows added to a CSV table of the folder, exactly in the file's own form.

What stands there stays as it is, byte for byte; only a column that the file lacks gives each row a further blank
cell. The new file is made in memory and read again, and takes the place of the old one in one step.
"""

from __future__ import annotations

import codecs
import csv
import io
import os
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from tempfile import NamedTemporaryFile

from sitegen.findings.problems import OutputFault, WrongUse, no_formula
from sitegen.project.intake.reform import NUMBERS
from sitegen.project.read.csvtext import RawTable, read_csv
from sitegen.project.schema import Kind, TableSpec
from sitegen.project.settings import FilePart

_MARKS = {
    "utf-8": ((codecs.BOM_UTF8, "utf-8"),),
    "utf-16": ((codecs.BOM_UTF16_LE, "utf-16-le"), (codecs.BOM_UTF16_BE, "utf-16-be")),
}
"""Byte-order marks that a file may begin with, and the encoding that follows each."""

_PLAIN_MODE = 0o644


@dataclass(frozen=True, slots=True)
class _Text:
    """A file as text: the byte-order mark before it, the encoding of the rest, and the rest."""

    mark: bytes
    encoding: str
    text: str

    @property
    def content(self) -> bytes:
        return self.mark + self.text.encode(self.encoding)


def with_rows(spec: TableSpec, content: bytes, rows: Sequence[Mapping[str, str]], how: FilePart) -> bytes:
    r"""Return the bytes of a table with rows added below those it has.

    ``rows`` have texts in the forms of the format, by column. Numbers are written with the file's decimal sign, and
    no text begins as a formula does. Columns that the file lacks stand behind the last of its header. Empty
    content becomes a table with every column of the format. Raises WrongUse where the file can't hold the rows.

    >>> from sitegen.project.tables import TABLE
    >>> old = b"location_id;medium\r\nSG-01;soil_gas\r\n"
    >>> new = {"location_id": "SG-02", "medium": "soil_gas", "easting": "12.50"}
    >>> with_rows(TABLE["locations"], old, [new], FilePart(delimiter=";", decimal=",")).decode()
    'location_id;medium;easting\r\nSG-01;soil_gas;\r\nSG-02;soil_gas;12,50\r\n'
    """
    _refuse_dates(spec, rows, how)
    try:
        old = _as_text(content or _header(spec, how), how.encoding)
        if content and old.content != content:
            raise WrongUse(f"{spec.path} is in {how.encoding}, whose bytes can't be kept as they are; save it as UTF-8")
        made = _added(spec, old, rows, how)
    except UnicodeError as error:
        raise WrongUse(_unwritable(spec, error, how)) from error
    _prove(spec, old.content, made, rows, how)
    return made


def replace_file(path: Path, old: bytes | None, new: bytes) -> None:
    """Give a file new content in one step; ``old`` is what it is known to have, None where there was none.

    Raises WrongUse where the file has changed meanwhile, OutputFault where the system refuses; the file is then as
    it was. A link to a file stays one.
    """
    place = Path(os.path.realpath(path))
    scratch: Path | None = None
    try:
        if (place.read_bytes() if place.exists() else None) != old:
            raise WrongUse(f"{path} changed while it was read; nothing was written, run the command again")
        place.parent.mkdir(parents=True, exist_ok=True)
        with NamedTemporaryFile(dir=place.parent, prefix=f".{place.name}.", delete=False) as aside:
            scratch = Path(aside.name)
            aside.write(new)
            aside.flush()
            os.fsync(aside.fileno())
        scratch.chmod(place.stat().st_mode & 0o7777 if old is not None else _PLAIN_MODE)
        scratch.replace(place)
    except OSError as error:
        raise OutputFault(f"{path} could not be written: {error.strerror or error}; it is as it was") from error
    finally:
        if scratch is not None:
            with suppress(OSError):
                scratch.unlink(missing_ok=True)


def _as_text(content: bytes, encoding: str) -> _Text:
    name = codecs.lookup(encoding).name
    for mark, inside in _MARKS.get(name.removesuffix("-sig"), ()):
        if content.startswith(mark):
            return _Text(mark, inside, content[len(mark) :].decode(inside))
    plain = "utf-8" if name == "utf-8-sig" else name
    return _Text(b"", plain, content.decode(plain))


def _header(spec: TableSpec, how: FilePart) -> bytes:
    """Return a header with every column of the format, for a table that is not there yet."""
    return (how.delimiter.join(spec.column_names) + "\n").encode(how.encoding)


def _added(spec: TableSpec, old: _Text, rows: Sequence[Mapping[str, str]], how: FilePart) -> bytes:
    """Return the file with the rows, each as the header has its columns."""
    raw, _ = read_csv(spec.path, old.content, encoding=how.encoding, delimiter=how.delimiter)
    if raw is None:
        raise WrongUse(f"{spec.path} can't be read, so no row is added; sitegen check tells why")
    records = [*_records(old.text, how.delimiter)]
    head = next(text for text, cells in records if any(map(str.strip, cells)))
    more = [name for name in _columns(spec, rows) if name not in raw.header]
    header, end = (*raw.header, *more), _line_end(head)
    always = all(cell.startswith('"') for cell in head.strip().split(how.delimiter))
    new = (
        _record([_cell(spec, name, row.get(name, ""), how) for name in header], how.delimiter, end, always=always)
        for row in rows
    )
    kept = "".join(_widened(records, raw, more, how)) if more else old.text
    if kept and _line_end(kept, "") == "":
        kept += end
    return _Text(old.mark, old.encoding, kept + "".join(new)).content


def _columns(spec: TableSpec, rows: Sequence[Mapping[str, str]]) -> list[str]:
    """Return the columns that the rows fill, in the order of the format."""
    filled = {name for row in rows for name, text in row.items() if text}
    return [name for name in spec.column_names if name in filled]


def _cell(spec: TableSpec, name: str, text: str, how: FilePart) -> str:
    kind = next((column.kind for column in spec.columns if column.name == name), Kind.TEXT)
    if kind in NUMBERS:
        return text.replace(".", how.decimal)
    return no_formula(text)


def _record(cells: Sequence[str], delimiter: str, end: str, *, always: bool = False) -> str:
    """Write a record by RFC 4180: a cell with a delimiter, a quote or a line break in quotes, or ``always`` so.

    The csv module leaves a carriage return bare where lines end otherwise.
    """
    special = (delimiter, '"', "\r", "\n")
    quoted = (f'"{cell.replace(chr(34), chr(34) * 2)}"' for cell in cells)
    pairs = zip(cells, quoted, strict=True)
    return (
        delimiter.join(safe if always or any(sign in cell for sign in special) else cell for cell, safe in pairs) + end
    )


def _records(text: str, delimiter: str) -> Iterator[tuple[str, list[str]]]:
    """Yield each record as it is written, line end included, and its cells; it has several lines where a cell has."""
    lines = io.StringIO(text, newline="").readlines()
    reader = csv.reader(iter(lines), delimiter=delimiter, strict=True)
    begin = 0
    for cells in reader:
        yield "".join(lines[begin : reader.line_num]), cells
        begin = reader.line_num


def _line_end(text: str, otherwise: str = "\n") -> str:
    return next((end for end in ("\r\n", "\n", "\r") if text.endswith(end)), otherwise)


def _widened(
    records: Sequence[tuple[str, list[str]]], raw: RawTable, more: Sequence[str], how: FilePart
) -> Iterator[str]:
    """Yield the records with further columns: their names in the header, blank cells in rows; blank rows stay."""
    width, head = len(raw.header), True
    for text, cells in records:
        if not any(map(str.strip, cells)):
            yield text
            continue
        added = list(more) if head else [""] * len(more)
        end = _line_end(text, "")
        if len(cells) == width:
            quote = '"' if head and text.startswith('"') else ""
            yield text.removesuffix(end) + "".join(f"{how.delimiter}{quote}{name}{quote}" for name in added) + end
        else:
            yield _record([*cells[:width], *added], how.delimiter, end)
        head = False


def _prove(spec: TableSpec, old: bytes, made: bytes, rows: Sequence[Mapping[str, str]], how: FilePart) -> None:
    """Read the new file again: every old row is there in its place, then the new ones, and nothing else."""
    before, _ = read_csv(spec.path, old, encoding=how.encoding, delimiter=how.delimiter)
    after, findings = read_csv(spec.path, made, encoding=how.encoding, delimiter=how.delimiter)
    if before is None or after is None or findings:
        raise WrongUse(f"{spec.path} has rows that can't be kept as they are; sitegen check tells which")
    blank = [""] * (len(after.header) - len(before.header))
    new = [[_cell(spec, name, row.get(name, ""), how) for name in after.header] for row in rows]
    if list(after.rows) != [*([*cells, *blank] for cells in before.rows), *new]:
        raise OutputFault(f"{spec.path} could not be written so that it reads back; it is as it was")


def _refuse_dates(spec: TableSpec, rows: Sequence[Mapping[str, str]], how: FilePart) -> None:
    """Raise WrongUse for a date in a file whose own form of dates is another: it would be written in two forms."""
    dated = [c.name for c in spec.columns if c.kind in (Kind.DATE, Kind.TIME) and any(row.get(c.name) for row in rows)]
    if how.dates and dated:
        raise WrongUse(f"{spec.path} writes dates as {how.dates}; no row with {dated[0]} is added to it")


def _unwritable(spec: TableSpec, error: UnicodeError, how: FilePart) -> str:
    sign = error.object[error.start : error.end] if isinstance(error, UnicodeEncodeError) else ""
    said = f"the character {sign!r}" if sign else "its text"
    return f"{spec.path} is in {how.encoding}, which can't hold {said}; save it as UTF-8 or change the word"
