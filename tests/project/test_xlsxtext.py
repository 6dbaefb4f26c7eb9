"""XLSX files give the text that their cells show, or are refused in bounded time."""

from __future__ import annotations

import io
import struct
import time
import tracemalloc
import zipfile
from collections.abc import Callable
from datetime import date, datetime

import pytest
from lab_files import saved, xlsx_bytes
from openpyxl import Workbook
from openpyxl.worksheet.worksheet import Worksheet

from sitegen.findings.problems import Severity
from sitegen.project.read import xlsxparts
from sitegen.project.read.xlsxparts import MAX_UNPACKED_BYTES, column_letters, column_number
from sitegen.project.read.xlsxtext import Value, cell_text, read_sheet

HEADER = ["s", "r"]


def book(build: Callable[[Worksheet], None]) -> bytes:
    """Return a workbook whose only sheet was built by a function."""
    made = Workbook()
    build(made.worksheets[0])
    return saved(made)


def repacked(content: bytes, changes: dict[str, bytes]) -> bytes:
    """Return a zip with some of its parts replaced."""
    buffer = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(content)) as old,
        zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        for name in old.namelist():
            new.writestr(name, changes.get(name, old.read(name)))
    return buffer.getvalue()


def refused(content: bytes, but: int = 0) -> str:
    """Return what was found in a workbook that is refused, after ``but`` notes."""
    sheet, findings = read_sheet("lab/a.xlsx", content)
    assert sheet is None
    assert len(findings) == but + 1
    finding = findings[-1]
    assert (finding.code, finding.severity) == ("workbook-unreadable", Severity.STOP)
    return finding.found


def test_rows_keep_the_numbers_that_a_spreadsheet_shows() -> None:
    sheet, findings = read_sheet("a.xlsx", xlsx_bytes([["title"], [], HEADER, ["L-1", 5], [], ["L-2", "<5"]]))
    assert findings == []
    assert sheet is not None
    assert sheet.grid.numbers == (1, 3, 4, 6)
    assert sheet.grid.rows[2:] == (["L-1", "5"], ["L-2", "<5"])


def test_a_sheet_that_begins_further_right_and_down_keeps_its_places() -> None:
    def build(sheet: Worksheet) -> None:
        sheet["C5"] = "x"

    sheet, _ = read_sheet("a.xlsx", book(build))
    assert sheet is not None
    assert (sheet.grid.numbers, sheet.grid.rows) == ((5,), (["", "", "x"],))


@pytest.mark.parametrize(
    ("value", "shown", "text", "states"),
    [
        (12.0, "General", "12", ("number",)),
        (0.0036, "General", "0.0036", ("number",)),
        (1e-7, "General", "0.0000001", ("number",)),
        (1e21, "General", "1000000000000000000000", ("number",)),
        (9.0, "0.0", "9.0", ("number",)),
        (9.04, "0.0", "9.04", ("number",)),
        (1234.5, "#,##0.00", "1234.50", ("number",)),
        (1200.0, "0.0E+00", "1.2E+3", ("number",)),
        (0.96, "0%", "96%", ("number",)),
        (0.965, "0%", "96.5%", ("number",)),
        (47102.0, "0000000", "0047102", ("number",)),
        (5.0, "[Red]0.00", "5.00", ("number",)),
        (5.0, "#,##0_);(#,##0)", "5", ("number",)),
        (10.0, '"<"0', "10", ("number", "dressed")),
        (10.0, '0.0" J"', "10", ("number", "dressed")),
        (10.0, '[<5]"ND";0', "10", ("number", "dressed")),
        (True, "General", "TRUE", ()),
        (date(2005, 1, 4), "General", "2005-01-04", ("date",)),
        (datetime.fromisoformat("2005-01-04T09:30"), "General", "2005-01-04T09:30", ("date",)),
        ("0047", "General", "0047", ()),
    ],
)
def test_a_cell_is_written_as_it_is_shown_and_no_digit_is_lost(
    value: Value, shown: str, text: str, states: tuple[str, ...]
) -> None:
    assert cell_text(value, shown) == (text, states)


def test_states_of_cells_are_found_in_a_real_file() -> None:
    def build(sheet: Worksheet) -> None:
        sheet.append(["id", "r"])
        sheet.append([date(2005, 1, 4), "=1+1"])
        sheet.append([47102, 10])
        sheet["B3"].number_format = '"<"0'
        sheet.append(["x", "#N/A"])
        sheet["B4"].data_type = "e"

    sheet, findings = read_sheet("a.xlsx", book(build))
    assert findings == []
    assert sheet is not None
    assert {key: set(rows) for key, rows in sheet.states.items()} == {
        ("date", 1): {2},
        ("number", 1): {3},
        ("number", 2): {3},
        ("dressed", 2): {3},
        ("unfilled", 2): {2, 4},
    }


def test_hidden_rows_columns_and_sheets_are_noted() -> None:
    made = Workbook()
    sheet = made.worksheets[0]
    sheet.title = "Data"
    for number in range(1, 8):
        sheet.append([number, number, number])
    sheet.row_dimensions[3].hidden = True
    sheet.row_dimensions[5].hidden = True
    sheet.column_dimensions["B"].hidden = True
    made.create_sheet("Old").sheet_state = "hidden"
    read, (note,) = read_sheet("a.xlsx", saved(made))
    assert read is not None
    assert (note.code, note.severity) == ("cells-hidden", Severity.NOTE)
    assert note.found == "hidden: sheet 'Old'; rows 3, 5; column B (sheet 'Data')"


def test_the_sheet_must_be_clear() -> None:
    made = Workbook()
    made.worksheets[0].append(["a"])
    made.create_sheet("Two").append(["b"])
    content = saved(made)
    for name in ("", "Three"):
        sheet, (finding,) = read_sheet("a.xlsx", content, name)
        assert (sheet, finding.code) == (None, "sheet-unclear")
        assert "'Sheet', 'Two'" in finding.expected
    read, _ = read_sheet("a.xlsx", content, "Two")
    assert read is not None
    assert read.grid.rows == (["b"],)


@pytest.mark.parametrize("content", [b"", b"PK", b"a,b\n1,2\n", b"PK\x05\x06" + bytes(18)])
def test_what_is_no_workbook_is_refused(content: bytes) -> None:
    assert refused(content)


def test_an_empty_sheet_is_refused() -> None:
    assert "empty" in refused(book(lambda _: None))


def test_a_document_type_is_refused() -> None:
    attack = b'<?xml version="1.0"?><!DOCTYPE a [<!ENTITY b "bb"><!ENTITY c "&b;&b;">]><worksheet>&c;</worksheet>'
    for part in ("xl/worksheets/sheet1.xml", "xl/workbook.xml", "xl/styles.xml"):
        assert "document type" in refused(repacked(xlsx_bytes([HEADER]), {part: attack}))


SHEET = b'<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>%s</sheetData></worksheet>'


@pytest.mark.parametrize(
    "rows",
    [
        b'<row r="1"><c r="XFD1048576"><v>1</v></c></row>',
        b'<row r="1"><c r="XFE1"><v>1</v></c></row>',
        b'<row r="1048577"><c><v>1</v></c></row><row r="1"><c r="A1048577"/></row>',
        b'<row r="-1"><c r="A1"/></row>',
        b'<row r="1"><c r="&#x661;A"/></row>',
        b'<row r="1"><c r="A1" s="99999999999999"/></row>',
    ],
)
def test_an_address_that_no_grid_can_hold_is_refused(rows: bytes) -> None:
    assert refused(repacked(xlsx_bytes([HEADER]), {"xl/worksheets/sheet1.xml": SHEET % rows}))


def measured(content: bytes) -> tuple[str, float, int]:
    """Refuse a workbook; return what was found, the seconds and the peak bytes."""
    tracemalloc.start()
    begun = time.process_time()
    found = refused(content)
    seconds = time.process_time() - begun
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return found, seconds, peak


def test_a_zip_bomb_is_refused_before_it_is_unpacked() -> None:
    buffer = io.BytesIO()
    block = bytes(1024 * 1024)
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as made:
        made.writestr("xl/workbook.xml", "<workbook/>")
        with made.open("xl/worksheets/sheet1.xml", "w") as part:
            for _ in range(MAX_UNPACKED_BYTES // len(block) + 1):
                part.write(block)
    found, seconds, peak = measured(buffer.getvalue())
    assert "when unpacked" in found
    assert seconds < 2
    assert peak < 20 * 1024 * 1024


def test_a_zip_that_lies_about_its_sizes_is_not_unpacked_beyond_them() -> None:
    content = repacked(xlsx_bytes([HEADER]), {"xl/worksheets/sheet1.xml": bytes(50 * 1024 * 1024)})
    with zipfile.ZipFile(io.BytesIO(content)) as package:
        entry = package.getinfo("xl/worksheets/sheet1.xml")
    real = struct.pack("<L", entry.file_size)
    assert content.count(real) == 2  # the local header and the directory
    found, seconds, peak = measured(content.replace(real, struct.pack("<L", 1000)))
    assert "cannot be unpacked" in found
    assert seconds < 2
    assert peak < 20 * 1024 * 1024


def test_other_extremes_are_refused() -> None:
    sound = xlsx_bytes([HEADER])
    huge = b"<styleSheet>" + b" " * (xlsxparts.MAX_FRAME_BYTES + 1) + b"</styleSheet>"
    assert "styles of" in refused(repacked(sound, {"xl/styles.xml": huge}))
    foreign = b'<?xml version="1.0" encoding="cp037"?>'
    assert "encoding" in refused(repacked(sound, {"xl/worksheets/sheet1.xml": foreign}))
    errors = b"<row>" + b'<c t="e"/>' * 16_000 + b"</row>"
    assert "without a value" in refused(repacked(sound, {"xl/worksheets/sheet1.xml": SHEET % (errors * 8)}))
    many = b"<cols>" + b'<col min="1" max="16384" hidden="1"/>' * 5000 + b"</cols><sheetData/></worksheet>"
    assert "empty" in refused(repacked(sound, {"xl/worksheets/sheet1.xml": b"<worksheet>" + many}), but=1)


def test_a_part_packed_with_an_unbounded_method_is_refused() -> None:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_BZIP2) as made:
        made.writestr("xl/workbook.xml", bytes(1_000_000))
    assert "by a method that XLSX does not allow" in refused(buffer.getvalue())


@pytest.mark.parametrize("rows", [b"<row>" + b"<c/>" * 400 + b"</row>", b"<x/>" * 500, b"<row/>" * 500])
def test_a_sheet_of_too_many_cells_or_elements_is_refused_on_the_way(
    rows: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(xlsxparts, "MAX_CELLS", 10_000)
    monkeypatch.setattr(xlsxparts, "MAX_ROW", 10_000)
    monkeypatch.setattr(xlsxparts, "MAX_TAGS", 1_700_000)
    content = repacked(xlsx_bytes([HEADER]), {"xl/worksheets/sheet1.xml": SHEET % (rows * 4000)})
    assert len(content) < 200_000
    found, seconds, _ = measured(content)
    assert " of more than " in found
    assert seconds < 2


def test_two_parts_of_one_name_are_refused() -> None:
    buffer = io.BytesIO(xlsx_bytes([HEADER]))
    with zipfile.ZipFile(buffer, "a") as made, pytest.warns(UserWarning, match="Duplicate name"):
        made.writestr("xl/worksheets/sheet1.xml", b"<worksheet/>")
    assert "one name" in refused(buffer.getvalue())


@pytest.mark.parametrize(("number", "letters"), [(1, "A"), (26, "Z"), (27, "AA"), (702, "ZZ"), (703, "AAA")])
def test_columns_are_numbered_as_spreadsheets_do(number: int, letters: str) -> None:
    assert (column_letters(number), column_number(letters)) == (letters, number)
