"""The lists of printed numbers and of input files, line by line."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace

from export_samples import NOTES, RESULTS, export_report

from sitegen.findings.problems import Finding, Severity, Where
from sitegen.render.data.datapackage import package_bytes
from sitegen.render.data.exports import csv_bytes, geojson_bytes
from sitegen.render.data.findings import findings_csv, findings_json
from sitegen.render.data.values import FIELDS, FILES, TICKS, VALUES, value_files
from sitegen.report.record.exports import ExportField, ExportTable
from sitegen.report.record.pages import PrintedValue, Ref, Source

AIR = Ref("page", "air")
PDF = Ref("file", "downloads/report.pdf")
OF_A_ROW = PrintedValue(AIR, "table", "air-table", "=IA-01", 2, "+value", "12 J", ("lab/r.csv", 7, "value"), ())
SOURCES = (Source("a.csv", None, "a.csv"),)
OF_A_SECTION = PrintedValue(AIR, "section", "text-a", "", 1, "sentence", "41 of 51", None, SOURCES, "Air / Results")
IN_NO_BLOCK = OF_A_ROW._replace(kind="", id="", origin=None)
IN_PRINT_ALONE = OF_A_ROW._replace(page=PDF)


def lines(content: bytes) -> list[list[str]]:
    return list(csv.reader(io.StringIO(content.decode(), newline="")))


def test_a_printed_number_is_listed_with_its_place_and_with_what_is_behind_it() -> None:
    """A number of a row leads to file, row and column, any other to its files; no text runs as a formula."""
    values = (OF_A_ROW, OF_A_SECTION, IN_NO_BLOCK, IN_PRINT_ALONE)
    head, row, section, alone, printed = lines(value_files(replace(export_report(), values=values))[VALUES])
    assert head == list(FIELDS)
    assert row == [
        "air.html", "table-air-table", "", "2", "'=IA-01", "'+value", "12 J", "lab/r.csv", "7", "value", "",
    ]  # fmt: skip
    assert section[:7] == ["air.html", "text-a", "Air / Results", "1", "", "sentence", "41 of 51"]
    assert section[7:10] == ["", "", ""]
    assert "a.csv" in section[10]
    assert (alone[1], printed[1]) == ("", "")
    assert printed[0] == "downloads/report.pdf"


def test_the_files_behind_the_numbers_are_listed_by_name_with_their_sums() -> None:
    report = replace(export_report(), hashes={"b.csv": "22", "=a.csv": "11"})
    assert lines(value_files(report)[FILES]) == [["file", "sha256"], ["'=a.csv", "11"], ["b.csv", "22"]]


def test_a_reviewer_s_sample_has_two_columns_to_fill_in() -> None:
    """Without a sample there is no such list."""
    report = replace(export_report(), values=(OF_A_ROW, OF_A_SECTION), sample=(OF_A_SECTION,))
    head, line = lines(value_files(report)[TICKS])
    assert (head[-2:], line[-2:], line[6]) == (["tick", "remark"], ["", ""], "41 of 51")
    assert TICKS not in value_files(replace(report, sample=None))


def test_the_lists_are_described_beside_the_tables() -> None:
    """Rows are whole numbers; a file is named once, and has its sum; the tick sheet ends with what a person adds."""
    report = replace(export_report(), hashes={"a.csv": "11"}, sample=(OF_A_ROW,))
    package = json.loads(package_bytes(report))
    described = {one["name"]: one for one in package["resources"]}
    types = {field["name"]: field["type"] for field in described["values"]["schema"]["fields"]}
    assert {name for name, kind in types.items() if kind == "integer"} == {"row", "file_row"}
    assert "primaryKey" not in described["values"]["schema"]
    files = described["files"]["schema"]
    assert files["primaryKey"] == ["file"]
    assert [field["constraints"] for field in files["fields"]] == [{"required": True}] * 2
    ticks = [field["name"] for field in described["tick_sheet"]["schema"]["fields"]]
    assert ticks == [*FIELDS, "tick", "remark"]
    assert described["files"]["path"] == "files.csv"
    assert package["contributors"] == [{"title": report.meta.prepared_by}]
    without = json.loads(package_bytes(replace(report, sample=None, meta=replace(report.meta, prepared_by=""))))
    assert "tick_sheet" not in {one["name"] for one in without["resources"]}
    assert "contributors" not in without
    assert package["id"] == f"urn:sha256:{report.meta.digest}"
    assert package["version"] == str(report.meta.revision)


def test_what_holds_for_a_table_is_no_word_on_all_files() -> None:
    """A line about a table by name, and one about a column, are left to that table."""
    lines_of = (*NOTES.rows, ("results", "", "", "Of results alone."), ("all files", "x", "", "Of a column."))
    package = json.loads(package_bytes(export_report(replace(NOTES, rows=lines_of), RESULTS)))
    assert package["description"] == "A non-detect has no value."


def test_cells_of_a_table_to_download_are_written_as_programs_read_them() -> None:
    """Whole numbers without a point up to 10^15, booleans in words, nothing for nothing, and no formula."""
    fields = tuple(ExportField(name, "string", "", "m") for name in "abcdefg")
    table = ExportTable(
        "t", "T", "n", fields, ((None, True, False, 3.0, 2.5, 1e15, "=1"), (0, 0.0, 1e14, "", 7, -2.0, "x"))
    )
    assert lines(csv_bytes(table))[1:] == [
        ["", "true", "false", "3", "2.5", "1000000000000000.0", "'=1"],
        ["0", "0", "100000000000000", "", "7", "-2", "x"],
    ]


def test_a_place_on_a_map_has_its_other_columns_as_properties() -> None:
    """Longitude comes first; a row with either missing has no place."""
    fields = tuple(ExportField(name, "number", "", "m") for name in ("id", "lat", "lon"))
    rows = (("a", 43.0, -99.0), ("b", None, -99.0), ("c", 43.0, None))
    places = json.loads(geojson_bytes(ExportTable("t", "T", "n", fields, rows, "lon", "lat")))["features"]
    assert [one["geometry"] for one in places] == [{"type": "Point", "coordinates": [-99.0, 43.0]}, None, None]
    assert [one["properties"] for one in places] == [{"id": "a"}, {"id": "b"}, {"id": "c"}]


def test_findings_to_download_have_every_part_in_its_column() -> None:
    finding = Finding("c", Severity.HOLD, "s", Where("f.csv", 3, "col"), "=found", "expected", "do", "kind")
    (row,) = json.loads(findings_json([finding]))
    assert row == {
        "key": "c:s", "severity": "hold", "code": "c", "subject": "s", "file": "f.csv", "row": 3, "column": "col",
        "found": "=found", "expected": "expected", "do": "do",
    }  # fmt: skip
    bare = replace(finding, where=Where("f.csv"))
    head, first, second = lines(findings_csv([finding, bare]))
    assert dict(zip(head, first, strict=True)) == {k: str(v) for k, v in row.items()} | {"found": "'=found"}
    assert second[4:7] == ["f.csv", "", ""]
