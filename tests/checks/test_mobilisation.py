"""Before the crew sets out, and where a log was typed twice: each defect gives its finding, which its remedy takes."""

from __future__ import annotations

import sys
from datetime import date
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from builders import Change, cell, changed, load, row_added, setting, survey_findings
from defects import CLEARANCE, LOCATIONS
from defects_planned import ALL, LOG, Planned, ready, second, sent, typed_twice
from stages import half_placed, planned

from sitegen.checks.dispositions import issue_blockers
from sitegen.checks.mobilisation import to_place
from sitegen.checks.run import check_survey
from sitegen.findings.problems import Finding
from sitegen.project.folder import Folder
from sitegen.project.schema import SECOND_LOG
from sitegen.project.zones import clock_changes

OURS = {one.code for one in ALL}
NEAR = {"planned-near-utility:SG-27+feature 12"}
"""The one finding that the plan of the example has from the start, and its story tells: the point was moved."""


def ours(folder: Folder) -> dict[str, Finding]:
    """Return the findings about plans and second logs, by key."""
    return {one.key: one for one in survey_findings(folder) if one.code in OURS}


def of_code(code: str, folder: Folder) -> list[str]:
    """Return what the findings of a code found."""
    return [one.found for one in ours(folder).values() if one.code == code]


@pytest.mark.parametrize("case", ALL, ids=lambda case: case.name or case.code)
def test_a_defect_of_a_plan_or_a_second_log_gives_one_finding_that_its_remedy_takes_away(case: Planned) -> None:
    """Exactly one finding is new: its code, severity, place and words; done as it says, it is gone."""
    before = ours(case.base()) if case.code != "planned-near-utility" else {}
    folder = case.base(*case.changes)
    new = {key: one for key, one in ours(folder).items() if key not in before}
    assert [(one.code, one.severity.value, one.where.file, one.where.row, one.found) for one in new.values()] == [
        (case.code, case.severity, case.file, case.row, case.found)
    ]
    assert not new.keys() & ours(changed(*case.remedy, folder=folder)).keys()


def test_a_plan_that_is_ready_has_nothing_to_mend_but_what_its_story_tells() -> None:
    """Fifty-five points, a ticket for all the holes, days that fit: one hole lies too near a cable."""
    assert ours(ready()).keys() == NEAR
    assert ours(sent()).keys() == NEAR


def test_an_exposure_may_be_as_short_or_as_long_as_the_plan_says() -> None:
    """13 days: at most 13 is enough, at most 12 is not; the limits of the first and of the last sampler alike."""
    assert of_code("planned-exposure-out", ready(setting("_max = 14", "_max = 13"))) == []
    assert len(of_code("planned-exposure-out", ready(setting("_max = 14", "_max = 12")))) == 2
    assert of_code("planned-exposure-out", ready(setting("_min = 7", "_min = 13"))) == []


def test_a_ticket_counts_by_the_day() -> None:
    """One that begins at eight on the first day of placing, or ends at noon of the last, is enough."""
    limits = (("valid_from", "2025-10-23T08:00"), ("valid_to", "2025-10-24T12:00"))
    edits = [cell(CLEARANCE, "OB-25-10417", column, value) for column, value in limits]
    assert of_code("ticket-off-the-planned-days", ready(*edits)) == []


def test_a_ticket_without_points_covers_them_all() -> None:
    """A blank list is every hole, so that nothing is left without."""
    blank = cell(CLEARANCE, "OB-25-10417", "location_ids", "")
    assert of_code("planned-hole-without-ticket", ready(blank)) == []


def test_only_points_that_are_still_to_be_placed_are_looked_at() -> None:
    """After a day of placing the cable is no plan any more; a point given up is none either, nor any in the end."""
    assert of_code("planned-near-utility", half_placed()) == []
    given_up = cell(LOCATIONS, "SG-27", "status", "not_done")
    assert of_code("planned-near-utility", ready(given_up)) == []
    assert to_place(load(planned())).sum() == 55
    assert to_place(load(half_placed())).sum() == 29
    assert to_place(load(changed())).sum() == 0


def test_air_points_need_no_ticket() -> None:
    """No hole is made for them: a ticket that names none of the air points leaves nothing open."""
    assert not any("IA-" in one for one in of_code("planned-hole-without-ticket", ready()))


def test_the_clocks_are_told_beforehand_in_the_zone_of_the_project() -> None:
    """In Chicago they go back on 2 November 2025 (IANA time zone data); a plan in UTC has no such day."""
    (told,) = [one for one in survey_findings(planned()) if one.code == "clocks-change"]
    assert told.found == "the clocks go back by 60 min on 2 November 2025 in America/Chicago"
    assert clock_changes("UTC", date(2025, 10, 1), date(2025, 11, 30)) == ()
    assert clock_changes("America/Chicago", date(2025, 11, 3), date(2026, 3, 7)) == ()
    (change,) = clock_changes("America/Chicago", date(2026, 3, 8), date(2026, 3, 8))
    assert (change.day, change.minutes) == (date(2026, 3, 8), 60)
    assert clock_changes("UTC", date.max, date.max) == ()


@pytest.mark.parametrize(
    ("values", "same"),
    [
        ({"depth_ft": "3.10"}, True),
        ({"depth_ft": "3.1001"}, False),
        ({"placed_at": "2025-10-23T08:23-05:00"}, True),
        ({"placed_at": "2025-10-23T08:24"}, False),
        ({"refusal": ""}, False),
        ({"depth_ft": "three"}, False),
        ({"duplicate_of": ""}, True),
        ({"location_id": "SG-82"}, False),
    ],
    ids=str,
)
def test_two_logs_are_compared_by_what_their_cells_say(values: dict[str, str], *, same: bool) -> None:
    """Numbers as numbers, times as times, ids as text; NA is blank, and blank against filled is a difference."""
    differ = [key for key in ours(typed_twice(second("0047103", **values))) if key.startswith("entries-differ")]
    assert differ == ([] if same else [f"entries-differ:0047103+{next(iter(values))}"])


def test_a_difference_is_decided_by_a_disposition_and_by_nothing_less() -> None:
    """With a reason and a role the draft may be issued as far as it goes; without, it stays a hold."""
    key = "entries-differ:0047103+depth_ft"
    row = {"finding_key": key, "disposition": "first log kept", "by_role": "PM-1"}
    for reason, open_still in (("the sheet reads 3.1", False), ("", True)):
        decided = row_added("review/dispositions.csv", reason=reason, **row)
        folder = typed_twice(second("0047103", depth_ft="3.7"), decided)
        survey = load(folder)
        blockers = {one.key for one in issue_blockers(survey_findings(folder), survey)}
        assert (key in blockers) is open_still


def test_the_second_log_is_a_file_of_the_format_and_changes_no_number() -> None:
    """It is in the digest of the inputs, is told as no stranger, and the tables are those without it."""
    with_it, without = load(typed_twice()), load(half_placed())
    assert not [one for one in survey_findings(typed_twice()) if one.where.file == SECOND_LOG]
    assert with_it.digest != without.digest
    assert with_it.frame("deployments").equals(without.frame("deployments"))


def test_a_second_log_that_can_not_be_read_says_so() -> None:
    """A cell too many in a row is a fault of the file, as in any other table; without the key nothing is compared."""
    broken = Change(SECOND_LOG, lambda old: old + b'"open quote,\n')
    assert [f.code for f in check_survey(load(typed_twice(broken))) if f.where.file == SECOND_LOG]
    no_key = Change(SECOND_LOG, lambda old: old.replace(b"sampler_id,", b"serial,", 1))
    assert [one.code for one in ours(typed_twice(no_key)).values() if one.where.file == SECOND_LOG] == [
        "second-log-incomplete"
    ]


def test_many_differences_are_counted() -> None:
    """Twenty are told one by one, the rest of the 28 in one line with their rows."""
    off = Change(
        SECOND_LOG, lambda old: old.replace(b",foil_and_soil,", b",cap,").replace(b",foil_and_patch,", b",cap,")
    )
    told = [one for one in ours(typed_twice(off)).values() if one.code == "entries-differ"]
    lines = LOG.splitlines()[1:]
    closed = sum(b",foil_and_soil," in line or b",foil_and_patch," in line for line in lines)
    assert (len(told), sum(one.count for one in told)) == (21, closed)
    assert closed > 21
