"""The workbook: ids stay text, nothing is a formula, and other programs read what was written."""

from __future__ import annotations

import io
import zipfile
from dataclasses import replace

import openpyxl
import pytest
from export_samples import HOSTILE, NOTES, RESULTS, export_report
from python_calamine import CalamineWorkbook
from sample_report import sample_meta

from sitegen.render.data import workbook
from sitegen.render.data.workbook import workbook_bytes
from sitegen.report.record.exports import CELL_CHARS, ExportField, ExportTable

TABLES = export_report().exports


def opened(*tables: ExportTable) -> openpyxl.Workbook:
    return openpyxl.load_workbook(io.BytesIO(workbook_bytes(tables or TABLES, sample_meta())))


def test_another_program_reads_every_cell_with_its_type() -> None:
    """Texts come back as texts, numbers as the same numbers, truth as truth, and a non-detect as nothing."""
    sheet = opened()["results"]
    assert [cell.value for cell in sheet[1]] == [field.name for field in RESULTS.fields]
    for cells, row in zip(sheet.iter_rows(min_row=2), RESULTS.rows, strict=True):
        if "_x" in row[2] or "\r" in row[2]:  # written by their codes, which this reader leaves as they are
            continue
        assert [cell.value for cell in cells] == [None if value == "" else value for value in row]
    coded = [row[2] for row in RESULTS.rows if "_x" in row[2] or "\r" in row[2]]
    lines = CalamineWorkbook.from_filelike(io.BytesIO(workbook_bytes(TABLES, sample_meta())))
    read = {line[2] for line in lines.get_sheet_by_name("results").to_python()}
    assert len(coded) == 2
    assert set(coded) <= read


def test_no_cell_is_a_formula_and_ids_are_marked_as_text() -> None:
    """Hostile text is a shared string, never a formula or a link; ids wear the text format."""
    sheet = opened()["results"]
    texts = [cell for cell in sheet["C"][1:] if cell.value is not None]
    assert [cell.value for cell in texts][:4] == list(HOSTILE[:4])
    assert {cell.data_type for row in sheet.iter_rows(min_row=2) for cell in row} <= {"s", "n", "b"}
    assert {cell.data_type for cell in texts} == {"s"}
    assert {cell.number_format for cell in sheet["B"]} == {"@"}
    with zipfile.ZipFile(io.BytesIO(workbook_bytes(TABLES, sample_meta()))) as package:
        parts = {name: package.read(name) for name in package.namelist()}
        assert all(info.date_time == (1980, 1, 1, 0, 0, 0) for info in package.infolist())
    assert not any(b"<f>" in part or b"hyperlink" in part for part in parts.values())
    assert b'numberStoredAsText="1"' in parts["xl/worksheets/sheet2.xml"]


def test_sheets_have_a_frozen_header_and_a_filter_and_the_notes_come_first() -> None:
    """Every sheet can be scrolled and filtered; the first explains the others; the date is the report's."""
    book = opened()
    assert book.sheetnames == [table.name for table in TABLES]
    assert book.sheetnames[0] == NOTES.name
    for sheet, table in zip(book, TABLES, strict=True):
        assert sheet.freeze_panes == "A2"
        assert sheet.auto_filter.ref == sheet.dimensions
        assert sheet.max_row == len(table.rows) + 1
    assert f"{book.properties.created:%Y-%m-%dT%H:%M}" == f"{sample_meta().report_date}T00:00"
    assert "Draft for review" in str(book.properties.subject)


def test_a_table_without_rows_is_a_sheet_with_its_header() -> None:
    """Nothing found is a header alone, not a broken file."""
    assert [[cell.value for cell in row] for row in opened(replace(NOTES, rows=()))["columns"].iter_rows()] == [
        [field.name for field in NOTES.fields]
    ]


def test_a_text_too_long_for_a_cell_is_cut_and_says_so() -> None:
    """What a cell can't hold ends in an ellipsis, and reading back knows it."""
    table = replace(NOTES, rows=(("a", "", "", "🧪" * (CELL_CHARS + 1)),))
    cell = opened(table)["columns"]["D2"].value
    assert len(cell) == CELL_CHARS
    assert cell.endswith("🧪…")


def test_a_table_too_long_for_a_sheet_is_left_to_its_csv(monkeypatch: pytest.MonkeyPatch) -> None:
    """No sheet is cut short: a table is there as a whole or not at all."""
    monkeypatch.setattr(workbook, "SHEET_ROWS", len(RESULTS.rows) - 1)
    assert "results" not in opened().sheetnames
    assert "locations" in opened().sheetnames


def test_the_same_tables_give_the_same_bytes() -> None:
    """Nothing in the package is of the moment."""
    assert workbook_bytes(TABLES, sample_meta()) == workbook_bytes(TABLES, sample_meta())


def test_columns_are_as_wide_as_what_is_in_them_and_the_widest_wrap() -> None:
    """8 characters at least, a name and 4, the longest of the first 200 cells, and 60 at most, of which words wrap."""
    names = ("a", "longer_name", "c", "d", "e")
    fields = tuple(ExportField(name, "string", "", "m") for name in names)
    rows = [("x", "x", "y" * 59, "z" * 60, "1")] * 200 + [("x", "x", "x", "x", "w" * 50)]
    sheet = opened(ExportTable("t", "T", "n", fields, tuple(rows)))["t"]
    widths = [sheet.column_dimensions[letter].width for letter in "ABCDE"]
    assert widths == pytest.approx([8, 15, 59, 60, 8], abs=1)
    assert [bool(cell.alignment.wrap_text) for cell in sheet[2]] == [False, False, False, True, False]
