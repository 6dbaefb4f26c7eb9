"""CSV as text: header, rows and row numbers, with every structural fault told.

Row numbers are those that a spreadsheet shows: the header is row 1, blank lines
count, and a line break inside quotes does not.

The csv module reads, not pandas: it gives exact row numbers, and strict quoting tells a slip.
"""

from __future__ import annotations

import codecs
import csv
import io
import re
from collections.abc import Callable
from dataclasses import dataclass
from itertools import islice

from sitegen.findings.problems import Finding, Severity, Where
from sitegen.project import limits

MAX_FIELD_CHARS = limits.CELL.value
MAX_ROWS = limits.TABLE_ROWS.value
MAX_CELLS = limits.TABLE_CELLS.value
MAX_TOLD = limits.TOLD.value
"""At most this many rows of the wrong length are listed; the rest are counted."""

CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ufffe\uffff]")
"""Signs that steer a terminal or a printer, or that no XML may hold; tab and line breaks are let through."""


@dataclass(frozen=True, slots=True)
class Grid:
    """Rows of text, each with its number; the lengths of the rows may differ."""

    rows: tuple[list[str], ...]
    numbers: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class RawTable:
    """A table as text: header names, rows of equal length, and each row's number."""

    header: tuple[str, ...]
    rows: tuple[list[str], ...]
    numbers: tuple[int, ...]


def read_csv(
    path: str, content: bytes, *, encoding: str = "utf-8", delimiter: str = ","
) -> tuple[RawTable | None, list[Finding]]:
    r"""Read CSV bytes as text, the first row as the header.

    Returns the table (None where it can't be used) and findings: bytes that are not in
    the declared encoding, quotes that do not close, rows of the wrong length, header
    cells that are blank or stand twice.

    >>> table, findings = read_csv("a.csv", b"id,lot\n007,A\n")
    >>> table.header, table.rows, table.numbers
    (('id', 'lot'), (['007', 'A'],), (2,))
    """
    grid, findings = read_grid(path, content, encoding=encoding, delimiter=delimiter)
    return as_table(path, grid, delimiter) if grid else (None, findings)


def read_grid(
    path: str, content: bytes, *, encoding: str = "utf-8", delimiter: str = ","
) -> tuple[Grid | None, list[Finding]]:
    """Read CSV bytes as rows of text of any length, without blank rows and without a header."""
    text, problem = _decode(path, content, encoding)
    if text is None:
        return None, [problem] if problem else []
    rows, problem = _rows(path, text, delimiter)
    if problem:
        return None, [problem]
    numbers = [number for number, row in enumerate(rows, start=1) if _is_filled(row)]
    if not numbers:
        return None, [_fault(path, 1, "an empty file", "copy the header row of the template into it, or remove it")]
    filled = rows if len(numbers) == len(rows) else [rows[number - 1] for number in numbers]
    return Grid(tuple(filled), tuple(numbers)), []


def _rows(path: str, text: str, delimiter: str) -> tuple[list[list[str]], Finding | None]:
    """Return the rows of a text, or what keeps them from being read: a slip in its quotes, or too much of it."""
    rows: list[list[str]] = []
    if text.count(delimiter) + text.count("\n") > MAX_CELLS:
        return rows, _excess(path, None, f"more than {limits.TABLE_CELLS.text}", limits.TABLE_CELLS)
    # A doubled quote inside a quoted cell is one quote; strict finds quotes left open.
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    csv.field_size_limit(MAX_FIELD_CHARS)
    try:
        rows.extend(islice(reader, MAX_ROWS + 2))
    except csv.Error as error:
        return rows, _fault(path, len(rows) + 1, *_slip(error))
    if len(rows) > MAX_ROWS + 1:
        found = f"more than {limits.TABLE_ROWS.text} below the header"
        return rows, _excess(path, len(rows), found, limits.TABLE_ROWS)
    if wide := _too_wide(rows, limits.SHEET_COLUMNS.value):
        return rows, _excess(path, wide, f"more than {limits.SHEET_COLUMNS.text}", limits.SHEET_COLUMNS)
    return rows, None


def _slip(error: csv.Error) -> tuple[str, str]:
    """Say what the csv module met, and what to do: a cell that does not end is a quote left open."""
    if "field limit" in str(error) or "end of data" in str(error):
        found = f"a cell that begins here and does not end within {limits.CELL.text}"
        return found, "close its quotation mark in this row, or shorten the cell"
    return f"a row that cannot be read as CSV ({error})", "correct its quotation marks"


def _too_wide(rows: list[list[str]], most: int) -> int:
    """Return the number of the first row with a filled cell beyond as many columns, 0 where there is none."""
    if max(map(len, rows), default=0) <= most:
        return 0
    return next((number for number, row in enumerate(rows, start=1) if any(map(str.strip, row[most:]))), 0)


def _is_filled(row: list[str]) -> bool:
    """Tell whether a row holds more than blanks; most show it in their first cell."""
    return bool(row) and (bool(row[0] and not row[0].isspace()) or any(map(str.strip, row)))


def _decode(path: str, content: bytes, encoding: str) -> tuple[str | None, Finding | None]:
    try:
        name = codecs.lookup(encoding).name
        text = content.decode("utf-8-sig" if name == "utf-8" else name)
    except UnicodeError as error:
        start = getattr(error, "start", 0)
        row = content[:start].count(b"\n") + 1
        return None, _encoding_fault(path, f"bytes that are not {encoding}", row, _encoding_of(content, encoding))
    except (LookupError, ValueError):  # the latter for a name that no codec can have
        return None, _encoding_fault(path, f"the encoding {encoding!r}, which is unknown", None)
    if control := CONTROL.search(text):
        row = text[: control.start()].count("\n") + 1
        kind = "unassigned code" if control[0] > "\x7f" else "control character"
        sign = "a NUL character" if control[0] == "\x00" else f"a {kind} (U+{ord(control[0]):04X})"
        return None, _encoding_fault(path, sign, row)
    return text, None


def _encoding_of(content: bytes, declared: str) -> str:
    """Return the encoding that spreadsheets save in beside UTF-8 and that a file's bytes decode by, or nothing."""
    if content.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        likely = "utf-16"
    else:
        likely = "utf-8" if declared != "utf-8" and _decodes(content, "utf-8") else "cp1252"
    return likely if likely != declared and _decodes(content, likely) else ""


def _decodes(content: bytes, encoding: str) -> bool:
    try:
        return not CONTROL.search(content.decode(encoding))
    except UnicodeError:
        return False


def _encoding_fault(path: str, found: str, row: int | None, meant: str = "") -> Finding:
    do = f'write its encoding under [files."{path}"] in project.toml, as encoding'
    if meant:
        do = f'write under [files."{path}"] in project.toml: encoding = "{meant}", then check its letters once'
    return Finding(
        "encoding-wrong",
        Severity.STOP,
        path,
        Where(path, row),
        found,
        "UTF-8 text, or the encoding that project.toml declares for the file",
        f"save the file as UTF-8, or {do}",
    )


def _fault(path: str, row: int, found: str, do: str) -> Finding:
    return Finding("csv-unreadable", Severity.STOP, path, Where(path, row), found, "RFC 4180 CSV", do)


def _excess(path: str, row: int | None, found: str, most: limits.Bound) -> Finding:
    expected = f"at most {most.text} ({most.reason})"
    do = "remove what does not belong to the table, or split the file"
    return Finding("table-too-large", Severity.STOP, path, Where(path, row), found, expected, do)


def as_table(path: str, grid: Grid, delimiter: str = "") -> tuple[RawTable | None, list[Finding]]:
    """Make a table of rows of text, the first its header; return None where it can't be used, and findings.

    There is no ``delimiter`` in a sheet of a workbook.
    """
    header = [name.strip() for name in grid.rows[0]]
    while len(header) > 1 and not header[-1]:
        header.pop()
    if len(header) > limits.TABLE_COLUMNS.value:
        return None, [_excess(path, grid.numbers[0], f"{len(header):,} columns", limits.TABLE_COLUMNS)]
    faults = _header_faults(path, header, grid.numbers[0], delimiter)
    if any(finding.code == "delimiter-wrong" for finding in faults):
        return None, faults
    width = len(header)
    if not faults and set(map(len, grid.rows)) == {width}:
        return RawTable(tuple(header), grid.rows[1:], grid.numbers[1:]), faults
    body: list[list[str]] = []
    wrong: list[tuple[int, int]] = []
    for row, number in zip(grid.rows[1:], grid.numbers[1:], strict=True):
        if len(row) == width:
            body.append(row)
            continue
        if len(row) < width or any(map(str.strip, row[width:])):
            wrong.append((number, len(row)))
        body.append((row + [""] * width)[:width])
    findings = faults + _row_lengths(path, wrong, width, _MEND_CSV if delimiter else _MEND_SHEET)
    return None if faults else RawTable(tuple(header), tuple(body), grid.numbers[1:]), findings


_MEND_CSV = "put cells that contain commas in quotation marks, and leave missing cells empty between commas"
_MEND_SHEET = "name their columns in the header, or clear the cells beyond it"


def _row_lengths(path: str, wrong: list[tuple[int, int]], width: int, do: str) -> list[Finding]:
    told: list[tuple[int, str, tuple[int, ...]]]
    told = [(number, f"{length} cells", ()) for number, length in wrong[:MAX_TOLD]]
    if others := tuple(number for number, _ in wrong[MAX_TOLD:]):
        told.append((others[0], f"{len(others)} more rows of the wrong length, starting here", others))
    return [
        Finding(
            "row-length",
            Severity.STOP,
            f"{path}+{number}",
            Where(path, number),
            found,
            f"{width} cells, as in the header",
            do,
            count=len(others) or 1,
            rows=others,
        )
        for number, found, others in told
    ]


def _delimiter_of(header: str, delimiter: str) -> str:
    """Return the sign that parts the names of a header, as TOML writes it; nothing where there is none.

    >>> _delimiter_of("sampler_id;lot, if known;kind", ",")
    '";"'
    """
    signs = [sign for sign in ",;\t|" if sign != delimiter and sign in header]
    meant = max(signs, key=header.count, default="")
    return "" if not meant else f'"{meant}"'.replace("\t", "\\t")


def _header_faults(path: str, header: list[str], row: int, delimiter: str) -> list[Finding]:
    say: Callable[[str, str, str, str], Finding] = lambda code, found, expected, do: Finding(  # noqa: E731
        code, Severity.STOP, path, Where(path, row), found, expected, do
    )
    if delimiter and len(header) == 1 and (meant := _delimiter_of(header[0], delimiter)):
        return [
            say(
                "delimiter-wrong",
                f"a header without the delimiter {delimiter!r}",
                f"cells separated by {delimiter!r}",
                f'save the file with commas, or write under [files."{path}"] in project.toml: delimiter = {meant}',
            )
        ]
    findings = []
    if not all(header):
        findings.append(say("header-blank", "a blank header cell", "a name in each", "name the column"))
    for name in sorted({name for name in header if name and header.count(name) > 1}):
        findings.append(say("header-twice", f"{name} twice", "each column once", "remove one of the two"))
    return findings
