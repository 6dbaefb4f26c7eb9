"""A file that is issued again is told once, and the former issue is compared with the one that stands."""

from __future__ import annotations

import pytest
from builders import new_findings, survey_findings
from in_memory import example, example_with, folder_of
from lab_files import csv_bytes, long_csv, rows, saved
from openpyxl import Workbook
from small_delivery import KNOWN, SAMPLES, simple

from sitegen.findings.problems import Finding, Severity
from sitegen.project.delivery.mapping import Deliveries, read_deliveries
from sitegen.project.load import load_folder

HEAD = ["s", "c", "r", "u"]
FIRST = [["L-1", "pce", "12", "ng"], ["L-1", "tce", "<5", "ng"], ["L-2", "pce", "7", "ng"]]
SECOND = [["L-1", "pce", "13", "ng"], ["L-1", "tce", "<5", "ng"], ["L-2", "pce", "7", "ng"], ["L-2", "tce", "9", "ng"]]
CONTENT, MAPPING = long_csv()
SETTINGS = (example().content("project.toml") or b"") + b'\n[files."lab/long.csv"]\ndelimiter = ";"\n'
OWN = {
    "lab/results.csv": None,
    "project.toml": SETTINGS,
    "lab/long.csv": CONTENT,
    "lab/long.map.toml": MAPPING.encode(),
}


def read(files: dict[str, bytes], replaces: str = "") -> Deliveries:
    """Read ``lab/b.csv``, which may replace another file; the note on a blank digest is left out."""
    source = f'replaces = "{replaces}"' if replaces else ""
    mapping = simple(source, file="lab/b.csv").encode()
    folder = folder_of({"lab/b.csv": csv_bytes([HEAD, *SECOND]), "lab/b.map.toml": mapping} | files)
    given = read_deliveries(folder, {}, KNOWN, SAMPLES)
    return given._replace(findings=[f for f in given.findings if f.code != "deliverable-unsealed"])


def survey_told(files: dict[str, bytes | None]) -> list[Finding]:
    """Return what is told of the example whose results come from ``lab/long.csv``, and of more files."""
    return [f for f in new_findings(example_with(OWN | files)) if f.code != "deliverable-unsealed"]


def reissue() -> bytes:
    """Return the long table with one result of its first sample changed."""
    line = next(line for line in CONTENT.splitlines() if line.startswith(b"04417-005;127-18-4"))
    return CONTENT.replace(line, line.replace(line.split(b";")[3], b"0.777", 1))


def test_two_mapped_files_that_claim_the_same_results_are_one_stop() -> None:
    """It names both files, counts what both give and what differs, shows the first of it and asks which stands."""
    settings = SETTINGS + b'\n[files."lab/long_rev1.csv"]\ndelimiter = ";"\n'
    second = MAPPING.replace("lab/long.csv", "lab/long_rev1.csv").encode()
    changes = OWN | {"project.toml": settings, "lab/long_rev1.csv": reissue(), "lab/second.map.toml": second}
    found = [f for f in survey_findings(example_with(changes)) if f.severity is Severity.STOP]
    assert [f.code for f in found] == ["deliverable-reissued"]
    before = next(r["result_text"] for r in rows("lab/results.csv") if r["lab_sample_id"] == "04417-005")
    assert before != "777"
    assert found[0].found.startswith("lab/long.csv and lab/long_rev1.csv both give 1,386 results; 1 of them differs: ")
    assert "04417-005 pce" in found[0].found
    assert found[0].found.endswith(" and '0.777'")
    assert 'replaces = "records/long.csv"' in found[0].do


def test_files_that_share_no_result_are_no_issues_of_one_another() -> None:
    """Two parts of a delivery add up; one result twice in one file is another matter."""
    lines = CONTENT.splitlines(keepends=True)
    half = len(lines) // 2
    settings = SETTINGS + b'\n[files."lab/rest.csv"]\ndelimiter = ";"\n'
    parts = {"lab/long.csv": b"".join(lines[:half]), "lab/rest.csv": b"".join([lines[0], *lines[half:]])}
    mapping = MAPPING.partition("[control]")[0]
    maps = {
        "lab/long.map.toml": mapping.encode(),
        "lab/rest.map.toml": mapping.replace("long.csv", "rest.csv").encode(),
    }
    _, findings = load_folder(example_with(OWN | {"project.toml": settings} | parts | maps))
    assert {f.code for f in findings} == {"deliverable-unsealed"}
    twice = {"lab/long.csv": b"".join([*lines, lines[5]]), "lab/long.map.toml": mapping.encode()}
    _, findings = load_folder(example_with(OWN | twice))
    assert [f.code for f in findings if f.severity is Severity.STOP] == ["duplicate-key"]


def test_an_unmapped_issue_of_a_mapped_file_is_one_hold() -> None:
    """What the mapping of the other reads in it is compared; no mapping need be written to see what differs."""
    settings = SETTINGS + b'\n[files."lab/anything.csv"]\ndelimiter = ";"\n'
    told = survey_told({"project.toml": settings, "lab/anything.csv": reissue()})
    assert [(f.code, f.severity) for f in told] == [("deliverable-reissued", Severity.HOLD)]
    assert "both give 1,386 results; 1 of them differs: 04417-005 pce" in told[0].found
    assert told[0].found.endswith("'0.777'; lab/anything.csv is not read")
    assert 'move lab/anything.csv to records/ and write replaces = "records/anything.csv"' in told[0].do


def test_an_issue_that_the_mapping_can_not_read_is_told_as_a_table_that_is_not_read() -> None:
    """Other columns are no reading of it."""
    other = CONTENT.replace(b"Parameter", b"Substance", 1)
    assert [f.code for f in survey_told({"lab/anything.csv": other})] == ["lab-table-unread"]


def test_the_former_issue_is_compared_with_the_one_that_stands() -> None:
    """What both give and differs, and what one alone gives; nothing is told where the former can be read."""
    given = read({"records/a.csv": csv_bytes([HEAD, *FIRST])}, "records/a.csv")
    assert given.findings == []
    former = given.read[0].former
    assert former is not None
    assert (former.file, former.compared.both) == ("records/a.csv", 3)
    assert [tuple(one) for one in former.compared.changed] == [("L-1", "pce", "12", "13")]
    assert former.compared.former_alone == ()
    assert [tuple(one) for one in former.compared.present_alone] == [("L-2", "tce", "–", "9")]


@pytest.mark.parametrize(
    ("old", "new", "shown"),
    [
        (["L-1", "pce", "12", "ng"], ["L-1", "pce", "12.0", "ng"], []),
        (["L-1", "pce", "12", "ng"], ["L-1", "pce", "12", "ug"], [("12 (value 12.0)", "12 (value 12000.0)")]),
        (["L-1", "pce", "<12", "ng"], ["L-1", "pce", "12", "ng"], [("<12", "12")]),
    ],
)
def test_results_differ_where_a_number_does_and_the_difference_is_seen(
    old: list[str], new: list[str], shown: list[tuple[str, str]]
) -> None:
    """Another way to write a number is no difference; the same text in another unit is one."""
    mapping = simple('replaces = "records/a.csv"', file="lab/b.csv", rest="[units]\nng = 1\nug = 1000\n").encode()
    files = {"lab/b.csv": csv_bytes([HEAD, new]), "records/a.csv": csv_bytes([HEAD, old]), "lab/b.map.toml": mapping}
    former = read_deliveries(folder_of(files), {}, KNOWN, SAMPLES).read[0].former
    assert former is not None
    assert [one[2:] for one in former.compared.changed] == shown


def test_samples_of_a_former_issue_need_not_be_listed() -> None:
    """What it has of samples that are no longer on record is told as its own."""
    given = read({"records/a.csv": csv_bytes([HEAD, ["L-77", "pce", "3", "ng"]])}, "records/a.csv")
    former = given.read[0].former
    assert former is not None
    assert [tuple(one) for one in former.compared.former_alone] == [("L-77", "pce", "3", "–")]
    assert given.findings == []


@pytest.mark.parametrize(
    ("content", "found"),
    [
        (None, "no file 'records/a.csv'"),
        (b"", "records/a.csv, of which an empty file"),
        (b"s,c,x,u\n", "records/a.csv, of which a header without it: s, c, x, u"),
        (b"s,c,r,u\nL-1,pce,many,ng\n", "records/a.csv, of which 'many' (row 2)"),
    ],
)
def test_a_former_issue_that_can_not_be_read_holds(content: bytes | None, found: str) -> None:
    """It is told at the line of the mapping that names it."""
    (finding,) = read({"records/a.csv": content} if content is not None else {}, "records/a.csv").findings
    assert (finding.code, finding.severity, finding.found) == ("replaced-unreadable", Severity.HOLD, found)
    assert str(finding.where) == "lab/b.map.toml, row 4, column source.replaces"


def test_the_sheets_of_a_workbook_are_compared_together() -> None:
    """Two sheets with a mapping each are one file; both issues of it are compared as a whole."""
    old, new = Workbook(), Workbook()
    for book, number in ((old, "12"), (new, "13")):
        for title, sample in (("A", "04417-001"), ("B", "04417-002")):
            sheet = book.create_sheet(title)
            sheet.append(HEAD)
            sheet.append([sample, "pce", number, "ng"])
    maps = {f"lab/{sheet}.map.toml": simple(f'sheet = "{sheet}"', file="lab/new.xlsx").encode() for sheet in ("A", "B")}
    files = {"lab/results.csv": None, "lab/new.xlsx": saved(new), "lab/old.xlsx": saved(old)} | maps
    (told,) = [f for f in survey_findings(example_with(files)) if f.code == "deliverable-reissued"]
    assert told.found.startswith("lab/new.xlsx and lab/old.xlsx both give 2 results; 2 of them differ: 04417-001 pce")
