"""Sheets of workbooks as tables of the folder, with what would mislead a reader of their cells."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from difflib import get_close_matches
from typing import NamedTuple

from sitegen.findings.problems import Finding, Severity, Where
from sitegen.project import limits
from sitegen.project.read.cells import Stand, Told
from sitegen.project.read.csvtext import CONTROL, MAX_ROWS, Grid, RawTable, as_table
from sitegen.project.read.textsafe import Problem, worded_problem
from sitegen.project.read.xlsxparts import Package, SheetPart, SheetState, Unsafe, open_package
from sitegen.project.read.xlsxtext import Sheet, State, hidden, read_part, stored_text
from sitegen.project.schema import BOOK_FILE, Kind, Origin, TableSpec
from sitegen.voice import worded

_IDS = (Kind.ID, Kind.IDS)
_OPEN = "open the workbook, let it calculate, check the cell, and save; or enter the value"
_PROBLEMS: Mapping[str, Problem] = {
    "cell-without-value": ("cell-without-value", Severity.STOP, "a stored value", _OPEN),
    "cell-format-speaks": (
        "cell-format-speaks", Severity.STOP, "a cell whose stored value is what it displays",
        "give the cell a plain number format, and enter the sign or unit in its own column",
    ),
    "id-typed-as-date": (
        "id-typed-as-date", Severity.STOP, "an id stored as text",
        "format the column as text and enter the id again: spreadsheets convert ids such as 3-2 to dates",
    ),
    "id-typed-as-number": (
        "id-typed-as-number", Severity.NOTE, "ids stored as text",
        "compare them with the labels, and format the column as text: number cells lose leading zeros",
    ),
    "text-typed-as-date": (
        "text-typed-as-date", Severity.FLAG, "text stored as text",
        "if it is not a date, format the column as text and enter it again: spreadsheets convert 3-2 to a date",
    ),
}  # fmt: skip


class SheetTable(NamedTuple):
    """A table of a workbook as text, and the rows whose cell is typed as a number or a date, by column."""

    sheet: str
    raw: RawTable
    typed: Mapping[str, frozenset[int]]


@dataclass(frozen=True, slots=True)
class Book:
    """An open workbook of the folder, at ``path``."""

    path: str
    package: Package

    def named(self, name: str) -> list[SheetPart]:
        """Return the sheets of a name, which a spreadsheet tells apart by more than letter case."""
        return [part for part in self.package.sheets if part.name.strip().casefold() == name]


def open_book(path: str, content: bytes) -> tuple[Book | None, list[Finding]]:
    """Open a workbook of the folder; return None where that can't be done, and what is wrong with it."""
    try:
        return Book(path, open_package(content)), []
    except Unsafe as error:
        return None, [unreadable(path, str(error))]


def unreadable(path: str, found: str) -> Finding:
    """Tell of a workbook, or a sheet of it, that can't be read."""
    do = (
        "open it in a spreadsheet, remove what does not belong to its tables, and save it as .xlsx, "
        "or save each as CSV under its table's name"
    )
    expected = "an XLSX workbook within the size limits"
    return Finding("workbook-unreadable", Severity.STOP, path, Where(path), found, expected, do, "file")


class Sheets:
    """Reads tables off the sheets of one workbook, which together span no more cells than one may."""

    def __init__(self, book: Book) -> None:
        self._book = book
        self._left = limits.SHEET_CELLS.value

    def table(self, spec: TableSpec, part: SheetPart) -> tuple[SheetTable | None, list[Finding]]:
        """Return the table on a sheet, None where it is blank or can't be used, and findings."""
        path = self._book.path
        try:
            sheet, state = read_part(self._book.package, part, stored_text, self._left)
        except Unsafe as error:
            return None, [unreadable(path, str(error))]
        self._left -= state.area
        if not sheet.grid.rows:
            return None, []
        if fault := _unusable(sheet):
            return None, [unreadable(path, fault)]
        raw, faults = as_table(path, sheet.grid)
        findings = [on_sheet(finding, part.name, spec) for finding in faults] + _hidden(path, part, state, spec)
        if raw is None:
            return None, findings
        found = SheetTable(part.name, raw, _typed(sheet, raw))
        return found, findings + _states(spec, path, sheet, raw)


def on_sheet(finding: Finding, sheet: str, spec: TableSpec) -> Finding:
    """Return a finding about a row or a column with the sheet in its place, and known by the table."""
    where = finding.where
    place = Origin(where.file, where.row or 0, sheet).where(where.column)
    subject = finding.subject.replace(where.file, spec.path, 1)
    return replace(finding, subject=subject, where=Where(where.file, where.row, place.column))


def _unusable(sheet: Sheet) -> str:
    """Say what keeps a sheet from being a table: too many rows, or signs that no page can hold."""
    if len(sheet.grid.rows) > MAX_ROWS + 1:
        return f"more than {limits.TABLE_ROWS.text} below the header of the sheet {sheet.name!r}"
    for row, cells in zip(sheet.grid.numbers, sheet.grid.rows, strict=True):
        if sign := CONTROL.search("\t".join(cells)):
            return f"a control character (U+{ord(sign[0]):04X}) in row {row} of the sheet {sheet.name!r}"
    return ""


def _hidden(path: str, part: SheetPart, state: SheetState, spec: TableSpec) -> list[Finding]:
    """Note hidden rows and columns of a sheet, and that it is hidden itself."""
    what = hidden([part.name] if part.hidden else [], state)
    if not what:
        return []
    where = Where(path, None, f"{part.name}!")
    do = worded("check them: they are read like the others")
    found = worded("hidden: {what}", what=what)
    return [Finding("cells-hidden", Severity.NOTE, spec.path, where, found, worded("nothing hidden"), do, "file")]


# --- what the cells are, beside their text ---------------------------------------------------


class _Column(NamedTuple):
    """A column of a sheet: its place, from 1, and its name; its cells begin below ``header``, a row."""

    sheet: Sheet
    at: int
    name: str
    header: int

    def rows(self, state: State) -> list[int]:
        """Return the rows of its cells that are in a state."""
        return sorted(row for row in self.sheet.rows_in(state, self.at) if row > self.header)


def _columns(sheet: Sheet, raw: RawTable) -> Iterator[_Column]:
    for at, name in enumerate(raw.header, start=1):
        yield _Column(sheet, at, name, sheet.grid.numbers[0])


def _typed(sheet: Sheet, raw: RawTable) -> dict[str, frozenset[int]]:
    return {one.name: frozenset((*one.rows("number"), *one.rows("date"))) for one in _columns(sheet, raw)}


def _states(spec: TableSpec, path: str, sheet: Sheet, raw: RawTable) -> list[Finding]:
    """Tell cells whose text misleads, in the columns that are read."""
    told = Told(spec, Stand(path, sheet.name, spec.path))
    kinds = {column.name: column.kind for column in spec.columns}
    for column in _columns(sheet, raw):
        kind = kinds.get(column.name)
        if kind is None:
            continue
        _each(told, "cell-without-value", column, "unfilled", worded("a formula without a stored value, or an error"))
        _each(told, "cell-format-speaks", column, "dressed", worded("a number whose cell format adds characters to it"))
        if kind in _IDS:
            _each(told, "id-typed-as-date", column, "date", worded("a cell stored as a date"))
            _numbers(told, column)
        elif kind is Kind.TEXT:
            _each(told, "text-typed-as-date", column, "date", worded("a cell stored as a date"))
    return told.close()


def _each(told: Told, code: str, column: _Column, state: State, found: str) -> None:
    for row in column.rows(state):
        told.add(worded_problem(_PROBLEMS[code]), row, column.name, found, f"{told.named}+{row}+{column.name}")


def _numbers(told: Told, column: _Column) -> None:
    """Tell ids that are numbers, once for a column."""
    if rows := column.rows("number"):
        found = worded(
            "{count} cells of {column} stored as numbers, starting here", count=len(rows), column=column.name
        )
        problem = worded_problem(_PROBLEMS["id-typed-as-number"])
        told.add(problem, rows[0], column.name, found, f"{told.named}+{column.name}")


def is_blank(book: Book, part: SheetPart) -> bool:
    """Tell whether a sheet has no cell at all."""
    content = book.package.parts[part.part]
    return b":c " not in content and b"<c " not in content and b"<c>" not in content


def chosen_sheet(book: Book, spec: TableSpec) -> tuple[SheetPart | None, list[Finding]]:
    """Return the sheet of a table's own workbook: the one of its name, or the only visible one with cells."""
    named = book.named(spec.name)
    shown = [part for part in book.package.sheets if not part.hidden and not is_blank(book, part)]
    candidates = named or shown
    if len(candidates) == 1 or (not candidates and book.package.sheets):
        return (candidates or list(book.package.sheets))[0], []
    names = ", ".join(repr(part.name[:40]) for part in book.package.sheets[:20]) or "no sheets"
    do = f"name only the sheet with the table {spec.name}"
    where = Where(book.path)
    found = f"the sheets {names}"
    return None, [Finding("sheet-unclear", Severity.STOP, book.path, where, found, "one sheet with cells", do, "file")]


def extra_sheets(book: Book, names: frozenset[str], free: list[str]) -> Iterator[Finding]:
    """Note the sheets of the tables' workbook that are none of the format's; ``free`` tables have no source."""
    others = [part for part in book.package.sheets if part.name.strip().casefold() not in names]
    for part in others[: limits.TOLD.value]:
        if name := part.name.strip().casefold():
            nearest = get_close_matches(name.replace(" ", "_"), free, n=1, cutoff=0.6)
            do = (
                worded("rename it to {name} if it is that table", name=nearest[0])
                if nearest
                else worded("leave it, or remove it")
            )
            where = Where(book.path, None, f"{part.name}!")
            found = worded("the sheet {name!r}, which is not read", name=part.name)
            subject = f"{BOOK_FILE}+{part.name}"
            yield Finding(
                "sheet-unknown", Severity.NOTE, subject, where, found, worded("sheets of the folder format"), do, "file"
            )


def book_tables(content: bytes) -> tuple[list[RawTable], str]:
    """Return every sheet of a workbook as a table of text, without looking for faults, and why it can't be read."""
    try:
        package, left, grids = open_package(content), limits.SHEET_CELLS.value, []
        for part in package.sheets:
            sheet, state = read_part(package, part, most=left)
            left -= state.area
            grids.append(sheet.grid)
    except Unsafe as error:
        return [], str(error)
    return [_plain_table(grid) for grid in grids if grid.rows], ""


def _plain_table(grid: Grid) -> RawTable:
    return RawTable(tuple(grid.rows[0]), grid.rows[1:], grid.numbers[1:])
