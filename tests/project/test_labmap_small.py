"""One small laboratory file, one departure: it is read as declared, or told at its place."""

from __future__ import annotations

import hashlib

import pytest
from builders import new_findings, row_of
from in_memory import example_with, folder_of
from lab_files import csv_bytes, xlsx_bytes
from small_delivery import KNOWN, SAMPLES, deliver, one, results, simple, table

from sitegen.findings.problems import Severity
from sitegen.project.delivery.mapping import read_deliveries
from sitegen.project.delivery.names import Compounds
from sitegen.project.load import load_folder
from sitegen.project.settings import FilePart
from sitegen.project.tables import Analyte


@pytest.mark.parametrize(
    ("text", "rest", "value", "rl", "qualifier", "detected"),
    [
        ("12", "", "12.0", "", "", "yes"),
        ("1.2E+03", "", "1200.0", "", "", "yes"),
        ("<10", "", "", "10.0", "", "no"),
        ("< 10", "", "", "10.0", "", "no"),
        ("ND", '[nondetect]\ntokens = ["ND"]', "", "", "", "no"),
        ("NA", '[nondetect]\ntokens = ["NA"]', "", "", "", "no"),
        ("bdl 10", '[nondetect]\nless_than_prefix = "bdl"', "", "10.0", "", "no"),
        ("12 J", "joined", "12.0", "", "J", "yes"),
        ("12E", "joined", "12.0", "", "E", "yes"),
        ("<10 U", "joined", "", "10.0", "U", "no"),
        ("10 U", "joined", "", "10.0", "U", "no"),
        ("12 est", 'joined[qualifiers]\nest = "J"', "12.0", "", "J", "yes"),
        ("12 J B", "joined", "12.0", "", "J;B", "yes"),
        ("1,200", "thousands", "1200.0", "", "", "yes"),
        ("1.200,5", "comma", "1200.5", "", "", "yes"),
    ],
)
def test_a_result_is_read_as_the_mapping_says(
    text: str, rest: str, value: str, rl: str, qualifier: str, detected: str
) -> None:
    source = {"joined": "joined_qualifiers = true", "thousands": 'thousands = ","'}.get(
        rest.partition("[")[0], 'thousands = "."\ndecimal = ","' if rest == "comma" else ""
    )
    rest = rest.removeprefix("joined") if rest not in ("thousands", "comma") else ""
    row = one(table(["L-1", "pce", text, "ng"]), simple(source, rest=rest))
    assert (row["value"], row["rl"], row["lab_qualifier"], row["detected"]) == (
        value,
        rl,
        qualifier,
        detected,
    )
    assert (row["result_text"], row["unit"]) == (text, "ng")


@pytest.mark.parametrize("text", ["12 J", "ND", "1,200", "12,5", "see note", ">500", "--", "12 XX", "1 2"])
def test_a_result_that_the_mapping_does_not_explain_stops(text: str) -> None:
    _, (finding,) = deliver(table(["L-1", "pce", text, "ng"]), simple())
    assert (finding.code, str(finding.where)) == ("number-unreadable", "lab/a.csv, row 2, column r")
    assert finding.severity is Severity.STOP


@pytest.mark.parametrize("text", ["12 XX", "1,20", "1,2000"])
def test_declared_signs_are_read_strictly(text: str) -> None:
    mapping = simple('joined_qualifiers = true\nthousands = ","')
    _, (finding,) = deliver(table(["L-1", "pce", text, "ng"]), mapping)
    assert finding.code == "number-unreadable"


@pytest.mark.parametrize(
    ("name", "cas", "analyte"),
    [
        ("anything", "127-18-4", "pce"),
        ("anything", "127\u201318\u20114", "pce"),
        ("perc", "", "pce"),
        ("Tetrachloroethene", "127-18-4", "pce"),
        ("Solvent T", "", "tce"),
    ],
)
def test_a_compound_is_found_by_cas_then_declared_then_own_name(name: str, cas: str, analyte: str) -> None:
    content = table(["L-1", name, "5", "ng", cas], header=("s", "c", "r", "u", "cas"))
    mapping = simple(columns={"cas": "cas"}, rest='[names]\n"Solvent T" = "tce"')
    delivery, _ = deliver(content, mapping)
    assert results(delivery)[0]["analyte_id"] == analyte


def test_all_unknown_spellings_are_listed_at_once() -> None:
    content = table(["L-1", "Alpha", "5", "kg"], ["L-9", "beta", "5", "ng"], ["L-1", "Alpha", "<5", "t"])
    delivery, findings = deliver(content, simple())
    told = {finding.code: finding.found for finding in findings}
    assert told == {
        "compound-unmapped": "compounds 'Alpha' (2), 'beta' (1)",
        "unit-undeclared": "units 'kg' (1), 't' (1)",
        "lab-sample-unlisted": "laboratory ids 'L-9' (1)",
    }
    assert results(delivery) == []


@pytest.mark.parametrize(
    ("cells", "code"),
    [
        ({"c": "perc", "cas": "79-01-6"}, "compound-contradicts"),
        ({"c": "perc", "cas": "71-43-2"}, "compound-contradicts"),
        ({"cas": "2005-01-04"}, "cas-turned-date"),
        ({"cas": "127184"}, "cas-unreadable"),
        ({"q": "Q7"}, "qualifier-unmapped"),
        ({"r": ""}, "result-blank"),
        ({"r": "<5", "v": "5"}, None),
        ({"r": "5", "v": "6"}, "result-contradicts"),
        ({"r": "<5", "d": "yes"}, "result-contradicts"),
        ({"r": "5", "q": "U", "d": "Y"}, "result-contradicts"),
        ({"r": "5", "d": "perhaps"}, "word-unknown"),
        ({"r": "<5", "rl": "10"}, "limits-differ"),
        ({"r": "<5", "rl": "10", "mdl": "5"}, None),
        ({"rl": "ten"}, "number-unreadable"),
        ({"sampler": "0042"}, "sampler-differs"),
        ({"sampler": "0041"}, None),
        ({"rep": "maybe"}, "word-unknown"),
        ({"rep": "no"}, "no-reportable-run"),
        ({"r": "1E300"}, "number-unreadable"),
    ],
)
def test_one_departure_gives_one_finding_at_its_row(cells: dict[str, str], code: str | None) -> None:
    named = {
        "cas": "cas",
        "lab_qualifier": "q",
        "value": "v",
        "detected": "d",
        "rl": "rl",
        "mdl": "mdl",
        "sampler_id": "sampler",
        "reportable": "rep",
    }
    row = {"s": "L-1", "c": "pce", "r": "5", "u": "Gg"} | dict.fromkeys(named.values(), "") | cells
    mapping = simple(columns=named, rest="[units]\nGg = 1000000000000000000\n")
    _, findings = deliver(csv_bytes([list(row), list(row.values())]), mapping)
    assert [finding.code for finding in findings] == ([code] if code else [])
    assert all(finding.where.row == 2 and finding.where.file == "lab/a.csv" for finding in findings)


def test_a_detected_column_of_no_makes_the_number_a_limit() -> None:
    content = table(["L-1", "pce", "10", "ng", "N"], header=("s", "c", "r", "u", "d"))
    row = one(content, simple(columns={"detected": "d"}))
    assert (row["value"], row["rl"], row["detected"]) == ("", "10.0", "no")


def test_a_blank_result_is_left_out_only_where_the_mapping_says_what_it_means() -> None:
    content = table(["L-1", "pce", "", "ng"], ["L-1", "tce", "5", "ng"])
    assert one(content, simple('blank = "not_reported"'))["analyte_id"] == "tce"


@pytest.mark.parametrize(("mark", "ours"), [("U", "lab_qualifier"), ("nd", "lab_qualifier"), ("No", "detected")])
def test_a_blank_result_with_the_mark_of_a_non_detect_is_never_left_out(mark: str, ours: str) -> None:
    """The laboratory looked and found nothing: that row is no absent result. A blank token says so."""
    content = table(["L-1", "pce", "", "ng", mark], ["L-1", "tce", "5", "ng", ""], header=("s", "c", "r", "u", "q"))
    mapping = simple('blank = "not_reported"', {ours: "q"}, '[qualifiers]\nnd = "U"\n')
    _, (finding,) = deliver(content, mapping)
    assert (finding.code, finding.where.row, finding.severity) == ("result-contradicts", 2, Severity.STOP)
    delivery, findings = deliver(content, mapping + '[nondetect]\ntokens = [""]\n')
    assert findings == []
    assert [(row["analyte_id"], row["detected"]) for row in results(delivery)] == [("pce", "no"), ("tce", "yes")]


def test_a_replaced_run_gives_way_to_the_reportable_one() -> None:
    header = ("s", "c", "r", "u", "rep")
    content = table(["L-1", "pce", "9000", "ng", "N"], ["L-1", "pce", "8500", "ng", "Y"], header=header)
    assert one(content, simple(columns={"reportable": "rep"}))["value"] == "8500.0"


def test_two_reportable_runs_of_one_sample_and_compound_stop() -> None:
    content = table(["04417-001", "pce", "9000", "ng"], ["04417-001", "pce", "8500", "ng"])
    changes = {"lab/results.csv": None, "lab/a.csv": content, "lab/a.map.toml": simple().encode()}
    _, findings = load_folder(example_with(changes))
    (twice,) = [finding for finding in findings if finding.code == "duplicate-key"]
    assert (twice.found, twice.where.row) == ("04417-001 + pce, as in lab/a.csv row 2", 3)


def test_the_first_name_present_wins() -> None:
    content = table(["L-1", "pce", "5", "ng", "7"], header=("s", "c", "r", "u", "r2"))
    assert one(content, simple().replace('"r"', '["r2", "r"]'))["value"] == "7.0"


@pytest.mark.parametrize(
    ("control", "code"),
    [
        ("rows = 3\ndetected_rows = 2\nsum_detected = 12.5", None),
        ("sum_detected = 13", None),
        ("rows = 4", "control-total-differs"),
        ("detected_rows = 3", "control-total-differs"),
        ("sum_detected = 12.6", "control-total-differs"),
    ],
)
def test_totals_typed_from_the_signed_report_are_compared(control: str, code: str | None) -> None:
    content = table(["L-1", "pce", "5.5", "ng"], ["L-1", "tce", "<5", "ng"], ["L-2", "tce", "7", "ng"])
    _, findings = deliver(content, simple(rest=f"[control]\n{control}"))
    assert [finding.code for finding in findings] == ([code] if code else [])
    assert all(finding.where.file == "lab/a.map.toml" for finding in findings)


def test_rows_are_skipped_by_number_and_by_text_and_noted() -> None:
    content = table(["L-1", "pce", "5", "ng"], ["", "spare", "", ""], ["Total", "", "5", ""])
    delivery, findings = deliver(content, simple('skip_rows = [3]\nskip_containing = ["Total", "Sum"]'))
    assert [row["value"] for row in results(delivery)] == ["5.0"]
    assert [(finding.code, finding.found) for finding in findings] == [
        ("rows-passed-over", "rows 3, 4, not read"),
        ("mapping-unused", "'Sum', to be skipped"),
    ]


def test_a_kind_of_row_that_is_not_declared_stops() -> None:
    content = table(["L-1", "pce", "5", "ng", "Spike"], header=("s", "c", "r", "u", "k"))
    _, (finding,) = deliver(content, simple('qc_column = "k"', rest='[qc]\nTarget = "result"'))
    assert (finding.code, finding.found) == ("row-kind-unmapped", "kinds of rows 'Spike' (1)")


@pytest.mark.parametrize(
    ("text", "limits", "value", "unit", "bounds"),
    [("96", "", "96", "", ("", "")), ("96 %", "70-130", "96", "%", ("70", "130"))],
)
def test_a_qc_row_keeps_its_own_unit(text: str, limits: str, value: str, unit: str, bounds: tuple[str, str]) -> None:
    content = table(["L-1", "Toluene-d8", text, "", "S", limits], header=("s", "c", "r", "u", "k", "lim"))
    mapping = simple('qc_column = "k"', {"lower": "lim", "upper": "lim"}, '[qc]\nS = "surrogate"')
    delivery, findings = deliver(content, mapping)
    assert findings == []
    assert delivery is not None
    row = dict(zip(delivery.qc.header, delivery.qc.rows[0], strict=True))
    assert (row["name"], row["qc_type"], row["value"], row["unit"]) == (
        "Toluene-d8",
        "surrogate",
        value,
        unit,
    )
    assert (row["lower"], row["upper"]) == bounds


def test_a_cross_tab_with_compounds_across_takes_limits_and_units_from_rows() -> None:
    content = csv_bytes([["", "perc", "tce"], ["unit", "ng", "ug"], ["RL", "10", "0.025"],
                         ["L-1", "40", "<0.025"], ["L-2", "<10", "1.5"]])  # fmt: skip
    mapping = """
[source]
file = "lab/a.csv"
layout = "crosstab"
header_row = 1
[columns]
lab_sample_id = ""
[crosstab]
across = "analytes"
rows = { unit = 2, rl = 3 }
[units]
ng = 1
ug = 1000
"""
    delivery, findings = deliver(content.replace(b",perc", b"id,perc", 1), mapping.replace('= ""', '= "id"'))
    assert findings == []
    found = [(r["lab_sample_id"], r["analyte_id"], r["value"], r["rl"], r["unit"]) for r in results(delivery)]
    assert found == [
        ("L-1", "pce", "40.0", "10.0", "ng"),
        ("L-1", "tce", "", "25.0", "ng"),
        ("L-2", "pce", "", "10.0", "ng"),
        ("L-2", "tce", "1500.0", "25.0", "ng"),
    ]


def test_a_cross_tab_column_without_a_name_is_not_lost_silently() -> None:
    content = csv_bytes([["c", "L-1", ""], ["pce", "5", "6"]])
    mapping = """
[source]
file = "lab/a.csv"
layout = "crosstab"
[columns]
analyte_id = "c"
[constants]
unit = "ng"
[units]
ng = 1
"""
    _, (finding,) = deliver(content, mapping)
    assert (finding.code, finding.where.row) == ("header-blank", 2)


@pytest.mark.parametrize(
    ("change", "code", "key"),
    [
        (("[source]", "[source"), "mapping-unreadable", None),
        (('layout = "long"', 'layout = "wide"'), "mapping-invalid", "source.layout"),
        (('layout = "long"', 'layout = "long"\nskip_row = [3]'), "mapping-invalid", "source.skip_row"),
        (("[columns]", "[colums]"), "mapping-invalid", "columns"),
        (('unit = "u"', ""), "mapping-invalid", "columns.unit"),
        (('result_text = "r"', ""), "mapping-invalid", "columns.result_text"),
        (('result_text = "r"', 'results = "r"'), "mapping-invalid", "columns.results"),
        (("ng = 1", "ng = 0"), "mapping-invalid", "units.ng.factor"),
        (("ng = 1", 'ng = "1"'), "mapping-invalid", "units.ng.factor"),
        (("ng = 1", "ng = nan"), "mapping-invalid", "units.ng.factor"),
        (("ng = 1", '"ug/m3" = 1'), "mapping-invalid", "units.ug/m3"),
        (("ng = 1", '"µg/m³" = 1'), "mapping-invalid", "units.µg/m³"),
        (("ng = 1", 'ng = { factor = 1, unit = "ug/m3" }'), "mapping-invalid", "units.ng"),
        (("ng = 1", 'ng = 1\n[qualifiers]\nz = "Q"'), "mapping-invalid", "qualifiers.z"),
        (("ng = 1", 'ng = 1\n[qc]\nz = "result"'), "mapping-invalid", "source.qc_column"),
        (("ng = 1", 'ng = 1\n[names]\nz = "pcee"'), "mapping-invalid", "names.z"),
        (("lab/a.csv", "lab/b.csv"), "deliverable-missing", "source.file"),
        (("lab/a.csv", "../lab/a.csv"), "deliverable-missing", "source.file"),
        (("[source]", f'[source]\nsha256 = "{"0" * 64}"'), "deliverable-changed", "source.sha256"),
    ],
)
def test_a_fault_of_the_mapping_is_told_at_its_key(change: tuple[str, str], code: str, key: str | None) -> None:
    _, findings = deliver(table(["L-1", "pce", "5", "ng"]), simple().replace(*change))
    assert code in {finding.code for finding in findings}
    (finding,) = [finding for finding in findings if finding.where.column == key]
    assert (finding.where.file, finding.severity) == ("lab/a.map.toml", Severity.STOP)


SOURCE_KEYS = "a key of [source]: file, sha256, sheet, header_row"
CROSSTAB_KEYS = "a key of [crosstab]: across, ignore, qc, rows, suffixes"
SAMPLE_COLUMNS = "a column of lab_samples.csv: sampler_id, type"
TABLES = "a table of the mapping format: source, columns, constants"


@pytest.mark.parametrize(
    ("table_line", "line", "key", "expected", "do"),
    [
        ("", "skip_row = [3]", "source.skip_row", SOURCE_KEYS, "rename it to skip_rows"),
        ("[crosstab]", 'acros = "samples"', "crosstab.acros", CROSSTAB_KEYS, "rename it to across"),
        ("[units.kg]", "factr = 1", "units.kg.factr", "a key of [units.kg]: factor, unit", "rename it to factor"),
        ("[lab_samples]", 'columns = { typ = "k" }', "lab_samples.columns.typ", SAMPLE_COLUMNS, "rename it to type"),
        ("[lab_samples.columns]", 'typ = "k"', "lab_samples.columns.typ", SAMPLE_COLUMNS, "rename it to type"),
        ("", "[colums]", "colums", TABLES, "remove it"),
        ("[qualifiers]", '"a.b" = "Q"', "qualifiers.a.b", "some of U, J", "use the qualifiers of the folder format"),
        ("[control]", "rows = -1", "control.rows", "0 to ", "correct control.rows"),
    ],
)
def test_a_key_that_is_wrong_is_told_with_its_line_and_those_allowed(
    table_line: str, line: str, key: str, expected: str, do: str
) -> None:
    """In nested and inline tables too, and where the key holds a point."""
    inside = not table_line and "=" in line
    mapping = simple(line) if inside else simple(rest=f"{table_line}\n{line}\n")
    _, findings = deliver(table(["L-1", "pce", "5", "ng"]), mapping)
    (found,) = [f for f in findings if f.where.column == key]
    assert (found.where.row, found.do) == (mapping.splitlines().index(line) + 1, do)
    assert found.expected.startswith(expected)


def test_a_value_that_is_missing_is_told_at_the_line_of_its_table() -> None:
    _, (found,) = deliver(table(["L-1", "pce", "5", "ng"]), simple().replace('layout = "long"', ""))
    assert (found.where.column, found.where.row) == ("source.layout", 1)


def test_a_concentration_is_read_where_its_unit_is_declared_as_one() -> None:
    mapping = simple(rest='[units]\n"µg/m³" = { factor = 1, unit = "ug/m3" }')
    row = one(table(["L-1", "pce", "5", "\u03bcg/m³"]), mapping)  # the other sign for micro
    assert (row["value"], row["unit"]) == ("5.0", "ug/m3")


@pytest.mark.parametrize(
    ("header", "code"),
    [(("s", "c", "x", "u"), "mapped-column-missing"), (("s", "r", "r", "u"), "header-twice")],
)
def test_a_column_that_is_missing_or_stands_twice_stops(header: tuple[str, ...], code: str) -> None:
    delivery, findings = deliver(table(["L-1", "pce", "5", "ng"], header=header), simple())
    assert delivery is None
    assert code in {finding.code for finding in findings}
    assert all(finding.where.row == 1 for finding in findings)


def test_a_blank_digest_is_a_note_that_prints_the_value_and_the_value_settles_it() -> None:
    content = table(["L-1", "pce", "5", "ng"])
    files = {"lab/a.csv": content, "lab/a.map.toml": simple().encode()}
    _, _, (note,), _ = read_deliveries(folder_of(files), {}, KNOWN, SAMPLES)
    assert (note.code, note.severity) == ("deliverable-unsealed", Severity.NOTE)
    digest = hashlib.sha256(content).hexdigest()
    assert digest in note.do
    files["lab/a.map.toml"] = simple(f'sha256 = "{digest}"').encode()
    assert read_deliveries(folder_of(files), {}, KNOWN, SAMPLES)[2] == []


def test_a_declared_encoding_holds_for_a_laboratory_file() -> None:
    content = "s;c;r;u\nL-1;pce;5;µg\n".encode("latin-1")
    files = {"lab/a.csv": content, "lab/a.map.toml": simple(rest='[units]\n"µg" = 1000').encode()}
    declared = {"lab/a.csv": FilePart(encoding="latin-1", delimiter=";")}
    (delivery,), _, _, _ = read_deliveries(folder_of(files), declared, KNOWN, SAMPLES)
    assert results(delivery)[0]["value"] == "5000.0"
    _, _, findings, _ = read_deliveries(folder_of(files), {}, KNOWN, SAMPLES)
    assert "encoding-wrong" in {finding.code for finding in findings}


def test_ids_typed_as_numbers_are_noted_and_do_not_match_by_chance() -> None:
    content = xlsx_bytes([["s", "c", "r", "u"], [47, "pce", 5, "ng"]])
    _, findings = deliver(content, simple(file="lab/a.xlsx"), "lab/a.xlsx")
    assert {finding.code for finding in findings} == {"id-typed-as-number", "lab-sample-unlisted"}


def test_a_laboratory_file_that_no_mapping_names_is_told_as_not_read() -> None:
    found = new_findings(example_with({"lab/extra.csv": b"a,b\n", "lab/extra.txt": b"a,b\n"}))
    told = [(finding.code, finding.subject) for finding in found]
    assert told == [("lab-table-unread", "lab/extra.csv"), ("file-unknown", "lab/extra.txt")]


def test_a_compound_is_found_by_declared_spelling_name_synonym_or_cas_number() -> None:
    """A spelling that nobody declared leads nowhere and is named as what is to be mapped."""
    known = [row_of(Analyte, analyte_id="pce", name="Tetrachloroethene", cas="127-18-4", synonyms="PCE; PER")]
    found = Compounds(known, {"Perc": "pce"})
    for name, cas in (("Perc", ""), ("Tetrachloroethene", ""), ("PER", ""), ("pce", ""), ("", "127-18-4")):
        assert found.find(name, cas).analyte_id == "pce"
    unknown = Compounds(known, {}).find("Perc", "")
    assert (unknown.analyte_id, unknown.spelling) == ("", "Perc")
