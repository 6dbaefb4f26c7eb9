"""Pages of a field blank, a replaced sampler, a duplicate in air above a level, and samplers still in place."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache

import builders
import pytest
from builders import Change, cells, setting, without_rows
from situations import AIR_DUPLICATE, BLANK, LOST, REPLACEMENT, air_duplicate, field_blank, in_the_ground, replacement

from sitegen.checks.run import check_evaluation, check_survey
from sitegen.compute.evaluate import evaluate
from sitegen.findings.problems import in_order
from sitegen.report.assemble import assemble, draft
from sitegen.report.record.pages import Block, Callout, Page, Ref, Report, Section, Table

EVERY = (*field_blank(toluene="40"), *replacement(pce="900"), *air_duplicate(pce="3000"))


@cache
def made(*changes: Change) -> Report:
    survey = builders.load(builders.changed(*changes))
    evaluation = evaluate(survey)
    findings = in_order([*check_survey(survey), *check_evaluation(survey, evaluation)])
    return assemble(draft(survey, evaluation, findings))


def inside(blocks: tuple[Block, ...]) -> Iterator[Block]:
    for block in blocks:
        yield block
        if isinstance(block, Section):
            yield from inside(block.blocks)


def page(report: Report, kind: str, name: str) -> Page:
    return next(page for page in report.pages if page.ref == Ref(kind, name))


def table(page: Page, name: str) -> list[dict[str, str]]:
    """Return the rows of a table of a page by the titles of its columns."""
    (found,) = [block for block in inside(page.blocks) if isinstance(block, Table) and block.id == name]
    return [{column.title: cell.text for column, cell in zip(found.columns, row, strict=True)} for row in found.rows]


def export(report: Report, name: str) -> list[dict[str, object]]:
    (found,) = [one for one in report.exports if one.name == name]
    return [dict(zip([field.name for field in found.fields], row, strict=True)) for row in found.rows]


def test_a_point_with_a_replaced_sampler_says_which_represents_it() -> None:
    """SG-21: the lost one first, then the one that took its place, with the results of the second."""
    here = page(made(*EVERY), "location", "SG-21")
    rows = table(here, "samplers-SG-21")
    assert [(row["Sampler"], row["Role"], row["State"]) for row in rows] == [
        (LOST, f"primary, replaced by {REPLACEMENT}", "sampler lost"),
        (REPLACEMENT, f"primary, replaces {LOST}; represents the point in summaries and on maps", "retrieved"),
    ]
    assert [row["Compounds detected"] for row in rows] == ["no results on record", "1 of 22"]
    assert here.lead.endswith("1 of 22 compounds was detected over 9.2 days; the highest is Tetrachloroethene, "
                              "900 ng per sampler.")  # fmt: skip


def test_a_point_with_one_sampler_has_no_table_of_samplers() -> None:
    """Nothing is said of several where there is one."""
    here = page(made(*EVERY), "location", "SG-01")
    assert not [b for b in inside(here.blocks) if isinstance(b, Table) and b.id.startswith("samplers-")]


def test_a_field_blank_is_told_where_it_was_opened_and_what_it_applies_to() -> None:
    """SG-28 lists it beside its own sampler; the quality page says its bag, and that 1 of 22 was detected."""
    report = made(*EVERY)
    rows = table(page(report, "location", "SG-28"), "samplers-SG-28")
    assert [(row["Sampler"], row["Role"], row["Exposure"]) for row in rows][1] == (BLANK, "field blank", "–")
    blanks = table(page(report, "page", "quality"), "blanks-analysed")
    (mine,) = [row for row in blanks if row["Blank"] == "Field blank"]
    assert (mine["Sample"], mine["Opened at"], mine["Applies to"]) == ("FB-1", "SG-28", "bag RB-1")
    assert mine["Compounds detected"] == "1 of 22"
    assert "samplers-SG-28" in {block.id for block in inside(page(report, "location", "SG-28").blocks)
                                if isinstance(block, Table)}  # fmt: skip


def test_the_placements_name_each_role() -> None:
    """The log of the field work tells primary, duplicate and field blank apart."""
    rows = table(page(made(*EVERY), "page", "field"), "placements")
    roles = {row["Sampler"]: row["Role"] for row in rows}
    assert (roles[BLANK], roles[AIR_DUPLICATE], roles[REPLACEMENT]) == ("field blank", "duplicate", "primary")


def test_a_duplicate_above_a_level_is_in_the_first_box_with_its_primary() -> None:
    """3,000 ng beside 118 ng at IA-02: the box tells 200 µg/m³ by the duplicate, and the primary's 7.7."""
    report = made(*EVERY)
    people = next(b for b in page(report, "page", "start").blocks if isinstance(b, Section) and b.id == "people")
    first = people.blocks[0]
    assert isinstance(first, Callout)
    said = first.markdown.replace("\\", "")
    assert re.search(r"IA-02: 200 µg/m³ \(other samplers there: 7\.7\) against", said)
    rows = table(page(report, "page", "air"), "screening")
    mine = [
        row for row in rows if row["Sampler"] == f"{AIR_DUPLICATE} (duplicate)" and row["Compound"].startswith("Tet")
    ]
    assert [(row["Land use"], row["Comparison"]) for row in mine] == [("residential", "above"), ("commercial", "above")]
    results = table(page(report, "location", "IA-02"), f"results-IA-02-{AIR_DUPLICATE}")
    assert len(results) == 22


def test_the_exports_say_which_sampler_stands_and_in_which_role() -> None:
    """results.csv and air.csv carry the role; of IA-02's two samplers one stands for the point."""
    report = made(*EVERY)
    rows = {(str(r["sampler_id"]), r["role"], r["stands_for_point"]) for r in export(report, "results")}
    assert {(LOST, "primary", False)} & rows == set()
    assert {
        (REPLACEMENT, "primary", True), (AIR_DUPLICATE, "duplicate", False), (BLANK, "field_blank", False),
    } <= rows  # fmt: skip
    air = {(str(r["sampler_id"]), r["role"]) for r in export(report, "air")}
    assert (AIR_DUPLICATE, "duplicate") in air


def test_samplers_in_the_ground_are_in_place_and_not_lost() -> None:
    """On 30 October every sampler is in place but the one pulled on 28 October: one finding says so, none says lost."""
    placed = [
        row["sampler_id"] for row in builders.rows_of((builders.EXAMPLE / "field/deployments.csv").read_bytes())[1]
    ]
    early = setting("report_date = 2025-12-12", "report_date = 2025-10-30")
    back = in_the_ground(*(name for name in placed if name not in ("0047105", LOST)))
    found_again = cells("field/deployments.csv", LOST, condition="")
    outcome = cells("field/samplers.csv", LOST, outcome="")
    gone = without_rows("lab/results.csv", lambda _: True), without_rows("lab/lab_samples.csv", lambda _: True)
    survey = builders.load(builders.changed(back, found_again, outcome, early, *gone))
    evaluation = evaluate(survey)
    codes = [f.code for f in check_evaluation(survey, evaluation)]
    assert codes.count("samplers-in-place") == 1
    assert "sampler-lost" not in codes
    report = assemble(draft(survey, evaluation, ()))
    assert page(report, "location", "SG-01").lead.endswith(
        "and is in place; the planned exposure ends by 7 November 2025."
    )
    states = {row["Point"]: row["State"] for row in table(page(report, "page", "locations"), "locations")}
    assert states["SG-01"] == "in place"
    assert states["SG-07"] == "not installed"
    assert states["SG-30"] == "retrieved"


@pytest.mark.parametrize("name", ["start", "quality", "methods"])
def test_no_sentence_counts_a_pair_without_results(name: str) -> None:
    """One duplicate was never analysed: two pairs are counted, and the table says why the third is not compared."""
    survey = builders.load(builders.changed())
    samples = survey.frame("lab_samples")
    lab_sample = samples.loc[samples["sampler_id"] == "0047108", "lab_sample_id"].iloc[0]
    report = made(without_rows("lab/results.csv", lambda row: row["lab_sample_id"] == lab_sample))
    texts = [page(report, "page", name).lead]
    texts += [b.markdown for b in inside(page(report, "page", name).blocks) if hasattr(b, "markdown")]
    assert not [text for text in texts if "of 3 duplicate" in text]
    if name == "quality":
        rows = table(page(report, "page", name), "pairs")
        (mine,) = [row for row in rows if row["Duplicate"] == "0047108"]
        assert mine["Compounds that differ"] == "not compared: one of the two has no results on record"
