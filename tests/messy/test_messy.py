"""A messy survey of 24 points from raw files to a built draft, by what the messages say, and what of it is typed."""

from __future__ import annotations

import csv
import io
import sys
from pathlib import Path

import pandas as pd
import pytest
from builders import load, survey_findings, write
from in_memory import folder_of
from openpyxl import load_workbook
from typer.testing import CliRunner

from sitegen.cli import app
from sitegen.findings.problems import Finding, Severity
from sitegen.project.folder import Folder, read_folder
from sitegen.project.proposal.draft import draft_mappings
from sitegen.project.proposal.known import known_of
from sitegen.project.proposal.sure import GUESS, LEFT, LIKELY
from tests.messy import raw
from tests.messy.typed import (
    LAB,
    LAB_AGAIN,
    MAPPING,
    ROUNDS,
    ROUNDS_AGAIN,
    SETTINGS_FILE,
    TEXTS,
    TYPED,
    Correction,
    Files,
    as_csv,
    settings,
)

TEMPLATE = Path(__file__).parents[2] / "project_template"
IN_TYPING = 1_271
"""Cells that a survey of this size took before anything was declared or derived."""
SENT = {
    "locations/gps.gpx": raw.waypoints(),
    "locations/features.kml": raw.shapes(),
    "field/weather.csv": raw.logger_table(),
    "field/deployments.xlsx": raw.crew_log(),
    LAB: raw.lab_workbook(),
}
LOG = "field/deployments.xlsx"
NAMED_IN = 6
"""The row of the laboratory's sheet that names its samples."""
NOT_TYPED_BEFORE = ("results", "weather")
"""Tables that nobody typed in full either: the results have their own file, the logger has its."""
FOLLOWS = {"cell-blank", "token-unknown", "table-empty", "feature-doubtful", "bag-count-differs", "control-unconfirmed"}
"""Findings that another of the same round explains, and that go with it; nothing is done about them themselves."""


def begun() -> Files:
    """Return the template's folder with the raw files in it, and what the person typed at first."""
    files = {path.relative_to(TEMPLATE).as_posix(): path.read_bytes() for path in TEMPLATE.rglob("*") if path.is_file()}
    files |= SENT | {path: as_csv(rows) for path, rows in TYPED.items()}
    files |= {f"text/{name}.md": f"{text}\n".encode() for name, text in TEXTS.items()}
    return files | {SETTINGS_FILE: settings(files[SETTINGS_FILE])}


def stops(found: tuple[Finding, ...], *more: Severity) -> list[Finding]:
    """Return the findings that stop a build, with those of further severities."""
    return [one for one in found if one.severity in (Severity.STOP, *more)]


def corrected(files: Files, corrections: tuple[Correction, ...]) -> tuple[Finding, ...]:
    """Check, do what the messages say, and return what was found. Each stop is answered, or explained by another."""
    found = survey_findings(folder_of(files))
    for one in corrections:
        assert any(one.code == f.code and one.says in f.do for f in found), (one.code, [(f.code, f.do) for f in found])
        if one.code == "lab-table-unread":
            files[MAPPING] = drafted(files)
        one.change(files)
    left = {f.code for f in stops(found, Severity.HOLD)} - {one.code for one in corrections} - FOLLOWS
    assert left == set()
    return found


def drafted(files: Files) -> bytes:
    """Return the mapping that is drafted for the laboratory's workbook; it asks for nothing."""
    folder = folder_of(files)
    (draft,) = draft_mappings(folder, LAB, known_of(folder)).drafts
    assert (draft.path, draft.asked) == (MAPPING, ())
    return draft.text.encode()


@pytest.fixture(scope="module")
def first() -> Files:
    """Return the folder after the rounds that the first issue took."""
    files = begun()
    for corrections in ROUNDS:
        assert stops(corrected(files, corrections))
    return files


@pytest.fixture(scope="module")
def again(first: Files) -> Files:
    """Return the folder after the rounds that the re-issue took."""
    files = first | {LAB_AGAIN: raw.lab_workbook(again=True)}
    for corrections in ROUNDS_AGAIN:
        corrected(files, corrections)
    return files


def test_at_most_five_rounds_lead_to_a_folder_without_a_stop(first: Files, again: Files) -> None:
    """Three rounds for the raw files and two for the re-issue, each doing what messages say; no hold is left either."""
    assert len(ROUNDS) + len(ROUNDS_AGAIN) <= 5
    for files in (first, again):
        assert stops(survey_findings(folder_of(files)), Severity.HOLD) == []


def test_the_re_issue_is_told_once_with_what_differs(first: Files) -> None:
    """One finding names both files, the three results that differ with both values, and asks which stands."""
    files = first | {LAB_AGAIN: raw.lab_workbook(again=True)}
    (finding,) = stops(survey_findings(folder_of(files)), Severity.HOLD)
    assert finding.code == "deliverable-reissued"
    assert f"{raw.CHANGED} of them differ" in finding.found
    before, after = raw.amounts(), raw.amounts_again()
    for sample, name in (key for key in before if before[key] != after[key]):
        was, now = before[sample, name], after[sample, name]
        shown = f"<{was.limit_ng} U" if was.mass_ng is None else str(was.mass_ng)
        assert f"{sample} {name.lower()} {shown!r} and '{now.mass_ng}'" in finding.found


def test_serials_that_are_numbers_are_noted_once(first: Files) -> None:
    """A serial for each of 27 columns is one note, not 27."""
    (note,) = [one for one in survey_findings(folder_of(first)) if one.code == "id-typed-as-number"]
    assert note.found == f"{len(raw.ANALYSED)} cells of sampler_id stored as numbers, starting here"


def results(folder: Folder) -> dict[tuple[str, str], raw.Amount]:
    """Return the results that a folder gives, by laboratory sample and the compound's name."""
    survey = load(folder)
    names = dict(survey.frame("analytes")[["analyte_id", "name"]].itertuples(index=False))
    found = {}
    for row in survey.frame("results").itertuples():
        assert row.unit == "ng"
        mass = None if pd.isna(row.value) else int(row.value)
        assert row.detected == ("no" if mass is None else "yes")
        found[row.lab_sample_id, names[row.analyte_id]] = raw.Amount(mass, int(row.rl), row.lab_qualifier)
    return found


def test_every_result_is_that_of_the_laboratory(first: Files, again: Files) -> None:
    """Masses, limits, non-detects and qualifiers of all samples and the method blank are what the raw file holds."""
    assert results(folder_of(first)) == raw.amounts()
    assert results(folder_of(again)) == raw.amounts_again()


def test_samples_lead_to_their_samplers_and_the_control_is_no_result(again: Files) -> None:
    """Serials got their zeros back; kinds are right; the control's cells are recoveries with their limits."""
    survey = load(folder_of(again))
    samples = survey.frame("lab_samples").set_index("lab_sample_id")
    expected = {raw.lab_id(serial): serial for serial in raw.ANALYSED} | {raw.METHOD_BLANK: "", raw.CONTROL: ""}
    assert samples["sampler_id"].to_dict() == expected
    kinds = {raw.lab_id(raw.TRIP_BLANK): "trip_blank", raw.METHOD_BLANK: "method_blank", raw.CONTROL: "control"}
    assert samples["type"].to_dict() == dict.fromkeys(expected, "sample") | kinds
    assert set(survey.frame("lab_samples")["_row"]) == {NAMED_IN}
    qc = survey.frame("lab_qc")
    told = set(qc[["lab_sample_id", "qc_type", "value", "unit", "lower", "upper"]].itertuples(index=False, name=None))
    assert (told, len(qc)) == ({(raw.CONTROL, "control", 96.0, "%", 70.0, 130.0)}, len(raw.NAMES))


def cells_of(content: bytes) -> int:
    """Count the filled cells below the header of a CSV."""
    return sum(bool(cell) for row in list(csv.reader(io.StringIO(content.decode())))[1:] for cell in row)


def lines_changed(old: bytes, new: bytes) -> int:
    """Count the lines of a text that its earlier state lacks, blank ones aside."""
    before = old.decode().splitlines()
    return sum(bool(line.strip()) and line not in before for line in new.decode().splitlines())


def typed(files: Files) -> dict[str, int]:
    """Count what a person typed, by where: cells of data rows, lines of settings, lines of the mapping.

    Not counted is what the instruments, the logger and the laboratory wrote, nor the narrative. The crew's log is.
    """
    log = load(folder_of(files)).tables["deployments"].received
    counts = {path: cells_of(as_csv(rows)) for path, rows in TYPED.items()}
    counts[LOG] = sum(bool(cell) for cells in log.values() for cell in cells)
    counts[SETTINGS_FILE] = lines_changed((TEMPLATE / SETTINGS_FILE).read_bytes(), files[SETTINGS_FILE])
    after_drafting = begun()
    corrected(after_drafting, ROUNDS[0])
    counts[MAPPING] = lines_changed(after_drafting[MAPPING], files[MAPPING])
    return counts


RESTATED = 6
"""Cells of a custody event that restates another table: id, kind and id of its subject, event, time, role."""


def typed_in_full(files: Files) -> dict[str, int]:
    """Count the filled cells of all tables as they are read: so many a person would type in the template's tables.

    With them go the custody events that ``[derive] custody`` leaves out: placing and retrieval, sealing of the bag.
    """
    survey = load(folder_of(files))
    counts = {}
    for name, table in survey.tables.items():
        if name not in NOT_TYPED_BEFORE:
            columns = [column for column in table.spec.column_names if column in table.frame]
            counts[name] = sum(
                not pd.isna(value) and value != "" for column in columns for value in table.frame[column]
            )
    placed, bags = survey.tables["deployments"].frame, survey.tables["return_bags"].frame
    return counts | {"custody restated": RESTATED * (2 * len(placed) + len(bags))}


def test_a_quarter_of_the_cells_are_typed(again: Files) -> None:
    """What a person types, the re-issue with it, is at most a quarter of what such a survey took."""
    before, after = typed_in_full(again), typed(again)
    sys.stdout.write(f"\nin full {sum(before.values())}: {before}\ntyped {sum(after.values())}: {after}\n")
    assert sum(after.values()) <= IN_TYPING / 4
    assert sum(after.values()) <= sum(before.values()) / 4


@pytest.mark.long
def test_the_commands_lead_from_raw_files_to_a_report(tmp_path: Path) -> None:
    """``new``, ``check``, ``draft-mapping`` and ``build`` on disk give the report, which tells the re-issue."""
    folder = tmp_path / "mill_race"
    assert CliRunner().invoke(app, ["new", str(folder)]).exit_code == 0
    write(folder_of({path: content for path, content in begun().items() if path != SETTINGS_FILE}), folder)
    (folder / SETTINGS_FILE).write_bytes(settings((folder / SETTINGS_FILE).read_bytes()))
    for corrections in (*ROUNDS, *ROUNDS_AGAIN):
        if corrections is ROUNDS_AGAIN[0]:
            (folder / LAB_AGAIN).write_bytes(raw.lab_workbook(again=True))
        _round(folder, corrections)
    done = CliRunner().invoke(app, ["build", str(folder), "--out", str(tmp_path / "report")])
    assert done.exit_code == 0, done.output
    site = {name: _plain(tmp_path / f"report/site/{name}.html") for name in PAGES}
    page = site["mapping"]
    assert "records/K5117.xlsx" in page
    for value in ("4865", "6150", "963", "1104", "24"):
        assert value in page

    _files_are_called_what_they_are(site)


PAGES = ("mapping", "custody", "sources", "index", "locations/SG-09")


def _plain(page: Path) -> str:
    """Return a page without the breaks that its long names may have."""
    return page.read_text("utf-8").replace("<wbr>", "")


def _files_are_called_what_they_are(site: dict[str, str]) -> None:
    """Pages name the files that rows came from, each once, and not tables of the template that hold nothing."""
    assert ">lab/results.csv<" not in site["custody"]
    assert f">{LAB_AGAIN}</td>" in site["custody"]
    assert "Defaults and derived values, field/deployments.xlsx" in site["locations/SG-09"]
    assert f"{LAB_AGAIN}, {LAB_AGAIN}" not in site["sources"]
    for name in ("results", "lab_samples", "analytes", "lab_qc"):
        assert f"{LAB_AGAIN} ({name})" in site["sources"]
    assert "is selected for mapping (column map of the list of compounds)" in site["index"]


def _round(folder: Path, corrections: tuple[Correction, ...]) -> None:
    """Check a folder on disk by the command, and correct it."""
    told = CliRunner().invoke(app, ["check", str(folder), "--all"], env={"COLUMNS": "2000"})
    for one in corrections:
        assert one.code in told.output, told.output
        if one.code == "lab-table-unread":
            assert CliRunner().invoke(app, ["draft-mapping", str(folder), LAB]).exit_code == 0
    files = {path: file.content for path, file in read_folder(folder).files.items()}
    kept = dict(files)
    for one in corrections:
        one.change(files)
    for path in kept.keys() - files.keys():
        (folder / path).unlink()
    write(folder_of({path: content for path, content in files.items() if kept.get(path) != content}), folder)


def test_a_mapping_drafted_too_early_says_what_it_does_not_know() -> None:
    """While the crew's log is not read, samplers have no kind: each is a guess, and the trip blank is known."""
    folder = folder_of(begun())
    (draft,) = draft_mappings(folder, LAB, known_of(folder)).drafts
    words = {entry.key: (entry.value, entry.sure) for entry in draft.entries if entry.table == "lab_samples.words"}
    assert words[raw.lab_id(raw.TRIP_BLANK)] == ("trip_blank", LIKELY)
    assert {words[raw.lab_id(serial)] for serial in raw.PRIMARIES} == {("sample", GUESS)}


@pytest.mark.parametrize("line", ["", "Recoveries of controls: see the annex.", "Humidity in %: 40-60"])
def test_recoveries_that_no_line_speaks_of_are_not_guessed(line: str) -> None:
    """Without its last line the file does not say what the control's cells are: a remark asks, nothing is mapped."""
    book = load_workbook(io.BytesIO(raw.lab_workbook()))
    book["Results"]["A22"] = line or None
    buffer = io.BytesIO()
    book.save(buffer)
    folder = folder_of(begun() | {LAB: buffer.getvalue()})
    (draft,) = draft_mappings(folder, LAB, known_of(folder)).drafts
    assert [entry.sure for entry in draft.entries if entry.table == "crosstab.qc"] == [LEFT]
    assert not [entry for entry in draft.entries if entry.table == "lab_qc.constants"]


def test_a_token_of_a_compound_asks_for_the_compounds_while_there_are_none() -> None:
    """The first check has read no laboratory's file yet: the token is not called wrong."""
    (finding, *_) = [one for one in survey_findings(folder_of(begun())) if one.code == "token-unknown"]
    assert finding.do == "list the compounds in lab/analytes.csv, or map the laboratory's file; then check again"
