"""Headers of several rows, repeated headers and footers are read where they stand, and nothing is edited."""

from __future__ import annotations

import pytest
from lab_files import csv_bytes, saved
from openpyxl import Workbook
from small_delivery import deliver, one, results, simple, table

from sitegen.project.delivery.header import across_merged, header_of, lines, shown_header
from sitegen.project.read import xlsxparts
from sitegen.project.read.csvtext import Grid
from sitegen.project.read.xlsxparts import Merged
from sitegen.project.read.xlsxtext import Sheet, read_sheet

TWO_ROWS = [["Field", "", "Result", ""], ["s", "c", "ng", "u"], ["L-1", "pce", "5", "ng"]]
NAMES = {"lab_sample_id": "Field / s", "analyte_id": "Field / c", "result_text": "Result / ng", "unit": "Result / u"}
CROSS = """
[source]
file = "lab/a.csv"
layout = "crosstab"
header_row = [1, 2]
header_fill = "right"
[columns]
analyte_id = "c"
[crosstab]
suffixes = { result_text = " / r", lab_qualifier = " / q" }
[constants]
unit = "ng"
[units]
ng = 1
"""


def merged(rows: list[list[str]], *ranges: str) -> bytes:
    """Return a workbook with a sheet of these rows and merged ranges."""
    book = Workbook()
    sheet = book.worksheets[0]
    for row in rows:
        sheet.append([cell or None for cell in row])
    for cells in ranges:
        sheet.merge_cells(cells)
    return saved(book)


def test_a_merged_header_gives_each_of_its_columns_its_name() -> None:
    """Cells of two header rows are joined; the row keeps its number."""
    mapping = simple("header_row = [1, 2]", NAMES, file="lab/a.xlsx")
    delivery, findings = deliver(merged(TWO_ROWS, "A1:B1", "C1:D1"), mapping, "lab/a.xlsx")
    assert findings == []
    assert delivery is not None
    assert (results(delivery)[0]["value"], delivery.results.numbers) == ("5.0", [3])
    assert shown_header(delivery.form, delivery.sheet) == ("Field / s", "Field / c", "Result / ng", "Result / u")


def test_a_copy_as_csv_continues_each_blank_cell_where_the_mapping_says_so() -> None:
    """Without that the cell stays blank, and the missing column is told at the last header row."""
    mapping = simple('header_row = [1, 2]\nheader_fill = "right"', NAMES)
    assert one(csv_bytes(TWO_ROWS), mapping)["value"] == "5.0"
    _, findings = deliver(csv_bytes(TWO_ROWS), mapping.replace('"right"', '"none"'))
    assert {(f.code, f.where.row) for f in findings} == {("mapped-column-missing", 2)}


def test_a_cell_merged_over_header_rows_is_named_once() -> None:
    """The part that is blank or the same as the one above is left out."""
    rows = [["s", "c", "Result", ""], ["", "", "ng", "u"], ["L-1", "pce", "5", "ng"]]
    names = {"lab_sample_id": "s", "analyte_id": "c", "result_text": "Result / ng", "unit": "Result / u"}
    content = merged(rows, "A1:A2", "B1:B2", "C1:D1")
    assert one(content, simple("header_row = [1, 2]", names, file="lab/a.xlsx"), "lab/a.xlsx")["value"] == "5.0"


def test_a_name_that_two_header_rows_repeat_is_written_once() -> None:
    """As spreadsheets leave it where merged cells were parted."""
    rows = [["s", "c", "Result", "Result"], ["s", "c", "ng", "u"], ["L-1", "pce", "5", "ng"]]
    names = {"lab_sample_id": "s", "analyte_id": "c", "result_text": "Result / ng", "unit": "Result / u"}
    assert one(csv_bytes(rows), simple("header_row = [1, 2]", names))["value"] == "5.0"


def test_a_header_of_one_row_is_not_filled() -> None:
    """A mapping of before means what it meant: a merged cell names its first column alone."""
    rows = [["s", "c", "r", "u", "note", ""], ["L-1", "pce", "5", "ng", "a", "b"]]
    content = merged(rows, "E1:F1")
    sheet, _ = read_sheet("lab/a.xlsx", content)
    assert sheet is not None
    delivery, findings = deliver(content, simple(file="lab/a.xlsx"), "lab/a.xlsx")
    assert (findings, delivery is not None) == ([], True)
    assert delivery is not None
    assert header_of(delivery.form, sheet) == ["s", "c", "r", "u", "note", ""]


def test_a_sample_is_named_by_what_stands_before_the_suffix_of_its_results() -> None:
    """A cross-tab of two header rows: sample above, kind of column below."""
    rows = [["", "L-1", "", "L-2", ""], ["c", "r", "q", "r", "q"], ["pce", "5", "J", "6", ""]]
    delivery, findings = deliver(csv_bytes(rows), CROSS)
    assert findings == []
    found = [(r["lab_sample_id"], r["value"], r["lab_qualifier"]) for r in results(delivery)]
    assert found == [("L-1", "5.0", "J"), ("L-2", "6.0", "")]
    assert delivery is not None
    assert delivery.results.columns == ["L-1 / r", "L-2 / r"]


def test_a_column_across_without_the_others_is_told() -> None:
    """A sample whose results have not the suffix is not read as another one."""
    rows = [["", "L-1", "", "L-2", ""], ["c", "r", "q", "x", "q"], ["pce", "5", "J", "6", ""]]
    delivery, findings = deliver(csv_bytes(rows), CROSS)
    assert delivery is None
    assert {f.code for f in findings} == {"mapped-column-missing"}


def test_a_repeated_header_is_passed_over_where_the_mapping_says_so() -> None:
    """Else its word for a result is no number, and stops."""
    content = table(["L-1", "pce", "5", "ng"], ["s ", "c", "r", "u", ""], ["L-2", "pce", "6", "ng"])
    delivery, findings = deliver(content, simple("repeated_header = true"))
    assert [row["value"] for row in results(delivery)] == ["5.0", "6.0"]
    assert [(f.code, f.found) for f in findings] == [("rows-passed-over", "rows 3, not read")]
    _, findings = deliver(content, simple())
    assert "number-unreadable" in {f.code for f in findings}


def test_the_body_ends_above_the_first_row_with_a_closing_text() -> None:
    """What stands below it is noted; a text that is nowhere is noted too."""
    content = table(["L-1", "pce", "5", "ng"], ["Notes: J", "", "", ""], ["L-2", "pce", "6", "ng"])
    delivery, findings = deliver(content, simple('end_containing = ["Notes:", "End of"]'))
    assert [row["value"] for row in results(delivery)] == ["5.0"]
    assert [(f.code, f.found) for f in findings] == [
        ("rows-passed-over", "rows 3, 4, not read"),
        ("mapping-unused", "'End of', to be skipped"),
    ]


@pytest.mark.parametrize("rows", ["[2, 1]", "[1, 1]", "[]", "[0]", "0", "[1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11]"])
def test_header_rows_that_are_none_are_told_at_their_key(rows: str) -> None:
    _, (finding,) = deliver(table(["L-1", "pce", "5", "ng"]), simple(f"header_row = {rows}"))
    assert finding.code == "mapping-invalid"
    assert (finding.where.column or "").startswith("source.header_row")
    assert finding.where.row == 4


def test_more_merged_ranges_than_are_read_are_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """A sheet of nothing but merged ranges costs no more than its bytes."""
    monkeypatch.setattr(xlsxparts, "MAX_MERGED", 1)
    _, (finding,) = read_sheet("lab/a.xlsx", merged(TWO_ROWS, "A1:B1", "C1:D1"))
    assert (finding.code, finding.found) == ("workbook-unreadable", "a sheet of more than 1 merged ranges")


@pytest.mark.parametrize("spoilt", ["B1:A1", "A1:ZZZZ9", "A0:B1", "", "A1:B1:C1"])
def test_a_merged_range_that_is_none_is_told(spoilt: str) -> None:
    part = f'<worksheet><sheetData/><mergeCells><mergeCell ref="{spoilt}"/></mergeCells></worksheet>'
    with pytest.raises(xlsxparts.Unsafe):
        xlsxparts.scan_sheet(part.encode(), ())


def test_ranges_that_overlap_are_filled_once() -> None:
    """Hostile ranges over the same cells are gone through once; the first of them names the cells."""
    merged_cells = tuple(Merged(1, left, 1, 16_384) for left in range(1, 3_000))
    sheet = Sheet(Grid((["first"] + [""] * 16_383,), (1,)), "A", {}, merged_cells)
    assert set(across_merged(sheet, lines(sheet), 1)) == {"first"}


def test_a_header_of_several_rows_is_repeated_by_all_of_them_alone() -> None:
    """Its last row below other samples is no repeat: what stands below would be read as the first samples'."""
    head = [["", "L-1", "", "L-2", ""], ["c", "r", "q", "r", "q"]]
    mapping = CROSS.replace('"right"\n', '"right"\nrepeated_header = true\n')
    rows = [*head, ["pce", "5", "J", "6", ""], *head, ["tce", "7", "", "8", ""]]
    delivery, findings = deliver(csv_bytes(rows), mapping)
    assert [(row["lab_sample_id"], row["value"]) for row in results(delivery)] == [
        ("L-1", "5.0"), ("L-2", "6.0"), ("L-1", "7.0"), ("L-2", "8.0"),
    ]  # fmt: skip
    assert [(f.code, f.found) for f in findings] == [("rows-passed-over", "rows 4, 5, not read")]
    rows[3] = ["", "L-3", "", "L-4", ""]
    _, findings = deliver(csv_bytes(rows), mapping)
    assert {f.where.row for f in findings if f.severity.value == "stop" and f.code == "number-unreadable"} >= {4, 5}


QC_ACROSS = [["", "L-1", "", "L-9", ""], ["c", "r", "q", "r", "q"], ["pce", "5", "", "96", ""]]


def test_a_control_across_is_a_row_of_quality_control_where_the_mapping_says_so() -> None:
    """Its cell has the unit and limits of [lab_qc]; without the line it would be a result."""
    said = CROSS + '[crosstab.qc]\nL-9 = "control"\n[lab_qc.constants]\nunit = "%"\nlower = "70"\nupper = "130"\n'
    delivery, findings = deliver(csv_bytes(QC_ACROSS), said)
    assert (delivery is not None, findings) == (True, [])
    if delivery:
        assert [row["lab_sample_id"] for row in results(delivery)] == ["L-1"]
        (row,) = (dict(zip(delivery.qc.header, row, strict=True)) for row in delivery.qc.rows)
        told = [row[name] for name in ("lab_sample_id", "qc_type", "value", "unit", "lower", "upper")]
        assert told == ["L-9", "control", "96", "%", "70", "130"]
    skipped, _ = deliver(csv_bytes(QC_ACROSS), said.replace('"control"', '"skip"'))
    assert skipped is not None
    assert (len(skipped.results.rows), skipped.qc.rows) == (1, [])


@pytest.mark.parametrize(
    ("line", "code", "expected"),
    [
        ('L-8 = "control"', "mapped-column-missing", "the sample 'L-8'"),
        ('L-9 = "spike"', "mapping-invalid", "one of result, skip, surrogate"),
    ],
)
def test_a_control_across_that_is_not_there_is_told(line: str, code: str, expected: str) -> None:
    """A name that no column has, and a word that is none of ours, stop the file."""
    _, findings = deliver(csv_bytes(QC_ACROSS), f"{CROSS}[crosstab.qc]\n{line}\n")
    (finding,) = [one for one in findings if one.code == code]
    assert finding.expected.startswith(expected)


def test_kinds_of_samples_across_need_samples_across() -> None:
    """With compounds across there is no sample that a column could be of."""
    mapping = CROSS.replace("[crosstab]\n", '[crosstab]\nacross = "analytes"\nqc = { L-9 = "control" }\n')
    _, findings = deliver(csv_bytes(QC_ACROSS), mapping.replace('analyte_id = "c"', 'lab_sample_id = "c"'))
    assert ("mapping-invalid", "samples across") in [(one.code, one.expected) for one in findings]
