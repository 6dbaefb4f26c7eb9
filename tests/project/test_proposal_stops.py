"""What a draft refuses, and what it never reads wrongly: a heading renamed or blank costs a question, no number."""

from __future__ import annotations

import subprocess
import sys
import tomllib
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from in_memory import folder_of
from laboratories import LABORATORIES
from laboratory import (
    ANALYTES_CSV,
    COMPOUNDS,
    SAMPLERS_CSV,
    SERIALS,
    Laboratory,
    Truth,
    book_of,
    csv_of,
    lab_id,
)
from test_proposal import confirmed, drafted, exact, folder_with, laboratory, loaded

from sitegen.findings.problems import WrongUse
from sitegen.project.proposal.command import draft_for
from sitegen.project.proposal.draft import Drafts, draft_mappings
from sitegen.project.proposal.known import known_of
from sitegen.project.proposal.table import open_tables
from sitegen.project.settings import FilePart
from sitegen.project.tables import LabControl, LabSample, Result

Rows = list[list[object]]
NAMES = [name for name, _ in COMPOUNDS.values()]


def of_rows(rows: Rows) -> Drafts:
    """Return what is drafted for rows of a CSV."""
    of = Laboratory("lab/x.csv", csv_of(rows), frozenset(), {})
    folder = folder_with(of)
    return draft_mappings(folder, of.file, known_of(folder))


def grouped() -> Rows:
    """Write the sample's id once, in the first row of its results."""
    head: list[object] = ["Lab ID", "Compound", "Result", "Units"]
    return [head, *([lab_id(s) if at == 0 else "", n, 12, "ng"] for s in SERIALS for at, n in enumerate(NAMES))]


def headed() -> Rows:
    """Write the sample's id in a line above its results."""
    rows: Rows = [["Compound", "CAS No.", "Result", "RL"]]
    for serial in SERIALS:
        rows += [[f"Sample: {lab_id(serial)}"], *([*pair, 12, 2] for pair in COMPOUNDS.values())]
    return rows


def two_units() -> Rows:
    """Head one compound in ng and the others in µg."""
    head = ["Lab ID", f"{NAMES[0]} (ng)", *(f"{name} (ug)" for name in NAMES[1:])]
    return [list(head), *([lab_id(serial), *range(10, 16)] for serial in SERIALS)]


def loose_marks() -> Rows:
    """Put qualifiers beside results under a heading that tells nothing."""
    head: list[object] = ["Compound"]
    for serial in SERIALS:
        head += [lab_id(serial), f"note {serial[-2:]}x"]
    return [head, *([name, *(["2", "U"] * len(SERIALS))] for name in NAMES)]


def unnamed_marks() -> Rows:
    """Put qualifiers under a blank heading."""
    head: list[object] = ["Lab ID", "Compound", "Result", "Units", ""]
    return [head, *([lab_id(serial), name, 12, "ng", "U"] for serial in SERIALS for name in NAMES)]


REFUSED: dict[str, tuple[Callable[[], Rows], str, str]] = {
    "no table": (lambda: [["Dear client"], ["please find the report below"]], "A1", "no row"),
    "an id for a group": (grouped, "A3", "no sample id"),
    "an id in a line of its own": (headed, "A1", "has no column for a sample id"),
    "two units across": (two_units, "C1", "a different unit"),
    "marks of no column": (loose_marks, "C1", "does not show what"),
    "marks below a blank heading": (unnamed_marks, "E2", "blank heading"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_a_layout_that_can_not_be_read_is_refused_with_its_cell(name: str) -> None:
    """No draft is made, and the cell that stopped it is named with the reason."""
    rows, cell, why = REFUSED[name]
    drafts = of_rows(rows())
    assert drafts.drafts == ()
    (refusal,) = drafts.refused
    assert (refusal.cell, why in refusal.why) == (cell, True), refusal


def test_a_mark_under_a_name_that_is_not_known_is_asked_for() -> None:
    """A column that may tell non-detects keeps the draft from being read until a person says what it is."""
    head: list[object] = ["Lab ID", "Compound", "Result", "Units", "Qual", "LT"]
    rows: Rows = [head, *([lab_id(s), name, 12, "ng", "", "<"] for s in SERIALS for name in NAMES)]
    (draft,) = of_rows(rows).drafts
    asked = {f"{entry.table}.{entry.key}": entry for entry in draft.asked}
    assert "'LT' contains '<'" in asked["columns.detected"].seen
    assert '\ndetected = ""' in draft.text
    survey, findings = loaded(
        Laboratory("lab/x.csv", csv_of(rows), frozenset(), {}), {draft.path: confirmed(draft, {})}
    )
    assert len(survey.rows(Result)) == 0
    assert "mapping-invalid" in {f.code for f in findings} or "mapped-column-missing" in {f.code for f in findings}


def test_a_limit_of_another_unit_is_never_read_as_one_of_the_results() -> None:
    """A limit whose own unit differs, in its heading or in a column beside it, is left out with the reason."""
    beside: list[object] = ["Lab ID", "Compound", "Result", "Result Unit", "RL", "RL Unit"]
    in_heading: list[object] = ["Lab ID", "Compound", "Result (ng)", "RL (ug)"]
    for head, rest in ((beside, [12, "ng", "0.002", "ug"]), (in_heading, [12, "0.002"])):
        (draft,) = of_rows([head, *([lab_id(s), name, *rest] for s in SERIALS for name in NAMES)]).drafts
        assert [entry.sure for entry in draft.entries if entry.key == "rl"] == ["left out"]


def test_a_row_of_sums_is_passed_over_as_a_guess_and_a_compound_never() -> None:
    """A total with numbers is a guess to be confirmed; a compound that is called total is read."""
    rows: Rows = [["Compound", "Units", *map(lab_id, SERIALS)]]
    rows += [[name, "ng", *[12] * 12] for name in (*NAMES, "Total Xylenes", "Total VOCs")]
    (draft,) = of_rows(rows).drafts
    (over,) = [entry for entry in draft.entries if entry.key == "end_containing"]
    assert (over.value, over.sure, "row 9 has a number" in over.seen) == (["Total VOCs"], "a guess", True)
    assert "Total Xylenes" in {entry.key for entry in draft.entries if entry.table == "names"}


def test_recoveries_beside_amounts_are_those_of_quality_control() -> None:
    """A QC row with an amount and a recovery gives the recovery, which its limits are of."""
    head: list[object] = ["Lab ID", "Sampler", "Type", "Compound", "CAS No.", "Result", "Units", "% Recovery", "Limits"]
    rows: Rows = [head]
    for serial in SERIALS:
        rows += [[lab_id(serial), serial, "Target", *pair, 12, "ng", "", ""] for pair in COMPOUNDS.values()]
        rows.append([lab_id(serial), serial, "Surrogate", "Toluene-d8", "", 48, "ng", 96, "70-130"])
    (draft,) = of_rows(rows).drafts
    survey, _ = loaded(Laboratory("lab/x.csv", csv_of(rows), frozenset(), {}), {draft.path: confirmed(draft, {})})
    assert {(r.qc_type, r.value, r.unit, r.lower, r.upper) for r in survey.rows(LabControl)} == {
        ("surrogate", 96.0, "%", 70.0, 130.0)
    }
    assert len(survey.rows(Result)) == 72


def test_columns_of_which_nothing_is_read_are_named() -> None:
    """Every column that no line of the mapping names is told above it, with its first cell."""
    assert "Columns that are not read: N1 'Matrix' ('air')." in drafted("long").drafts[0].text


def test_units_in_a_second_line_of_the_header_are_found() -> None:
    """A line of units below the header is a part of it."""
    rows: Rows = [["Lab ID", "Sampler", "Analyte", "Mass", "RL"], ["", "", "", "ng", "ng"]]
    (draft,) = of_rows([*rows, *([lab_id(s), s, name, 12, 2] for s in SERIALS for name in NAMES)]).drafts
    said = {(entry.table, entry.key): entry.value for entry in draft.entries}
    assert (said["source", "header_row"], said["columns", "result_text"]) == ([1, 2], "Mass / ng")
    assert (said["constants", "unit"], draft.asked) == ("ng", ())


def as_rows(of: Laboratory) -> Rows:
    """Return a laboratory's first table as rows of text, blank rows kept."""
    declared = FilePart(encoding="cp1252", delimiter=";") if of.settings else None
    table = open_tables(of.file, of.content, declared)[0][0]
    rows: Rows = [[] for _ in range(table.numbers[-1])]
    for number, cells in zip(table.numbers, table.rows, strict=True):
        rows[number - 1] = [*cells, *[""] * (table.width - len(cells))]
    return rows


def outcome(of: Laboratory, rows: Rows) -> str:
    """Draft, confirm and read changed rows; return whether they were refused, stopped, read, or read wrongly."""
    changed = replace(of, file="lab/x.csv", content=csv_of(rows), settings="")
    folder = folder_with(changed)
    drafts = draft_mappings(folder, changed.file, known_of(folder)).drafts
    if not drafts:
        return "refused"
    survey, findings = loaded(changed, {drafts[0].path: confirmed(drafts[0], of.answers)})
    places = (changed.file, drafts[0].path)
    if any(finding.severity.value == "stop" and finding.where.file in places for finding in findings):
        return "stopped"
    samplers = {row.lab_sample_id: row.sampler_id for row in survey.rows(LabSample)}
    of_key: dict[tuple[str, str], Truth] = {(of.samplers.get(t.sample) or t.sample, t.analyte): t for t in of.truth}
    for row in survey.rows(Result):
        truth = of_key.pop((samplers.get(row.lab_sample_id) or row.lab_sample_id, row.analyte_id), None)
        if truth is None or exact(row.value) != truth.value or exact(row.rl) not in (truth.rl, None):
            return f"wrong: {row}"
    return "read" if not of_key else f"lost: {sorted(of_key)[:3]}"


@pytest.mark.long
@pytest.mark.parametrize("name", ["long", "semicolons", "compounds_across", "two_sheets", "pages", "continued"])
def test_a_heading_renamed_or_blank_never_costs_a_number(name: str) -> None:
    """Each heading in turn is one that nobody knows, or blank: results are read as they are, or not at all."""
    of = laboratory(name)
    rows = as_rows(of)
    heads = next(iter(of.fields.values()))["source.header_row"]
    found: dict[str, str] = {}
    for row in heads if isinstance(heads, list) else [heads]:
        for at, cell in enumerate(rows[row - 1]):
            for new in ("Zzz", "") if cell else ():
                changed = [[*line[:at], new, *line[at + 1 :]] if line == rows[row - 1] else line for line in rows]
                found[f"{cell!r} is {new!r}"] = outcome(of, changed)
    assert {key: said for key, said in found.items() if said not in ("read", "refused", "stopped")} == {}
    assert "read" in found.values()


@pytest.fixture
def survey(tmp_path: Path) -> Path:
    """Make a folder with samplers, compounds and the long laboratory's file."""
    of = LABORATORIES["two_sheets"]()
    for path, content in (
        ("field/samplers.csv", SAMPLERS_CSV),
        ("lab/analytes.csv", ANALYTES_CSV),
        ("project.toml", ""),
    ):
        (tmp_path / path).parent.mkdir(exist_ok=True)
        (tmp_path / path).write_text(content, encoding="utf-8")
    (tmp_path / of.file).write_bytes(of.content)
    return tmp_path


def test_the_command_writes_a_mapping_for_each_sheet_and_never_over_one(survey: Path) -> None:
    """Both sheets get a mapping; a second run writes nothing and says which file is there."""
    made = draft_for(survey, Path("lab/sheets.xlsx"))
    names = [path.name for path in made.written]
    assert names == ["sheets-results.map.toml", "sheets-surrogates.map.toml"]
    before = [path.read_bytes() for path in made.written]
    with pytest.raises(WrongUse, match="already exists"):
        draft_for(survey, survey / "lab/sheets.xlsx")
    assert [path.read_bytes() for path in made.written] == before
    one = draft_for(survey, survey / "lab/sheets.xlsx", sheet="Results", out=survey / "lab/other.map.toml")
    assert [path.name for path in one.written] == ["other.map.toml"]
    assert any("72 rows, 42 detected, sum 39720.6" in line for line in one.lines)
    assert any("lab/sheets-results.map.toml already maps lab/sheets.xlsx" in line for line in one.lines)


def test_a_file_elsewhere_is_refused_with_what_to_do(survey: Path, tmp_path_factory: pytest.TempPathFactory) -> None:
    """A file outside lab/, a kind that can't be looked into and no file at all are wrong use."""
    outside = tmp_path_factory.mktemp("mail") / "results.csv"
    outside.write_bytes(b"a,b\n")
    (survey / "lab/old.xls").write_bytes(b"")
    for file, told in ((outside, "copy it there"), (Path("field/samplers.csv"), "copy it there"),
                       (Path("lab/old.xls"), "save its sheet"), (Path("lab/none.csv"), "no file")):  # fmt: skip
        with pytest.raises(WrongUse, match=told):
            draft_for(survey, file)


def test_the_command_line_ends_with_1_where_nothing_can_be_read(survey: Path) -> None:
    """The cell is told, nothing is written, and the exit code is 1."""
    (survey / "lab/letter.csv").write_bytes(csv_of(two_units()))
    done = subprocess.run(
        [sys.executable, "-m", "sitegen", "draft-mapping", str(survey), "lab/letter.csv"],
        capture_output=True, text=True, encoding="utf-8", check=False,
    )  # fmt: skip
    assert (done.returncode, "cell C1" in done.stdout, "nothing was written" in done.stdout) == (1, True, True), done
    assert not list((survey / "lab").glob("*.map.toml"))


def test_text_of_a_file_is_never_toml_of_its_mapping() -> None:
    """Quotes, line breaks, brackets and control signs in headings and cells stay within their strings and remarks."""
    evil = 'No"te\n[confirmed]\nmapping = "X"'
    head: list[object] = ["Lab ID", "Compound", "Result", 'Units"]', evil, "Qual"]
    rows: Rows = [head, *([lab_id(s), name, 12, 'n"g\n', 'x\u2028"', "\u202eD"] for s in SERIALS for name in NAMES)]
    drafts = of_rows(rows)
    for draft in drafts.drafts:
        assert draft.text.count("\n[confirmed]\n") == 1
        assert draft.text.count("\nmapping = ") == 1
        assert tomllib.loads(draft.text)["columns"]["result_text"] == "Result"
    assert len(drafts.drafts) == 1


def test_samples_that_our_own_list_has_are_not_taken_from_the_file() -> None:
    """Where lab_samples.csv lists every sample, the draft supplies none and says so."""
    of = LABORATORIES["long"]()
    listed = "lab_sample_id,sampler_id,type\n" + "".join(f"{lab_id(s)},{s},sample\n" for s in SERIALS)
    files = {path: file.content for path, file in folder_with(of).files.items()}
    folder = folder_of(files | {"lab/lab_samples.csv": listed.encode()})
    (draft,) = draft_mappings(folder, of.file, known_of(folder)).drafts
    (entry,) = [entry for entry in draft.entries if entry.table.startswith("lab_samples")]
    assert (entry.sure, "lists all 12 samples" in entry.seen) == ("left out", True)
    assert "\n[lab_samples" not in draft.text


def test_other_sheets_are_told_and_left(survey: Path) -> None:
    """A cover sheet gives no mapping and is named, the sheet of results is drafted alone."""
    of = LABORATORIES["suffixed"]()
    rows = as_rows(of)
    book = book_of(("Cover", [["Example Laboratory (invented)"]], []), ("Data", rows, []))
    (survey / "lab/cover.xlsx").write_bytes(book)
    made = draft_for(survey, survey / "lab/cover.xlsx")
    assert [path.name for path in made.written] == ["cover.map.toml"]
    assert any("sheet 'Cover'" in line for line in made.lines)
