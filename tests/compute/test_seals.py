"""What is on record of a seal, and what it tells of a time without a holder."""

from __future__ import annotations

import byhand_survey
import pytest
from builders import Row, load
from journeys import folder

from sitegen.compute.custody.events import recorded_events
from sitegen.compute.custody.seals import (
    DIFFERS,
    EQUAL,
    NOT_APPLIED,
    NOT_READ,
    Seal,
    gap_evidence,
    seals,
)
from sitegen.compute.custody.walk import UNHELD, Span
from sitegen.compute.evaluate import evaluate
from sitegen.project.survey import Survey

ZONE = "UTC"


def a_seal(applied: str = "101", read: str = "101", on: int | None = None, until: int | None = 5, kind: str = "bag",
           name: str = "B-1") -> Seal:  # fmt: skip
    return Seal(kind, name, applied, read, "intact", on, until, ("a", 1, "b"))


@pytest.mark.parametrize(("condition", "words"), [("intact", "intact"), ("", "not recorded")])
def test_a_seal_is_told_with_its_condition(condition: str, words: str) -> None:
    """An empty cell is no condition."""
    seal = Seal("bag", "B-1", "101", "101", condition, None, 5, ("a", 1, "b"))
    assert seal.text("UTC") == (
        f"bag B-1 sealed on a date not on record with 101, read unchanged at receipt, condition {words}"
    )


@pytest.mark.parametrize(
    ("applied", "read", "verdict", "words"),
    [
        ("101", "101", EQUAL, "read unchanged at receipt"),
        ("101", "110", DIFFERS, "read as 110 at receipt"),
        ("101", "", NOT_READ, "no number read at receipt on record"),
    ],
)
def test_a_number_read_is_the_one_put_on_or_not(applied: str, read: str, verdict: str, words: str) -> None:
    seal = a_seal(applied, read, on=0)
    assert seal.verdict == verdict
    assert seal.text(ZONE) == f"bag B-1 sealed on 1 January 1970, 00:00 with 101, {words}, condition intact"
    assert a_seal("", read).verdict == NOT_APPLIED
    assert a_seal("", read).text(ZONE) == "no seal of bag B-1 on record"


@pytest.mark.parametrize(
    ("on", "until", "spans"),
    [(10, 20, True), (11, 20, False), (10, 19, False), (None, 20, False), (10, None, False)],
)
def test_a_seal_spans_a_time_from_its_first_to_its_last_minute(
    on: int | None, until: int | None, *, spans: bool
) -> None:
    assert a_seal(on=on, until=until).spans(10, 20) is spans


def event(number: int, subject: str, kind: str, hour: int, **others: str) -> Row:
    about = {"subject_kind": "bag" if subject.startswith("B") else "shipment", "subject_id": subject}
    return {"event_id": f"E-{number}", "event": kind, "at": f"2025-06-10T{hour:02}:00"} | about | others


def survey_of(bags: list[Row], shipments: list[Row], *events: Row) -> Survey:
    return load(folder({"return_bags": bags, "shipments": shipments, "custody": list(events)}))


def shown(survey: Survey, kind: str, name: str) -> tuple[str, str, str, int | None, int | None, str]:
    """Return what is on record of a seal, its times in hours of the day in Chicago, and the cell that tells."""
    seal = seals(survey)[kind, name]
    hours = [None if utc is None else (utc // 60 - 5) % 24 for utc in (seal.on_utc, seal.read_utc)]
    return seal.applied, seal.read, seal.condition, hours[0], hours[1], f"{seal.where[1]} {seal.where[2]}"


def test_the_seal_of_a_bag_is_on_record_in_its_row_or_in_events() -> None:
    """B-1: row alone; B-2: events alone; B-3: the row's number and the event's time; B-4: nothing."""
    survey = survey_of(
        [{"bag_id": "B-1", "seal_applied": "11", "sealed_at": "2025-06-10T09:00"}, {"bag_id": "B-2"},
         {"bag_id": "B-3", "seal_applied": "33", "sealed_at": "2025-06-10T09:00"}, {"bag_id": "B-4"}],
        [],
        event(1, "B-2", "sealed", 10, seal_number="22"),
        event(2, "B-2", "seal_checked", 15, seal_number="22", seal_condition="intact"),
        event(3, "B-3", "sealed", 11, seal_number="34"),
        event(4, "B-3", "sealed", 12, seal_number="35"),
        event(5, "B-3", "received", 14, seal_number="36"),
    )  # fmt: skip
    assert shown(survey, "bag", "B-1") == ("11", "", "", 9, None, "2 seal_applied")
    assert shown(survey, "bag", "B-2") == ("22", "22", "intact", 10, 15, "3 seal_number")
    assert shown(survey, "bag", "B-3") == ("33", "", "", 11, None, "4 seal_applied")
    assert shown(survey, "bag", "B-4") == ("", "", "", None, None, "5 seal_applied")


def test_of_several_readings_the_first_that_differs_counts_else_the_last() -> None:
    """B-1 was read as put on, then otherwise twice; B-2 as put on twice; B-3 had none put on."""
    survey = survey_of(
        [{"bag_id": "B-1", "seal_applied": "11"}, {"bag_id": "B-2", "seal_applied": "22"}, {"bag_id": "B-3"}],
        [],
        event(1, "B-1", "seal_checked", 12, seal_number="11"),
        event(2, "B-1", "seal_checked", 13, seal_number="12"),
        event(3, "B-1", "seal_checked", 14, seal_number="13"),
        event(4, "B-2", "seal_checked", 12, seal_number="22", seal_condition="intact"),
        event(5, "B-2", "seal_checked", 13, seal_number="22", seal_condition="broken"),
        event(6, "B-2", "seal_checked", 14),
        event(7, "B-3", "seal_checked", 12, seal_number="31"),
        event(8, "B-3", "seal_checked", 13, seal_number="32"),
    )
    assert shown(survey, "bag", "B-1")[1:] == ("12", "", None, 13, "3 seal_number")
    assert shown(survey, "bag", "B-2")[1:] == ("22", "broken", None, 13, "6 seal_number")
    assert shown(survey, "bag", "B-3")[:2] == ("", "32")


def test_the_seal_of_a_shipment_is_put_on_by_a_sealing_or_given_with_its_number() -> None:
    """R-1: events alone; R-2: a reading in the row counts before an event, and its time is that of the event.

    R-3: row alone, read when it was received; R-4: given without a number, which seals nothing.
    """
    back = {"direction": "return"}
    survey = survey_of(
        [],
        [back | {"shipment_id": "R-1"},
         back | {"shipment_id": "R-2", "seal_outer": "20", "seal_received": "21", "seal_condition": "broken",
                 "received_at": "2025-06-10T20:00"},
         back | {"shipment_id": "R-3", "seal_outer": "30", "received_at": "2025-06-10T20:00"},
         back | {"shipment_id": "R-4"}],
        event(1, "R-1", "relinquished", 9, seal_number="10"),
        event(2, "R-1", "lab_received", 16, seal_number="10", seal_condition="intact"),
        event(3, "R-2", "sealed", 8, seal_number="20"),
        event(4, "R-2", "seal_checked", 18, seal_number="22", seal_condition="intact"),
        event(5, "R-4", "released", 9),
    )  # fmt: skip
    assert shown(survey, "shipment", "R-1") == ("10", "10", "intact", 9, 16, "3 seal_number")
    assert shown(survey, "shipment", "R-2") == ("20", "21", "broken", 8, 18, "3 seal_received")
    assert shown(survey, "shipment", "R-3") == ("30", "", "", None, 20, "4 seal_received")
    assert shown(survey, "shipment", "R-4") == ("", "", "", None, None, "5 seal_received")


def test_a_time_without_a_holder_is_told_with_the_seals_that_were_on() -> None:
    """From 10 to 12 o'clock a bag's custody is not recorded.

    Its own seal was on before; a second was put on within the time, a third after it; of a fourth no time is known.
    """
    survey = survey_of([{"bag_id": "B-1"}], [], event(1, "B-1", "relinquished", 5), event(2, "B-1", "accepted", 7))
    given, taken = recorded_events(survey)["bag", "B-1"]
    span = Span(given.utc, taken.utc, UNHELD, "A to B", "", (given, taken))
    later = {"until": taken.utc}
    on_file = {
        ("bag", "B-1"): a_seal(on=given.utc, **later),
        ("bag", "B-2"): a_seal(on=given.utc + 60, name="B-2", **later),
        ("bag", "B-3"): a_seal(on=taken.utc, name="B-3", **later),
        ("bag", "B-4"): a_seal(name="B-4", on=given.utc - 1, until=None),
    }
    words = gap_evidence(on_file, span, ("B-1", "B-2", "B-3", "B-4", "B-5"), ZONE).split("; ")
    assert [line.split(" sealed")[0] for line in words] == ["bag B-1", "bag B-2", "bag B-4"]
    ends = [line.rpartition("condition intact")[2] for line in words]
    assert ends == ["", ", put on after this time began", ", not known to have been on throughout"]


def test_beyond_three_seals_those_read_unchanged_are_counted() -> None:
    """Five bags in a box; of the last two one was read otherwise than put on."""
    survey = survey_of([], [{"shipment_id": "R-1", "direction": "return"}], event(1, "R-1", "relinquished", 5),
                       event(2, "R-1", "received", 7))  # fmt: skip
    given, taken = recorded_events(survey)["shipment", "R-1"]
    span = Span(given.utc, taken.utc, UNHELD, "A to B", "", (given, taken))
    names = [f"B-{n}" for n in range(1, 6)]
    on_file = {("bag", n): a_seal(read="7" if n == "B-5" else "101", on=1, name=n) for n in names}
    words = gap_evidence(on_file, span, names, ZONE).split("; ")
    assert len(words) == 4
    assert words[-1] == "1 of 2 more seals read unchanged at receipt"
    assert "more seals" not in gap_evidence(on_file, span, names[:3], ZONE)


def test_a_seal_that_was_read_otherwise_is_a_mark_of_each_sampler_in_its_bag_and_of_no_other() -> None:
    """In the survey worked by hand RB-2 was sealed with 5502, and holds these five samplers."""
    read = byhand_survey.FILES["field/custody.csv"].replace("ink,5502,intact", "ink,5520,intact")
    evaluation = evaluate(load(byhand_survey.folder(byhand_survey.FILES | {"field/custody.csv": read})))
    marks = [
        (name, m) for name, every in evaluation.marks.by_sampler.items() for m in every if m.code == "seal-differs"
    ]
    assert sorted(name for name, _ in marks) == ["0104", "0105", "0106", "0107", "0109"]
    (facts,) = {mark.facts for _, mark in marks}
    assert facts == (("what", "bag RB-2"), ("applied", "5502"), ("read", "5520"), ("condition", "intact"))
