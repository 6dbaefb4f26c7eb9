"""A table or workbook in lab/ that nothing reads is seen, and holds an issue where it may be the one that counts."""

from __future__ import annotations

import pytest
from builders import changed, content, example, new_findings, removed, settings_added, without
from in_memory import example_with
from lab_files import long_csv, xlsx_bytes
from small_delivery import simple

from sitegen.findings.problems import Finding, Severity
from sitegen.project.delivery.form import read_form

CODE = "lab-table-unread"
SAMPLES = b"sample;analysed\n04417-001;2025-11-12\n04417-002;2025-11-12\n"
CONTENT, MAPPING = long_csv()
DELIMITED = b'\n[files."lab/long.csv"]\ndelimiter = ";"\n'


def unread(files: dict[str, bytes], *missing: str) -> Finding:
    """Return the one finding about an unread table of the example with more files in lab/."""
    made = changed(*(content(path, data) for path, data in files.items()), *map(removed, missing))
    (finding,) = [f for f in new_findings(made) if f.code == CODE]
    return finding


def delivered(files: dict[str, bytes], first: bytes = CONTENT) -> list[Finding]:
    """Return such findings of the example whose results come from a laboratory's own file, ``lab/long.csv``."""
    settings = (example().content("project.toml") or b"") + DELIMITED
    own = {"lab/results.csv": None, "lab/long.csv": first, "lab/long.map.toml": MAPPING.encode()}
    found = new_findings(example_with(own | {"project.toml": settings} | files))
    return [finding for finding in found if finding.code == CODE]


@pytest.mark.parametrize("path", ["lab/extra.csv", "lab/older/extra.tsv", "lab/EXTRA.XLSX", "lab/extra.xls"])
def test_a_table_that_nothing_reads_is_a_flag_that_asks(path: str) -> None:
    """Where results are whole and nothing tells which is later, a person is asked."""
    finding = unread({path: SAMPLES})
    assert (finding.severity, finding.where.file) == (Severity.FLAG, path)
    assert finding.do == (
        "if its results are to be used, draft its mapping with sitegen draft-mapping FOLDER FILE and confirm it, or "
        "write lab/<name>.map.toml; otherwise move it to records/"
    )


def test_other_files_in_lab_are_noted_as_before() -> None:
    """A scan or a letter is no table: it is a note to move it."""
    found = new_findings(changed(content("lab/letter.pdf", b"%PDF-1.7")))
    assert [(f.code, f.severity) for f in found] == [("file-unknown", Severity.NOTE)]


def test_it_says_how_many_laboratory_samples_it_names() -> None:
    """What the file has to do with the survey is read in it, whatever sign parts its cells."""
    assert unread({"lab/extra.csv": SAMPLES}).found == "an unread table with 2 laboratory samples"
    book = xlsx_bytes([["sample"], ["04417-001"]])
    assert unread({"lab/extra.xlsx": book}).found == "an unread table with 1 laboratory sample"
    assert unread({"lab/extra.xlsx": b"no workbook"}).found == "an unread table"


def test_results_that_are_missing_make_it_a_hold() -> None:
    """They may be in it."""
    lost = without("lab/results.csv", *(f"04417-059+{row}" for row in compounds()))
    made = changed(content("lab/extra.xls", b"\xd0\xcf\x11\xe0"), lost)
    (finding,) = [f for f in new_findings(made) if f.code == CODE]
    assert finding.severity is Severity.HOLD
    assert finding.found == "an unread table, while 1 sampler analysed or recovered has no results"


def compounds() -> list[str]:
    """Return the example's compounds."""
    lines = (example().content("lab/analytes.csv") or b"").decode().splitlines()[1:]
    return [line.partition(",")[0] for line in lines]


def test_a_later_revision_by_its_name_makes_it_a_hold() -> None:
    """The same name with a higher revision is later than the file that is read; a lower one is not."""
    (later,) = delivered({"lab/long_rev1.csv": b"anything\n"})
    assert later.severity is Severity.HOLD
    assert later.found == "an unread table; its name indicates a later revision of lab/long.csv"
    (other,) = delivered({"lab/longer_rev1.csv": b"anything\n"})
    assert other.severity is Severity.FLAG


def test_a_later_date_about_the_same_samples_makes_it_a_hold() -> None:
    """Dates in both files are compared where they name a laboratory sample in common."""
    dated = CONTENT.replace(b"Cal. top\r\n", b"Cal. top of 2025-11-25\r\n", 1)
    mapped = {"lab/long.map.toml": MAPPING.replace('"Cal. top"', '"Cal. top of 2025-11-25"').encode()}
    (later,) = delivered({"lab/second.csv": b"04417-001;2 December 2025\n"} | mapped, dated)
    assert later.severity is Severity.HOLD
    assert later.found == (
        "an unread table with 1 laboratory sample; its latest date is 2025-12-02, that of lab/long.csv 2025-11-25"
    )
    for same in (b"04417-001;2025-11-20\n", b"X-1;2025-12-02\n", b"04417-001;12/02/2025\n", b"04417-001\n"):
        (found,) = delivered({"lab/second.csv": same} | mapped, dated)
        assert found.severity is Severity.FLAG, same


def test_a_file_that_a_mapping_names_is_read() -> None:
    """What is mapped is not told, and nothing is told while a mapping can't be read."""
    assert delivered({}) == []
    assert delivered({"lab/second.csv": SAMPLES, "lab/second.map.toml": b"[source"}) == []


def test_a_misspelt_name_is_offered_the_right_one_only_where_it_is_free() -> None:
    """A good file is never written over, and no workbook is called a CSV."""
    assert unread({"lab/labqc.csv": b"a\n"}, "lab/lab_qc.csv").do.startswith("rename it to lab/lab_qc.csv if")
    assert "rename" not in unread({"lab/labqc.csv": b"a\n"}).do
    assert "rename" not in unread({"lab/lab_qc.xlsx": b"a\n"}, "lab/lab_qc.csv").do


@pytest.mark.parametrize(
    ("path", "absent", "do"),
    [
        ("field/wether.csv", "field/weather.csv", "rename it to field/weather.csv"),
        ("field/wether.csv", "", "move it to records/ if it is part of the record"),
        ("field/wether.xlsx", "field/weather.csv", "rename it to field/weather.xlsx"),
        ("field/wether.xlsx", "", "move it to records/ if it is part of the record"),
    ],
)
def test_no_other_file_is_told_to_take_a_name_that_is_taken(path: str, absent: str, do: str) -> None:
    """Outside lab/ as inside: a free name of the same kind of file, or none."""
    found = new_findings(changed(content(path, b"at\n"), *map(removed, filter(None, [absent]))))
    (finding,) = [f for f in found if f.code == "file-unknown"]
    assert finding.do == do


def test_no_setting_is_told_to_take_a_name_that_is_taken() -> None:
    """A misspelt setting beside the right one is not to be written over it."""
    (found,) = new_findings(changed(settings_added('[archive]\nretention = "10 a"\nretentoin = "20 a"')))
    assert found.do == "remove it, or begin its name with x_"
    (found,) = new_findings(changed(settings_added('[archive]\nretentoin = "20 a"')))
    assert found.do == "rename it to archive.retention"


def test_no_key_of_a_mapping_is_told_to_take_a_name_that_is_taken() -> None:
    """A misspelt key, or column, beside the right one is to be removed; alone it is offered the right one."""
    for source, columns, do in (
        ('sheet = "A"\nshet = "B"', "", "remove it"),
        ('shet = "B"', "", "rename it to sheet"),
        ("", 'mdl = "m"\nmdll = "n"', "remove it"),
        ("", 'mdll = "n"', "rename it to mdl"),
    ):
        mapping = simple(source=source, columns={}).replace("[columns]", f"[columns]\n{columns}")
        _, (found,) = read_form("lab/a.map.toml", mapping.encode())
        assert found.do == do, (source, columns)
