"""Two laboratory files, or two sheets of one, with the same row numbers: no row is taken for another's."""

from __future__ import annotations

from collections import Counter
from functools import cache

import pytest
from in_memory import example, example_with
from two_parts import line_at, two_parts

from sitegen.checks.run import check_evaluation, check_survey
from sitegen.compute.evaluate import Evaluation, evaluate
from sitegen.compute.quality.blanks import BlankHit
from sitegen.compute.results.store import stored_results
from sitegen.findings.problems import Finding, in_order
from sitegen.project.load import load_folder
from sitegen.project.schema import Origin
from sitegen.project.tables import LabControl
from sitegen.render.proof.pages import store_differences
from sitegen.report.assemble import assemble, draft
from sitegen.report.record.pages import ExportTable, Facts, Page, Ref, Report
from sitegen.report.trace.printed import tables_in

both = pytest.mark.parametrize(
    "sheets", [False, pytest.param(True, marks=pytest.mark.long)], ids=["two files", "two sheets"]
)


@cache
def evaluated(*, sheets: bool | None) -> Evaluation:
    """Return the example's evaluation; ``sheets`` None leaves its results in results.csv."""
    survey, _ = load_folder(example() if sheets is None else example_with(two_parts(sheets=sheets)))
    assert survey is not None
    return evaluate(survey)


@cache
def findings(*, sheets: bool | None) -> tuple[Finding, ...]:
    ev = evaluated(sheets=sheets)
    return tuple(in_order([*check_survey(ev.survey), *check_evaluation(ev.survey, ev)]))


@cache
def report(*, sheets: bool) -> Report:
    ev = evaluated(sheets=sheets)
    return assemble(draft(ev.survey, ev, findings(sheets=sheets)))


def page(made: Report, name: str) -> Page:
    return next(page for page in made.pages if page.ref == Ref("source", name))


def export(made: Report, name: str) -> ExportTable:
    return next(table for table in made.exports if table.name == name)


def line(ev: Evaluation, origin: Origin) -> dict[str, str]:
    """Return what the laboratory's file has where a row stands."""
    return dict(line_at(ev.survey.folder.content(origin.file) or b"", origin.sheet, origin.row))


def said(hit: BlankHit) -> tuple[str, str, str, str, str, tuple[tuple[str, str], ...]]:
    return hit.kind, hit.lab_sample_id, hit.group, hit.analyte_id, hit.text, tuple(sorted(hit.touched))


@both
def test_row_numbers_repeat_and_every_blank_keeps_its_own_bag(sheets: bool) -> None:
    """A trip blank of RB-2 stands in one part, that of RB-1 in the other; each leads to a line of its own sample."""
    ev = evaluated(sheets=sheets)
    rows = Counter(row.origin.row for row in stored_results(ev.store))
    assert sum(count == 2 for count in rows.values()) > 600
    assert sorted(map(said, ev.blank_hits)) == sorted(map(said, evaluated(sheets=None).blank_hits))
    parts = {(hit.origin.file, hit.origin.sheet): hit.group for hit in ev.blank_hits if hit.kind == "trip_blank"}
    assert sorted(parts.values()) == ["RB-1", "RB-2"]
    for hit in ev.blank_hits:
        found = line(ev, hit.origin)
        assert (found["lab_sample_id"], found["analyte_id"]) == (hit.lab_sample_id, hit.analyte_id)


@both
def test_what_is_found_is_what_one_file_gives_and_stands_where_it_is_said(sheets: bool) -> None:
    """The same findings with the same numbers touched; one about a laboratory sample leads to a line of that sample."""

    def told(found: tuple[Finding, ...]) -> set[tuple[object, ...]]:
        return {(f.code, f.subject, f.found, frozenset(f.touches)) for f in found}

    ev = evaluated(sheets=sheets)
    assert told(findings(sheets=sheets)) == told(findings(sheets=None))
    placed = [f for f in findings(sheets=sheets) if f.subject_kind in ("result", "blank") and f.where.row]
    assert len(placed) > 4
    for finding in placed:
        sheet, _, _ = (finding.where.column or "").rpartition("!")
        found = line(ev, Origin(finding.where.file, finding.where.row or 0, sheet))
        assert finding.subject.startswith(found["lab_sample_id"])


@both
def test_a_table_to_download_says_whose_row_it_means(sheets: bool) -> None:
    """Blanks and quality control name file, row and column, as results do: the row alone is that of two samples."""
    ev, made = evaluated(sheets=sheets), report(sheets=sheets)
    for name in ("results", "blanks", "quality_control"):
        table = export(made, name)
        at = [table.at(field) for field in ("lab_sample_id", "source_file", "source_row", "source_column")]
        places = [tuple(row[number] for number in at) for row in table.rows]
        assert len({place[1:] for place in places}) == len(places) > 0
        for sample, file, row, column in places[:40]:
            assert line(ev, Origin(file, row, column.rpartition("!")[0]))["lab_sample_id"] == sample


@both
def test_a_printed_result_is_compared_with_its_own_row(sheets: bool) -> None:
    """What is read back tells a cell that is not the store's; rows of two parts with one number are no difference."""
    assert list(store_differences(report(sheets=sheets))) == []


@both
def test_a_sample_shows_its_own_rows_as_received(sheets: bool) -> None:
    """Each row of a sample's page holds that sample's name."""
    ev, made = evaluated(sheets=sheets), report(sheets=sheets)
    for hit in ev.blank_hits:
        (table,) = tables_in(page(made, hit.lab_sample_id).blocks)
        texts = [row[2].text for row in table.rows]
        assert len(texts) == len(ev.compounds)
        assert all(f",{hit.lab_sample_id}," in text for text in texts)


@both
def test_a_page_of_rows_names_each_part_with_its_mapping_and_its_sheet(sheets: bool) -> None:
    """A file of the folder's own columns has neither."""
    pages = (page for page in report(sheets=sheets).pages if page.ref.kind == "source")
    facts = [dict(block.rows) for page in pages for block in page.blocks if isinstance(block, Facts)]
    told = {(one["File"].text, one["Mapping step"].text.partition(":")[0]) for one in facts}
    names = ("first", "second")
    parts = {
        ("lab/both.xlsx" if sheets else f"lab/{n}.csv", f"lab/{n}.map.toml{f', sheet {n}' * sheets}") for n in names
    }
    assert {one for one in told if one[1] != "none"} == parts


@both
def test_quality_control_from_two_parts_is_listed_by_file(sheets: bool) -> None:
    """The page of lab_qc names what it lists: no file of ours is said to be there, and no two rows have one name."""
    ev, made = evaluated(sheets=sheets), report(sheets=sheets)
    listed = page(made, "file-lab_qc")
    (table,) = tables_in(listed.blocks)
    places = [row[0].text for row in table.rows]
    assert len(set(places)) == len(places) == len(ev.survey.rows(LabControl))
    assert "lab_qc.csv" not in listed.lead
    for row, text in zip(ev.survey.rows(LabControl), (row[1].text for row in table.rows), strict=True):
        assert f",{row.lab_sample_id}," in text
