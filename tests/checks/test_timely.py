"""A survey under way is asked only for what it can have on record, and told all that is wrong in what it has."""

from __future__ import annotations

from pathlib import Path

import pytest
from builders import (
    Change,
    cell,
    cells,
    changed,
    content,
    example,
    load,
    removed,
    row_added,
    rows_of,
    survey_findings,
    without_rows,
    write,
)
from stages import HALF_PLACED, HALF_RETRIEVED, ORDERED, as_of, half_placed, half_retrieved, planned
from typer.testing import CliRunner

from sitegen.checks.dispositions import issue_blockers
from sitegen.cli import app
from sitegen.findings.problems import Finding, Severity
from sitegen.project.folder import Folder
from sitegen.telling import so_far

LOCATIONS, SAMPLERS, DEPLOYMENTS = "locations/locations.csv", "field/samplers.csv", "field/deployments.csv"
CUSTODY, BAGS, RESULTS = "field/custody.csv", "field/return_bags.csv", "lab/results.csv"
ALL_BACK = "2025-11-06T23:00"
"""A moment at which no sampler is in place and nothing is at the laboratory."""


def told(folder: Folder, *severities: Severity) -> dict[str, str]:
    """Return what findings of these severities say, by key."""
    return {one.key: one.found for one in survey_findings(folder) if one.severity in severities}


def worse(folder: Folder) -> set[str]:
    """Return the keys of stops, holds and flags."""
    return set(told(folder, Severity.STOP, Severity.HOLD, Severity.FLAG))


@pytest.mark.parametrize("headers", [False, True])
def test_a_plan_is_asked_for_no_record_of_what_has_not_happened(*, headers: bool) -> None:
    """Absent and empty tables are yet to come; left are what the plan itself should say before the crew sets out."""
    assert worse(as_of(ORDERED, headers=headers)) == {
        "access-not-arranged:points", "planned-near-utility:SG-27+feature 12",
    }  # fmt: skip


def test_what_is_yet_to_come_is_told_in_one_note() -> None:
    """Once, by name, tables and sections; each is out of it as soon as it is there."""
    (one,) = [text for key, text in told(planned(), Severity.NOTE).items() if key.startswith("tables-to-come")]
    assert one == (
        "no rows yet: field/samplers.csv, field/deployments.csv, field/return_bags.csv, field/shipments.csv, "
        "field/custody.csv, field/deviations.csv, field/weather.csv, lab/lab_samples.csv, lab/results.csv, "
        "lab/lab_qc.csv; not written yet: text/summary.md, text/interpretation.md, text/conclusions.md, "
        "text/recommendations.md, text/limitations.md"
    )
    (one,) = [text for key, text in told(half_placed(), Severity.NOTE).items() if key.startswith("tables-to-come")]
    assert one.startswith("no rows yet: field/return_bags.csv, lab/lab_samples.csv")
    assert not any(key.startswith("tables-to-come") for key in told(as_of(ALL_BACK), Severity.NOTE))


def test_after_a_day_of_placing_what_happened_is_told_and_nothing_else() -> None:
    """Hand-overs that nobody wrote down and a point that was moved did happen."""
    assert worse(half_placed()) == {"holder-changed:SH-O1+FS-1+FS-2", "point-moved:SG-27"}


def test_on_a_day_of_retrieving_what_happened_is_told_and_nothing_else() -> None:
    """No result, no receipt and no bag is asked for while thirty samplers are in place."""
    assert {key.partition(":")[0] for key in worse(half_retrieved())} == {
        "cap-damaged", "deviation-unrecorded", "exposure-out-of-plan", "holder-changed", "hole-temporary",
        "personal-data", "point-moved",
    }  # fmt: skip


def test_samplers_in_place_are_told_with_their_days_in_a_note() -> None:
    """Since when, and until when: 14 days after the first and the last placing of those in place."""
    (one,) = [f for f in survey_findings(half_retrieved()) if f.code == "samplers-in-place"]
    assert one.severity is Severity.NOTE
    assert one.found.startswith("30 samplers still deployed on the report date, since 24 October 2025: ")
    assert one.expected == "retrieval by 7 November 2025, the end of the planned exposure"
    (one,) = [f for f in survey_findings(as_of("2025-10-25T12:00")) if f.code == "samplers-in-place"]
    days = "6 November 2025, the last by 7 November 2025"
    assert one.expected == f"retrieval by {days}, the end of the planned exposure"


def test_a_sampler_that_came_back_is_in_a_bag_while_others_are_in_place() -> None:
    """The crew can still say which; a blank that is open has none yet."""
    back = next(row["sampler_id"] for row in rows_of(half_retrieved().files[DEPLOYMENTS].content)[1] if row["bag_id"])
    unbagged = half_retrieved(cell(DEPLOYMENTS, back, "bag_id", ""))
    assert [one.subject for one in of_code("sampler-in-no-bag", unbagged)] == [back]
    blank = row_added(DEPLOYMENTS, sampler_id="0047160", location_id="SG-50", placed_at="2025-10-24T10:00")
    assert not of_code("sampler-in-no-bag", half_retrieved(blank, cell(SAMPLERS, "0047160", "kind", "field_blank")))


def test_a_sampler_that_is_overdue_is_asked_for_in_the_field_too() -> None:
    """The report is of 8 November, its exposure ended on the 7th at the latest: 30 retrievals are missing."""
    late = Change("project.toml", lambda old: old.replace(b"report_date = 2025-11-05", b"report_date = 2025-11-08"))
    assert sum(f.code == "retrieval-missing" for f in survey_findings(half_retrieved(late))) == 30


@pytest.mark.parametrize(
    ("change", "key"),
    [
        (row_added(SAMPLERS, sampler_id="0047102", kind="sample"), "duplicate-key:0047102"),
        (cell(DEPLOYMENTS, "0047103", "location_id", "SG-99"), "unknown-id:deployments+0047103+location_id"),
        (cell(DEPLOYMENTS, "0047103", "placed_at", "2025-10-20T08:00"), "placed-before-received:SH-O1+0047103"),
        (cells(DEPLOYMENTS, "0047103", retrieved_at="2025-10-22T08:00"), "retrieved-before-placed:0047103"),
        (cell(LOCATIONS, "SG-50", "status", "not_done"), "placed-though-not-done:SG-50"),
        (cell(SAMPLERS, "0047160", "outcome", "used"), "no finding"),
        (cell(SAMPLERS, "0047131", "outcome", "used"), "sampler-unaccounted:0047131"),
        (without_rows(CUSTODY, lambda _: True), "table-empty:field/custody.csv"),
        (removed(SAMPLERS), "file-missing:field/samplers.csv"),
    ],
)
def test_what_is_wrong_in_what_is_there_is_told_as_ever(change: Change, key: str) -> None:
    """Serials twice, ids that no table lists, times backwards: no stage excuses them."""
    keys = {one.key for one in survey_findings(half_placed(change))}
    assert (key in keys) or (key == "no finding" and "sampler-unaccounted:0047160" not in keys), sorted(keys)


def test_a_table_under_another_name_is_missing_and_not_yet_to_come() -> None:
    """What lies there as deployment.csv, or in a workbook of another kind, is no plan without placements."""
    misnamed = content("field/deployment.csv", half_placed().files[DEPLOYMENTS].content)
    assert "file-missing:field/deployments.csv" in told(planned(misnamed), Severity.STOP)
    other = content("survey.ods", b"")
    assert "file-missing:lab/results.csv" in told(planned(other), Severity.STOP)


def of_code(code: str, folder: Folder) -> list[Finding]:
    return [one for one in survey_findings(folder) if one.code == code]


def test_when_all_are_back_what_is_missing_is_missed_and_a_draft_still_builds() -> None:
    """Without a word from the laboratory its tables hold the issue; once it has spoken, they stop the build."""
    assert {one.severity for one in of_code("file-missing", as_of(ALL_BACK))} == {Severity.HOLD}
    assert of_code("results-missing", as_of(ALL_BACK))
    there = row_added("lab/lab_samples.csv", lab_sample_id="L-1", type="method_blank")
    stopped = of_code("file-missing", changed(there, folder=as_of(ALL_BACK)))
    assert [(one.subject, one.severity) for one in stopped] == [(RESULTS, Severity.STOP)]


def test_words_of_the_template_wait_where_nothing_can_be_written_yet() -> None:
    """Conclusions can't be written before results; what the survey is to find out can."""
    left = [content(f"text/{name}.md", b"TODO: write this.\n") for name in ("conclusions", "objectives")]
    assert {one.where.file for one in of_code("template-text", planned(*left))} == {"text/objectives.md"}


def test_a_plan_may_be_issued_once_what_it_lacks_is_mended_or_decided() -> None:
    """Holds that remain count, and flags without a decision; nothing else keeps a work plan back."""
    decided = {"disposition": "accepted", "reason": "agreed with the owner", "by_role": "PM-1"}
    rows = [row_added("review/dispositions.csv", finding_key=key, **decided) for key in sorted(worse(planned()))]
    for changes, open_still in (((), True), (tuple(rows), False)):
        folder = planned(*changes)
        assert bool(issue_blockers(survey_findings(folder), load(folder))) is open_still


@pytest.mark.parametrize(
    ("moment", "line"),
    [
        (ORDERED, "planned: 55 points, no sampler installed yet"),
        (HALF_PLACED, "in the field: 26 of 55 points installed, 0 retrieved"),
        (HALF_RETRIEVED, "in the field: 55 of 56 points installed, 26 retrieved"),
    ],
)
def test_the_first_line_of_a_check_says_how_far_the_survey_has_come(moment: str, line: str, tmp_path: Path) -> None:
    """Before any finding."""
    told = CliRunner().invoke(app, ["check", str(write(as_of(moment), tmp_path / "survey"))])
    assert told.output.splitlines()[0] == line


def test_once_back_a_check_begins_with_its_findings() -> None:
    """No stage is said any more: the counts of the report take over."""
    assert so_far(load(example())) == so_far(None) == ""
