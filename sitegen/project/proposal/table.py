"""A laboratory's file opened to be looked at: its cells, and for a CSV its encoding and delimiter."""

from __future__ import annotations

import csv
import io
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import islice
from pathlib import PurePosixPath

from sitegen.findings.problems import Finding
from sitegen.project.delivery.files import OTHER_WORKBOOKS, WORKBOOKS
from sitegen.project.delivery.header import across_merged, lines
from sitegen.project.read.csvtext import read_grid
from sitegen.project.read.xlsxparts import Unsafe, column_letters, open_package
from sitegen.project.read.xlsxtext import Sheet, read_sheet
from sitegen.project.settings import FilePart

DELIMITERS = (",", ";", "\t", "|")
NAMED = {",": "commas", ";": "semicolons", "\t": "tabs", "|": "bars"}
SNIFFED_LINES = 2_000
"""Lines of a CSV that are looked at for its delimiter: project default, no published source."""
FILLED = 4_000_000
"""So many merged ranges are gone through, all rows together, to fill cells: project default, no published source."""
MAX_SHEETS = 30
"""Sheets of a workbook that are looked at: project default, no published source."""


@dataclass(frozen=True, slots=True)
class Table:
    """The filled rows of a sheet or a CSV. Rows and columns are counted from 0 here, ``numbers`` are the file's own."""

    sheet: Sheet
    rows: tuple[tuple[str, ...], ...]
    numbers: tuple[int, ...]
    width: int
    by_number: Mapping[int, list[str]] = field(default_factory=dict)
    filled_rows: dict[int, list[str]] = field(default_factory=dict)

    def cell(self, row: int, column: int) -> str:
        """Return a cell's text without blanks around it, "" beyond the end of its row."""
        cells = self.rows[row]
        return cells[column] if column < len(cells) else ""

    def ref(self, row: int, column: int) -> str:
        """Return the place of a cell as a spreadsheet names it."""
        return f"{column_letters(column + 1)}{self.numbers[row]}"

    def across(self, row: int) -> list[str]:
        """Return the cells of a row as wide as the table, those of merged ranges filled from their first cell."""
        if row not in self.filled_rows:
            fills = len(self.filled_rows) * len(self.sheet.merged) < FILLED and self.sheet.merged
            cells = across_merged(self.sheet, self.by_number, self.numbers[row]) if fills else self.rows[row]
            self.filled_rows[row] = [cell.strip() for cell in cells] + [""] * (self.width - len(cells))
        return self.filled_rows[row]

    def column(self, column: int, rows: list[int]) -> list[str]:
        """Return the cells of a column in some rows."""
        return [self.cell(row, column) for row in rows]


@dataclass(frozen=True, slots=True)
class Saved:
    """How a CSV was saved, what tells it, and whether that leaves no doubt."""

    encoding: str
    delimiter: str
    seen: str
    certain: bool

    @property
    def usual(self) -> bool:
        """Whether it is UTF-8 with commas, so that nothing needs to be declared."""
        return self.encoding == "utf-8" and self.delimiter == ","


def table_of(sheet: Sheet) -> Table:
    """Return the cells of a sheet, blanks around them taken off."""
    rows = tuple(tuple(cell.strip() for cell in row) for row in sheet.grid.rows)
    return Table(sheet, rows, sheet.grid.numbers, max(map(len, rows), default=0), lines(sheet))


def open_tables(
    path: str, content: bytes, declared: FilePart | None, only: str = ""
) -> tuple[list[Table], Saved | None, list[Finding]]:
    """Open a CSV, or the sheets of a workbook that are not hidden (or the one called ``only``)."""
    suffix = PurePosixPath(path).suffix.lower()
    if suffix in WORKBOOKS or suffix in OTHER_WORKBOOKS:
        tables, findings = _sheets(path, content, only)
        return tables, None, findings
    saved = (
        Saved(declared.encoding, declared.delimiter, "declared in project.toml", True) if declared else sniff(content)
    )
    grid, findings = read_grid(path, content, encoding=saved.encoding, delimiter=saved.delimiter)
    return ([table_of(Sheet(grid))] if grid else []), saved, findings


def _sheets(path: str, content: bytes, only: str) -> tuple[list[Table], list[Finding]]:
    try:
        shown = [part.name for part in open_package(content).sheets if not part.hidden]
    except Unsafe:
        shown = []
    tables: list[Table] = []
    told: list[Finding] = []
    for name in [only] if only else shown[:MAX_SHEETS] or [""]:
        sheet, findings = read_sheet(path, content, name)
        tables += [table_of(sheet)] if sheet else []
        told += [] if sheet else findings
    return tables, told if not tables else []


def sniff(content: bytes) -> Saved:
    r"""Find out how a CSV was saved.

    >>> saved = sniff("Probe;Wert\nS-1;0,5 \u00b5g\n".encode("cp1252"))
    >>> saved.encoding, saved.delimiter
    ('cp1252', ';')
    """
    encoding, seen, certain = _encoding(content)
    text = content.decode(encoding, "replace")
    delimiter, told, alone = _delimiter(text)
    return Saved(encoding, delimiter, f"{seen}; {told}", certain and alone)


def _encoding(content: bytes) -> tuple[str, str, bool]:
    if content[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return "utf-16", "its first two bytes are those of UTF-16", True
    try:
        content.decode("utf-8")
    except UnicodeDecodeError as error:
        row = content[: error.start].count(b"\n") + 1
        byte = content[error.start]
        word = content[max(0, error.start - 10) : error.start + 10].decode("cp1252", "replace")
        told = f"row {row} has the byte 0x{byte:02X}, which is not UTF-8 and reads {_shown(word)!r} in cp1252"
        return "cp1252", told, False
    return "utf-8", "all bytes are UTF-8", True


def _shown(text: str) -> str:
    return "".join(sign if sign.isprintable() else " " for sign in text)


def _delimiter(text: str) -> tuple[str, str, bool]:
    scores = {sign: _evenness(text, sign) for sign in DELIMITERS}
    best = max(DELIMITERS, key=lambda sign: scores[sign])
    even, width = scores[best]
    others = [sign for sign in DELIMITERS if sign != best and scores[sign][0] * 2 > even]
    if width < 2:
        return ",", "no delimiter divides its rows evenly", False
    return best, f"{even} of the first rows have {width} cells between {NAMED[best]}", not others


def _evenness(text: str, delimiter: str) -> tuple[int, int]:
    """Return how many of the first rows have the width that most have, and that width; rows of one cell don't count."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    widths: Counter[int] = Counter()
    try:
        widths.update(len(row) for row in islice(reader, SNIFFED_LINES))
    except csv.Error:
        return 0, 0
    wide = [(count, width) for width, count in widths.items() if width > 1]
    return max(wide, default=(0, 0))
