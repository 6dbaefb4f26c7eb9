"""Compare the workbook's sheets for people, read again, with their records, and their figures with all results."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from python_calamine import CalamineWorkbook

from sitegen.render.data.sheetcells import cell_text
from sitegen.report.record.pages import Report
from sitegen.report.record.sheets import SheetCell, Shown, WideSheet

_NONDETECT = "<"

Stored = dict[tuple[str, str], list[tuple[bool, Any]]]
"""Of each sampler and compound: whether it was detected, and its value."""


def wide_differences(where: str, book: CalamineWorkbook, name: str, sheet: WideSheet) -> Iterator[str]:
    """Yield the first difference of each row of a sheet, its heads among them, and whether rows are as many."""
    lines = [[*line] for line in book.get_sheet_by_name(name).iter_rows()]
    heads: tuple[SheetCell, ...] = tuple(column.head for column in sheet.columns)
    meant = (heads, *sheet.rows)
    if len(lines) != len(meant):
        yield f"{where}: {len(lines) - 1} rows instead of {len(sheet.rows)}"
        return
    for number, (row, line) in enumerate(zip(meant, lines, strict=True)):
        wanted = [_plain(cell) for cell in row]
        if wanted != line:
            at = next((n for n, (one, other) in enumerate(zip(wanted, line, strict=False)) if one != other), len(line))
            read = line[at] if at < len(line) else None
            yield f"{where}, row {number}, {_head(sheet, at)}: {read!r}"


def _head(sheet: WideSheet, at: int) -> str:
    """Return the head of a column, or that there is none."""
    return sheet.columns[at].head if at < len(sheet.columns) else "a column too many"


def _plain(cell: SheetCell) -> str | float:
    if isinstance(cell, Shown):
        return float(cell.value)
    return cell_text(cell) if cell else ""


def sheet_store_differences(report: Report) -> Iterator[str]:
    """Yield the results on sheets for people that are not those of the table of all results.

    A number must be a detection's, with its value; a text that begins with ``<`` a non-detect's; and
    each must have the sampler's result that stands in that table for the compound.
    """
    sheets = [sheet for sheet in report.workbook.sheets if sheet.stored]
    results = next((table for table in report.exports if table.name == "results"), None)
    if not sheets or results is None:
        return
    sampler, analyte, detected, value, usable = (
        results.at(name) for name in ("sampler_id", "analyte_id", "detected", "value", "reportable")
    )
    store: Stored = {}
    for row in results.rows:
        if row[usable]:
            store.setdefault((row[sampler], row[analyte]), []).append((row[detected], row[value]))
    for sheet in sheets:
        yield from _not_stored(sheet, store)


def _not_stored(sheet: WideSheet, store: Stored) -> Iterator[str]:
    compounds = [(at, column) for at, column in enumerate(sheet.columns) if column.analyte_id]
    for row in sheet.rows:
        for at, column in compounds:
            cell = row[at]
            stored = store.get((str(row[sheet.sampler]), column.analyte_id), [])
            if not _is_stored(cell, stored):
                where = f"sheet {sheet.kind}, {row[sheet.sampler]}, {column.head}"
                yield f"{where}: {_plain(cell)!r} for {stored!r} of the store"


def _is_stored(cell: SheetCell, stored: Sequence[tuple[bool, Any]]) -> bool:
    if isinstance(cell, Shown):
        return (True, cell.value) in stored
    if cell and cell.startswith(_NONDETECT):
        return (False, None) in stored
    return True
