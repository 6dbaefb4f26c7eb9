"""Custody: worked answers for every change of state, zones and clock changes included."""

from __future__ import annotations

from itertools import pairwise, permutations

import pytest
from builders import changed, example, load, without

from sitegen.checking import Checked
from sitegen.compute.custody.chains import Chain
from sitegen.compute.custody.events import EFFECTS, Event, in_time_order
from sitegen.compute.custody.seals import seals
from sitegen.compute.custody.walk import (
    CARRIER,
    HELD,
    IN_PLACE,
    LABORATORY,
    OVERLAP,
    STORED,
    UNHELD,
    UNNAMED,
    UNRECORDED,
    Span,
    walk,
)
from sitegen.project.schema import Origin
from sitegen.project.tables import TABLES, CustodyEvent
from sitegen.project.zones import read_time

CHICAGO, DENVER = "America/Chicago", "America/Denver"


def in_row(row: int) -> Origin:
    return Origin("custody.csv", row)


def event(at: str, kind: str, by: str = "", to: str = "", *, zone: str = CHICAGO, subject: str = "B-1") -> Event:
    """Build an event at a local time."""
    utc = read_time(at, zone).utc_min
    assert utc is not None
    return Event(utc, at, kind, by, "bag", subject, in_row(utc % 1000), to=to, signature="ink")


def spans(*events: Event, carriers: tuple[str, ...] = ("CR",)) -> list[tuple[str, str, int]]:
    """Return (state, holder, minutes) of each span."""
    return [(s.state, s.holder, s.minutes) for s in walk(in_time_order(events), frozenset(carriers)).spans]


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
    ) == [(HELD, "FS-1", 20), (UNRECORDED, "FS-1 → PM-1", 130), (HELD, "PM-1", 8)]


def test_a_carrier_who_signed_holds_across_a_time_zone() -> None:
    """Signed for at 10:05 in Chicago, received 09:32 in Denver three days on: 4,347 minutes, not 4,287."""
    assert spans(
        event("2025-11-07T09:14", "sealed", "PM-1"),
        event("2025-11-07T10:05", "relinquished", "PM-1", "CR"),
        event("2025-11-07T10:05", "accepted", "CR"),
        event("2025-11-08T04:27", "carrier_scan", "CR"),
        event("2025-11-10T09:32", "lab_received", "LB-1", zone=DENVER),
        event("2025-11-10T10:06", "stored", "LB-1", zone=DENVER),
    ) == [(HELD, "PM-1", 51), (CARRIER, "CR", 4347), (HELD, "LB-1", 34)]


def test_a_carrier_who_accepted_holds_without_any_seal() -> None:
    """No seal anywhere in the record: the carrier's signature is enough, 1,440 minutes are with the carrier."""
    found = spans(
        event("2025-06-02T08:00", "received", "FS-1"),
        event("2025-06-02T09:00", "relinquished", "FS-1", "CR"),
        event("2025-06-02T09:00", "accepted", "CR"),
        event("2025-06-03T09:00", "lab_received", "LB-1"),
        event("2025-06-03T09:10", "stored", "LB-1"),
    )
    assert found == [(HELD, "FS-1", 60), (CARRIER, "CR", 1440), (HELD, "LB-1", 10)]


@pytest.mark.parametrize("to", ["CR", ""])
def test_giving_to_a_carrier_is_not_the_carrier_taking(to: str) -> None:
    """Given at 09:00, first scanned at 03:00, received at 09:00: 18 h without a holder, then 6 h with the carrier."""
    assert spans(
        event("2025-06-02T08:00", "sealed", "FS-1"),
        event("2025-06-02T09:00", "relinquished", "FS-1", to),
        event("2025-06-03T03:00", "carrier_scan", "CR"),
        event("2025-06-03T09:00", "lab_received", "LB-1"),
    ) == [(HELD, "FS-1", 60), (UNRECORDED, "FS-1 → CR", 1080), (CARRIER, "CR", 360)]


@pytest.mark.parametrize("kind", ["released", "relinquished"])
def test_released_and_relinquished_give_alike(kind: str) -> None:
    """Either word gives out of hand; nobody holds until PM-1 accepts, 25 min on."""
    assert spans(
        event("2025-06-02T08:00", "sealed", "FS-1"),
        event("2025-06-02T09:00", kind, "FS-1"),
        event("2025-06-02T09:25", "accepted", "PM-1"),
        event("2025-06-02T09:30", "stored", "PM-1"),
    ) == [(HELD, "FS-1", 60), (UNRECORDED, "FS-1 → PM-1", 25), (HELD, "PM-1", 5)]


def test_a_release_to_nobody_that_its_giver_follows_up_has_not_left_its_hands() -> None:
    """Released at 14:12 naming nobody, relinquished by the same role at 15:05: held for 53 minutes."""
    assert spans(
        event("2025-10-20T14:12", "released", "LB-1"),
        event("2025-10-20T15:05", "relinquished", "LB-1", "CR"),
        event("2025-10-20T15:05", "accepted", "CR"),
        event("2025-10-20T16:05", "relinquished", "CR", "FS-1"),
    ) == [(HELD, "LB-1", 53), (CARRIER, "CR", 60)]


def test_a_giving_to_somebody_is_out_of_hand_whoever_acts_next() -> None:
    """Given to PM-1 by name, sealed 20 min later by the giver: nobody is on record in between."""
    assert spans(
        event("2025-06-02T09:00", "bagged", "FS-1"),
        event("2025-06-02T10:00", "relinquished", "FS-1", "PM-1"),
        event("2025-06-02T10:20", "sealed", "FS-1"),
        event("2025-06-02T10:30", "relinquished", "FS-1", "PM-1"),
        event("2025-06-02T10:30", "accepted", "PM-1"),
    ) == [(HELD, "FS-1", 60), (UNRECORDED, "FS-1 → PM-1", 20), (HELD, "FS-1", 10)]


def test_a_whole_chain_of_hand_overs_in_one_minute_follows_the_words_not_the_rows() -> None:
    """FS-1 to PM-1 to CR at 09:00, each given and taken: CR holds, and no minute is lost."""
    at = "2025-06-02T09:00"
    given = [event(at, "relinquished", "FS-1", "PM-1"), event(at, "relinquished", "PM-1", "CR")]
    taken = [event(at, "accepted", "PM-1"), event(at, "accepted", "CR")]
    around = [event("2025-06-02T08:00", "sealed", "FS-1"), event("2025-06-02T10:00", "lab_received", "LB-1")]
    for minute in permutations([*given, *taken]):
        rows = [one._replace(origin=in_row(row)) for row, one in enumerate(minute)]
        assert spans(*around, *rows) == [(HELD, "FS-1", 60), (CARRIER, "CR", 60)]
        assert [(e.kind, e.by) for e in in_time_order(rows)] == [
            ("relinquished", "FS-1"), ("accepted", "PM-1"), ("relinquished", "PM-1"), ("accepted", "CR"),
        ]  # fmt: skip


def test_who_gives_in_a_minute_has_acted_before_and_who_takes_acts_after() -> None:
    """Sealed and given by FS-1, taken and put into a store by PM-1, all at 09:00."""
    at = "2025-06-02T09:00"
    minute = [
        event(at, "stored", "PM-1"),
        event(at, "accepted", "PM-1"),
        event(at, "relinquished", "FS-1", "PM-1"),
        event(at, "sealed", "FS-1"),
    ]
    assert [e.kind for e in in_time_order(minute)] == ["sealed", "relinquished", "accepted", "stored"]


def test_given_back_in_the_same_minute_follows_the_rows() -> None:
    """A gives to B and B to A at once: the words leave both orders open, the rows decide, and nothing is lost."""
    at = "2025-06-02T09:00"
    minute = [
        event(at, "relinquished", "A", "B")._replace(origin=in_row(1)),
        event(at, "accepted", "B")._replace(origin=in_row(2)),
        event(at, "relinquished", "B", "A")._replace(origin=in_row(3)),
        event(at, "accepted", "A")._replace(origin=in_row(4)),
    ]
    for entered in permutations(minute):
        assert [(e.kind, e.by) for e in in_time_order(entered)] == [
            ("relinquished", "A"), ("accepted", "B"), ("relinquished", "B"), ("accepted", "A"),
        ]  # fmt: skip


def test_a_giving_entered_late_opens_no_gap() -> None:
    """PM-1 accepted at 09:00, the carrier at 09:10; FS-1's own giving is dated 09:05: PM-1's time is no gap."""
    found = spans(
        event("2025-06-02T08:00", "received", "FS-1"),
        event("2025-06-02T09:00", "accepted", "PM-1"),
        event("2025-06-02T09:05", "relinquished", "FS-1", "PM-1", subject="other"),
        event("2025-06-02T09:10", "relinquished", "PM-1", "CR"),
        event("2025-06-02T09:10", "accepted", "CR"),
        event("2025-06-02T10:00", "lab_received", "LB-1"),
    )
    assert found == [(HELD, "FS-1", 60), (HELD, "PM-1", 10), (CARRIER, "CR", 50)]


def test_a_laboratory_that_names_no_role_is_not_the_carrier() -> None:
    """Received by the laboratory, role blank: the carrier's time ends there."""
    assert spans(
        event("2025-06-02T08:00", "accepted", "CR"),
        event("2025-06-03T08:00", "lab_received"),
        event("2025-06-03T08:30", "stored", "LB-1"),
        event("2025-06-03T09:00", "removed"),
        event("2025-06-03T09:30", "disposed", "LB-1"),
    ) == [(CARRIER, "CR", 1440), (HELD, LABORATORY, 30), (STORED, "LB-1", 30), (HELD, "LB-1", 30)]


def test_an_acceptance_without_a_role_names_nobody() -> None:
    """Taken by somebody whose role is not on record: held by nobody that a reader could ask."""
    found = spans(
        event("2025-06-02T08:00", "sealed", "FS-1"),
        event("2025-06-02T09:00", "relinquished", "FS-1", "PM-1"),
        event("2025-06-02T09:00", "accepted"),
        event("2025-06-02T10:00", "stored", "PM-1"),
    )
    assert found == [(HELD, "FS-1", 60), (UNHELD, f"{UNNAMED} → PM-1", 60)]


def test_acts_without_any_role_are_held_by_nobody() -> None:
    """Bagged, sealed and received, no role anywhere: one stretch, until LB-1 takes it."""
    assert spans(
        event("2025-06-02T08:00", "bagged"),
        event("2025-06-02T09:00", "sealed"),
        event("2025-06-02T10:00", "received"),
        event("2025-06-02T10:30", "lab_received", "LB-1"),
    ) == [(UNHELD, f"{UNNAMED} → LB-1", 150)]


def test_an_act_at_the_laboratory_ends_what_a_carrier_or_a_store_elsewhere_had() -> None:
    """Signed for by CR, or stored by PM-1, then analysed: from that act on nobody is on record."""
    for kind, by in (("accepted", "CR"), ("stored", "PM-1")):
        assert spans(event("2025-06-02T08:00", kind, by), event("2025-06-04T08:00", "analysed")) == [
            (UNHELD, f"{by} → {LABORATORY}", 2 * 1440)
        ]


def test_placing_ends_what_the_laboratory_had() -> None:
    """Sealed by LB-1 of the laboratory, placed by FS-1 two days on, nothing between: nobody is on record."""
    events = in_time_order(
        (event("2025-06-02T08:00", "sealed", "LB-1"), event("2025-06-04T08:00", "placed", "FS-1"))
    )  # fmt: skip
    (span,) = walk(events, frozenset(), frozenset({"LB-1"})).spans
    assert (span.state, span.holder, span.minutes) == (UNHELD, "LB-1 → FS-1", 2 * 1440)


def test_an_act_without_a_role_at_the_same_place_leaves_the_holder() -> None:
    """Received by LB-1 at the laboratory, analysed by somebody not named: LB-1's until the disposal."""
    assert spans(
        event("2025-06-02T08:00", "lab_received", "LB-1"),
        event("2025-06-03T08:00", "analysed"),
        event("2025-06-04T08:00", "disposed", "LB-1"),
    ) == [(HELD, "LB-1", 2 * 1440)]


def test_a_change_of_role_without_a_hand_over_is_kept_with_both_roles() -> None:
    """Retrieved by FS-2, bagged by FS-1, then properly handed to PM-1: one change without a hand-over."""
    walked = walk(
        in_time_order(
            (
                event("2025-06-02T08:00", "retrieved", "FS-2"),
                event("2025-06-02T09:00", "bagged", "FS-1"),
                event("2025-06-02T10:00", "relinquished", "FS-1", "PM-1"),
                event("2025-06-02T10:00", "accepted", "PM-1"),
                event("2025-06-02T10:30", "stored", "PM-1"),
                event("2025-06-02T11:00", "removed", "PM-2"),
            )
        ),
        frozenset(),
    )
    assert [(one.before, one.event.kind, one.event.by) for one in walked.silent_changes] == [("FS-2", "bagged", "FS-1")]


def test_every_word_of_the_format_has_an_effect() -> None:
    """The table of effects and the words that custody.event allows are the same list, packing aside."""
    (spec,) = (table for table in TABLES if table.name == "custody")
    assert set(EFFECTS) - {"packed"} == set(spec.column("event").choices)


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
    """seal_checked is evidence, not a hand-over."""
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


def test_the_example_answers_who_held_a_sampler_at_noon(chain: tuple[Span, ...]) -> None:
    """At noon of 7 November sampler 0047154 was with the carrier; of 1 November, in the ground."""
    for day, state, holder in (("2025-11-07", CARRIER, "CR"), ("2025-11-01", IN_PLACE, "")):
        utc = read_time(f"{day}T12:00", CHICAGO).utc_min
        assert utc is not None
        held = [(span.state, span.holder) for span in chain if span.start <= utc < span.end]
        assert held == [(state, holder)]


def test_the_example_chain_has_no_holes(chain: tuple[Span, ...]) -> None:
    """Each span begins where the one before ended, and the gap of the bag lies in it."""
    for one, other in pairwise(chain):
        assert one.end == other.start
    assert [span.minutes for span in chain if span.state == UNRECORDED] == [130]


def chain_of(*events: Event) -> Chain:
    """Put a chain together from events."""
    ordered = in_time_order(events)
    return Chain(walk(ordered, frozenset({"CR"})).spans, ordered)


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
    assert any(span.state == UNRECORDED for span in lent.spans)
    assert lent.drawn_to == lent.spans[-1].end


def test_a_seal_stands_where_it_was_read_else_where_it_was_put_on() -> None:
    """Read by an event, by the shipment's own row, or, its check taken out, not at all."""
    whole = seals(load(example()))
    check = next(row for row in load(example()).rows(CustodyEvent) if row.event_id == "E-0050")
    assert whole["bag", "RB-1"].where == check.origin.cell("seal_number") == ("field/custody.csv", 51, "seal_number")
    assert whole["shipment", "SH-R1"].where == ("field/shipments.csv", 3, "seal_received")
    unread = seals(load(changed(without("field/custody.csv", "E-0050"))))
    assert unread["bag", "RB-1"].where == ("field/return_bags.csv", 2, "seal_applied")
