"""XLSX sheets as text: what each cell shows, and what would mislead a reader of the text.

Values come from python-calamine; whether a cell is hidden, is a formula or wears a number
format comes from the XML (:mod:`sitegen.project.read.xlsxparts`). Calamine is handed a repacked
file that holds the parts already measured, so that it never unpacks what nobody checked.
"""

from __future__ import annotations

import io
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from typing import Literal, TypeAlias

from python_calamine import CalamineError, CalamineWorkbook

from sitegen.findings.problems import Finding, Severity, Where
from sitegen.project.limits import CELL
from sitegen.project.read.csvtext import Grid
from sitegen.project.read.xlsxparts import (
    GENERAL,
    MAX_CELLS,
    Merged,
    Package,
    SheetPart,
    SheetState,
    Unsafe,
    column_letters,
    open_package,
    scan_sheet,
)
from sitegen.voice import worded

State: TypeAlias = Literal["number", "date", "unfilled", "dressed"]
"""How a cell differs from text: a number, a date or time, a formula without a stored value or
an error, a number whose format adds signs that are not in the value."""

Value: TypeAlias = int | float | str | bool | time | date | datetime | timedelta
TextOf: TypeAlias = Callable[[Value, str], tuple[str, tuple[State, ...]]]
"""Writes a value, by its number format, as text with the states of its cell."""

_DIGITS = re.compile(r"[#,]*(?P<zeros>0*)(?:\.(?P<decimals>0*)#*)?(?P<power>E\+0+)?(?P<percent>%)?")
_QUIET = re.compile(r"\[(?:Black|Blue|Cyan|Green|Magenta|Red|White|Yellow|Color\d+|\$[^\]]*)\]|_.|\*.|[() -]")
_CLOCK = re.compile("[hH]")
_QUOTED = re.compile(r'"[^"]*"|\\.|\[[^\[\]hH]*\]')
_SPEAKING = re.compile(r'"[^"]+"|\\[^ ()-]|[<>]')


@dataclass(frozen=True, slots=True)
class Sheet:
    """A table of text as a spreadsheet shows it, from a CSV file or a sheet of an XLSX file.

    ``states`` gives, by state and column (from 1), the rows of cells that are not plain
    text; it is empty for CSV. ``name`` is the sheet's name, "" for CSV. ``merged`` are ranges
    of cells that show one value, which the first cell holds.
    """

    grid: Grid
    name: str = ""
    states: Mapping[tuple[State, int], frozenset[int]] = field(default_factory=dict)
    merged: tuple[Merged, ...] = ()

    def rows_in(self, state: State, column: int) -> frozenset[int]:
        """Return the rows whose cell in a column (from 1) is in a state."""
        return self.states.get((state, column), frozenset())


def sheet_names(content: bytes) -> tuple[str, ...]:
    """Return the names of a workbook's sheets in order, none where it can't be read."""
    try:
        return tuple(part.name for part in open_package(content).sheets)
    except Unsafe:
        return ()


def read_sheet(path: str, content: bytes, sheet: str = "") -> tuple[Sheet | None, list[Finding]]:
    """Read one sheet of an XLSX file as text.

    ``sheet`` may stay blank where one sheet alone is not hidden. Returns None where the
    file can't be read or the sheet can't be chosen, and findings; hidden rows, columns
    and sheets are noted.
    """
    try:
        package = open_package(content)
        part = _chosen(package, sheet)
        if part is None:
            return None, [_which_sheet(path, package, sheet)]
        read, state = read_part(package, part)
    except Unsafe as error:
        return None, [_unreadable(path, str(error))]
    findings = _hidden(path, package, part, state)
    if not read.grid.rows:
        return None, [*findings, _unreadable(path, f"the sheet {part.name!r}, which is empty")]
    return read, findings


def read_part(
    package: Package, part: SheetPart, text_of: TextOf | None = None, most: int = MAX_CELLS
) -> tuple[Sheet, SheetState]:
    """Read one sheet of an open workbook, which may be empty, and what its XML says beside the values.

    ``text_of`` writes a value in another way than :func:`cell_text`. Raises Unsafe where the sheet
    can't be read, spans more than ``most`` cells, or has one that is too long.
    """
    state = scan_sheet(package.parts[part.part], package.formats)
    if state.area > most:
        raise Unsafe(f"sheets of more than {MAX_CELLS:,} cells in all, blank ones too")
    values = _values(package.alone(part), part.name)
    read = _as_text(part.name, values, state, text_of or cell_text)
    if long := _long_cell(read.grid):
        raise Unsafe(f"a cell of more than {CELL.text} in row {long} of the sheet {part.name!r}")
    return read, state


def _long_cell(grid: Grid) -> int:
    """Return the number of the first row with a cell that is longer than a spreadsheet's can be, 0 if none is."""
    lengths = (max(map(len, row), default=0) for row in grid.rows)
    return next((at for at, length in zip(grid.numbers, lengths, strict=True) if length > CELL.value), 0)


def _chosen(package: Package, sheet: str) -> SheetPart | None:
    if sheet:
        return next((part for part in package.sheets if part.name == sheet), None)
    shown = [part for part in package.sheets if not part.hidden]
    return shown[0] if len(shown) == 1 else None


def _values(content: bytes, sheet: str) -> list[list[Value]]:
    """Let calamine read a sheet from its first row and column on."""
    try:
        with CalamineWorkbook.from_filelike(io.BytesIO(content)) as book:
            return book.get_sheet_by_name(sheet).to_python(skip_empty_area=False)
    except (CalamineError, ValueError, OverflowError) as error:
        raise Unsafe(f"a sheet that cannot be read ({type(error).__name__})") from error
    except BaseException as error:
        # A fault inside the compiled reader arrives as an exception outside Exception.
        if type(error).__name__ != "PanicException":
            raise
        raise Unsafe("a sheet that cannot be read") from error


def _as_text(name: str, values: list[list[Value]], state: SheetState, text_of: TextOf) -> Sheet:
    rows: list[list[str]] = []
    numbers: list[int] = []
    found: dict[tuple[State, int], set[int]] = {}
    for number, row in enumerate(values, start=1):
        texts = [value if isinstance(value, str) else "" for value in row]
        for at, value in enumerate(row):
            if not isinstance(value, str):
                shown = state.formats.get((number, at + 1), GENERAL)
                texts[at], kinds = text_of(value, shown)
                for kind in kinds:
                    found.setdefault((kind, at + 1), set()).add(number)
        if any(map(str.strip, texts)):
            rows.append(texts)
            numbers.append(number)
    for at_row, column in state.unfilled:
        found.setdefault(("unfilled", column), set()).add(at_row)
    states = {key: frozenset(at_rows) for key, at_rows in sorted(found.items())}
    return Sheet(Grid(tuple(rows), tuple(numbers)), name, states, tuple(sorted(state.merged)))


def cell_text(value: Value, shown: str = GENERAL) -> tuple[str, tuple[State, ...]]:
    """Write a value as its cell shows it, never with fewer digits than are stored.

    ``shown`` is the number format. Returns the text and the states of the cell.

    >>> cell_text(9.0, "0.0"), cell_text(47102.0, "0000000")
    (('9.0', ('number',)), ('0047102', ('number',)))
    >>> cell_text(9.04, "0.0"), cell_text(10.0, '"<"0')
    (('9.04', ('number',)), ('10', ('number', 'dressed')))
    """
    if isinstance(value, bool):
        return str(value).upper(), ()
    if isinstance(value, datetime):
        midnight = value.time() == time(0)
        return value.date().isoformat() if midnight else value.isoformat(timespec="minutes"), ("date",)
    if isinstance(value, date | time):
        return value.isoformat(), ("date",)
    if isinstance(value, timedelta):
        return str(value), ("date",)
    if isinstance(value, str):
        return value, ()
    return _number_text(value, shown)


def stored_text(value: Value, shown: str = GENERAL) -> tuple[str, tuple[State, ...]]:
    """Write a value as :func:`cell_text` does, a moment to the second, and with midnight where a clock is shown.

    >>> stored_text(datetime(2025, 11, 3), "m/d/yy h:mm"), stored_text(datetime(2025, 11, 3), "m/d/yy")
    (('2025-11-03T00:00', ('date',)), ('2025-11-03', ('date',)))
    """
    if not isinstance(value, date):
        return cell_text(value, shown)
    whole = value if isinstance(value, datetime) else datetime.combine(value, time(0))
    moment = (whole + timedelta(milliseconds=500)).replace(microsecond=0)
    if moment.time() == time(0) and not _CLOCK.search(_QUOTED.sub("", shown)):
        return moment.date().isoformat(), ("date",)
    return moment.isoformat(timespec="seconds" if moment.second else "minutes"), ("date",)


def _number_text(value: float, shown: str) -> tuple[str, tuple[State, ...]]:
    exact = Decimal(repr(value))
    if _SPEAKING.search(shown):
        return _all_digits(exact), ("number", "dressed")
    form = _DIGITS.fullmatch(_QUIET.sub("", shown.partition(";")[0]))
    if form is None or not exact.is_finite():
        return _all_digits(exact), ("number",)
    sign = "%" if form["percent"] else ""
    stored = exact * 100 if sign else exact
    decimals = len(form["decimals"] or "")
    if form["power"]:
        text = f"{stored:.{decimals}E}"
    else:
        width = len(form["zeros"]) + (decimals + 1 if decimals else 0)
        text = f"{stored:0{width}.{decimals}f}"
    return (text if Decimal(text) == stored else _all_digits(stored)) + sign, ("number",)


def _all_digits(exact: Decimal) -> str:
    """Write a number plainly with all its digits and no more.

    >>> _all_digits(Decimal("12.0")), _all_digits(Decimal("1E-7"))
    ('12', '0.0000001')
    """
    text = f"{exact:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _unreadable(path: str, found: str) -> Finding:
    return Finding(
        "workbook-unreadable",
        Severity.STOP,
        path,
        Where(path),
        found,
        "an XLSX workbook within the size limits",
        "save the sheet as CSV next to it, and map that file",
        "file",
    )


def _which_sheet(path: str, package: Package, sheet: str) -> Finding:
    sheets = package.sheets[:20]
    names = ", ".join(repr(part.name[:40]) + (" (hidden)" if part.hidden else "") for part in sheets)
    return Finding(
        "sheet-unclear",
        Severity.STOP,
        path,
        Where(path),
        f"no sheet {sheet!r}" if sheet else "no single visible sheet",
        f"one of {names or 'no sheets'}",
        "give the sheet as sheet under [source]",
        "file",
    )


def _hidden(path: str, package: Package, part: SheetPart, state: SheetState) -> list[Finding]:
    what = hidden([other.name for other in package.sheets if other.hidden], state)
    if not what:
        return []
    return [
        Finding(
            "cells-hidden",
            Severity.NOTE,
            path,
            Where(path),
            worded("hidden: {what} (sheet {sheet!r})", what=what, sheet=part.name),
            worded("nothing hidden"),
            worded("check them: they are read like the others"),
            "file",
        )
    ]


def hidden(sheets: list[str], state: SheetState) -> str:
    """Name hidden sheets, and the rows and columns that are hidden on one; nothing where none is."""
    parts = [
        _several("sheet", [repr(name) for name in sheets]),
        _several("row", [str(row) for row in sorted(state.hidden_rows)]),
        _several("column", _column_names(state.hidden_columns)),
    ]
    return "; ".join(filter(None, parts))


def _several(noun: str, names: list[str]) -> str:
    """Name a few things of many: ``rows 3, 4, 5 and 9 more``."""
    if not names:
        return ""
    more = worded(" and {count} more", count=len(names) - 8) if len(names) > 8 else ""
    return f"{worded(noun if len(names) == 1 else f'{noun}s')} {', '.join(name[:40] for name in names[:8])}{more}"


def _column_names(ranges: list[tuple[int, int]]) -> list[str]:
    """Name columns by their letters: ``B`` or ``D to F``."""
    return [
        column_letters(first)
        if first == last
        else worded("{least} to {most}", least=column_letters(first), most=column_letters(last))
        for first, last in sorted(ranges)
    ]
