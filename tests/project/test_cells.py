"""Cells become typed values; what spreadsheets did to them is found, named, and told how to mend."""

from __future__ import annotations

import pytest
from in_memory import example, example_with

from sitegen.findings.problems import Finding
from sitegen.project.load import load_folder
from sitegen.project.read.cells import MAX_TOLD, number, tidy
from sitegen.project.read.csvtext import read_csv
from sitegen.project.read.textsafe import cas_agrees, cas_digit, lost_zeros, plain, read_cas, read_id, unusual
from sitegen.project.read.typed import type_table
from sitegen.project.survey import SurveyTable
from sitegen.project.tables import TABLE


def typed(name: str, text: str, zone: str = "America/Chicago") -> tuple[SurveyTable, list[Finding]]:
    """Type a table that is given as CSV."""
    raw, problems = read_csv(TABLE[name].path, text.encode())
    assert raw is not None
    assert problems == []
    return type_table(TABLE[name], raw, zone)


def only(name: str, text: str) -> Finding:
    """Return the only finding of a table that is given as CSV."""
    _, (finding,) = typed(name, text)
    return finding


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("12", 12.0), ("-0.5", -0.5), (".5", 0.5), ("5.", 5.0), ("1.2E+03", 1200.0), ("1e-3", 0.001),
        ("1,200", None), ("nan", None), ("inf", None), ("1E999", None), ("0x10", None), ("1_000", None),
        ("\u0661\u0662", None), ("\u22125", None), ("", None), ("12 ng", None),
    ],
)  # fmt: skip
def test_a_number_is_plain_digits_or_nothing(text: str, value: float | None) -> None:
    assert number(text) == value


def test_ids_stay_text_and_blank_cells_stay_blank() -> None:
    table, findings = typed("samplers", "sampler_id,kind,lot\n0047,sample,NA\n0048,spare,\n")
    assert findings == []
    assert list(table.frame["sampler_id"]) == ["0047", "0048"]
    assert list(table.frame["lot"]) == ["", ""]
    assert list(table.raw["lot"]) == ["NA", ""]
    assert (tidy(" \u00a0x\u200b "), tidy("NA")) == ("x", "")


@pytest.mark.parametrize(
    ("sampler_id", "code", "severity", "do"),
    [
        ("1.2E+05", "id-turned-number", "stop", "copy the id from its label"),
        ("12E5", "id-reads-as-number", "note", "compare it with its label"),
        ("47102.0", "id-reads-as-number", "note", "compare it with its label"),
        ("2005-03-02", "id-reads-as-date", "flag", "compare it with its label"),
        ("2-Mar", "id-reads-as-date", "flag", "compare it with its label"),
        ("SG\u201304", "id-characters", "note", "write SG-04: the cell contains an en dash"),
        ("SG\u00a004", "id-characters", "note", "write SG 04: the cell contains a no-break space"),
        ("SG\u200b04", "id-characters", "note", "write SG04: the cell contains a zero-width space"),
        ("\u201cSG04\u201d", "id-characters", "note", 'write "SG04": the cell contains a curly quote'),
    ],
)
def test_a_damaged_id_is_named_with_row_column_and_remedy(sampler_id: str, code: str, severity: str, do: str) -> None:
    finding = only("samplers", f"sampler_id,kind\nA-1,sample\n'{sampler_id}',sample\n".replace("'", ""))
    assert (finding.code, finding.severity.value) == (code, severity)
    assert str(finding.where) == "field/samplers.csv, row 3, column sampler_id"
    assert finding.do.startswith(do)


@pytest.mark.parametrize("sampler_id", ["SG-04", "0047102", "12-E5", "E5", "3.2", "A1.0", "10-03", "É-4"])
def test_a_sound_id_is_left_alone(sampler_id: str) -> None:
    assert read_id(sampler_id) == (sampler_id, None)


def test_dashes_and_unseen_characters_do_not_part_an_id_from_its_row() -> None:
    content = (example().content("field/deployments.csv") or b"").decode()
    assert "SG-02" in content
    survey, findings = load_folder(
        example_with({"field/deployments.csv": content.replace("SG-02", "SG\u201302", 1).encode()})
    )
    assert survey is not None
    assert "SG-02" in set(survey.frame("deployments")["location_id"])
    assert [finding.code for finding in findings] == ["id-characters"]


def test_lost_zeros_are_told_where_the_others_of_the_column_have_theirs() -> None:
    finding = only("samplers", "sampler_id,kind\n0047102,sample\n47103,sample\n0047104,sample\n")
    assert (finding.code, finding.where.row) == ("id-zeros-lost", 3)
    assert "write 0047103" in finding.do
    assert list(lost_zeros(["1", "2", "10"])) == []
    assert list(lost_zeros(["01", "02", "10", "100"])) == []
    assert list(lost_zeros(["001", "02", "3"])) == []


def test_a_key_that_differs_in_unseen_characters_alone_stands_twice() -> None:
    _, findings = typed("samplers", "sampler_id,kind\nA-1,sample\nA\u20111,sample\n")
    assert {finding.code for finding in findings} == {"id-characters", "duplicate-key"}


# Check digits of CAS numbers: shared reference compounds (verified there), ECHA and CAS print them so.
SOUND_CAS = ["127-18-4", "79-01-6", "156-59-2", "75-01-4", "71-43-2", "108-88-3", "1634-04-4", "7732-18-5"]


@pytest.mark.parametrize("cas", SOUND_CAS)
def test_a_sound_cas_number_is_left_alone_and_any_other_last_digit_is_wrong(cas: str) -> None:
    assert read_cas(cas) == (cas, None)
    for digit in "0123456789":
        assert cas_agrees(cas[:-1] + digit) == (cas[-1] == digit)
    assert cas_digit(cas.replace("-", "")[:-1]) == int(cas[-1])


@pytest.mark.parametrize(
    ("text", "code", "do"),
    [
        ("1634-04-04", "cas-turned-date", "write 1634-04-4"),
        ("1634-04-04 00:00:00", "cas-turned-date", "write 1634-04-4"),
        ("4/4/1634", "cas-turned-date", "write 1634-04-4"),
        ("2005-01-04", "cas-turned-date", "check the original"),
        ("1/4/2005", "cas-turned-date", "write 2005-04-1"),
        ("127184", "cas-unreadable", "write 127-18-4"),
        ("127184.0", "cas-unreadable", "write 127-18-4"),
        ("water", "cas-unreadable", "restore it from the laboratory's list"),
        ("127\u201318\u20134", "cas-dashes", "write 127-18-4: the cell contains an en dash"),
        ("127 - 18 - 4", "cas-dashes", "write 127-18-4: the cell contains spaces"),
    ],
)
def test_a_damaged_cas_number_is_named_and_restored_where_its_check_digit_tells(text: str, code: str, do: str) -> None:
    finding = only("analytes", f"analyte_id,name,cas\npce,Tetrachloroethene,{text}\n")
    assert (finding.code, finding.where.row, finding.where.column) == (code, 2, "cas")
    assert finding.do.startswith(do)


def test_a_spreadsheet_day_number_is_turned_back_into_a_cas_number() -> None:
    # Day 38264 counts from 30 December 1899 to 4 October 2004; 2004-10-4 has the check digit
    # 4×1 + ... as computed by hand: 0*1 + 1*2 + 4*3 + 0*4 + 0*5 + 2*6 = 26, so 6 is right, not 4.
    assert read_cas("38264")[1] is not None
    assert "write" not in (read_cas("38264")[1] or ("", "", "", ""))[3]
    # 6 October 2004 is day 38266: 2004-10-6 agrees.
    problem = read_cas("38266")[1]
    assert problem is not None
    assert problem[3].startswith("write 2004-10-6")


def test_unusual_characters_are_named() -> None:
    assert plain("a\u2013b\u00a0c\u200bd\u2019e") == "a-b cd'e"
    assert unusual("a\u2013b\u2013c\u200b") == "an en dash and a zero-width space"
    assert unusual("abc") == ""


def test_many_findings_of_one_kind_are_counted() -> None:
    lines = "".join(f"A-{n},x\n" for n in range(MAX_TOLD + 5))
    _, findings = typed("samplers", f"sampler_id,kind\n{lines}")
    assert len(findings) == MAX_TOLD + 1
    assert findings[-1].found == "5 more cells of this kind"


@pytest.mark.parametrize(
    ("name", "text", "code", "column"),
    [
        ("samplers", "sampler_id,kind\n,sample\n", "cell-blank", "sampler_id"),
        ("samplers", "sampler_id,kind\nA,sample\nA,spare\n", "duplicate-key", "sampler_id"),
        ("samplers", "sampler_id,kind\nA,samples\n", "word-unknown", "kind"),
        ("samplers", "sampler_id,kind,prepared_on\nA,sample,1/2/2025\n", "date-unreadable", "prepared_on"),
        ("samplers", "sampler_id,kind,prepared_on\nA,sample,2025-02-30\n", "date-unreadable", "prepared_on"),
        ("return_bags", "bag_id,count_declared\nA,3.0\n", "number-unreadable", "count_declared"),
        ("return_bags", "bag_id,sealed_at\nA,2025-03-09T02:30\n", "time-does-not-exist", "sealed_at"),
        ("return_bags", "bag_id,sealed_at\nA,2025-11-02T01:30\n", "time-occurs-twice", "sealed_at"),
        ("results", "lab_sample_id,analyte_id,value\nL,pce,<5\n", "number-unreadable", "value"),
        ("shipments", "shipment_id,direction,received_at,tz\nA,out,2025-11-02T10:00,Mars/Base\n",
         "zone-unknown", "tz"),
    ],
)  # fmt: skip
def test_a_cell_that_does_not_fit_is_told_at_its_place(name: str, text: str, code: str, column: str) -> None:
    finding = only(name, text)
    assert (finding.code, finding.where.column) == (code, column)
    assert finding.where.row == text.count("\n")


@pytest.mark.parametrize(
    ("text", "hint"),
    [
        ("12,5", "use a decimal point"),
        ("\u22125", "write -5"),
        ("1\u00a0200", "write 1200"),
        ("<5", "enter the sign in result_text"),
        ("12 ng", "write digits"),
    ],
)
def test_an_unreadable_number_comes_with_a_remedy(text: str, hint: str) -> None:
    finding = only("results", f'lab_sample_id,analyte_id,value\nL,pce,"{text}"\n')
    assert finding.do.startswith(hint)
