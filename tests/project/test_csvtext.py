"""CSV keeps its row numbers, whatever its line ends, quotes and encoding are."""

from __future__ import annotations

import codecs

import pytest

from sitegen.findings.problems import Severity
from sitegen.project.read.csvtext import MAX_FIELD_CHARS, MAX_TOLD, read_csv, read_grid

TEXT = "id,note\n007,first\n008,second\n"


@pytest.mark.parametrize(
    "content",
    [
        TEXT.encode(),
        codecs.BOM_UTF8 + TEXT.encode(),
        TEXT.replace("\n", "\r\n").encode(),
        TEXT.replace("\n", "\r").encode(),
        TEXT.rstrip("\n").encode(),
        b'"id","note"\n"007","first"\n"008","second"\n',
    ],
)
def test_mark_line_ends_and_quotes_make_no_difference(content: bytes) -> None:
    table, findings = read_csv("a.csv", content)
    assert findings == []
    assert table is not None
    assert table.header == ("id", "note")
    assert table.rows == (["007", "first"], ["008", "second"])
    assert table.numbers == (2, 3)


@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_row_numbers_are_those_of_a_spreadsheet(end: str) -> None:
    lines = ["id,note", '1,"two', 'lines, one ""row"""', "", "2,after a blank row", " , ", "3,last"]
    table, findings = read_csv("a.csv", end.join(lines).encode())
    assert findings == []
    assert table is not None
    assert table.numbers == (2, 4, 6)
    assert table.rows[0] == ["1", f'two{end}lines, one "row"']


@pytest.mark.parametrize(("delimiter", "name"), [(";", "semicolon"), ("\t", "tab"), ("|", "bar")])
def test_a_declared_delimiter_is_used_and_an_undeclared_one_told(delimiter: str, name: str) -> None:
    content = TEXT.replace(",", delimiter).encode()
    table, findings = read_csv("a.csv", content, delimiter=delimiter)
    assert (findings, table is not None) == ([], True), name
    table, (finding,) = read_csv("a.csv", content)
    assert (table, finding.code, finding.where.row) == (None, "delimiter-wrong", 1)


@pytest.mark.parametrize("encoding", ["latin-1", "cp1252", "utf-16", "utf-8"])
def test_a_declared_encoding_is_used(encoding: str) -> None:
    table, findings = read_csv("a.csv", "id,note\n1,µg 50 °C\n".encode(encoding), encoding=encoding)
    assert findings == []
    assert table is not None
    assert table.rows == (["1", "µg 50 °C"],)


@pytest.mark.parametrize(
    ("content", "encoding", "row"),
    [
        ("id\n1\nµg\n".encode("latin-1"), "utf-8", 3),
        (b"id\n1\n", "no-such-encoding", None),
        (b"id\n1\n", "hex", None),
        (b"id\n1\n", "undefined", 1),
        (b"id\n1\n", "a\x00b", None),
        (b"id\n1\n\xff", "idna", 3),
        (b"id\n\x00\n", "utf-8", 2),
        ("id\n1\n".encode("utf-16"), "utf-8", 1),
    ],
)
def test_bytes_of_another_encoding_are_told(content: bytes, encoding: str, row: int | None) -> None:
    table, (finding,) = read_csv("a.csv", content, encoding=encoding)
    assert (table, finding.code, finding.severity) == (None, "encoding-wrong", Severity.STOP)
    if row is not None:
        assert finding.where.row == row


@pytest.mark.parametrize(
    ("content", "row"),
    [
        (b'id,note\n\n1,"open\n2,b\n', 3),
        (b'id,note\n1,"a"b\n', 2),
        (b"id\n" + b"x" * (MAX_FIELD_CHARS + 1), 2),
        (b"", 1),
        (b" \n,\n", 1),
    ],
)
def test_what_is_no_csv_is_told_with_its_row(content: bytes, row: int) -> None:
    table, (finding,) = read_csv("a.csv", content)
    assert (table, finding.code, finding.where.row) == (None, "csv-unreadable", row)


def test_rows_of_a_wrong_length_are_told_and_many_are_counted() -> None:
    table, findings = read_csv("a.csv", b"id,note\n1\n2,b\n3,c,d\n4,e,,\n")
    assert [(finding.where.row, finding.found) for finding in findings] == [(2, "1 cells"), (4, "3 cells")]
    assert table is not None
    assert table.rows == (["1", ""], ["2", "b"], ["3", "c"], ["4", "e"])
    _, findings = read_csv("a.csv", b"id,note\n" + b"1\n" * (MAX_TOLD + 5))
    assert len(findings) == MAX_TOLD + 1
    assert findings[-1].found.startswith("5 more rows")


def test_header_faults_and_row_faults_are_told_together() -> None:
    table, findings = read_csv("a.csv", b"id,,id\n1\n")
    assert table is None
    assert [finding.code for finding in findings] == ["header-blank", "header-twice", "row-length"]


def test_a_grid_has_rows_of_any_length() -> None:
    grid, findings = read_grid("a.csv", b"title\n\na,b,c\n1,2\n")
    assert findings == []
    assert grid is not None
    assert grid.rows == (["title"], ["a", "b", "c"], ["1", "2"])
    assert grid.numbers == (1, 3, 4)
