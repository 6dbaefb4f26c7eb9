"""Tables in workbooks: which sheet is read, what its cells are, and what is told of them."""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta
from functools import cache

import pandas as pd
import pytest
from openpyxl import Workbook, load_workbook
from openpyxl.worksheet.worksheet import Worksheet

from sitegen.checks.privacy import private_words
from sitegen.findings.problems import Finding, Severity, Where
from sitegen.project import limits
from sitegen.project.folder import Folder, belongs
from sitegen.project.intake.text import table_texts
from sitegen.project.load import content_digest, load_folder
from sitegen.project.places import in_order, table_at
from sitegen.project.schema import BOOK_FILE
from sitegen.project.tables import TABLES
from tests.builders import example, load, survey_findings
from tests.workbooks import in_one_workbook, in_workbooks_of_their_own, rows_of, saved, with_files, workbook

PLACED, SAMPLERS = "field/deployments.csv", "field/samplers.csv"


@cache
def one() -> Folder:
    return in_one_workbook(example())


@cache
def own() -> Folder:
    return in_workbooks_of_their_own(example())


def edited(edit: Callable[[Workbook], None], folder: Folder | None = None, path: str = BOOK_FILE) -> Folder:
    """Return a folder with one of its workbooks changed."""
    folder = folder or one()
    book = load_workbook(io.BytesIO(folder.files[path].content))
    edit(book)
    return with_files(folder, {path: saved(book)})


def on(name: str, edit: Callable[[Worksheet], None]) -> Folder:
    return edited(lambda book: edit(book[name]))


def at(sheet: Worksheet, row: int, column: str) -> str:
    """Return the address of a cell by its header."""
    return next(f"{cell.column_letter}{row}" for cell in sheet[1] if cell.value == column)


def told(folder: Folder, *codes: str) -> list[Finding]:
    return [f for f in load_folder(folder)[1] if not codes or f.code in codes]


@pytest.mark.parametrize("folder", [one, own])
def test_the_tables_of_workbooks_are_those_of_the_csv_files(folder: Callable[[], Folder]) -> None:
    """Every cell, row number and text as received is the same; nothing is told that the CSV files don't tell."""
    base, before = load_folder(example())
    survey, findings = load_folder(folder())
    assert base is not None
    assert survey is not None
    assert len(findings) == len(before)
    for name, table in base.tables.items():
        other = survey.tables[name]
        kept = [column for column in table.frame if column not in ("_file", "_sheet", "_column")]
        pd.testing.assert_frame_equal(other.frame[kept], table.frame[kept])
        assert {key: list(cells) for key, cells in other.received.items()} == {
            key: list(cells) for key, cells in table.received.items()
        }
        assert other.present == table.present


def test_rows_are_named_by_file_sheet_row_and_column() -> None:
    """The one workbook by its sheets, even where no column is named; a table's own by the sheet's own name."""
    placed, samplers = load(one()).tables["deployments"], load(own()).tables["samplers"]
    assert str(placed.where(0, "lot")) == "survey.xlsx, row 2, column deployments!lot"
    assert str(placed.where(0)) == "survey.xlsx, row 2, sheet deployments"
    assert (placed.called, samplers.called) == ("survey.xlsx (deployments)", "field/samplers.xlsx")
    assert str(samplers.where(0, "lot")) == "field/samplers.xlsx, row 2, column Sheet1!lot"
    assert str(samplers.where(0)) == "field/samplers.xlsx, row 2"


def test_findings_have_the_same_names_and_order_in_every_kind_of_file() -> None:
    """What was decided about a finding stands when the tables move into a workbook."""
    keys = [finding.key for finding in survey_findings(example())]
    assert [finding.key for finding in survey_findings(own())] == keys
    assert [finding.key for finding in survey_findings(one())] == keys


def test_no_message_names_a_csv_file_that_is_not_there() -> None:
    """Places of findings are files of the folder."""
    for folder in (one(), own()):
        for finding in survey_findings(folder):
            if finding.where.file.endswith(".csv"):
                assert finding.where.file in folder.files, finding


def test_two_sources_of_a_table_are_a_stop_that_names_both() -> None:
    """A CSV file beside a sheet, and beside a workbook of its own: neither is read."""
    file = example().files[SAMPLERS].content
    for folder, other in ((one(), "survey.xlsx (samplers)"), (own(), "field/samplers.xlsx")):
        (finding,) = told(with_files(folder, {SAMPLERS: file}), "table-twice")
        assert finding.severity is Severity.STOP
        assert finding.found == f"the table samplers in field/samplers.csv and in {other}"
        assert load(with_files(folder, {SAMPLERS: file})).frame("samplers").empty
        assert told(with_files(folder, {SAMPLERS: file}), "file-missing") == []
        header = file.split(b"\n")[0] + b"\n"
        (finding,) = told(with_files(folder, {SAMPLERS: header}), "table-twice")
        assert finding.do == "remove field/samplers.csv, which has only a header"
    twice = edited(lambda book: setattr(book.copy_worksheet(book["samplers"]), "title", "samplers "))
    assert [f.found for f in told(twice, "table-twice")] == [
        "the table samplers in survey.xlsx (samplers) and in survey.xlsx (samplers )"
    ]


def test_a_sheet_is_known_whatever_its_letters_case() -> None:
    """A spreadsheet does not tell such names apart either."""

    def rename(book: Workbook) -> None:
        sheet = book["samplers"]
        sheet.title = "other"
        sheet.title = "Samplers"

    folder = edited(rename)
    assert load(folder).frame("samplers").shape == load(one()).frame("samplers").shape
    assert told(folder, "sheet-unknown", "file-missing") == []


def test_a_sheet_of_another_name_is_noted_with_the_name_that_it_may_have() -> None:
    """A missing table is asked for as a sheet; a stranger is left alone."""
    folder = edited(lambda book: setattr(book["samplers"], "title", "sampler"))
    (note,) = told(folder, "sheet-unknown")
    assert (note.severity, note.do) == (Severity.NOTE, "rename it to samplers if it is that table")
    (missing,) = told(folder, "file-missing")
    assert str(missing.where) == "survey.xlsx, sheet samplers"
    assert missing.do.startswith("add the sheet samplers to survey.xlsx, or field/samplers.csv: ")
    (note,) = told(edited(lambda book: book.create_sheet("Scratch").append(["x"])), "sheet-unknown")
    assert note.do == "leave it, or remove it"


@pytest.mark.parametrize("name", ["samplers", "weather", "products"])
def test_a_blank_sheet_is_an_absent_table(name: str) -> None:
    """It is told as its absence is, by what the table is needed for."""

    def empty(sheet: Worksheet) -> None:
        sheet.delete_rows(1, sheet.max_row)

    blank = {(f.code, f.subject) for f in told(on(name, empty)) if name in f.subject}
    gone = {(f.code, f.subject) for f in told(edited(lambda book: book.remove(book[name]))) if name in f.subject}
    assert blank == gone
    assert not load(on(name, empty)).tables[name].present


def test_a_workbook_that_is_blank_is_an_absent_table_too() -> None:
    """Nothing is on record in it."""
    folder = with_files(own(), {"field/weather.xlsx": saved(Workbook())})
    assert [f.code for f in told(folder) if "weather" in f.subject] == ["file-absent"]


def test_the_sheet_of_a_tables_own_workbook_is_the_one_with_cells_or_of_its_name() -> None:
    """Empty sheets are passed over; of two with cells the one of the table's name is read, else none."""

    def more(book: Workbook) -> None:
        book.create_sheet("Sheet2")

    def other(book: Workbook) -> None:
        book.create_sheet("Notes").append(["of the day"])

    def named(book: Workbook) -> None:
        other(book)
        book["Sheet1"].title = "samplers"

    path = "field/samplers.xlsx"
    assert told(edited(more, own(), path), "sheet-unclear") == []
    (finding,) = told(edited(other, own(), path), "sheet-unclear")
    assert finding.do == "name only the sheet with the table samplers"
    assert load(edited(named, own(), path)).frame("samplers").shape == load(own()).frame("samplers").shape


def test_a_workbook_in_lab_is_the_laboratorys_own_unless_it_has_the_tables_key() -> None:
    """A file of the name of a table that a mapping names, or that has other columns, is not taken for the table."""
    theirs = workbook({"x": [["Field ID", "Compound"], ["1", "PCE"]]})
    codes = [(f.code, f.where.file) for f in told(with_files(example(), {"lab/results.xlsx": theirs}))]
    assert ("table-twice", "lab/results.csv") not in codes
    assert load(with_files(example(), {"lab/results.xlsx": theirs})).frame("results").shape[0] > 0
    ours = own().files["lab/results.xlsx"].content
    assert told(with_files(example(), {"lab/results.xlsx": ours}), "table-twice")
    assert "lab/results.xlsx" not in table_texts(with_files(own(), {}), {}, ["lab/results.xlsx"]).files


# --- cells ---------------------------------------------------------------------------------


def test_a_date_cell_is_read_by_what_it_holds_and_a_text_cell_by_the_declared_form() -> None:
    """However a date looks, its stored value is one moment; text beside it is told, then read as declared."""

    def mixed(sheet: Worksheet) -> None:
        sheet[at(sheet, 2, "placed_at")].number_format = "d/m/yy h:mm AM/PM"
        sheet[at(sheet, 3, "placed_at")].value = "23/10/2025 8:20"

    folder = on("deployments", mixed)
    (finding,) = told(folder, "time-unreadable")
    assert finding.found == "'23/10/2025 8:20'"
    assert finding.do == 'write under [files."survey.xlsx"] in project.toml: dates = "day/month/year hour:minute"'
    text = folder.files["project.toml"].content.decode()
    text += '\n[files."survey.xlsx"]\ndates = "day/month/year hour:minute"\n'
    survey = load(with_files(folder, {"project.toml": text.encode()}))
    assert list(survey.frame("deployments")["placed_at"][:2]) == [
        load(example()).frame("deployments")["placed_at"][0], "2025-10-23T08:20",
    ]  # fmt: skip
    assert survey.tables["deployments"].received["placed_at"][1] == "23/10/2025 8:20"


def test_a_moment_is_read_to_the_second_and_midnight_only_where_a_clock_is_shown() -> None:
    """What a sum of times stores a hair early is that minute; a date without a clock is no time."""

    def moments(sheet: Worksheet) -> None:
        cells = [sheet[at(sheet, row, "placed_at")] for row in (2, 3, 4)]
        cells[0].value = datetime(2025, 10, 23, 8, 11) - timedelta(milliseconds=400)  # noqa: DTZ001
        cells[1].value, cells[1].number_format = datetime(2025, 10, 23), "yyyy-mm-dd hh:mm"  # noqa: DTZ001
        cells[2].value, cells[2].number_format = datetime(2025, 10, 23), "yyyy-mm-dd"  # noqa: DTZ001

    folder = on("deployments", moments)
    placed = load(folder).frame("deployments")["placed_at"]
    assert list(placed[:2]) == ["2025-10-23T08:11", "2025-10-23T00:00"]
    (finding,) = told(folder, "time-unreadable")
    assert (finding.where.row, finding.found) == (4, "'2025-10-23'")


def test_a_workbook_that_counts_days_from_1904_has_the_same_days() -> None:
    """The other way of counting is the file's own, and known."""
    book = Workbook()
    book.epoch = datetime(1904, 1, 1)  # noqa: DTZ001
    sheet = book.active
    for row in rows_of(example().files["field/clearance.csv"].content):
        sheet.append(row)
    column = at(sheet, 2, "valid_from")
    was = sheet[column].value
    sheet[column].value, sheet[column].number_format = datetime.fromisoformat(was), "yyyy-mm-dd"
    folder = with_files(example(), {"field/clearance.xlsx": saved(book)}, ["field/clearance.csv"])
    assert load(folder).frame("clearance")["valid_from"][0] == was


@pytest.mark.parametrize(
    ("column", "value", "form", "code", "severity"),
    [
        ("sampler_id", 47102, "General", "id-zeros-lost", Severity.FLAG),
        ("sampler_id", 47102, "General", "id-typed-as-number", Severity.NOTE),
        ("sampler_id", datetime.fromisoformat("2025-03-02"), "d-m", "id-typed-as-date", Severity.STOP),
        ("lot", datetime.fromisoformat("2025-03-02"), "d-m", "text-typed-as-date", Severity.FLAG),
        ("sampler_id", "=A3", "General", "cell-without-value", Severity.STOP),
        ("lot", "=1/0", "General", "cell-without-value", Severity.STOP),
        ("sampler_id", 47102, '"S-"0000000', "cell-format-speaks", Severity.STOP),
    ],
)
def test_cells_that_mislead_are_told(column: str, value: object, form: str, code: str, severity: Severity) -> None:
    """As those of a laboratory's workbook are, with sheet, row and column."""

    def put(sheet: Worksheet) -> None:
        cell = sheet[at(sheet, 2, column)]
        cell.value, cell.number_format = value, form

    (finding,) = told(on("samplers", put), code)
    assert (finding.severity, str(finding.where)) == (severity, f"survey.xlsx, row 2, column samplers!{column}")


def test_an_id_that_its_format_shows_with_zeros_is_read_so() -> None:
    """The label says what the cell shows."""

    def put(sheet: Worksheet) -> None:
        cell = sheet[at(sheet, 2, "sampler_id")]
        cell.value, cell.number_format = 47102, "0000000"

    assert load(on("samplers", put)).frame("samplers")["sampler_id"][0] == "0047102"


def test_truth_is_told_with_the_word_that_is_meant() -> None:
    """TRUE of a spreadsheet is no word of the format."""

    def put(sheet: Worksheet) -> None:
        sheet[at(sheet, 2, "sleeve")].value = True

    (finding,) = told(on("deployments", put), "word-unknown")
    assert finding.do == "write yes"


def test_hidden_rows_columns_and_sheets_are_noted_and_read() -> None:
    """Each once, by its sheet."""

    def hide(book: Workbook) -> None:
        book["samplers"].row_dimensions[3].hidden = True
        book["weather"].sheet_state = "hidden"

    found = {str(f.where): f.found for f in told(edited(hide), "cells-hidden")}
    assert found == {
        "survey.xlsx, sheet samplers": "hidden: row 3",
        "survey.xlsx, sheet weather": "hidden: sheet 'weather'",
    }
    assert len(load(edited(hide)).frame("samplers")) == len(load(one()).frame("samplers"))


def test_cells_beyond_the_header_are_told_with_what_a_spreadsheet_can_do() -> None:
    """Nobody looks for commas in a sheet."""

    def put(sheet: Worksheet) -> None:
        sheet.cell(4, sheet.max_column + 2).value = "stray"

    (finding,) = told(on("samplers", put), "row-length")
    assert str(finding.where) == "survey.xlsx, row 4, sheet samplers"
    assert finding.do == "name their columns in the header, or clear the cells beyond it"
    assert finding.subject == "field/samplers.csv+4"


def test_what_follows_from_a_cell_that_cant_be_read_is_left_out_as_for_csv() -> None:
    """The same cells spoilt in all three kinds of files give the same findings."""
    text = example().files[PLACED].content
    spoilt = with_files(example(), {PLACED: text.replace(b"2025-10-23T08:11", b"soon", 1)})
    keys = [finding.key for finding in survey_findings(spoilt)]
    assert [finding.key for finding in survey_findings(in_one_workbook(spoilt))] == keys
    assert [finding.key for finding in survey_findings(in_workbooks_of_their_own(spoilt))] == keys


# --- the folder ------------------------------------------------------------------------------


def test_the_workbook_is_an_input_file_like_others() -> None:
    """It belongs to the folder, is hashed, and its change changes the digest that a sign-off is bound to."""
    assert belongs(BOOK_FILE)
    assert not belongs("survey.ods")
    assert not belongs("~$survey.xlsx")
    assert content_digest(one()) != content_digest(on("samplers", lambda sheet: setattr(sheet["A2"], "value", "x")))


def test_a_signature_does_not_change_what_it_is_bound_to() -> None:
    """The sign-off's own workbook is left out of the digest; in the tables' workbook a sign-off is refused."""
    signed = workbook({"signoff": [["revision", "role"], ["0", "PM-1"]]})
    assert content_digest(with_files(one(), {"review/signoff.xlsx": signed})) == content_digest(one())
    folder = edited(lambda book: book.create_sheet("signoff").append(["revision", "role"]))
    (finding,) = told(folder, "signoff-in-workbook")
    assert (finding.severity, str(finding.where)) == (Severity.STOP, "survey.xlsx, sheet signoff")


def test_a_workbook_that_cant_be_read_is_one_stop() -> None:
    """The tables that it may have are not told as missing."""
    findings = told(with_files(one(), {BOOK_FILE: b"PK\x03\x04 no workbook"}))
    assert [f.code for f in findings if f.severity is Severity.STOP] == ["workbook-unreadable"]


def test_a_workbook_saved_in_another_format_is_asked_for() -> None:
    """What lies there is named with what to do."""
    none = with_files(one(), {}, [BOOK_FILE])
    folder = Folder(none.files, (*none.passed_over, "survey.ods"), none.findings)
    missing = told(folder, "file-missing")
    assert missing
    assert all(f.do.startswith("save survey.ods as survey.xlsx: ") for f in missing if "results" not in f.subject)


def test_the_sheets_of_one_workbook_span_no_more_than_one_may(monkeypatch: pytest.MonkeyPatch) -> None:
    """Many sheets of two cells each, far apart, are refused before they are laid out."""
    monkeypatch.setattr(limits, "SHEET_CELLS", replace(limits.SHEET_CELLS, value=40))
    findings = told(one(), "workbook-unreadable")
    assert findings
    assert "in all, blank ones too" in findings[0].found


@pytest.mark.parametrize("level", ["internal", "public"])
def test_private_words_in_workbooks_are_known(level: str) -> None:
    """A list of people may be a workbook, and a file of another encoding; what can't be read is told."""
    book = saved_people()
    folder = with_files(one(), {"private/people.xlsx": book})
    assert "Quillfeather" in private_words(folder)
    text = folder.files["project.toml"].content.decode().replace('level = "internal"', f'level = "{level}"')
    bad = with_files(one(), {"private/a.xlsx": b"PK", "private/b.ods": b"x", "project.toml": text.encode()})
    found = {f.subject: f.severity for f in survey_findings(bad) if f.code == "private-unreadable"}
    assert found.keys() == {"private/a.xlsx", "private/b.ods"}


def saved_people() -> bytes:
    book = Workbook()
    book.active.append(["note"])
    people = book.create_sheet("People")
    people.append(["role", "surname"])
    people.append(["FS-1", "Quillfeather"])
    return saved(book)


def test_personal_data_in_a_workbooks_cells_are_told_without_being_quoted() -> None:
    """The cell is named by sheet and column, the words are masked."""
    folder = with_files(one(), {"private/people.xlsx": saved_people()})
    name = at(load_workbook(io.BytesIO(one().files[BOOK_FILE].content))["samplers"], 2, "note")
    with_name = edited(lambda book: setattr(book["samplers"][name], "value", "seen by Quillfeather"), folder)
    (finding,) = [f for f in survey_findings(with_name) if f.code == "personal-data" and "samplers" in f.subject]
    assert str(finding.where) == "survey.xlsx, row 2, column samplers!note"
    assert "in the column note: a name (Q…)" in finding.found
    assert not any("Quillfeather" in f.line() for f in survey_findings(with_name))


# --- places --------------------------------------------------------------------------------


def test_every_table_is_found_by_its_places() -> None:
    """By CSV file, workbook and sheet, with the bare name of the column."""
    for spec in TABLES:
        for where in (
            Where(spec.path, 2, "x"),
            Where(spec.book_path, 2, "a!b!x"),
            Where(BOOK_FILE, 2, f"{spec.name}!x"),
        ):
            assert table_at(where) == (spec, "x")
    assert table_at(Where("lab/other.csv", 2, "a!b")) == (None, "a!b")


def test_findings_of_a_workbook_stand_as_those_of_files_do() -> None:
    """First by table in the order of their paths, then by row."""

    def finding(column: str, row: int) -> Finding:
        return Finding("a", Severity.FLAG, column, Where(BOOK_FILE, row, column), "", "", "")

    mixed = [
        finding("locations!x", 2),
        finding("deployments!x", 9),
        finding("results!x", 1),
        finding("deployments!x", 3),
    ]
    assert [(f.where.column, f.where.row) for f in in_order(mixed)] == [
        ("deployments!x", 3), ("deployments!x", 9), ("results!x", 1), ("locations!x", 2),
    ]  # fmt: skip
