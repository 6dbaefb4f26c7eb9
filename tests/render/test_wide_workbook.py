"""Sheets for people as they are written: two other programs read them, and a third prints them."""

from __future__ import annotations

import io
import re
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path
from zipfile import ZipFile

import openpyxl
import pytest
from export_samples import export_report
from openpyxl.worksheet.worksheet import Worksheet
from pypdf import PdfReader
from python_calamine import CalamineWorkbook
from sample_report import sample_meta
from wide_samples import CODES, LONG_NAME, NUMBERS, sample_book, sample_sheet

from sitegen.render.data.sheetcells import lines_of
from sitegen.render.data.sheetprint import print_layout
from sitegen.render.data.workbook import workbook_bytes
from sitegen.report.record.sheets import NAME_CHARS, Shown, WideSheet, Workbook, sheet_names

TABLES = export_report().exports
_CODE = re.compile("_x([0-9A-F]{4})_")


def content(book: Workbook | None = None) -> bytes:
    return workbook_bytes(TABLES, sample_meta(), book or sample_book())


def opened(book: Workbook | None = None) -> openpyxl.Workbook:
    return openpyxl.load_workbook(io.BytesIO(content(book)))


def plain(value: object, meant: object) -> object:
    """Return what openpyxl read as it was meant: no value for no text, and codes that it leaves as they are read."""
    text = _CODE.sub(lambda found: chr(int(found[1], 16)), value) if isinstance(value, str) else value
    return meant if meant in (value, text) or (value, meant) == (None, "") else value


def test_two_programs_read_the_same_cells_and_they_are_those_of_the_record() -> None:
    """Every text and every bit of every number, by openpyxl and by calamine, on every sheet."""
    one, other = opened(), CalamineWorkbook.from_filelike(io.BytesIO(content()))
    assert one.sheetnames == other.sheet_names
    for sheet in one:
        lines = other.get_sheet_by_name(sheet.title).to_python(skip_empty_area=False)
        for row, line in zip(sheet.iter_rows(), lines, strict=False):
            assert [plain(cell.value, read) for cell, read in zip(row, line, strict=True)] == line
        assert [*filter(any, lines)][sheet.max_row :] == []
    for wide, name in zip(sample_book().sheets, other.sheet_names, strict=False):
        meant = [[cell.value if isinstance(cell, Shown) else cell or "" for cell in row] for row in wide.rows]
        assert other.get_sheet_by_name(name).to_python(skip_empty_area=False)[1:] == meant


def test_a_number_is_shown_with_its_digits_and_all_else_is_a_text() -> None:
    """Formats give the decimals (ECMA-376 part 1, 18.8.30); only a detection is numeric; no cell is a formula."""
    sheet = opened().worksheets[0]
    cells = [row[2] for row in sheet.iter_rows(min_row=2)]
    assert [cell.number_format for cell in cells[: len(NUMBERS)]] == [
        "0.0", "0.0E+00", "#,##0.000", "0.0", "0.00", "0", "0.00E+00", "0",
    ]  # fmt: skip
    assert {cell.data_type for cell in cells[: len(NUMBERS)]} == {"n"}
    for row in sheet.iter_rows(min_row=2 + len(NUMBERS), max_row=sheet.max_row - 1):
        assert {cell.data_type for cell in row} == {"s"}
        assert {cell.number_format for cell in row} == {"@"}
    with ZipFile(io.BytesIO(content())) as package:
        parts = b"".join(package.read(name) for name in package.namelist())
    assert not re.search(rb"<f[ >]|hyperlink|<is>", parts)


def test_names_of_sheets_are_safe_short_and_unlike() -> None:
    """By memory of programs' documentation: 31 code units, no brackets, colons, stars, slashes; in no case twice."""
    sheets = [
        WideSheet("soil gas", "", (), (), round=name)
        for name in ("", "[a]:*?/\\b", "'quoted'", "x" * 400, "🧪" * 40, "\x00\x1f\ud800", "SOIL GAS", "soil gas"[:0])
    ]
    sheets += [WideSheet(kind, "", (), ()) for kind in ("History", "results", "", "[]", "RESULTS")]
    names = sheet_names(sheets, ("results",))
    assert len({name.casefold() for name in (*names, "results")}) == len(sheets) + 1
    for name in names:
        assert 0 < len(name.encode("utf-16-le")) // 2 <= NAME_CHARS
        assert not re.search(r"[\[\]:*?/\\\x00-\x1f]|^'|'$|^history$", name, re.IGNORECASE)
    assert names[1] == "a b soil gas"
    assert sheet_names([WideSheet("gas", "", (), (), round="_x0041_ _x000D_x_")], ()) == ("x0041_ x000D_x_ gas",)
    assert names[4].endswith(" soil gas")
    assert opened().sheetnames[:3] == [
        "A soil gas ng per sampler", "A soil gas ng per sampler 2", "results 2",
    ]  # fmt: skip
    assert LONG_NAME.startswith("A ")


def test_heads_stay_in_sight_and_on_each_page_of_print() -> None:
    """Frozen panes, titles of print, a filter, widths, wrapped heads, paper, and what runs along the pages."""
    wide = sample_sheet(compounds=12)
    sheet = opened(sample_book(wide)).worksheets[0]
    assert (sheet.freeze_panes, sheet.print_title_rows, sheet.print_title_cols) == ("C2", "$1:$1", "$A:$B")
    assert sheet.auto_filter.ref == "A1:Z27"
    assert [sheet.column_dimensions[letter].width for letter in "ABC"] == [12, 20, 15]
    assert all(cell.alignment.wrap_text and cell.font.b for cell in sheet[1])
    assert sheet.row_dimensions[1].height > 13
    setup = sheet.page_setup
    assert (setup.orientation, setup.paperSize, setup.scale) == ("landscape", 9, 55)
    assert [one.id for one in sheet.col_breaks.brk] == [14]
    assert sheet.oddHeader.left.text.split("\n")[0] == CODES.replace("&", "&&")
    assert sheet.oddHeader.right.text == "Revision 2, for review"
    assert sheet.oddFooter.right.text == "Page &P of &N"


def test_a_sheet_that_fits_on_one_page_is_fitted_to_its_width() -> None:
    """On the report's own paper; long tables repeat their heads as well."""
    letter = replace(sample_meta(), paper="us-letter")
    book = openpyxl.load_workbook(io.BytesIO(workbook_bytes(TABLES, letter, sample_book())))
    for sheet in book:
        assert sheet.page_setup.paperSize == 1
        assert (sheet.sheet_properties.pageSetUpPr.fitToPage, sheet.page_setup.fitToHeight) == (True, 0)
        assert sheet.print_title_rows == "$1:$1"
        assert len(_running(sheet)) <= 255


def _running(sheet: Worksheet) -> str:
    return f"&L{sheet.oddHeader.left.text}&R{sheet.oddHeader.right.text}"


def test_a_compound_s_columns_stay_on_one_page_and_pages_are_filled_alike() -> None:
    """Every break is where a block begins; 22 compounds of 35 characters, 5 to a page of 222 less 30, need 5 pages."""
    widths, blocks = [10, 20, *[15, 20] * 22], [0, 1, *(2 + at // 2 for at in range(44))]
    layout = print_layout(widths, blocks, 2, "a4")
    assert all(blocks[at] != blocks[at - 1] for at in layout.breaks)
    pages = [blocks[start:end] for start, end in zip((2, *layout.breaks), (*layout.breaks, len(blocks)), strict=True)]
    assert [len(set(page)) for page in pages] == [5, 5, 5, 5, 2]
    assert print_layout([300, 10, 10], [0, 1, 2], 1, "a4").breaks  # a title wider than a page: still one block to each


def test_the_same_sheets_give_the_same_bytes() -> None:
    """Nothing in the package is of the moment, and the order of styles is that of their use."""
    assert content() == content()


def test_a_row_is_as_high_as_its_longest_text() -> None:
    """Where a program does not work heights out by itself, no text is cut: 20 columns hold 17 characters of words."""
    assert [lines_of(text, 20) for text in ("short", "exposure; seal; unsigned", "a\nb", "x" * 40)] == [1, 2, 2, 3]
    sheet = opened().worksheets[0]
    heights = {str(row[1].value): sheet.row_dimensions[row[0].row].height for row in sheet.iter_rows(min_row=2)}
    assert heights["a mark"] is None
    assert heights["x\ny"] == 25.5


@pytest.mark.long
def test_libreoffice_prints_titles_on_every_page(tmp_path: Path) -> None:
    """Turned into a PDF by LibreOffice: each page has the heads, the point of each row and its running texts."""
    office = shutil.which("soffice")
    if office is None:
        pytest.skip("LibreOffice is not installed")
    book = tmp_path / "book.xlsx"
    book.write_bytes(workbook_bytes((), sample_meta(), sample_book(sample_sheet(compounds=12))))
    profile = f"-env:UserInstallation={(tmp_path / 'profile').as_uri()}"
    subprocess.run([office, profile, "--headless", "--convert-to", "pdf", "--outdir", tmp_path, book], check=True)
    pages = [page.extract_text() for page in PdfReader(tmp_path / "book.pdf").pages]
    assert len(pages) == 2
    for number, page in enumerate(pages, start=1):
        assert "Point" in page
        assert "007" in page
        assert CODES in page
        assert f"Page {number} of 2" in page
        assert "Revision 2, for review" in page
    assert "1.80E+308" in pages[0]
