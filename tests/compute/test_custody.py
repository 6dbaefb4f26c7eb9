"""Custody: worked answers for every change of state, zones and clock changes included."""

from __future__ import annotations

from itertools import pairwise

import pytest

from sitegen.checking import Checked
from sitegen.compute.custody import CARRIER, GAP, HELD, IN_PLACE, OVERLAP, STORED, Chain, Event, Span, walk
from sitegen.project.zones import read_time

CHICAGO, DENVER = "America/Chicago", "America/Denver"


def event(at: str, kind: str, by: str = "", to: str = "", *, zone: str = CHICAGO, subject: str = "B-1") -> Event:
    """Build an event at a local time."""
    utc = read_time(at, zone).utc_min
    assert utc is not None
    return Event(utc, at, kind, by, to, "", "bag", subject, "ink", "", "", "", "", "custody.csv", utc % 1000)


def spans(*events: Event, carriers: tuple[str, ...] = ("CR",), sealed: bool = True) -> list[tuple[str, str, int]]:
    """Return (state, holder, minutes) of each span."""
    ordered = tuple(sorted(events, key=lambda e: e.sort_key))
    return [(s.state, s.holder, s.minutes) for s in walk(ordered, frozenset(carriers), sealed)]


def test_received_then_placed_then_retrieved() -> None:
    """Held until placed, in place unattended in the ground, held again by who took it out."""
    assert spans(
        event("2025-06-02T08:00", "received", "FS-1"),
        event("2025-06-02T09:30", "placed", "FS-1"),
        event("2025-06-10T09:30", "retrieved", "FS-2"),
        event("2025-06-10T10:00", "bagged", "FS-2"),
    ) == [(HELD, "FS-1", 90), (IN_PLACE, "", 8 * 1440), (HELD, "FS-2", 30)]


def test_stored_and_removed() -> None:
    """A store with its keeper, then the hands of who takes it out."""
    assert spans(
        event("2025-06-02T08:00", "received", "FS-1"),
        event("2025-06-02T08:10", "stored", "FS-1"),
        event("2025-06-03T07:10", "removed", "FS-2"),
        event("2025-06-03T07:30", "sealed", "FS-2"),
    ) == [(HELD, "FS-1", 10), (STORED, "FS-1", 23 * 60), (HELD, "FS-2", 20)]


def test_a_hand_over_in_one_minute_leaves_no_gap() -> None:
    """Relinquished and accepted at the same minute: no time between the two holders."""
    assert spans(
        event("2025-06-02T08:00", "received", "FS-1"),
        event("2025-06-02T09:00", "relinquished", "FS-1", "PM-1"),
        event("2025-06-02T09:00", "accepted", "PM-1"),
        event("2025-06-02T09:40", "stored", "PM-1"),
    ) == [(HELD, "FS-1", 60), (HELD, "PM-1", 40)]


def test_time_between_release_and_acceptance_is_a_gap_with_both_parties() -> None:
    """Released at 17:20, accepted at 19:30: a gap of 130 minutes between the two."""
    assert spans(
        event("2025-11-06T17:00", "sealed", "FS-1"),
        event("2025-11-06T17:20", "relinquished", "FS-1", "PM-1"),
        event("2025-11-06T19:30", "accepted", "PM-1"),
        event("2025-11-06T19:38", "stored", "PM-1"),
    ) == [(HELD, "FS-1", 20), (GAP, "FS-1 → PM-1", 130), (HELD, "PM-1", 8)]


def test_a_carrier_under_seal_across_a_time_zone() -> None:
    """Picked up 10:05 in Chicago, received 09:32 in Denver three days on: 4,347 minutes, not 4,287."""
    assert spans(
        event("2025-11-07T09:14", "sealed", "PM-1"),
        event("2025-11-07T10:05", "relinquished", "PM-1", "CR"),
        event("2025-11-08T04:27", "carrier_scan", "CR"),
        event("2025-11-10T09:32", "lab_received", "LB-1", zone=DENVER),
        event("2025-11-10T10:06", "stored", "LB-1", zone=DENVER),
    ) == [(HELD, "PM-1", 51), (CARRIER, "CR", 4347), (HELD, "LB-1", 34)]


def test_a_carrier_without_a_seal_is_a_gap() -> None:
    """What a carrier holds without a seal is in nobody's custody."""
    found = spans(
        event("2025-06-02T08:00", "received", "FS-1"),
        event("2025-06-02T09:00", "relinquished", "FS-1", "CR"),
        event("2025-06-03T09:00", "lab_received", "LB-1"),
        event("2025-06-03T09:10", "stored", "LB-1"),
        sealed=False,
    )
    assert [state for state, _, _ in found] == [HELD, GAP, HELD]
    assert found[1][2] == 1440


def test_taking_over_before_the_release_is_an_overlap() -> None:
    """Accepted at 09:00, released at 09:25: two holders for 25 minutes, and no minute counted twice."""
    found = spans(
        event("2025-06-02T08:00", "received", "FS-1"),
        event("2025-06-02T09:00", "accepted", "PM-1"),
        event("2025-06-02T09:25", "relinquished", "FS-1", "PM-1"),
        event("2025-06-02T10:00", "stored", "PM-1"),
    )
    assert (OVERLAP, "FS-1 and PM-1", 25) in found
    assert sum(minutes for _, _, minutes in found) == 120


def test_a_chain_across_the_clock_change() -> None:
    """Stored at midnight of 2 November, removed at noon: 13 hours, since clocks went back at two."""
    assert spans(
        event("2025-11-01T23:50", "received", "FS-1"),
        event("2025-11-02T00:00", "stored", "FS-1"),
        event("2025-11-02T12:00", "removed", "FS-1"),
        event("2025-11-02T12:05", "bagged", "FS-1"),
    ) == [(HELD, "FS-1", 10), (STORED, "FS-1", 13 * 60), (HELD, "FS-1", 5)]


def test_disposal_ends_the_chain() -> None:
    """Nothing is counted after disposal."""
    assert spans(
        event("2025-06-02T08:00", "lab_received", "LB-1"),
        event("2025-06-02T09:00", "disposed", "LB-1"),
        event("2025-06-03T09:00", "seal_checked", "LB-1"),
    ) == [(HELD, "LB-1", 60)]


def test_a_reading_of_a_seal_changes_no_holder() -> None:
    """seal_checked and carrier_scan are evidence, not hand-overs."""
    assert spans(
        event("2025-06-02T08:00", "lab_received", "LB-1"),
        event("2025-06-02T08:20", "seal_checked", "LB-2"),
        event("2025-06-02T09:00", "stored", "LB-1"),
    ) == [(HELD, "LB-1", 60)]


@pytest.fixture
def chain(checked: Checked) -> tuple[Span, ...]:
    """Return the chain of the sampler at SG-37, of bag RB-2."""
    assert checked.evaluation is not None
    return checked.evaluation.custody.samplers["0047154"].spans


def test_the_example_answers_who_held_a_sampler_at_noon(checked: Checked) -> None:
    """At noon of 7 November sampler 0047154 was with the carrier; of 1 November, in the ground."""
    assert checked.evaluation is not None
    found = checked.evaluation.custody.samplers["0047154"]
    for day, state, holder in (("2025-11-07", CARRIER, "CR"), ("2025-11-01", IN_PLACE, "")):
        utc = read_time(f"{day}T12:00", CHICAGO).utc_min
        assert utc is not None
        span = found.at(utc)
        assert span is not None
        assert (span.state, span.holder) == (state, holder)


def test_the_example_chain_has_no_holes(chain: tuple[Span, ...]) -> None:
    """Each span begins where the one before ended, and the gap of the bag lies in it."""
    for one, other in pairwise(chain):
        assert one.end == other.start
    assert [span.minutes for span in chain if span.state == GAP] == [130]


def chain_of(*events: Event) -> Chain:
    """Put a chain together from events."""
    ordered = tuple(sorted(events, key=lambda e: e.sort_key))
    return Chain("sampler", "1", tuple(walk(ordered, frozenset({"CR"}), sealed=True)), ordered)


def test_a_chain_is_drawn_to_its_last_analysis() -> None:
    """Two analyses, then three weeks in the laboratory's hands: the second analysis ends the line."""
    kept = chain_of(
        event("2025-06-02T08:00", "lab_received", "LB-2"),
        event("2025-06-03T08:00", "analysed"),
        event("2025-06-04T08:00", "analysed"),
        event("2025-06-25T08:00", "disposed", "LB-2"),
    )
    assert kept.drawn_to - kept.spans[0].start == 2 * 1440
    assert kept.spans[-1].end - kept.spans[0].start == 23 * 1440


def test_a_chain_without_an_analysis_and_one_with_a_gap_after_it_are_drawn_whole() -> None:
    """A spare ends at its last record; a gap after the analysis must not fall off the drawing."""
    spare = chain_of(event("2025-06-02T08:00", "received", "FS-1"), event("2025-06-09T08:00", "disposed", "FS-1"))
    assert spare.drawn_to == spare.spans[-1].end
    lent = chain_of(
        event("2025-06-02T08:00", "lab_received", "LB-2"),
        event("2025-06-03T08:00", "analysed"),
        event("2025-06-04T08:00", "relinquished", "LB-2", "LB-1"),
        event("2025-06-05T08:00", "accepted", "LB-1"),
        event("2025-06-06T08:00", "disposed", "LB-1"),
    )
    assert any(span.state == GAP for span in lent.spans)
    assert lent.drawn_to == lent.spans[-1].end
