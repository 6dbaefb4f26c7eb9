"""The workbook that a survey's tables are typed into: what it says, and what becomes of what is typed."""

from __future__ import annotations

import io
import os
import subprocess
import sys
from pathlib import Path

import pandas as pd
import pytest
from openpyxl import Workbook, load_workbook
from openpyxl.worksheet.worksheet import Worksheet
from typer.testing import CliRunner

from sitegen.cli import app, template_folder
from sitegen.findings.problems import Severity
from sitegen.project.entrybook import entry_books
from sitegen.project.examples import LEFT_OUT, MARK, example_row, marked_cells
from sitegen.project.folder import Folder
from sitegen.project.guide import column_note
from sitegen.project.load import load_folder
from sitegen.project.schema import BOOK_FILE, Kind, TableSpec
from sitegen.project.tables import TABLE, TABLES
from tests.builders import example
from tests.workbooks import put, rows_of, saved, with_files

BOOKS = entry_books()
SPECS = [(spec, spec.book_path if spec.name == "signoff" else BOOK_FILE) for spec in TABLES]
IDS = [spec.name for spec in TABLES]


def opened(path: str = BOOK_FILE) -> Workbook:
    return load_workbook(io.BytesIO(BOOKS[path]))


@pytest.mark.parametrize(("spec", "path"), SPECS, ids=IDS)
def test_each_sheet_has_its_columns_with_their_meaning_format_and_words(spec: TableSpec, path: str) -> None:
    """Headers in order, each with a note; text columns with the text format; words to choose from; the header stays."""
    sheet = opened(path)[spec.name]
    columns = [column for column in spec.columns if column.name not in LEFT_OUT]
    assert [cell.value for cell in sheet[1]] == [column.name for column in columns]
    assert sheet.freeze_panes == "A2"
    lists = {str(rule.sqref): rule.formula1 for rule in sheet.data_validations.dataValidation}
    for column, cell in zip(columns, sheet[1], strict=True):
        assert cell.comment is not None
        assert cell.comment.text == column_note(column)
        assert column.meaning.replace("`", "") in cell.comment.text
        assert ("Must be filled in" in cell.comment.text) == column.required
        words = column.choices or (("yes", "no") if column.kind is Kind.FLAG else ())
        place = f"{cell.column_letter}2:{cell.column_letter}1048576"
        assert lists.pop(place, None) == (f'"{",".join(words)}"' if words else None)
        plain = column.kind in (Kind.NUMBER, Kind.INTEGER)
        form = {Kind.TIME: "yyyy\\-mm\\-dd\\ hh:mm", Kind.DATE: "yyyy\\-mm\\-dd"}.get(column.kind, "@")
        below = sheet.cell(2, cell.column)
        if below.value is not None:
            assert below.number_format == ("General" if plain else form)
            assert below.font.italic
            assert below.font.color.rgb == "FF6E6E6E"
        assert sheet.column_dimensions[cell.column_letter].number_format == ("General" if plain else form)
    assert lists == {}
    assert sheet.max_row == 2


def test_lists_are_short_enough_for_a_cell_rule() -> None:
    """A spreadsheet takes no more than 255 characters of words in a rule, and no comma in a word."""
    for spec in TABLES:
        for column in spec.columns:
            assert len(",".join(column.choices)) <= 255
            assert not any("," in word for word in column.choices)


def test_the_workbook_has_every_table_but_the_sign_off() -> None:
    """What a signature is bound to can't hold the signature: it has a workbook of its own."""
    assert opened().sheetnames == [spec.name for spec in TABLES if spec.name != "signoff"]
    assert opened("review/signoff.xlsx").sheetnames == ["signoff"]


def test_the_same_format_gives_the_same_bytes() -> None:
    """Neither clock, nor hash seed, nor zone is in the workbook."""
    code = (
        "import hashlib; from sitegen.project.entrybook import entry_books as b; "
        "print([hashlib.sha256(x).hexdigest() for x in b().values()])"
    )
    runs = {
        subprocess.run(
            [sys.executable, "-c", code], check=True, capture_output=True,
            env=os.environ | {"PYTHONHASHSEED": seed, "TZ": zone},
        ).stdout
        for seed, zone in (("1", "UTC"), ("2", "Pacific/Chatham"))
    }  # fmt: skip
    assert len(runs) == 1


def new_folder(tmp_path: Path) -> Path:
    result = CliRunner().invoke(app, ["new", "--workbook", str(tmp_path / "a")])
    assert result.exit_code == 0, result.output
    return tmp_path / "a"


def test_the_command_writes_workbooks_in_place_of_the_tables(tmp_path: Path) -> None:
    """Every other file of the template is there, no CSV is, and the workbooks are those."""
    made = new_folder(tmp_path)
    files = {path.relative_to(made).as_posix() for path in made.rglob("*") if path.is_file()}
    source = template_folder()
    kept = {path.relative_to(source).as_posix() for path in source.rglob("*") if path.is_file()}
    assert files == {path for path in kept if not path.endswith(".csv")} | set(BOOKS)
    assert all((made / path).read_bytes() == content for path, content in BOOKS.items())


def workbook_folder(edit: str = "") -> Folder:
    """Return the example's folder with an empty workbook of the template, and one with a table's rows typed in."""
    gone = [spec.path for spec in TABLES if spec.path in example().files]
    if not edit:
        return with_files(example(), BOOKS, gone)
    book = opened()
    for spec in TABLES:
        if spec.name in book.sheetnames:
            book[spec.name].delete_rows(2)
            type_in(book[spec.name], spec)
    return with_files(example(), {BOOK_FILE: saved(book)}, [path for path in gone if path != "review/signoff.csv"])


def type_in(sheet: Worksheet, spec: TableSpec) -> None:
    """Type the example's rows into the columns of a sheet."""
    if spec.path not in example().files:
        return
    header, *rows = rows_of(example().files[spec.path].content)
    names = [cell.value for cell in sheet[1]]
    for name in header:
        if name not in names:
            names.append(name)
            sheet.cell(1, len(names)).value = name
    columns = {column.name: column for column in spec.columns}
    for number, row in enumerate(rows, start=2):
        for name, text in zip(header, row, strict=False):
            put(sheet, number, names.index(name) + 1, text, columns.get(name))


def test_what_is_typed_into_it_is_read_as_from_csv() -> None:
    """The example's rows, typed into the workbook, are the example's tables."""
    survey, findings = load_folder(workbook_folder("typed"))
    base, _ = load_folder(example())
    assert survey is not None
    assert base is not None
    assert [finding for finding in findings if finding.where.file == BOOK_FILE] == []
    for name, table in base.tables.items():
        kept = [column for column in table.frame if not column.startswith("_")]
        pd.testing.assert_frame_equal(survey.frame(name)[kept], table.frame[kept])


def test_the_invented_row_is_refused_in_each_table_and_is_never_read() -> None:
    """One stop for each sheet, with its row; nothing else is told of the row, and no table has it."""
    survey, findings = load_folder(workbook_folder())
    assert survey is not None
    left = [f for f in findings if f.code == "example-row-left"]
    assert [f.where.row for f in left] == [2] * len(TABLES)
    assert {f.severity for f in left} == {Severity.STOP}
    assert {f.subject for f in left} == {f"{spec.path}+2" for spec in TABLES}
    assert [f for f in findings if f.where.file in BOOKS and f.code != "example-row-left"] == []
    assert all(table.present and table.frame.empty for table in survey.tables.values())


@pytest.mark.parametrize("spec", TABLES, ids=IDS)
def test_every_mark_of_the_invented_row_is_seen_alone(spec: TableSpec) -> None:
    """A row of which any marked cell was not written over is refused, in a CSV file as well."""
    assert marked_cells(spec)
    for name in marked_cells(spec):
        line = ",".join(example_row(spec)[name] if column == name else "" for column in spec.column_names)
        content = f"{','.join(spec.column_names)}\n{line}\n".encode()
        findings = load_folder(with_files(example(), {spec.path: content}))[1]
        (left,) = [f for f in findings if f.code == "example-row-left"]
        assert (left.where.file, left.where.row, left.where.column) == (spec.path, 2, name)
        assert MARK in left.found


def test_texts_that_begin_like_the_mark_are_read() -> None:
    """Only the very cells of the invented row are refused: a record may speak of an example."""
    spec = TABLE["deviations"]
    content = b"deviation_id,what\nEXAMPLE-7,EXAMPLE of a thing\n"
    survey, findings = load_folder(with_files(example(), {spec.path: content}))
    assert survey is not None
    assert len(survey.frame("deviations")) == 1
    assert "example-row-left" not in {finding.code for finding in findings}
