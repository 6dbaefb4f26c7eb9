"""Files as spreadsheets of other countries save them: told with what to declare, and read once that is done."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable
from datetime import datetime
from functools import cache

import pandas as pd
import pytest

from sitegen.findings.problems import Finding
from sitegen.project.folder import Folder
from sitegen.project.intake.reform import plain_number
from sitegen.project.load import load_folder
from sitegen.project.schema import Kind
from sitegen.project.settings import read_settings
from sitegen.project.tables import TABLE
from tests.builders import example
from tests.workbooks import rows_of, with_files

PLACED, SHIPPED, RESULTS = "field/deployments.csv", "field/shipments.csv", "lab/results.csv"
NAMES = {path: name for name, path in (("deployments", PLACED), ("shipments", SHIPPED), ("results", RESULTS))}
Turn = Callable[[str, Kind], str]


def turned(path: str, turn: Turn, delimiter: str = ",", encoding: str = "utf-8") -> Folder:
    """Return the example with the cells of one table in another form."""
    kinds = {column.name: column.kind for column in TABLE[NAMES[path]].columns}
    header, *rows = rows_of(example().files[path].content)
    out = io.StringIO(newline="")
    writer = csv.writer(out, delimiter=delimiter, lineterminator="\r\n")
    writer.writerow(header)
    for row in rows:
        pairs = zip(header, row, strict=False)
        writer.writerow([turn(text, kinds.get(name, Kind.TEXT)) if text else "" for name, text in pairs])
    return with_files(example(), {path: out.getvalue().encode(encoding)})


def times(pattern: str, dates: str) -> Turn:
    """Return what writes times and dates by patterns of the standard library."""

    def turn(text: str, kind: Kind) -> str:
        if kind is Kind.TIME and len(text) == 16:
            return datetime.fromisoformat(text).strftime(pattern)
        return datetime.fromisoformat(text).strftime(dates) if kind is Kind.DATE else text

    return turn


def decimal_comma(thousands: str = "") -> Turn:
    """Return what writes numbers with a comma for decimals, and a sign between thousands."""

    def turn(text: str, kind: Kind) -> str:
        if kind not in (Kind.NUMBER, Kind.INTEGER) or "E" in text:
            return text.replace(".", ",") if "E" in text else text
        whole, point, rest = text.partition(".")
        grouped = f"{int(whole):,}".replace(",", thousands) if thousands else whole
        return grouped + point.replace(".", ",") + rest

    return turn


def declared(folder: Folder, path: str, settings: str) -> Folder:
    """Return a folder whose settings say of a file how it is written: new lines under the header that is there."""
    text = folder.files["project.toml"].content.decode()
    header = f'[files."{path}"]\n'
    old, _, after = text.partition(header)
    return with_files(folder, {"project.toml": f"{old.rstrip()}\n\n{header}{settings}\n{after}".encode()})


def followed(folder: Folder, finding: Finding) -> Folder:
    """Do what a message says: write its lines into the settings."""
    match = re.search(r'under \[files\."([^"]+)"\] in project\.toml: (.+?)(?:, then .*)?$', finding.do)
    assert match, finding.do
    return declared(folder, match[1], "\n".join(match[2].split(" and ")))


@cache
def as_it_was(name: str) -> pd.DataFrame:
    survey, _ = load_folder(example())
    assert survey is not None
    return survey.frame(name)


def told(folder: Folder, code: str) -> list[Finding]:
    return [finding for finding in load_folder(folder)[1] if finding.code == code]


def reads_as_before(folder: Folder, path: str) -> None:
    """Hold a table of a folder against the example's own: the same values, and nothing to tell."""
    survey, findings = load_folder(folder)
    assert survey is not None
    assert [finding for finding in findings if finding.where.file in (path, "project.toml")] == []
    pd.testing.assert_frame_equal(survey.frame(NAMES[path]), as_it_was(NAMES[path]))


@pytest.mark.parametrize(
    ("path", "pattern", "dates", "form"),
    [
        (PLACED, "%m/%d/%Y %I:%M %p", "%m/%d/%Y", "month/day/year hour12:minute ampm"),
        (PLACED, "%d.%m.%Y %H:%M", "%d.%m.%Y", "day.month.year hour:minute"),
        (PLACED, "%Y-%m-%d %H:%M", "%Y-%m-%d", "year-month-day hour:minute"),
        (PLACED, "%d %b %Y %H:%M", "%d %b %Y", "day monthname year hour:minute"),
        (PLACED, "%m/%d/%y %H:%M", "%m/%d/%y", "month/day/year2 hour:minute"),
    ],
)
def test_what_is_said_of_dates_is_what_reads_them(path: str, pattern: str, dates: str, form: str) -> None:
    """One form fits them all: it is proposed in full, and once written down the table reads as before."""
    folder = turned(path, times(pattern, dates))
    findings = told(folder, "time-unreadable")
    assert findings
    assert {finding.do for finding in findings} == {f'write under [files."{path}"] in project.toml: dates = "{form}"'}
    survey, _ = load_folder(followed(folder, findings[0]))
    assert survey is not None
    assert (
        survey.tables["deployments"].received["placed_at"][0]
        == rows_of(folder.files[path].content)[1][list(survey.tables["deployments"].received).index("placed_at")]
    )
    reads_as_before(followed(folder, findings[0]), path)


def test_where_month_and_day_could_be_either_both_are_named_and_nothing_is_read() -> None:
    """Shipments were sent on days up to 12 alone: a person has to say which number is the month."""

    def turn(text: str, kind: Kind) -> str:
        moment = datetime.fromisoformat(text[:16]).replace(day=9) if kind is Kind.TIME else None
        return moment.strftime("%m/%d/%Y %H:%M") if moment else text

    folder = turned(SHIPPED, turn)
    first, *_ = told(folder, "time-unreadable")
    assert first.do == (
        f'write, whichever applies, under [files."{SHIPPED}"] in project.toml: '
        'dates = "month/day/year hour:minute" or dates = "day/month/year hour:minute"'
    )
    for form in ("month/day/year hour:minute", "day/month/year hour:minute"):
        assert told(declared(folder, SHIPPED, f'dates = "{form}"'), "time-unreadable") == []


def test_a_form_that_is_wrong_is_told_with_the_right_one_in_its_place() -> None:
    """Days above 12 don't fit; those that would are not read as other days in silence."""
    folder = declared(
        turned(PLACED, times("%d/%m/%Y %H:%M", "%d/%m/%Y")), PLACED, 'dates = "month/day/year hour:minute"'
    )
    first, *_ = told(folder, "time-unreadable")
    assert first.found.startswith("'")
    assert first.do == (
        f'write under [files."{PLACED}"] in project.toml: dates = "day/month/year hour:minute" '
        'in place of dates = "month/day/year hour:minute"'
    )


def test_iso_times_are_read_beside_a_declared_form() -> None:
    """A row that someone corrected in the format's own form can't be another day."""
    folder = turned(PLACED, times("%m/%d/%Y %H:%M", "%m/%d/%Y"))
    text = folder.files[PLACED].content.replace(b"10/23/2025 08:11", b"2025-10-23T08:11", 1)
    assert text != folder.files[PLACED].content
    both = declared(with_files(folder, {PLACED: text}), PLACED, 'dates = "month/day/year hour:minute"')
    reads_as_before(both, PLACED)


@pytest.mark.parametrize(
    ("thousands", "settings"),
    [
        ("", 'decimal = ","'),
        (".", 'decimal = "," and thousands = "."'),
        (" ", 'decimal = "," and thousands = " "'),
        ("\u202f", 'decimal = "," and thousands = " "'),
        ("'", 'decimal = "," and thousands = "\'"'),
    ],
)
def test_what_is_said_of_numbers_is_what_reads_them(thousands: str, settings: str) -> None:
    """A decimal comma is proposed with the sign between thousands that is there; written down, it reads them."""
    folder = turned(RESULTS, decimal_comma(thousands), ";")
    folder = followed(folder, told(folder, "delimiter-wrong")[0])
    findings = told(folder, "number-unreadable")
    assert {finding.do for finding in findings} == {f'write under [files."{RESULTS}"] in project.toml: {settings}'}
    survey, after = load_folder(followed(folder, findings[0]))
    assert survey is not None
    assert [finding for finding in after if finding.where.file == RESULTS] == []
    for name in ("value", "rl", "mdl", "dilution"):
        if name in as_it_was("results"):
            pd.testing.assert_series_equal(survey.frame("results")[name], as_it_was("results")[name])


def test_one_comma_and_three_figures_may_be_either() -> None:
    """1,234 is a thousand and more in one country, one and some in another; nothing is guessed."""

    def turn(text: str, kind: Kind) -> str:
        return "1,234" if kind is Kind.NUMBER else text

    first, *_ = told(turned(RESULTS, turn), "number-unreadable")
    assert first.do == (
        f'write, whichever applies, under [files."{RESULTS}"] in project.toml: decimal = "," or thousands = ","'
    )


def test_a_point_in_a_file_of_decimal_commas_is_no_number() -> None:
    """It may part thousands there: it is told with the cell as it stands, and read as nothing."""
    folder = turned(RESULTS, decimal_comma(), ";")
    text = folder.files[RESULTS].content.replace(b";10;", b";1.000;", 1)
    folder = declared(with_files(folder, {RESULTS: text}), RESULTS, 'delimiter = ";"\ndecimal = ","')
    (finding,) = told(folder, "number-unreadable")
    assert finding.found == "'1.000'"
    assert finding.do == "write it with ',' for decimals and nothing between thousands, as declared in project.toml"
    survey, _ = load_folder(folder)
    assert survey is not None
    assert survey.frame("results")["rl"].isna().sum() == as_it_was("results")["rl"].isna().sum() + 1


def test_a_number_reads_by_its_signs_alone() -> None:
    """Thousands stand in threes, a decimal sign stands once."""
    assert plain_number("12.345.678,9", ",", ".") == "12345678.9"
    assert plain_number("-0,5", ",") == "-0.5"
    assert plain_number(",5", ",") == ".5"
    assert plain_number("1,2E+03", ",") == "1.2E+03"
    for text in ("1.2345,6", "1..234", "1,2,3", ".234,5", "", "-", ",", "1 234,5", "1.234.5"):
        assert plain_number(text, ",", ".") is None, text


@pytest.mark.parametrize("encoding", ["cp1252", "utf-16"])
def test_an_encoding_is_proposed_where_the_bytes_are_text_by_it(encoding: str) -> None:
    """What spreadsheets save beside UTF-8 is named, and reads the file."""

    def turn(text: str, kind: Kind) -> str:
        return f"{text} – Zürich" if kind is Kind.TEXT and len(text) > 20 else text

    folder = turned(SHIPPED, turn, encoding=encoding)
    (finding,) = told(folder, "encoding-wrong")
    assert f'encoding = "{encoding}"' in finding.do
    again = followed(folder, finding)
    assert [f for f in load_folder(again)[1] if f.where.file in (SHIPPED, "project.toml")] == []


def test_no_encoding_is_proposed_for_bytes_that_are_no_text() -> None:
    """A picture named .csv is told, without an encoding that would make letters of it."""
    (finding,) = told(with_files(example(), {SHIPPED: b"\x89PNG\r\n\x1a\n\x00\x00\x81\x8d"}), "encoding-wrong")
    assert "encoding =" not in finding.do


@pytest.mark.parametrize(("sign", "written"), [(";", '";"'), ("\t", '"\\t"'), ("|", '"|"')])
def test_a_delimiter_is_named_and_reads_the_file(sign: str, written: str) -> None:
    """The sign between the names of the header is the one to declare."""
    folder = turned(SHIPPED, lambda text, _: text, sign)
    (finding,) = told(folder, "delimiter-wrong")
    assert finding.do.endswith(f"delimiter = {written}")
    reads_as_before(followed(folder, finding), SHIPPED)


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ('dates = "mm/dd/yyyy"', "a form such as"),
        ('decimal = ";"', "input should be"),
        ('decimal = ","\nthousands = ","', "a sign other than the decimals'"),
    ],
)
def test_a_declaration_that_says_nothing_is_told_alone(line: str, says: str) -> None:
    """The setting is a stop with its line; the file's cells are not told on top of it."""
    folder = declared(turned(PLACED, times("%m/%d/%Y %H:%M", "%m/%d/%Y")), PLACED, line)
    _, findings = load_folder(folder)
    (finding,) = [f for f in findings if f.code == "setting-invalid"]
    assert says in finding.expected
    assert finding.where.row
    assert [f for f in findings if f.where.file == PLACED] == []


def test_declared_forms_are_settings_of_the_format() -> None:
    """None of them is an unknown key."""
    text = example().files["project.toml"].content.decode()
    text += '\n[files."a.csv"]\ndates = "day.month.year"\ndecimal = ","\nthousands = "."\n'
    settings, findings = read_settings(text.encode())
    assert settings is not None
    assert (settings.files["a.csv"].dates, findings) == ("day.month.year", [])
