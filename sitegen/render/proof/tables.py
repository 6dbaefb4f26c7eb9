"""Read CSV and workbook again, and compare cell by cell with the tables that they were written from."""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import suppress
from itertools import islice
from pathlib import Path
from typing import Any

from python_calamine import CalamineError, CalamineWorkbook

from sitegen.findings.problems import no_formula
from sitegen.render.data.sheetcells import cell_text
from sitegen.render.proof.sheets import wide_differences
from sitegen.report.record.exports import SHEET_ROWS, ExportField, ExportTable
from sitegen.report.record.sheets import WideSheet, sheet_names

Reader = Callable[[Any], Any]
"""Turns a cell as read into a value of its column's type; what can't be turned comes back as it is."""

_ROWS_AT_ONCE = 2_000
_TRUTH = {"true": True, "false": False}


def csv_differences(path: Path, table: ExportTable) -> Iterator[str]:
    """Yield what differs between a CSV file and its table."""
    readers = {"number": _number, "integer": _number, "boolean": lambda text: _TRUTH.get(text, text or None)}
    with path.open(encoding="utf-8", newline="") as opened:
        lines = csv.reader(opened)
        if next(lines, None) != [field.name for field in table.fields]:
            yield f"{path.name}: other columns"
            return
        yield from differing(path.name, table.fields, table.rows, lines, readers, no_formula)


def _number(text: str) -> float | str | None:
    if not text:
        return None
    with suppress(ValueError):
        return float(text)
    return text


def workbook_differences(path: Path, tables: Sequence[ExportTable], wide: Sequence[WideSheet] = ()) -> Iterator[str]:
    """Yield what differs between a workbook and its sheets for people, and the tables that fit on a sheet."""
    fitting = [table for table in tables if len(table.rows) <= SHEET_ROWS]
    names = sheet_names(wide, [table.name for table in fitting])
    try:
        with path.open("rb") as opened:
            book = CalamineWorkbook.from_filelike(opened)
            if book.sheet_names != [*names, *(table.name for table in fitting)]:
                yield f"{path.name}: other sheets"
                return
            for name, sheet in zip(names, wide, strict=True):
                yield from wide_differences(f"{path.name}, sheet {name}", book, name, sheet)
            for table in fitting:
                yield from _sheet_differences(f"{path.name}, sheet {table.name}", book, table)
    except (CalamineError, OSError) as error:
        yield f"{path.name} can't be read: {error}"


def _sheet_differences(where: str, book: CalamineWorkbook, table: ExportTable) -> Iterator[str]:
    lines = iter(book.get_sheet_by_name(table.name).iter_rows())
    if next(lines, None) != [field.name for field in table.fields]:
        yield f"{where}: other columns"
        return
    empty_is_none = dict.fromkeys(("number", "integer", "boolean"), lambda cell: None if cell == "" else cell)
    yield from differing(where, table.fields, table.rows, lines, empty_is_none, cell_text)


def differing(
    where: str,
    fields: Sequence[ExportField],
    rows: Sequence[Sequence[Any]],
    found: Iterable[Sequence[Any]],
    readers: dict[str, Reader],
    written: Callable[[str], str] = str,
) -> Iterator[str]:
    """Yield the first difference of each column in each run of rows, and whether rows lack or are too many.

    ``readers`` are by type of column; ``written`` is what a file makes of a text.
    """
    lines = iter(found)
    count = 0
    for start in range(0, len(rows), _ROWS_AT_ONCE):
        some = rows[start : start + _ROWS_AT_ONCE]
        read = list(islice(lines, len(some)))
        count += len(read)
        if any(len(line) != len(fields) for line in read):
            yield f"{where}: rows of another length from row {start + 1} on"
            return
        for field, meant, got in zip(fields, zip(*some, strict=True), zip(*read, strict=True), strict=False):
            wrong = _first_wrong(field, meant, got, readers, written)
            if wrong is not None:
                yield f"{where}, row {start + wrong + 1}, {field.name}: {got[wrong]!r}"
    count += sum(1 for _ in lines)
    if count != len(rows):
        yield f"{where}: {count} rows instead of {len(rows)}"


def _first_wrong(
    field: ExportField,
    meant: Sequence[Any],
    read: Sequence[Any],
    readers: dict[str, Reader],
    written: Callable[[str], str],
) -> int | None:
    """Return the place of the first cell of a column that is not what was meant."""
    if field.type == "string":
        meant = [written(value) if value else "" for value in meant]
    reader = readers.get(field.type)
    got = [reader(cell) for cell in read] if reader else list(read)
    if got == list(meant):
        return None
    pairs = zip(meant, got, strict=False)
    return next((at for at, (one, other) in enumerate(pairs) if one != other), None)
