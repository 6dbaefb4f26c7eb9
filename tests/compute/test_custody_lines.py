"""Custody of whole journeys: what was true is what is told, and a sampler's line is its shipment's."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from journeys import BACK, BAG, OUT, SAMPLERS, Leg, Plan, folder, journey

from sitegen.compute.custody.chains import Chain, Custody, custody
from sitegen.compute.custody.walk import CARRIER, GAPS, HELD, OVERLAP, STORED, UNHELD, UNRECORDED, Span
from sitegen.compute.field.exposure import placements
from sitegen.project.load import load_folder

LEGS = st.builds(
    Leg,
    wait=st.integers(1, 600),
    given=st.booleans(),
    taken=st.booleans(),
    named=st.booleans(),
    delay=st.sampled_from((0, 0, 1, 130, 2000)),
    level=st.sampled_from(("box", "each", "one")),
    scanned=st.booleans(),
)
PLANS = st.builds(
    Plan,
    out=st.tuples(LEGS, LEGS),
    bag=LEGS,
    back=st.tuples(LEGS, LEGS),
    stored=st.booleans(),
    sealed=st.booleans(),
    ground=st.tuples(st.integers(60, 20_000), st.integers(0, 500)),
    seed=st.integers(0, 1000),
)


def custody_of(plan: Plan) -> tuple[Custody, dict[str, list[tuple[int, str, str]]], int]:
    """Return what is computed of a journey, what was true, and its last minute."""
    made = journey(plan)
    survey, _ = load_folder(folder(made.tables))
    assert survey is not None
    return custody(survey, placements(survey)), made.lines, made.now


def true_spans(line: list[tuple[int, str, str]], end: int) -> list[tuple[int, int, str, str]]:
    """Return a line of states as spans, neighbours alike joined, times of no length left out."""
    found: list[tuple[int, int, str, str]] = []
    for (start, state, holder), (stop, _, _) in pairwise([*line, (end, "", "")]):
        if found and found[-1][2:] == (state, holder):
            found[-1] = (found[-1][0], stop, state, holder)
        elif stop > start:
            found.append((start, stop, state, holder))
    return found


def told_spans(spans: tuple[Span, ...]) -> list[tuple[int, int, str, str]]:
    """Return spans as start, end, state and holder; whoever is not recorded has no holder."""
    line = [(s.start, s.state, "" if s.state in GAPS else s.holder) for s in spans]
    return true_spans(line, spans[-1].end) if spans else []


def between(chain: Chain, start: float, end: float) -> list[tuple[float, float, str, str]]:
    """Return a chain's spans as far as they lie between two moments."""
    cut = [s._replace(start=int(max(s.start, start)), end=int(min(s.end, end))) for s in chain.spans]
    line = [(s.start, s.state, s.holder) for s in cut if s.end > s.start]
    kept = [s for s in cut if s.end > s.start]
    return [(a, b, c, d) for a, b, c, d in true_spans(line, kept[-1].end)] if kept else []


@given(PLANS)
def test_what_was_true_is_what_is_told(plan: Plan) -> None:
    """Rows in any order, hand-overs on any level, in the same minute or later, across the change of clocks."""
    found, lines, end = custody_of(plan)
    for name in SAMPLERS:
        assert told_spans(found.samplers[name].spans) == true_spans(lines[name], end)


@pytest.mark.long
@given(PLANS)
def test_a_sampler_s_line_is_its_shipment_s_while_it_is_inside(plan: Plan) -> None:
    """From the shipment's first event to its last, or to the moment at which the sampler leaves it."""
    found, lines, _ = custody_of(plan)
    out, back, bag = found.shipments[OUT], found.shipments[BACK], found.bags[BAG]
    for name in SAMPLERS:
        placed = next(start for start, state, _ in lines[name] if state.startswith("in place"))
        chain = found.samplers[name]
        for shipment, leaves in ((out, placed), (back, back.events[-1].utc)):
            start, end = shipment.events[0].utc, min(leaves, shipment.events[-1].utc)
            assert between(chain, start, end) == between(shipment, start, end)
    start, end = back.events[0].utc, back.events[-1].utc
    assert between(bag, start, end) == between(back, start, end)
    assert between(found.samplers["S-1"], bag.events[0].utc, bag.events[-1].utc) == between(
        bag, bag.events[0].utc, bag.events[-1].utc
    )


@pytest.mark.long
@given(PLANS)
def test_minutes_add_up_and_no_two_holders_are_invented(plan: Plan) -> None:
    """No hole, no minute twice; in a journey without a late giving nobody holds beside another."""
    found, _, _ = custody_of(plan)
    for chain in (*found.samplers.values(), *found.bags.values(), *found.shipments.values()):
        for one, other in pairwise(chain.spans):
            assert one.end == other.start
        assert all(span.minutes > 0 and span.state != OVERLAP for span in chain.spans)
        if chain.spans:
            assert sum(span.minutes for span in chain.spans) == chain.spans[-1].end - chain.spans[0].start


WHOLE = Leg(wait=30, given=True, taken=True, named=True, delay=0)
PLAIN = Plan((WHOLE, WHOLE), WHOLE, (WHOLE, WHOLE), stored=False, sealed=True, ground=(10_000, 60), seed=1)


def unrecorded(chain: Chain) -> list[tuple[str, int]]:
    """Return parties and minutes of each time without a holder."""
    return [(span.holder, span.minutes) for span in chain.spans if span.state == UNRECORDED]


def test_a_returned_sampler_has_no_gap_for_want_of_an_outer_seal() -> None:
    """Neither shipment has a seal on record; the carriers signed for both."""
    found, _, _ = custody_of(PLAIN)
    for chain in (*found.samplers.values(), *found.shipments.values()):
        assert unrecorded(chain) == []
    assert {span.holder for span in found.samplers["S-1"].spans if span.state == CARRIER} == {"CR-1", "CR-2"}


def test_nobody_holds_between_giving_and_taking_on_sampler_bag_and_shipment_alike() -> None:
    """Given to the carrier and accepted 130 min later: each page tells the same 130 min."""
    late = Leg(wait=30, given=True, taken=True, named=True, delay=130)
    found, _, _ = custody_of(Plan(PLAIN.out, WHOLE, (late, WHOLE), False, True, PLAIN.ground, 1))
    for chain in (found.samplers["S-1"], found.samplers["S-2"], found.bags[BAG], found.shipments[BACK]):
        assert unrecorded(chain) == [("PM-1 → CR-2", 130)]


def test_a_shipment_of_which_no_hand_over_is_on_record_went_its_way_with_nobody() -> None:
    """Packed and received, and no giving or taking between: 60 min to and fro with nobody on record."""
    none = Leg(wait=30, given=False, taken=False, named=False, delay=0)
    found, _, _ = custody_of(Plan((none, none), WHOLE, (none, none), False, True, PLAIN.ground, 1))
    for name in SAMPLERS:
        assert [minutes for _, minutes in unrecorded(found.samplers[name])] == [60, 60]
    assert unrecorded(found.shipments[BACK]) == [("PM-1 → laboratory, role not recorded", 60)]


def test_a_chain_says_how_many_hand_overs_are_on_record() -> None:
    """Two for each of five hand-overs of a sampler; none where custody.csv has no row."""
    found, _, _ = custody_of(PLAIN)
    assert [found.samplers["S-1"].hand_overs, found.bags[BAG].hand_overs] == [10, 6]
    made = journey(PLAIN)
    del made.tables["custody"]
    survey, _ = load_folder(folder(made.tables))
    assert survey is not None
    bare = custody(survey, placements(survey))
    assert {chain.hand_overs for chain in (*bare.samplers.values(), *bare.bags.values(), *bare.shipments.values())} == {
        0
    }
    assert HELD not in {span.state for span in bare.shipments[BACK].spans}


def shipped(
    *rows: tuple[str, str, str, str], packed: str = "2025-11-07T09:00", received: str = "2025-11-10T09:30"
) -> Chain:
    """Return the chain of a return shipment with these custody rows: time, event, by and to."""
    made = [
        {
            "event_id": f"E-{at}", "subject_kind": "shipment", "subject_id": "R-9", "event": event, "at": when,
            "by_role": by, "to_role": to, "organisation": "Carrier" if by == "CR" else "Other",
        }
        for at, (when, event, by, to) in enumerate(rows)
    ]  # fmt: skip
    row = {"shipment_id": "R-9", "direction": "return", "packed_at": packed, "received_at": received}
    survey, _ = load_folder(folder({"custody": made, "shipments": [row]}))
    assert survey is not None
    return custody(survey, ()).shipments["R-9"]


def test_who_accepted_from_the_carrier_has_received_whatever_the_row_adds() -> None:
    """LB-1 accepted at 09:30; the row says received at 09:40: LB-1 holds on, nobody unnamed takes over."""
    chain = shipped(
        ("2025-11-07T10:00", "relinquished", "PM-1", "CR"),
        ("2025-11-07T10:00", "accepted", "CR", ""),
        ("2025-11-10T09:30", "accepted", "LB-1", ""),
        ("2025-11-10T10:00", "stored", "LB-1", ""),
        received="2025-11-10T09:40",
    )
    assert [(span.state, span.holder) for span in chain.spans] == [(CARRIER, "CR"), (HELD, "LB-1")]


def test_a_hand_over_before_packing_does_not_record_the_journey() -> None:
    """FS-1 handed the box to PM-1, who packed it; then it was at the laboratory: nobody is on record on the way."""
    chain = shipped(
        ("2025-11-07T08:00", "relinquished", "FS-1", "PM-1"),
        ("2025-11-07T08:00", "accepted", "PM-1", ""),
        ("2025-11-07T09:10", "sealed", "PM-1", ""),
        ("2025-11-10T09:30", "lab_received", "LB-1", ""),
    )
    assert [(span.state, span.holder) for span in chain.spans] == [
        (HELD, "PM-1"), (UNRECORDED, "PM-1 → LB-1"),
    ]  # fmt: skip
    assert chain.spans[-1].minutes == 3 * 1440 + 20


def test_a_carrier_who_signed_minutes_before_the_packing_is_on_record_for_the_journey() -> None:
    """Signed for at 08:50, packed by the row at 09:00: the carrier's until received."""
    chain = shipped(("2025-11-07T08:50", "accepted", "CR", ""), ("2025-11-10T09:30", "lab_received", "LB-1", ""))
    assert [(span.state, span.holder) for span in chain.spans] == [(CARRIER, "CR")]


def test_a_shipment_carried_by_who_packed_it_needs_its_hand_over_on_record() -> None:
    """FS-1 drove it: given to and received by the laboratory in one minute, FS-1's until then."""
    chain = shipped(
        ("2025-11-10T08:00", "sealed", "FS-1", ""),
        ("2025-11-10T09:30", "relinquished", "FS-1", "LB-1"),
        ("2025-11-10T09:30", "lab_received", "LB-1", ""),
        packed="2025-11-10T08:00",
    )
    assert [(span.state, span.holder, span.minutes) for span in chain.spans] == [(HELD, "FS-1", 90)]


def returned(rows: list[dict[str, str]], **blank: dict[str, str]) -> Custody:
    """Return custody of two samplers set and retrieved by FS-2, with these custody rows and cells of other tables."""
    made = journey(PLAIN)
    made.tables["custody"] = rows
    made.tables["lab_samples"] = [
        {"lab_sample_id": f"L-{name}", "sampler_id": name, "analysed_at": ANALYSED} for name in SAMPLERS
    ]
    for table, values in blank.items():
        made.tables[table] = [row | values for row in made.tables[table]]
    survey, _ = load_folder(folder(made.tables))
    assert survey is not None
    return custody(survey, placements(survey))


ANALYSED = "2025-12-01T09:00-06:00"
BARE = {
    "return_bags": {"sealed_at": "", "sealed_by": ""},
    "shipments": {"packed_at": "", "received_at": ""},
    "deployments": {"retrieved_by": "FS-2"},
}


def test_who_retrieved_does_not_hold_until_the_analysis_of_which_no_way_is_on_record() -> None:
    """No custody row, no time of bag or shipment: from the retrieval to the analysis nobody is on record."""
    chain = returned([], **BARE).samplers["S-1"]
    last = chain.spans[-1]
    assert (last.state, last.holder) == (UNHELD, "FS-2 → laboratory, role not recorded")
    assert [(s.state, s.holder) for s in chain.spans if s.holder == "FS-2"] == []
    assert last.end == chain.events[-1].utc
    assert chain.silent_changes == ()


def test_who_sealed_the_bag_holds_until_then_and_no_longer() -> None:
    """Retrieved and, later, the bag sealed by FS-2: held for that time, then not on record."""
    sealed = BARE | {"return_bags": {"sealed_by": "FS-2"}}
    spans = returned([], **sealed).samplers["S-1"].spans[-2:]
    assert [(s.state, s.holder) for s in spans] == [
        (HELD, "FS-2"), (UNHELD, "FS-2 → laboratory, role not recorded"),
    ]  # fmt: skip
    assert 0 < spans[0].minutes < 1440 < spans[1].minutes


def test_a_receipt_that_only_the_shipment_s_row_tells_ends_no_holding() -> None:
    """Received on record, without a role: from FS-2's last act to it nobody is; then the laboratory has it."""
    made = BARE | {"shipments": {"packed_at": ""}}
    spans = returned([], **made).samplers["S-1"].spans[-2:]
    assert [(s.state, s.holder) for s in spans] == [
        (UNHELD, "FS-2 → laboratory, role not recorded"), (HELD, "laboratory, role not recorded"),
    ]  # fmt: skip


def test_who_took_at_the_laboratory_holds_through_the_analysis() -> None:
    """Handed by FS-2 to LB-1, who is the laboratory's by its organisation: held on, no stretch without a record."""
    acts = (("relinquished", "FS-2", "LB-1"), ("accepted", "LB-1", ""))
    rows = [
        {
            "event_id": f"E-{at}", "subject_kind": "bag", "subject_id": BAG, "event": event, "by_role": by,
            "to_role": to, "at": "2025-11-29T09:00-06:00", "organisation": "Laboratory" if by == "LB-1" else "",
        }
        for at, (event, by, to) in enumerate(acts)
    ]  # fmt: skip
    spans = returned(rows, **BARE).samplers["S-1"].spans[-2:]
    assert [(s.state, s.holder) for s in spans] == [(HELD, "FS-2"), (HELD, "LB-1")]
    assert spans[1].minutes == 2 * 1440


def test_who_acts_after_the_receipt_acts_at_the_laboratory() -> None:
    """The receipt is dated in shipments.csv; LB-1, of no organisation, stores the bag until it is analysed."""
    stored = {
        "event_id": "E-1", "subject_kind": "bag", "subject_id": BAG, "event": "stored", "by_role": "LB-1",
        "at": "2025-11-29T09:00-06:00",
    }  # fmt: skip
    last = returned([stored]).samplers["S-1"].spans[-1]
    assert (last.state, last.holder, last.minutes) == (STORED, "LB-1", 2 * 1440)


def test_a_thousand_rows_of_one_minute_are_one_hand_over() -> None:
    """Every sampler of a large case has its own rows: the shipment shows each act once, in order."""
    names = [f"S-{at:04}" for at in range(1000)]
    acts = (("relinquished", "LB-1", "CR"), ("accepted", "CR", ""))
    rows = [
        {
            "event_id": f"E-{name}-{event}", "subject_kind": "sampler", "subject_id": name, "event": event,
            "at": "2025-10-20T15:05", "by_role": by, "to_role": to, "organisation": "Carrier" if by == "CR" else "",
        }
        for event, by, to in reversed(acts)
        for name in names
    ]  # fmt: skip
    samplers = [{"sampler_id": name, "kind": "sample", "shipment_id": "O-9"} for name in names]
    box = {"shipment_id": "O-9", "direction": "out", "packed_at": "2025-10-20T15:00", "received_at": "2025-10-22T10:00"}
    survey, _ = load_folder(folder({"custody": rows, "samplers": samplers, "shipments": [box]}))
    assert survey is not None
    found = custody(survey, ())
    assert [event.kind for event in found.shipments["O-9"].events] == ["relinquished", "accepted", "received"]
    assert {tuple(told_spans(chain.spans)) for chain in found.samplers.values()} == {
        tuple(told_spans(found.shipments["O-9"].spans))
    }


def test_what_is_recorded_of_a_sampler_under_way_is_recorded_of_its_shipment() -> None:
    """Given away on 11 June; a carrier took S-1 of bag B-1 a day later, and the laboratory the whole on 13 June."""

    def event(number: int, kind: str, name: str, what: str, day: int, by: str) -> dict[str, str]:
        return {
            "event_id": f"E-{number}", "subject_kind": kind, "subject_id": name, "event": what,
            "at": f"2025-06-{day}T10:00", "by_role": by, "organisation": "Carrier" if by == "CR" else "Other",
        }  # fmt: skip

    survey, _ = load_folder(folder({
        "samplers": [{"sampler_id": "S-1", "kind": "sample"}],
        "locations": [{"location_id": "P-1", "medium": "soil_gas"}],
        "deployments": [{"sampler_id": "S-1", "location_id": "P-1", "placed_at": "2025-06-02T08:00",
                         "retrieved_at": "2025-06-10T08:00", "retrieved_by": "FS-1", "bag_id": "B-1"}],
        "return_bags": [{"bag_id": "B-1", "shipment_id": "R-1"}],
        "shipments": [{"shipment_id": "R-1", "direction": "return", "packed_at": "2025-06-11T10:00"}],
        "custody": [
            event(1, "shipment", "R-1", "relinquished", 11, "FS-1"),
            event(2, "sampler", "S-1", "carrier_scan", 12, "CR"),
            event(3, "shipment", "R-1", "lab_received", 13, "LB-1"),
            event(4, "shipment", "R-1", "stored", 14, "LB-1"),
        ],
    }))  # fmt: skip
    assert survey is not None
    spans = custody(survey, placements(survey)).shipments["R-1"].spans
    assert [(s.state, s.minutes) for s in spans] == [(UNRECORDED, 1440), (CARRIER, 1440), (HELD, 1440)]
