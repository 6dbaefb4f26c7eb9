"""Samples, compounds and QC rows that a laboratory's file holds are not typed, and keep where they stand."""

from __future__ import annotations

import pandas as pd
import pytest
from builders import load, new_findings
from in_memory import example, example_with, folder_of
from lab_files import csv_bytes
from small_delivery import KNOWN, SAMPLES
from whole_book import TABLES, whole_book

from sitegen.findings.problems import Finding, Severity
from sitegen.project.delivery.mapping import Deliveries, read_deliveries
from sitegen.project.load import load_folder
from sitegen.project.tables import Analyte, LabSample

BOOK = example_with(dict.fromkeys(TABLES) | dict(whole_book()))
HEAD = ["s", "f", "k", "a", "c", "n", "r"]
MAPPING = """
[source]
file = "lab/a.csv"
layout = "long"
{source}
[columns]
lab_sample_id = "s"
analyte_id = "c"
cas = "n"
result_text = "r"
[constants]
unit = "ng"
[units]
ng = 1
[lab_samples]
columns = {{ sampler_id = "f", type = "k", analysed_at = "a" }}
words = {{ Air = "sample", MB = "method_blank" }}
{samples}
[analytes]
constants = {{ group = "x" }}
{rest}
"""
LINE = ["L-1", "0041", "Air", "2025-11-12T08:00", "PERC", "127-18-4", "5"]


def given(*lines: list[str], source: str = "", samples: str = "", rest: str = "", known: bool = False) -> Deliveries:
    """Read a small file that supplies its samples and compounds; the note on a blank digest is left out."""
    files = {
        "lab/a.csv": csv_bytes([HEAD, *lines]),
        "lab/a.map.toml": MAPPING.format(source=source, samples=samples, rest=rest).encode(),
    }
    read = read_deliveries(folder_of(files), {}, KNOWN if known else [], [])
    return read._replace(findings=[f for f in read.findings if f.code != "deliverable-unsealed"])


def changed(**cells: str) -> list[str]:
    """Return the usual line with other cells, by the file's column."""
    return [cells.get(name, cell) for name, cell in zip(HEAD, LINE, strict=True)]


def told(read: Deliveries) -> list[tuple[str, str]]:
    """Return code and found of each finding."""
    return [(finding.code, finding.found) for finding in read.findings]


@pytest.mark.parametrize("name", ["lab_samples", "analytes", "results", "lab_qc"])
def test_a_workbook_supplies_each_table_cell_by_cell(name: str) -> None:
    """Four sheets with a mapping each give the example's four tables, a person's qualifiers aside."""
    mine, plain = load(BOOK), load(example())
    columns = [c.name for c in plain.tables[name].spec.columns if not c.name.startswith("validation")]
    columns += [f"{c}_utc" for c in columns if f"{c}_utc" in plain.frame(name)]
    pd.testing.assert_frame_equal(mine.frame(name)[columns], plain.frame(name)[columns])


def test_nothing_is_missing_where_a_file_supplies_it() -> None:
    """Four notes on the digest are all that a check says of it."""
    found = [f for f in new_findings(BOOK) if not f.code.startswith("proposed")]
    assert {f.code for f in found} == {"deliverable-unsealed"}


def test_nothing_is_called_missing_while_its_mapping_can_not_be_read() -> None:
    """A slip in a mapping is told alone; the tables that it may supply are not asked for."""
    slips = {path: b"[source" for path in whole_book() if path.endswith(".toml")}
    _, findings = load_folder(example_with(dict.fromkeys(TABLES) | slips | {"lab/book.xlsx": b""}))
    assert {f.code for f in findings if f.severity is Severity.STOP} == {"mapping-unreadable"}


@pytest.mark.parametrize(
    ("name", "change", "code"),
    [
        ("samples", ("[lab_samples]", "[lab_sample]"), "mapping-invalid"),
        ("samples", ('sampler_id = "sampler_id"', 'sampler_id = "serial"'), "mapped-column-missing"),
        ("samples", ("[source]", '[source]\nsha256 = "aa"'), "deliverable-changed"),
        ("samples", ('TB = "trip_blank", ', ""), "sample-kind-unmapped"),
        ("compounds", ('cas = "cas"', 'cas = "no."'), "mapped-column-missing"),
        ("results", ("[units]", '[confirmed]\nmapping = ""\n[units]'), "mapping-unconfirmed"),
    ],
)
def test_what_follows_from_a_slip_in_a_list_is_not_told(name: str, change: tuple[str, str], code: str) -> None:
    """No laboratory id or compound is called unlisted while the list can't be read."""
    path = f"lab/{name}.map.toml"
    mapping = whole_book()[path].decode()
    assert change[0] in mapping
    slip = {path: mapping.replace(*change, 1).encode()}
    _, findings = load_folder(example_with(dict.fromkeys(TABLES) | dict(whole_book()) | slip))
    assert [f.code for f in findings if f.severity is Severity.STOP] == [code]


def test_a_value_leads_to_file_sheet_row_and_column_of_the_laboratory() -> None:
    """Each of our columns names the laboratory's, a text that holds for all its line of the mapping."""
    survey = load(BOOK)
    sample = next(row for row in survey.rows(LabSample) if row.lab_sample_id == "04417-B1-LC")
    assert sample.origin.cell("analysed_at") == ("lab/book.xlsx", 5, "Received!analysed_at")
    assert sample.origin.cell("lab_sample_id") == ("lab/book.xlsx", 5, "Received!Lab no.")
    assert sample.origin.cell("type") == ("lab/book.xlsx", 5, "Received!Kind")
    mapping = whole_book()["lab/samples.map.toml"].decode().splitlines()
    file, line, _ = sample.origin.cell("tz")
    assert (file, mapping[line - 1]) == ("lab/samples.map.toml", 'constants = { tz = "America/Denver" }')
    compound = survey.rows(Analyte)[1]
    assert compound.origin.cell("cas") == ("lab/book.xlsx", 5, "Compounds!cas")
    assert survey.tables["lab_samples"].raw.at[0, "analysed_at"] == "17.11.2025 07:52"


def test_a_row_of_our_own_holds_and_both_values_are_told() -> None:
    """One flag for each column that differs, however many rows differ."""
    own = b"lab_sample_id,sampler_id,type,batch_id\n04417-B1-LC,,control,B9\n04417-B1-MB,,method_blank,B9\n"
    folder = example_with(dict.fromkeys(TABLES) | dict(whole_book()) | {"lab/lab_samples.csv": own})
    survey, findings = load_folder(folder)
    assert survey is not None
    batch = {row.lab_sample_id: (row.batch_id, row.origin.file) for row in survey.rows(LabSample)}
    assert batch["04417-B1-LC"] == ("B9", "lab/lab_samples.csv")
    assert batch["04417-001"] == ("B1", "lab/book.xlsx")
    assert len(batch) == len(survey.frame("lab_samples")) == len(load(example()).frame("lab_samples"))
    differing = [f for f in findings if f.code == "supplied-differs"]
    assert "lab_samples+batch_id" in {f.subject for f in differing}
    (found,) = [f for f in differing if f.subject == "lab_samples+batch_id"]
    assert (found.severity, str(found.where)) == (Severity.FLAG, "lab/lab_samples.csv, row 2, column batch_id")
    assert found.found.startswith("04417-B1-LC: 'B9' here, 'B1' in lab/book.xlsx, row 5, column Received!batch_id; ")
    assert [f.subject for f in differing if f.subject.endswith(("type", "+lab_sample_id"))] == []


def test_a_compound_of_our_list_keeps_its_name_and_is_no_difference() -> None:
    """The laboratory's spelling of a compound that the list knows is no other compound."""
    read = given(changed(c="perc"), known=True)
    assert told(read) == []
    assert list(read.supplied[1].rows) == ["pce"]
    assert read.read[0].results.rows[0][:2] == ["L-1", "pce"]


def test_a_compound_gets_the_declared_id_or_one_of_its_letters() -> None:
    """The id of [names] holds; else the letters and digits of the name."""
    lines = (LINE, changed(c="cis-1,2-DCE (total)", n="156-59-2"))
    assert list(given(*lines).supplied[1].rows) == ["perc", "cis12dcetotal"]
    read = given(*lines, rest='[names]\nPERC = "pce"')
    assert list(read.supplied[1].rows) == ["pce", "cis12dcetotal"]
    assert [row[1] for row in read.read[0].results.rows] == ["pce", "cis12dcetotal"]
    assert told(read) == []


@pytest.mark.parametrize(
    ("cells", "code"),
    [
        ({"c": "P E R C", "n": "79-01-6"}, "compound-unmapped"),
        ({"c": "PERC", "n": "79-01-6"}, "compound-contradicts"),
        ({"c": "Oil", "n": ""}, "compound-unmapped"),
        ({"c": "Oil", "n": "127184"}, "cas-unreadable"),
    ],
)
def test_a_compound_that_can_not_be_told_from_another_is_told(cells: dict[str, str], code: str) -> None:
    """Two names of the same letters, one name with two CAS numbers, and one without any are no guess."""
    read = given(LINE, changed(**cells))
    assert [finding.code for finding in read.findings] == [code]
    assert list(read.supplied[1].rows) == ["perc"]


@pytest.mark.parametrize(
    ("text", "digits", "serial"),
    [("41", "7", "0000041"), ("0000041", "7", "0000041"), ("S-41", "7", "S-41"), ("12345678", "7", "12345678")],
)
def test_a_serial_of_digits_gets_its_zeros_back_where_the_mapping_says_how_many(
    text: str, digits: str, serial: str
) -> None:
    read = given(changed(f=text), samples=f"serial_digits = {digits}")
    assert read.supplied[0].rows["L-1"]["sampler_id"].ours == serial
    assert read.supplied[0].rows["L-1"]["sampler_id"].theirs == text
    assert given(changed(f=text)).supplied[0].rows["L-1"]["sampler_id"].ours == text


def test_a_method_blank_has_no_sampler_whatever_it_is_called() -> None:
    read = given(changed(f="MB", k="MB"))
    assert (read.supplied[0].rows["L-1"]["sampler_id"].ours, told(read)) == ("", [])


@pytest.mark.parametrize(
    ("text", "form", "read_as", "code"),
    [
        ("2025-11-12T08:00", "", "2025-11-12T08:00", ""),
        ("2025-11-12 08:00", "", "2025-11-12T08:00", ""),
        ("11/12/2025 2:05 PM", "month/day/year hour12:minute ampm", "2025-11-12T14:05", ""),
        ("2025-11-12T08:00", "month/day/year hour:minute", "2025-11-12T08:00", ""),
        ("11/12/2025 14:05", "", "", "time-unreadable"),
        ("31/12/2025 14:05", "month/day/year hour:minute", "", "time-unreadable"),
        ("11/12/2025", "month/day/year hour:minute", "", "supplied-day-alone"),
        ("2025-11-12", "", "", "supplied-day-alone"),
        ("", "", "", ""),
    ],
)
def test_a_time_is_read_as_declared_and_never_guessed(text: str, form: str, read_as: str, code: str) -> None:
    """A day without a time of day is told and left out: no hour is made up."""
    read = given(changed(a=text), source=f'dates = "{form}"')
    assert read.supplied[0].rows["L-1"]["analysed_at"].ours == read_as
    assert [finding.code for finding in read.findings] == ([code] if code else [])


def test_kinds_of_samples_that_nobody_declared_are_told_at_once() -> None:
    """Our own words need no entry."""
    assert told(given(changed(k="trip_blank"))) == []
    read = given(changed(k="Spike"), changed(s="L-2", k=""), changed(s="L-3", k="Spike"))
    assert told(read) == [("sample-kind-unmapped", "kinds of samples 'Spike' (2), 'a blank cell' (1)")]


def test_values_that_contradict_one_another_are_told_once_for_a_column() -> None:
    """Two samplers for one sample stop; two times are a flag."""
    read = given(LINE, changed(c="TCE", n="79-01-6", f="0042"), changed(c="BTX", n="71-43-2", a="2025-11-12T09:00"))
    found = {f.subject: (f.severity, f.found) for f in read.findings}
    assert found == {
        "lab/a.csv+lab_samples+sampler_id": (
            Severity.STOP,
            "different values of sampler_id: L-1: '0041' and '0042'",
        ),
        "lab/a.csv+lab_samples+analysed_at": (
            Severity.FLAG,
            "different values of analysed_at: L-1: '2025-11-12T08:00' and '2025-11-12T09:00'",
        ),
    }


def test_a_blank_cell_is_filled_from_another_row_and_keeps_its_place() -> None:
    """What one row leaves blank another may tell."""
    read = given(changed(a=""), changed(c="TCE", n="79-01-6"))
    value = read.supplied[0].rows["L-1"]["analysed_at"]
    assert (value.ours, value.place.row, told(read)) == ("2025-11-12T08:00", 3, [])


def test_samples_of_a_file_are_known_to_its_results_and_to_those_of_another() -> None:
    """No laboratory id is called unlisted where a file lists it."""
    more = 'file = "lab/b.csv"\nlayout = "long"\n[columns]\nlab_sample_id = "s"\nanalyte_id = "c"\nresult_text = "r"\n'
    files = {
        "lab/b.csv": b"s,c,r\nL-1,PERC,7\nL-7,PERC,8\n",
        "lab/b.map.toml": f'[source]\n{more}[constants]\nunit = "ng"\n[units]\nng = 1\n'.encode(),
        "lab/a.csv": csv_bytes([HEAD, LINE]),
        "lab/a.map.toml": MAPPING.format(source="", samples="", rest="").encode(),
    }
    read = read_deliveries(folder_of(files), {}, [], SAMPLES[:0])
    stops = [f for f in read.findings if f.severity is Severity.STOP]
    assert [(f.code, f.found) for f in stops] == [("lab-sample-unlisted", "laboratory ids 'L-7' (1)")]


@pytest.mark.parametrize(
    ("change", "key"),
    [
        (('type = "k", ', ""), "lab_samples"),
        (('Air = "sample"', 'Air = "samples"'), "lab_samples.words.Air"),
        (('sampler_id = "f"', 'serial = "f"'), "lab_samples.columns.serial"),
        (("[analytes]", "[analytes]\nrows = { cas = 1 }"), "analytes.rows"),
        (("[analytes]", "[analytes]\ncolums = { cas = 1 }"), "analytes.colums"),
        (('layout = "long"', 'layout = "long"\nholds = "qc"'), "constants.qc_type"),
        (('layout = "long"', 'layout = "long"\nholds = "list"'), "source.holds"),
        (('layout = "long"', 'layout = "long"\ndates = "mm/dd/yyyy"'), "source.dates"),
    ],
)
def test_a_fault_of_the_lists_is_told_at_its_key(change: tuple[str, str], key: str) -> None:
    mapping = MAPPING.format(source="", samples="", rest="").replace(*change)
    files = {"lab/a.csv": csv_bytes([HEAD, LINE]), "lab/a.map.toml": mapping.encode()}
    findings: list[Finding] = read_deliveries(folder_of(files), {}, [], []).findings
    assert key in {f.where.column for f in findings if f.code == "mapping-invalid"}, findings
    assert all(f.where.row for f in findings if f.where.column == key)
