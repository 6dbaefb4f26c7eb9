"""Revisions compared by key: what was planted is found, and nothing else is."""

from __future__ import annotations

import zipfile
from dataclasses import replace
from functools import cache
from hashlib import sha256
from pathlib import Path

import pytest
from builders import (
    Change,
    Row,
    cell,
    cells,
    changed,
    column_renamed,
    content,
    every,
    example,
    load,
    removed,
    row_added,
    sentence,
    setting,
    settings_added,
    survey_findings,
    table,
    text,
    without,
    write,
)
from longcases import mostly_long

from sitegen.checking import check, compare
from sitegen.checks.changes import about_the_survey
from sitegen.compute.evaluate import evaluate
from sitegen.compute.evidence.difference import Change as Told
from sitegen.compute.evidence.difference import Difference, Revision, difference
from sitegen.findings.problems import WrongUse
from sitegen.project.folder import Folder
from sitegen.project.tables import TABLES, CustodyEvent, Result
from sitegen.report.evidence.changefiles import reader_of
from sitegen.report.evidence.changes import changes_page
from sitegen.report.evidence.changetables import extent
from sitegen.report.evidence.changewords import sentences
from sitegen.report.trace.printed import tables_in
from sitegen.report.write.context import Context

RESULTS = "lab/results.csv"
LOCATIONS = "locations/locations.csv"
PLANTED = (
    cells(RESULTS, "04417-005+pce", result_text="8.0", value="8.0"),
    cell(LOCATIONS, "SG-05", "easting", "470098.33"),
    sentence("setting", "The yard was swept before the survey."),
)
AS_A_NEW_REVISION = (
    setting("revision = 1", 'revision = 2\nprevious = "../first"'),
    setting("report_date = 2025-12-12", "report_date = 2026-01-09"),
)


def revision(folder: Folder, tool: str = "sitegen 1") -> Revision:
    survey = load(folder)
    return Revision(survey, evaluate(survey), about_the_survey(survey_findings(folder)), tool)


@cache
def first() -> Revision:
    return revision(example())


def changes(*made: Change) -> Difference:
    return difference(first(), revision(changed(*made)))


def test_three_planted_changes_give_exactly_three() -> None:
    """A value, a position and a sentence are found with old, new, factor and distance."""
    found = changes(*PLANTED, *AS_A_NEW_REVISION)
    assert [change.kind for change in found.changes] == ["value", "moved", "text"]
    value, moved, words = found.changes
    assert (value.key, value.old, value.new) == ("results:04417-005+pce", "7.0", "8.0")
    assert value.factor == pytest.approx(8 / 7)
    assert (value.location_id, moved.location_id) == ("SG-31", "SG-05")
    assert moved.moved_m == pytest.approx(0.23, abs=1e-6)
    assert ("added", "The yard was swept before the survey.") in words.words
    assert (found.opened, found.closed) == ((), ())
    assert found.in_summary == 0
    assert sentences(found, reader_of(first().survey))[0] == (
        "One result changed: Tetrachloroethene at SG-31, from 7.0 (J) to 8.0 ng per sampler (J), in lab/results.csv. "
        "No reason is on record."
    )
    assert [extent(change) for change in found.changes] == ["× 1.1", "0.23 m", "–"]


def test_a_small_change_is_no_factor_of_one() -> None:
    """A factor near one keeps the digits that tell it from one."""
    row = Told("value", "results:a+b", "lab/results.csv", "a", "value", "50,000", "50,001", factor=50_001 / 50_000)
    assert extent(row) == "× 1.00002"
    assert extent(replace(row, factor=870 / 856)) == "× 1.016"
    assert [extent(replace(row, factor=factor)) for factor in (0.5, 12_345.6, 1e6, 1e-6)] == [
        "× 0.50", "× 12,300", "× 1,000,000", "× 0.0000010",
    ]  # fmt: skip


def shuffled(path: str) -> Change:
    """Return a change that puts the rows of a file into another order, first to last and every third first."""
    return table(path, lambda rows: [row for start in (2, 0, 1) for row in rows[::-1][start::3]])


def with_crlf(path: str) -> Change:
    return Change(path, lambda old: old.replace(b"\r\n", b"\n").replace(b"\n", b"\r\n"))


NEUTRAL = {
    "rows in another order": tuple(shuffled(spec.path) for spec in TABLES if spec.path in example().files),
    "CRLF line ends": tuple(
        with_crlf(path) for path in example().files if path.endswith((".csv", ".md", ".toml")) and "private" not in path
    ),
    "a column beside the format, renamed": (
        cell(LOCATIONS, "SG-05", "x_note", "stone"), column_renamed(LOCATIONS, "x_note", "x_remark")),
    "another way to write a number": (cell(RESULTS, "04417-005+pce", "value", "7.00"),),
    "the number, date and status of the revision": AS_A_NEW_REVISION,
    "what the review writes": (cell("review/comments.csv", "C-3", "state", "accepted"),),
}  # fmt: skip


@pytest.mark.parametrize("name", mostly_long(NEUTRAL, 3))
def test_another_way_to_write_the_same_is_no_change(name: str) -> None:
    """Order of rows, line ends, columns beside the format and number formats change nothing, nor open a finding."""
    found = changes(*NEUTRAL[name])
    assert (found.changes, found.opened) == ((), ())


@pytest.mark.parametrize("seed", mostly_long(range(3), 3))
def test_no_order_of_rows_opens_or_closes_a_finding(seed: int) -> None:
    """Two events of one minute are told by what they are, not by which row comes first."""

    def shuffled_by(rows: list[Row]) -> list[Row]:
        return sorted(rows, key=lambda row: sha256(f"{seed}{row}".encode()).digest())

    found = changes(*(table(spec.path, shuffled_by) for spec in TABLES if spec.path in example().files))
    assert (found.changes, found.opened, found.closed) == ((), (), ())


def delivered(heading: str) -> tuple[Change, ...]:
    """Return changes that give the results as a laboratory's own file, in which ``heading`` heads the results."""
    head, _, rest = example().files[RESULTS].content.decode().partition("\n")
    theirs = {ours: heading if ours == "result_text" else f"Their {ours}" for ours in head.strip().split(",")}
    columns = "\n".join(f'{ours} = "{name}"' for ours, name in theirs.items())
    mapping = f'[source]\nfile = "lab/report.csv"\nlayout = "long"\n[columns]\n{columns}\n'
    mapping += '[units]\nng = 1\n[nondetect]\ntokens = ["ND"]\nless_than_prefix = "<"\n'
    report = ",".join(theirs.values()) + "\n" + rest
    return (
        removed(RESULTS),
        content("lab/report.csv", report.encode()),
        content("lab/report.map.toml", mapping.encode()),
    )


def test_a_renamed_column_of_a_laboratory_is_no_change() -> None:
    """The laboratory heads its results otherwise, the mapping follows: no value changes, one that did is found."""
    old = revision(changed(*delivered("Result")))
    assert len(old.survey.rows(Result)) == len(first().survey.rows(Result))
    assert not [f for f in survey_findings(changed(*delivered("Result"))) if f.severity.value == "stop"]
    assert difference(old, revision(changed(*delivered("Reported amount")))).changes == ()
    again = Change("lab/report.csv", lambda old: old.replace(b"04417-005,pce,7.0,7.0", b"04417-005,pce,8.0,8.0"))
    found = difference(old, revision(changed(*delivered("Reported amount"), again)))
    assert [(change.kind, change.key) for change in found.changes] == [("value", "results:04417-005+pce")]


KINDS = {
    "detection": cells(RESULTS, "04417-005+pce", result_text="ND", value="", detected="no", lab_qualifier="U"),
    "qualifier": cell(RESULTS, "04417-005+pce", "validation_qualifier", "J+"),
    "limit": cell(RESULTS, "04417-005+pce", "rl", "12"),
    "added": row_added("field/deviations.csv", deviation_id="DV-9", date="2025-11-06", what="x", why="y"),
    "removed": without("field/weather.csv", "2025-10-23T00:00"),
    "cell": cell("field/deployments.csv", "0047102", "soil_type", "sand"),
    "setting": setting("duplicate_rate = 0.05", "duplicate_rate = 0.1"),
    "text": text("text/conclusions.md", "most likely source", "likely source"),
    "feature": text("locations/features.geojson", '"Workshop", "public": "yes"', '"Workshop", "public": "no"'),
    "file": content("records/receipt_1.txt", b"other"),
}  # fmt: skip


@pytest.mark.parametrize("kind", mostly_long(KINDS, 3))
def test_each_kind_of_change_is_told_as_such(kind: str) -> None:
    """One change of a kind gives one change, of that kind."""
    assert [change.kind for change in changes(KINDS[kind]).changes] == [kind]


def test_a_default_that_changed_is_a_change_of_the_setting_and_of_the_cells_that_it_fills() -> None:
    """A default of some rows is told by its own name, in plain words."""
    blank = every("field/deployments.csv", lambda row: {"closure": "" if row["closure"] == "foil_and_soil" else "NA"})

    def stated(closure: str) -> Folder:
        rows = f'[[defaults.deployments.where]]\nplaced_by = "FS-1"\nset = {{ closure = "{closure}" }}'
        return changed(blank, settings_added(rows))

    found = difference(revision(stated("cap")), revision(stated("other"))).changes
    (one,) = [change for change in found if change.kind == "setting"]
    assert (one.subject, one.old, one.new) == (
        "defaults.deployments.where.1.set.closure",
        "cap",
        "other",
    )
    cells_ = [change for change in found if change.kind == "cell"]
    assert len(cells_) > 1
    assert {(change.column, change.old, change.new) for change in cells_} == {("closure", "cap", "other")}


def test_a_value_says_of_detection_what_no_word_says() -> None:
    """Without the laboratory's word a value is a detection and its absence none, in either revision."""
    unsaid = cells(RESULTS, "04417-005+pce", detected="")
    missed = cells(RESULTS, "04417-005+pce", result_text="ND", value="", detected="", lab_qualifier="U")
    before, after = revision(changed(unsaid)), revision(changed(missed))
    assert [change.kind for change in difference(before, after).changes] == ["detection"]
    assert [change.kind for change in difference(after, before).changes] == ["detection"]
    assert difference(first(), before).values == ()


def test_a_row_of_one_revision_alone_is_told_with_its_filled_columns() -> None:
    """What the row says, column by column in the order of the format, blank cells left out."""
    (added,) = changes(KINDS["added"]).changes
    assert (added.new, added.old) == ("deviation_id DV-9; date 2025-11-06; what x; why y", "")
    (gone,) = changes(KINDS["removed"]).changes
    assert gone.new == ""
    assert gone.old.startswith("at 2025-10-23T00:00; rain_mm ")


def test_a_change_of_the_highest_value_is_one_of_the_summary() -> None:
    """The highest detection of a mapped compound is printed in the summary, so the headline counts it."""
    rows = first().evaluation.primary
    rows = rows[(rows["analyte_id"] == "pce") & rows["detected"]]
    top = rows.loc[rows["value"].idxmax()]
    key = f"{top['lab_sample_id']}+pce"
    found = changes(cells(RESULTS, key, result_text="50001", value="50001"))
    assert found.in_summary == len(found.values) == 1
    assert "max.pce" in found.changed_tokens


def test_findings_that_open_or_close_are_told_apart_from_changes() -> None:
    """A broken seal read right closes its finding; one change, one closed finding."""
    found = changes(cell("field/custody.csv", seal_event(), "seal_number", "448213"))
    assert [change.kind for change in found.changes] == ["cell"]
    assert [finding.code for finding in found.closed] == ["seal-differs"]


def seal_event() -> str:
    rows = first().survey.rows(CustodyEvent)
    return next(row.event_id for row in rows if row.event == "seal_checked" and row.subject_id == "RB-1")


def test_another_tool_is_told() -> None:
    """The tool of each revision stands in the difference."""
    assert difference(first(), revision(example(), "sitegen 2")).tools == ("sitegen 1", "sitegen 2")


def test_folders_bags_and_zips_are_compared_alike(tmp_path: Path) -> None:
    """A project folder, an archive folder and a zipped archive give the same difference."""
    write(example(), tmp_path / "bag/data/project")
    (tmp_path / "bag/bag-info.txt").write_text("Bag-Software-Agent: sitegen 0.0.1\n")
    new = write(changed(*PLANTED), tmp_path / "new")
    with zipfile.ZipFile(tmp_path / "bag.zip", "w") as packed:
        for path in sorted((tmp_path / "bag").rglob("*")):
            packed.write(path, f"bag/{path.relative_to(tmp_path / 'bag')}")
    by_folder = compare(tmp_path / "bag/data/project", new)
    by_bag = compare(tmp_path / "bag", new)
    by_zip = compare(tmp_path / "bag.zip", new)
    assert by_folder.changes == by_bag.changes == by_zip.changes
    assert len(by_folder.changes) == 3
    assert by_bag.tools[0] == by_zip.tools[0] == "sitegen 0.0.1"


def test_a_place_without_a_project_is_refused(tmp_path: Path) -> None:
    """A folder and a file that hold no project are told so."""
    (tmp_path / "a.zip").write_bytes(b"no zip")
    for place in (tmp_path, tmp_path / "a.zip", tmp_path / "missing"):
        with pytest.raises(WrongUse):
            compare(place, place)


def second_revision(root: Path, *made: Change) -> Path:
    """Write the example as ``first`` and a changed one beside it, which names it; return the latter."""
    write(example(), root / "first")
    return write(changed(*PLANTED, *AS_A_NEW_REVISION, *made), root / "second")


def test_each_change_wants_a_reason_before_issue(tmp_path: Path) -> None:
    """Three changes without reasons are three holds; reasons by key, by file and by star close them."""
    folder = second_revision(tmp_path)
    keys = {f.subject for f in check(folder).findings if f.code == "change-without-reason"}
    assert keys == {"results:04417-005+pce", "locations:SG-05", "text:setting"}
    reasons = "revision,key,reason\n2,results:04417-*,laboratory corrected its report\n"
    reasons += "2,locations:SG-05,surveyed again\n2,text/setting.md,asked for by the reviewer\n"
    (folder / "review/changes.csv").write_text(reasons)
    assert not [f for f in check(folder).findings if f.code in ("change-without-reason", "revision-unexplained")]


def test_a_previous_revision_that_is_not_there_holds(tmp_path: Path) -> None:
    """A wrong way to the previous revision is one hold, and the report still builds as a draft."""
    folder = write(changed(*AS_A_NEW_REVISION), tmp_path / "second")
    checked = check(folder)
    assert [f.severity.value for f in checked.findings if f.code == "previous-unreadable"] == ["hold"]
    assert checked.difference is None
    assert not checked.stopped


def test_the_page_on_changes_lists_each_with_a_link_to_the_map(tmp_path: Path) -> None:
    """The newer report's page begins with the headline and leads to every changed point."""
    checked = check(second_revision(tmp_path))
    survey, evaluation = checked.survey, checked.evaluation
    assert survey is not None
    assert evaluation is not None
    assert checked.difference is not None
    context = Context(survey, evaluation, checked.findings)
    page = changes_page(context, checked.difference)
    assert page.lead.startswith("One result changed: Tetrachloroethene at SG-31, from 7.0 (J) to 8.0 ng per sampler")
    refs = {cell.ref for made in tables_in(page.blocks) for row in made.rows for cell in row if cell.ref}
    assert {(ref.kind, ref.id) for ref in refs} >= {("map", "SG-31"), ("map", "SG-05"), ("location", "SG-31")}


def test_removing_a_file_of_the_record_is_a_change() -> None:
    """A scan that is gone is told by its path."""
    found = changes(removed("records/receipt_1.txt"))
    assert [(c.kind, c.key) for c in found.changes] == [("removed", "file:records/receipt_1.txt")]
