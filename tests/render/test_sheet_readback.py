"""Sheets for people are read again, and their results held against the table of all results."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import byhand_survey as survey
import pytest
from sample_report import sample_meta
from wide_samples import sample_book, sample_sheet

from sitegen.render.data.workbook import workbook_bytes
from sitegen.render.proof.sheets import sheet_store_differences
from sitegen.render.proof.tables import workbook_differences
from sitegen.report.record.sheets import SheetCell, Shown, WideSheet


def with_cell(sheet: WideSheet, row: int, column: int, cell: SheetCell) -> WideSheet:
    """Return a sheet with another cell."""
    line = (*sheet.rows[row][:column], cell, *sheet.rows[row][column + 1 :])
    return replace(sheet, rows=(*sheet.rows[:row], line, *sheet.rows[row + 1 :]))


def told(path: Path, written: WideSheet, meant: WideSheet) -> list[str]:
    """Return what differs where ``meant`` was to be written."""
    path.write_bytes(workbook_bytes((), sample_meta(), sample_book(written)))
    return list(workbook_differences(path, (), (meant,)))


@pytest.mark.parametrize(
    ("row", "column", "cell"),
    [
        (0, 2, Shown(0.1000000000000001, 1)), (0, 2, "0.1"), (9, 2, Shown(10.0, 0)), (9, 3, ""), (0, 0, "0"),
        (8, 2, None), (0, 1, "another mark"),
    ],
)  # fmt: skip
def test_another_number_text_or_type_in_a_cell_is_told(tmp_path: Path, row: int, column: int, cell: SheetCell) -> None:
    """A last bit, a number kept as text, a non-detect that became a number, a mark that is gone."""
    sheet = sample_sheet()
    path = tmp_path / "tables.xlsx"
    assert told(path, sheet, sheet) == []
    (line,) = told(path, with_cell(sheet, row, column, cell), sheet)
    assert line.startswith(f"tables.xlsx, sheet soil gas ng per sampler, row {row + 1}, {sheet.columns[column].head}: ")


def test_another_head_a_row_too_few_and_another_name_are_told(tmp_path: Path) -> None:
    """A head is a cell like others; sheets are found by their names."""
    sheet, path = sample_sheet(), tmp_path / "tables.xlsx"
    head = replace(sheet, columns=(sheet.columns[0]._replace(head="Place"), *sheet.columns[1:]))
    assert told(path, head, sheet) == ["tables.xlsx, sheet soil gas ng per sampler, row 0, Point: 'Place'"]
    fewer = replace(sheet, rows=sheet.rows[1:])
    assert len(told(path, fewer, sheet)) == 1
    assert told(path, replace(sheet, kind="air"), sheet) == ["tables.xlsx: other sheets"]


def test_results_on_sheets_are_those_of_the_table_of_all_results() -> None:
    """The survey worked by hand has none that differ; each slip of a cell is told with its sampler and compound."""
    report = survey.report()
    assert list(sheet_store_differences(report)) == []
    soil, *rest = report.workbook.sheets
    at = next(n for n, column in enumerate(soil.columns) if column.analyte_id == "pce")
    assert isinstance(soil.rows[0][at], Shown)
    for row, cell in ((0, Shown(621.0, 0)), (0, "<10"), (3, Shown(10.0, 0)), (1, soil.rows[0][at]), (7, Shown(1.0, 0))):
        book = replace(report.workbook, sheets=(with_cell(soil, row, at, cell), *rest))
        (line,) = sheet_store_differences(replace(report, workbook=book))
        assert line.startswith(f"sheet Soil gas ng per sampler, {soil.rows[row][soil.sampler]}, Tetrachloroethene")
