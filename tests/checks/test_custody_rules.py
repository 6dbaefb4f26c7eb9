"""Custody as findings: time without a holder with what seals say of it, changes of role, first and last holders."""

from __future__ import annotations

import re

import pytest
from builders import (
    Change,
    cell,
    cells,
    changed,
    content,
    every,
    new_findings,
    settings_added,
    survey_findings,
    without_rows,
)

from sitegen.findings.problems import Finding

CUSTODY = "field/custody.csv"
BAGS = "field/return_bags.csv"
SHIPMENTS = "field/shipments.csv"
DEPLOYMENTS = "field/deployments.csv"
HEADER = (
    b"event_id,subject_kind,subject_id,event,at,tz,by_role,organisation,to_role,signature,seal_number,seal_condition,"
    b"place,scan_file,comment\n"
)


def of_code(code: str, *changes: Change) -> list[Finding]:
    """Return the findings of one check on the example with changes."""
    return [finding for finding in survey_findings(changed(*changes)) if finding.code == code]


def no_outer_seal() -> tuple[Change, ...]:
    """Return the changes that take every outer seal out of the record, and the bags' seals with them."""
    blank = {"seal_number": "", "seal_condition": ""}
    return (
        every(CUSTODY, lambda _: blank),
        without_rows(CUSTODY, lambda row: row["event"] in ("sealed", "seal_checked")),
        every(SHIPMENTS, lambda _: {"seal_outer": "", "seal_received": "", "seal_condition": ""}),
        every(BAGS, lambda _: {"seal_applied": ""}),
    )


def test_a_carrier_s_time_is_no_gap_for_want_of_a_seal() -> None:
    """The one gap of the example stays the one gap when no seal is on record anywhere."""
    gaps = of_code("custody-gap", *no_outer_seal())
    assert [gap.key for gap in gaps] == ["custody-gap:RB-2+29374520"]


def test_an_intact_seal_is_told_beside_a_gap_and_does_not_undo_it() -> None:
    """RB-2 was sealed 72 min before the gap of 130 min, and its number was read unchanged, the seal intact."""
    (gap,) = of_code("custody-gap")
    assert gap.found == (
        "no custodian recorded for 2 h 10 min between FS-1 and PM-1, in transit from 6 November 2025, 17:20; "
        "bag RB-2 sealed on 6 November 2025, 16:08 with 448216, read unchanged at receipt, condition intact"
    )
    assert gap.severity.value == "flag"


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        (
            (cell(BAGS, "RB-2", "seal_applied", ""), cell(CUSTODY, "E-0036", "seal_number", "")),
            "no seal of bag RB-2 on record",
        ),
        (
            (without_rows(CUSTODY, lambda row: row["event_id"] == "E-0051"),),
            "no number read at receipt on record, condition not recorded",
        ),
        (
            (cell(CUSTODY, "E-0051", "seal_number", "448261"),),
            "with 448216, read as 448261 at receipt, condition intact",
        ),
        ((cell(CUSTODY, "E-0051", "seal_condition", "broken"),), "read unchanged at receipt, condition broken"),
        ((cell(CUSTODY, "E-0036", "at", "2025-11-06T17:40"),), "put on after this time began"),
    ],
    ids=("no seal", "not read", "differs", "broken", "later"),
)
def test_a_gap_tells_what_the_record_has_of_the_seal_and_no_more(changes: tuple[Change, ...], words: str) -> None:
    """Absent, unread, different, broken or later than the gap: each is said."""
    told = [gap for gap in of_code("custody-gap", *changes) if gap.subject.startswith("RB-2")]
    assert words in told[0].found


def test_a_carrier_s_trip_without_its_signature_is_a_gap_under_an_intact_outer_seal() -> None:
    """Given to CR on 7 November at 10:05, first scanned on the 8th at 04:27: 1,102 min, seal 771188 unchanged."""
    gaps = of_code("custody-gap", without_rows(CUSTODY, lambda row: row["event_id"] == "E-0047"))
    (trip,) = (gap for gap in gaps if gap.subject.startswith("SH-R1"))
    told = "no custodian recorded for 18 h 22 min between PM-1 and CR, in transit from 7 November 2025, 10:05"
    assert trip.found.startswith(told)
    assert (
        "shipment SH-R1 sealed on 7 November 2025, 09:14 with 771188, read unchanged at receipt, condition intact"
        in trip.found
    )
    assert "bag RB-1 sealed on 5 November 2025, 16:17 with 448213, read as 448231 at receipt" in trip.found
    assert {touch.sampler_id for touch in trip.touches} >= {"0047102", "0047154", "0047101", "0047163"}


def test_a_seal_whose_time_is_not_on_record_is_not_said_to_have_been_on_throughout() -> None:
    """SH-R1's row gives the number, no event gives the sealing: packing is no record of a seal."""
    gone = without_rows(CUSTODY, lambda row: row["event_id"] in ("E-0045", "E-0047"))
    (trip,) = (gap for gap in of_code("custody-gap", gone) if gap.subject.startswith("SH-R1"))
    assert (
        "shipment SH-R1 sealed on a date not on record with 771188, read unchanged at receipt, condition intact, "
        "not known to have been on throughout"
    ) in trip.found


def test_hand_overs_recorded_of_one_bag_alone_count_for_the_box_it_is_in() -> None:
    """The journey's rows say RB-1 in place of the shipment: no new gap, on neither bag."""
    rows = {"E-0046": "RB-1", "E-0047": "RB-1", "E-0048": "RB-1"}
    moved = every(
        CUSTODY,
        lambda row: {"subject_kind": "bag", "subject_id": rows[row["event_id"]]} if row["event_id"] in rows else {},
    )
    assert {f.code for f in new_findings(changed(moved))} == set()


def test_without_any_custody_row_both_journeys_are_gaps() -> None:
    """A header alone: nobody is on record as carrier to and fro, nor from the receipt in the field to each placing."""
    gaps = of_code("custody-gap", content(CUSTODY, HEADER))
    assert sorted((gap.subject.partition("+")[0], gap.where.column) for gap in gaps) == [
        ("SH-O1", "packed_at"), ("SH-O1", "received_at"), ("SH-R1", "packed_at"),
    ]  # fmt: skip
    (kept,) = (gap for gap in gaps if gap.where.column == "received_at")
    told = r"no custodian recorded for .+ to .+ between a role not recorded and FS-[12].*, from 22 October 2025, 10:41"
    assert re.match(told, kept.found), "nobody gave it away: it is not told as in transit"


def test_a_way_back_of_which_nothing_is_on_record_is_told_of_each_sampler() -> None:
    """No custody row and no time of a bag or of the return: from retrieval to analysis nobody is on record."""
    blank = (
        content(CUSTODY, HEADER),
        every(BAGS, lambda _: {"sealed_at": "", "sealed_by": ""}),
        every(SHIPMENTS, lambda _: {"packed_at": "", "received_at": ""}),
    )
    gaps = of_code("custody-gap", *blank)
    assert {gap.subject_kind for gap in gaps} == {"sampler"}
    assert any("between FS-2 and laboratory, role not recorded, from" in gap.found for gap in gaps)
    assert of_code("custody-none", *blank) == []


def test_the_limit_on_gaps_is_the_one_that_the_limits_page_prints() -> None:
    """A project that allows 130 min has no gap; one that allows 129 has one."""
    for allowed, count in ((130, 0), (129, 1)):
        own = settings_added(
            f'[limits.custody_gap_min]\nvalue = {allowed}\nunit = "min"\nsource = "plan"\nkind = "plan"'
        )
        assert len(of_code("custody-gap", own)) == count


def test_roles_that_change_without_a_hand_over_are_told_once_per_bag() -> None:
    """Samplers retrieved by FS-2 and bagged by FS-1 in two bags, and set by FS-2 out of FS-1's case."""
    found = {f.subject: f for f in of_code("holder-changed")}
    assert sorted(found) == ["RB-1+FS-2+FS-1", "RB-2+FS-2+FS-1", "SH-O1+FS-1+FS-2"]
    first = found["RB-1+FS-2+FS-1"]
    assert first.found.startswith(
        "16 samplers of bag RB-1 with FS-2, then bagged by FS-1 (first at 5 November 2025, 16:09)"
    )
    assert (first.subject_kind, first.where.file) == ("bag", CUSTODY)


def test_a_role_change_with_a_hand_over_on_record_is_none() -> None:
    """The crew hands RB-1's samplers from FS-2 to FS-1 in the minute before they are bagged."""
    line = b"E-9001,bag,RB-1,accepted,2025-11-05T16:08,America/Chicago,FS-1,,,ink,,,,,\n"
    added = Change(CUSTODY, lambda old: old + line)
    assert sorted(f.subject for f in of_code("holder-changed", added)) == ["RB-2+FS-2+FS-1", "SH-O1+FS-1+FS-2"]


def test_the_laboratory_s_custody_is_none_on_the_way_to_it() -> None:
    """No role on the retrieval, the bag or the journey: that the laboratory held it later does not count."""
    nobody = (
        content(CUSTODY, HEADER + b"E-1,bag,RB-1,stored,2025-11-10T10:06,America/Denver,LB-1,,,ink,,,,,\n"),
        every(DEPLOYMENTS, lambda _: {"retrieved_by": ""}),
        every(BAGS, lambda _: {"sealed_by": ""}),
    )
    held = {f.subject for f in of_code("custody-none", *nobody)}
    assert "0047102" in held
    assert {f.severity.value for f in of_code("custody-none", *nobody)} == {"hold"}


def test_hand_overs_of_one_minute_are_matched_by_the_role_they_go_to() -> None:
    """FS-1 to PM-1 to CR at 07:26 on one bag, in rows of any order: nobody took what was given to another."""
    lines = [
        b"E-9001,bag,RB-1,accepted,2025-11-06T07:26,America/Chicago,CR,Carrier (invented),,ink,,,,,\n",
        b"E-9002,bag,RB-1,relinquished,2025-11-06T07:26,America/Chicago,PM-1,,CR,ink,,,,,\n",
    ]
    added = Change(CUSTODY, lambda old: old + b"".join(lines))
    assert of_code("handed-to-another", added) == []


def test_a_seal_finding_repeats_the_condition_of_the_seal() -> None:
    """RB-1's number differs and the seal was intact; without a condition on the form that is said."""
    (found,) = of_code("seal-differs")
    assert found.found == "seal 448231 read at receipt (transposed digits), condition intact"
    (blank,) = of_code("seal-differs", cells(CUSTODY, "E-0050", seal_condition=""))
    assert blank.found.endswith("condition not recorded")


def test_a_seal_of_which_custody_alone_gives_the_number_is_on_record() -> None:
    """seal_applied blank, the sealing's row gives 448216: no seal is missing; twice the same number is told."""
    blank = cell(BAGS, "RB-2", "seal_applied", "")
    assert of_code("seal-missing", blank) == []
    (none,) = of_code("seal-missing", blank, cell(CUSTODY, "E-0036", "seal_number", ""))
    assert none.found == "no seal number on record"
    (twice,) = of_code("seal-twice", blank, cell(CUSTODY, "E-0036", "seal_number", "448213"))
    assert twice.subject == "RB-2"


def test_findings_say_what_is_not_on_record_rather_than_what_was_not() -> None:
    """A reading, a receipt, a blank and a placement without a row; codes are told as words."""
    (unread,) = of_code("seal-not-read", without_rows(CUSTODY, lambda row: row["event_id"] == "E-0051"))
    assert unread.found == "no seal number read at receipt on record"
    (blank,) = of_code("trip-blank-missing", cell(BAGS, "RB-1", "trip_blank_id", ""))
    assert blank.found == "no trip blank on record"
    unplaced = without_rows(DEPLOYMENTS, lambda row: row["sampler_id"] == "0047126")
    (alone,) = of_code("sampler-unaccounted", unplaced, cell("field/samplers.csv", "0047126", "outcome", ""))
    assert alone.found == "a field duplicate with no deployment on record, outcome not recorded"


def test_a_receipt_that_custody_alone_records_is_a_receipt() -> None:
    """received_at blank: lab_received is on record; without that row too, no receipt is."""
    blank = cell(SHIPMENTS, "SH-R1", "received_at", "")
    assert of_code("shipment-not-received", blank) == []
    gone = without_rows(CUSTODY, lambda row: row["event"] == "lab_received")
    (found,) = of_code("shipment-not-received", blank, gone)
    assert (found.found, found.severity.value) == ("no receipt on record", "hold")
