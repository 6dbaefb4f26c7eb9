"""Custody: who held a sampler, minute by minute.

A sampler's chain is put together from its own events, its placement and retrieval, those of the
outward shipment until it leaves it, those of its return bag from the moment it goes in, and those
of the return shipment. While things travel in one shipment, from packing to receipt, they have one
record: what is recorded of the shipment and of everything in it. So a sampler's line and its
shipment's agree. The states and what leads to them are in :mod:`sitegen.compute.custody.walk`.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise

from sitegen.compute.custody.events import (
    AT_LABORATORY,
    FROM_HAND,
    GIVING,
    Effect,
    Event,
    by_carrier,
    in_time_order,
    recorded_events,
)
from sitegen.compute.custody.walk import GAPS, OVERLAP, SilentChange, Span, walk
from sitegen.compute.field.exposure import FIELD_BLANK, Placement
from sitegen.project.schema import Origin
from sitegen.project.survey import Survey
from sitegen.project.tables import LabSample, ReturnBag, Sampler, Shipment

_IN_THE_FIELD = ("placed", "retrieved", "bagged")
_RECEIVED = ("received", "lab_received")
_LABORATORY = "laborator"
_TRAVELS = ("bagged", "sealed", "stored", "removed", *GIVING, *FROM_HAND)
"""Events that, recorded of a thing while it travels, are events of the whole shipment."""


@dataclass(frozen=True, slots=True)
class Chain:
    """A sampler's, bag's or shipment's custody from first to last event.

    ``passed`` are the changes of holder of which no hand-over is on record.
    """

    spans: tuple[Span, ...]
    events: tuple[Event, ...]
    silent_changes: tuple[SilentChange, ...] = ()

    def minutes_in(self, state: str) -> int:
        """Return the minutes spent in a state."""
        return sum(span.minutes for span in self.spans if span.state == state)

    @property
    def hand_overs(self) -> int:
        """How many givings and takings custody.csv records for this chain; 0 says that nothing is on record."""
        return sum(event.kind in (*GIVING, *FROM_HAND) and bool(event.event_id) for event in self.events)

    def has_hand_over(self, after_utc: int | None = None) -> bool:
        """Tell whether custody.csv records a giving or taking for this chain, from a moment on where one is given."""
        given = (event.utc for event in self.events if event.kind in (*GIVING, *FROM_HAND) and event.event_id)
        return any(after_utc is None or utc >= after_utc for utc in given)

    @property
    def drawn_to(self) -> int:
        """The moment up to which a drawing shows the chain: its last analysis, else its end.

        What is kept after it waits for disposal, which words tell; a later gap or overlap is drawn.
        """
        end = self.spans[-1].end
        analysed = max((event.utc for event in self.events if event.kind == "analysed"), default=end)
        later = any(span.end > analysed and (span.state in GAPS or span.state == OVERLAP) for span in self.spans)
        return end if later or analysed <= self.spans[0].start else min(analysed, end)


@dataclass(frozen=True, slots=True)
class Custody:
    """All chains, by sampler, bag and shipment, and the return bag of each sampler.

    ``received`` holds the shipments of which a receipt is on record, and when, in UTC minutes.
    """

    samplers: Mapping[str, Chain]
    bags: Mapping[str, Chain]
    shipments: Mapping[str, Chain]
    bag_of: Mapping[str, str]
    received: Mapping[str, int]


def custody(survey: Survey, placed: Iterable[Placement]) -> Custody:
    """Put every chain together."""
    book = _Book(survey, tuple(placed))
    samplers = {row.sampler_id: book.sampler_chain(row) for row in survey.rows(Sampler)}
    bags = {bag: book.chain("bag", bag, book.bag_events(bag)) for bag in book.bags}
    shipments = {name: book.chain("shipment", name, book.trip(name).events) for name in book.shipments}
    ends = {name: book.trip(name).end for name in book.shipments}
    received = {name: int(end) for name, end in ends.items() if end < math.inf}
    return Custody(samplers, bags, shipments, book.bag_of, received)


def _carriers(events: Iterable[Event]) -> frozenset[str]:
    """Roles that scanned a shipment on the way, or whose organisation is a carrier."""
    return frozenset(event.by for event in events if by_carrier(event.kind, event.organisation)) - {""}


def _laboratory(events: Iterable[Event]) -> frozenset[str]:
    """Roles that received or analysed at the laboratory, or whose organisation is one by its name or by them.

    An organisation that has people in the field as well tells nothing of a role.
    """
    every = list(events)
    crew = {event.by for event in every if event.kind in _IN_THE_FIELD}
    outside = {event.organisation for event in every if event.by in crew} | {""}
    own = {event.by for event in every if event.kind in AT_LABORATORY}
    names = {e.organisation for e in every if e.by in own or _LABORATORY in e.organisation.casefold()} - outside
    return frozenset((own | {e.by for e in every if e.organisation in names}) - crew - {""})


@dataclass(frozen=True, slots=True)
class _Trip:
    """A shipment's events, from its packing to its receipt (``end``, in UTC minutes) and on."""

    events: tuple[Event, ...] = ()
    end: float = math.inf

    def until_out(self, own: Iterable[Event]) -> list[Event]:
        """Return the events that bear on a thing inside until, after receipt, its ``own`` record goes on."""
        leaves = min((e.utc for e in own if e.utc > self.end and e.effect is not Effect.READS), default=math.inf)
        return [event for event in self.events if event.utc <= leaves]


class _Book:
    """The tables that chains are put together from, looked up by id."""

    def __init__(self, survey: Survey, placed: tuple[Placement, ...]) -> None:
        self.recorded = recorded_events(survey)
        rows = [event for events in self.recorded.values() for event in events]
        self.carriers, self.laboratory = _carriers(rows), _laboratory(rows)
        self.bags = {row.bag_id: row for row in survey.rows(ReturnBag)}
        self.shipments = {row.shipment_id: row for row in survey.rows(Shipment)}
        self.placed = {p.sampler_id: p for p in placed if p.role != FIELD_BLANK}
        self.bag_of = {p.sampler_id: p.bag_id for p in placed if p.bag_id}
        self.bag_of |= {row.trip_blank_id: bag for bag, row in self.bags.items() if row.trip_blank_id}
        self._analyses = _analyses(survey)
        self._inside = self._contents(survey)
        self._trips: dict[str, _Trip] = {}
        self._of_bag: dict[str, tuple[Event, ...]] = {}

    def _contents(self, survey: Survey) -> dict[str, list[tuple[str, str]]]:
        """Return the things in each shipment: bags, the samplers in them, samplers sent out in it."""
        contents: dict[str, list[tuple[str, str]]] = {}
        for bag, row in self.bags.items():
            contents.setdefault(row.shipment_id, []).append(("bag", bag))
        for sampler in survey.rows(Sampler):
            name = sampler.sampler_id
            for shipment in {sampler.shipment_id, self.way_back(self.bag_of.get(name, ""))} - {""}:
                contents.setdefault(shipment, []).append(("sampler", name))
        return contents

    def way_back(self, bag: str) -> str:
        """Return the shipment that a bag went back in, "" where none is on record."""
        row = self.bags.get(bag)
        return row.shipment_id if row else ""

    def own(self, kind: str, name: str) -> list[Event]:
        """Return a subject's own record: its custody rows, and a bag's sealing where none tells of it."""
        events = list(self.recorded.get((kind, name), ()))
        row = self.bags.get(name) if kind == "bag" else None
        if row and not math.isnan(row.sealed_at_utc) and not any(event.kind == "sealed" for event in events):
            events.append(Event(int(row.sealed_at_utc), row.sealed_at, "sealed", row.sealed_by, kind, name, row.origin))
        return events

    def trip(self, name: str) -> _Trip:
        """Return a shipment's events: its own and, while it travels, those of everything in it."""
        if name not in self._trips:
            self._trips[name] = self._trip(name)
        return self._trips[name]

    def _trip(self, name: str) -> _Trip:
        row = self.shipments.get(name)
        own = self.own("shipment", name)
        if row is None:
            return _Trip(tuple(own))
        packed = row.packed_at_utc
        start = min([*(event.utc for event in own[:1]), math.inf if math.isnan(packed) else packed])
        inside = [event for thing in self._inside.get(name, ()) for event in self.own(*thing)]
        inside = _without_repeats(event for event in inside if event.kind in _TRAVELS and event.utc >= start)
        end = self._arrival(row, in_time_order([*own, *inside]))
        events = _without_repeats([*own, *(event for event in inside if event.utc <= end)])
        return _Trip(in_time_order([*events, *self._way(row, events, end)]), end)

    def _arrival(self, row: Shipment, events: tuple[Event, ...]) -> float:
        """Return when a shipment was received: by its own events, else by its row or those of its contents."""
        receipts = [after for before, after in pairwise((None, *events)) if after and self._receives(before, after)]
        own = [event.utc for event in receipts if event.subject_kind == "shipment"]
        stated = math.inf if math.isnan(row.received_at_utc) else row.received_at_utc
        return min(own) if own else min([*(event.utc for event in receipts), stated])

    def _receives(self, before: Event | None, event: Event) -> bool:
        """Tell whether an event is a shipment's receipt: received by no carrier, or accepted from one."""
        if event.by in self.carriers:
            return False
        return event.kind in _RECEIVED or (
            event.kind == "accepted" and before is not None and before.by in self.carriers
        )

    def _way(self, row: Shipment, events: list[Event], end: float) -> Iterator[Event]:
        """Yield what a shipment's row says and no event does: its receipt, and its way where nobody is recorded."""
        subject = ("shipment", row.shipment_id)
        if end == row.received_at_utc and not any(e.kind in FROM_HAND and e.utc == end for e in events):
            kind = "lab_received" if row.direction == "return" else "received"
            yield Event(int(end), row.received_at, kind, "", *subject, row.origin)
        packed = row.packed_at_utc
        if packed < end < math.inf and not any(self._travels(event, packed, end) for event in events):
            *_, last = (None, *in_time_order(event for event in events if event.utc < end))
            if last is None or last.effect is not Effect.GIVES:
                by, utc = (last.by, max(int(packed), last.utc)) if last else ("", int(packed))
                yield Event(utc, row.packed_at, "packed", by, *subject, row.origin)

    def _travels(self, event: Event, packed: float, end: float) -> bool:
        """Tell whether an event records a shipment's way: a carrier's, or a hand-over between packing and receipt."""
        if event.by not in self.carriers and event.utc < packed:
            return False
        return (event.kind in GIVING and event.utc <= end) or (event.kind in FROM_HAND and event.utc < end)

    def bag_events(self, name: str) -> tuple[Event, ...]:
        """Return a bag's events with those of its shipment until it is out of it."""
        if name not in self._of_bag:
            own = self.own("bag", name)
            trip = self.trip(self.bags[name].shipment_id) if name in self.bags else _Trip()
            self._of_bag[name] = in_time_order(_without_repeats([*own, *trip.until_out(own)]))
        return self._of_bag[name]

    def sampler_chain(self, row: Sampler) -> Chain:
        """Put one sampler's chain together."""
        name = row.sampler_id
        placement = self.placed.get(name)
        own = self.own("sampler", name)
        bag = self.bag_of.get(name, "")
        enters = _enters(own, placement)
        into_bag = [event for event in self.bag_events(bag) if event.utc >= enters] if bag else []
        leaves = placement.placed_utc if placement else min((event.utc for event in into_bag), default=math.inf)
        events = [*own, *(event for event in self.trip(row.shipment_id).until_out(own) if event.utc <= leaves)]
        events += self._back(own, into_bag, bag)
        if placement:
            events += self._ground(placement, own)
        for run in self._analyses.get(name, ()):
            events.append(Event(int(run.analysed_at_utc), run.analysed_at, "analysed", "", "sampler", name, run.origin))
        return self.chain("sampler", name, in_time_order(_without_repeats(events)))

    def _back(self, own: list[Event], into_bag: list[Event], bag: str) -> list[Event]:
        """Return the events of a sampler's bag until, after receipt, the sampler's own record goes on."""
        if not bag:
            return []
        end = self.trip(self.way_back(bag)).end
        return _Trip(tuple(into_bag), end).until_out(own)

    def _ground(self, placement: Placement, own: list[Event]) -> Iterator[Event]:
        """Yield placing and retrieving, where the sampler's own events do not record them."""
        known = {event.kind for event in own}
        p = placement
        for utc, at, kind, by in (
            (p.placed_utc, p.placed_at, "placed", p.placed_by),
            (p.retrieved_utc, p.retrieved_at, "retrieved", p.retrieved_by),
        ):
            if kind not in known and utc is not None and p.placed_utc >= 0:
                yield Event(utc, at, kind, by, "sampler", p.sampler_id, p.origin)

    def _receipt(self, kind: str, name: str) -> float:
        """Return when the laboratory received the return shipment that a thing came back in."""
        bag = self.bag_of.get(name, "") if kind == "sampler" else name
        row = self.shipments.get(name if kind == "shipment" else self.way_back(bag))
        return self.trip(row.shipment_id).end if row and row.direction == "return" else math.inf

    def chain(self, kind: str, name: str, events: tuple[Event, ...]) -> Chain:
        """Turn events into a chain of spans."""
        way = walk(events, self.carriers, self.laboratory, self._receipt(kind, name))
        return Chain(way.spans, events, way.silent_changes)


def _analyses(survey: Survey) -> dict[str, list[LabSample]]:
    runs: dict[str, list[LabSample]] = {}
    for row in survey.rows(LabSample):
        if row.sampler_id and not math.isnan(row.analysed_at_utc):
            runs.setdefault(row.sampler_id, []).append(row)
    return runs


def _enters(own: list[Event], placement: Placement | None) -> float:
    """Return when a sampler goes into its bag: when it was bagged, else when it was retrieved, else at once."""
    out = -math.inf if placement is None or placement.retrieved_utc is None else placement.retrieved_utc
    return min((event.utc for event in own if event.kind == "bagged" and event.utc >= out), default=out)


def _without_repeats(events: Iterable[Event]) -> list[Event]:
    """Return events, each once; on a journey the same act of the same roles in one minute is one, the first said."""
    acts: dict[tuple[int, str, str, str, Origin | None], Event] = {}
    for event in events:
        origin = None if event.kind in _TRAVELS else event.origin
        acts.setdefault((event.utc, event.kind, event.by, event.to, origin), event)
    return list(acts.values())
