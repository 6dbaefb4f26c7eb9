"""Custody: who held a sampler, minute by minute.

A sampler's chain is put together from its own events, its placement and retrieval, the events
of the outward shipment until it was placed, those of its return bag from the moment it went
in, and those of the return shipment. In the ground it is neither held nor lost: *in place,
unattended*.

Held means: in a person's hands or view, locked up, or under a seal (US EPA Region 5
manual 905R78115, 1978).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple

from sitegen.compute.exposure import FIELD_BLANK, Placement
from sitegen.project.survey import Survey

HELD = "held"
IN_PLACE = "in place, unattended"
CARRIER = "under seal with a carrier"
STORED = "stored"
GAP = "gap"
OVERLAP = "overlap"
STATES = (HELD, IN_PLACE, CARRIER, STORED, GAP, OVERLAP)

_TAKES = (
    "released",
    "received",
    "accepted",
    "lab_received",
    "retrieved",
    "removed",
    "bagged",
    "sealed",
    "analysed",
)
RANK = {name: at for at, name in enumerate(("relinquished", "accepted", "received", "lab_received", "retrieved"))}


class Event(NamedTuple):
    """One event of a chain, with the row that records it."""

    utc: int
    at: str
    kind: str
    by: str
    to: str
    organisation: str
    subject_kind: str
    subject_id: str
    signature: str
    seal_number: str
    place: str
    comment: str
    scan_file: str
    file: str
    row: int

    @property
    def sort_key(self) -> tuple[int, int, str, int]:
        """By time; at the same minute a release stands before what follows from it."""
        return (self.utc, RANK.get(self.kind, len(RANK)), self.file, self.row)


class Span(NamedTuple):
    """A stretch of a chain in one state, from and to in UTC minutes."""

    start: int
    end: int
    state: str
    holder: str
    place: str
    events: tuple[Event, ...]

    @property
    def minutes(self) -> int:
        """Length in minutes."""
        return self.end - self.start


@dataclass(frozen=True, slots=True)
class Chain:
    """A sampler's, bag's or shipment's custody from first to last event."""

    subject_kind: str
    subject_id: str
    spans: tuple[Span, ...]
    events: tuple[Event, ...]

    def minutes_in(self, state: str) -> int:
        """Return the minutes spent in a state."""
        return sum(span.minutes for span in self.spans if span.state == state)

    @property
    def drawn_to(self) -> int:
        """The moment up to which a drawing shows the chain: its last analysis, else its end.

        What is kept after it waits for disposal, which words tell; a later gap or overlap is drawn.
        """
        end = self.spans[-1].end
        analysed = max((event.utc for event in self.events if event.kind == "analysed"), default=end)
        later = any(span.end > analysed and span.state in (GAP, OVERLAP) for span in self.spans)
        return end if later or analysed <= self.spans[0].start else min(analysed, end)

    def at(self, utc: int) -> Span | None:
        """Return the span that holds a moment, None outside the chain."""
        return next((span for span in self.spans if span.start <= utc < span.end), None)


@dataclass(frozen=True, slots=True)
class Custody:
    """All chains, by sampler, bag and shipment, and the roles that carry."""

    samplers: Mapping[str, Chain]
    bags: Mapping[str, Chain]
    shipments: Mapping[str, Chain]
    carriers: frozenset[str]
    bag_of: Mapping[str, str]


def custody(survey: Survey, placed: Iterable[Placement]) -> Custody:
    """Put every chain together."""
    events = _events(survey)
    carriers = _carriers(events)
    by_subject: dict[tuple[str, str], list[Event]] = {}
    for event in events:
        by_subject.setdefault((event.subject_kind, event.subject_id), []).append(event)
    book = _Book(survey, tuple(placed), by_subject, carriers)
    samplers = {row["sampler_id"]: book.sampler_chain(row) for row in survey.records("samplers")}
    bags = {bag: book.chain("bag", bag, book.bag_events(bag)) for bag in book.bags}
    shipments = {name: book.chain("shipment", name, book.shipment_events(name)) for name in book.shipments}
    return Custody(samplers, bags, shipments, carriers, book.bag_of)


def _events(survey: Survey) -> list[Event]:
    path = survey.tables["custody"].spec.path
    return [
        Event(
            int(row["at_utc"]), row["at"], row["event"], row["by_role"], row["to_role"], row["organisation"],
            row["subject_kind"], row["subject_id"], row["signature"], row["seal_number"], row["place"],
            row["comment"], row["scan_file"], path, int(row["_row"]),
        )
        for row in survey.records("custody")
        if not math.isnan(row["at_utc"])
    ]  # fmt: skip


def _carriers(events: Iterable[Event]) -> frozenset[str]:
    """Roles that scanned a shipment on the way, or whose organisation is a carrier."""
    return frozenset(
        event.by
        for event in events
        if event.kind == "carrier_scan" or event.organisation.casefold().startswith("carrier")
    ) - {""}


class _Book:
    """The tables that chains are put together from, looked up by id."""

    def __init__(
        self,
        survey: Survey,
        placed: tuple[Placement, ...],
        by_subject: Mapping[tuple[str, str], list[Event]],
        carriers: frozenset[str],
    ) -> None:
        self.by_subject = by_subject
        self._of_shipment: dict[str, list[Event]] = {}
        self._of_bag: dict[str, list[Event]] = {}
        self.carriers = carriers
        self.bags = {row["bag_id"]: row for row in survey.records("return_bags")}
        self.shipments = {row["shipment_id"]: row for row in survey.records("shipments")}
        self.placed = {p.sampler_id: p for p in placed if p.role != FIELD_BLANK}
        self.bag_of = {p.sampler_id: p.bag_id for p in placed if p.bag_id}
        self.bag_of |= {row["trip_blank_id"]: bag for bag, row in self.bags.items() if row["trip_blank_id"]}
        self.analyses = self._analyses(survey)
        self.paths = {name: table.spec.path for name, table in survey.tables.items()}

    @staticmethod
    def _analyses(survey: Survey) -> dict[str, list[dict[str, Any]]]:
        found: dict[str, list[dict[str, Any]]] = {}
        for row in survey.records("lab_samples"):
            if row["sampler_id"] and not math.isnan(row["analysed_at_utc"]):
                found.setdefault(row["sampler_id"], []).append(row)
        return found

    def own(self, kind: str, name: str) -> list[Event]:
        """Return a subject's own custody rows."""
        return list(self.by_subject.get((kind, name), ()))

    def shipment_events(self, name: str) -> list[Event]:
        """Return a shipment's events; its receipt stands in where no event records it."""
        if name not in self._of_shipment:
            self._of_shipment[name] = self._shipment_events(name)
        return self._of_shipment[name]

    def _shipment_events(self, name: str) -> list[Event]:
        events = self.own("shipment", name)
        row = self.shipments.get(name)
        if row is None:
            return events
        kinds = {event.kind for event in events}
        if not kinds & {"received", "lab_received"} and not math.isnan(row["received_at_utc"]):
            kind = "lab_received" if row["direction"] == "return" else "received"
            events.append(self._implied("shipments", row, "received_at", kind, "", "shipment", name))
        return sorted(events, key=lambda event: event.sort_key)

    def bag_events(self, name: str) -> list[Event]:
        """Return a bag's events with those of its shipment from the moment it was packed."""
        if name not in self._of_bag:
            self._of_bag[name] = self._bag_events(name)
        return self._of_bag[name]

    def _bag_events(self, name: str) -> list[Event]:
        events = self.own("bag", name)
        row = self.bags.get(name)
        if row is not None:
            if not any(event.kind == "sealed" for event in events) and not math.isnan(row["sealed_at_utc"]):
                events.append(self._implied("return_bags", row, "sealed_at", "sealed", row["sealed_by"], "bag", name))
            events += self.shipment_events(row["shipment_id"])
        return sorted(events, key=lambda event: event.sort_key)

    def sampler_chain(self, row: dict[str, Any]) -> Chain:
        """Put one sampler's chain together."""
        name = row["sampler_id"]
        placement = self.placed.get(name)
        events = self.own("sampler", name)
        bag = self.bag_of.get(name, "")
        into_bag = self.bag_events(bag) if bag else []
        leaves = placement.placed_utc if placement else (into_bag[0].utc if into_bag else math.inf)
        events += [event for event in self.shipment_events(row["shipment_id"]) if event.utc <= leaves]
        out = placement.retrieved_utc if placement else None
        events += [event for event in into_bag if out is None or event.utc >= out]
        if placement:
            events += self._ground(placement, events)
        for run in self.analyses.get(name, ()):
            events.append(self._implied("lab_samples", run, "analysed_at", "analysed", "", "sampler", name))
        return self.chain("sampler", name, events)

    def _ground(self, placement: Placement, events: list[Event]) -> list[Event]:
        """Return placing and retrieving, where the sampler's own events do not record them."""
        own = {event.kind for event in events if event.subject_kind == "sampler"}
        implied = []
        row = {
            "_row": placement.row,
            "placed_at": placement.placed_at,
            "retrieved_at": placement.retrieved_at,
        }
        row |= {"placed_at_utc": placement.placed_utc, "retrieved_at_utc": placement.retrieved_utc}
        for kind, by in (("placed", placement.placed_by), ("retrieved", placement.retrieved_by)):
            if kind not in own and row[f"{kind}_at_utc"] is not None and placement.placed_utc >= 0:
                implied.append(
                    self._implied("deployments", row, f"{kind}_at", kind, by, "sampler", placement.sampler_id)
                )
        return implied

    def _implied(self, table: str, row: Mapping[str, Any], column: str, kind: str, by: str, *subject: str) -> Event:
        return Event(
            int(row[f"{column}_utc"]), row[column], kind, by, "", "", subject[0], subject[1], "", "", "", "", "",
            self.paths[table], int(row["_row"]),
        )  # fmt: skip

    def chain(self, kind: str, name: str, events: list[Event]) -> Chain:
        """Turn events into a chain of spans."""
        ordered = tuple(sorted(events, key=lambda event: event.sort_key))
        return Chain(kind, name, tuple(walk(ordered, self.carriers, self._sealed(ordered))), ordered)

    def _sealed(self, events: Iterable[Event]) -> bool:
        return any(event.kind == "sealed" or event.seal_number for event in events) or any(
            self.shipments.get(event.subject_id, {}).get("seal_outer") for event in events
        )


@dataclass
class _State:
    state: str = ""
    holder: str = ""
    place: str = ""
    since: int = 0
    pending: tuple[str, str] | None = None
    evidence: tuple[Event, ...] = ()


def walk(events: tuple[Event, ...], carriers: frozenset[str], sealed: bool) -> list[Span]:
    """Turn events in time order into spans: one is closed at each change of state.

    ``carriers`` are the roles that carry; ``sealed`` tells whether what they carry is under
    a seal, without which their holding it is a gap.
    """
    spans: list[Span] = []
    now = _State()
    for event in events:
        following = _step(now, event, carriers, sealed)
        if following is None:
            continue
        _close(spans, now, event)
        following.since = event.utc
        now = following
    if now.state and now.state != "ended":
        last = events[-1].utc
        if last > now.since:
            spans.append(Span(now.since, last, now.state, now.holder, now.place, now.evidence))
    return _overlaps(_merged(spans), events)


def _close(spans: list[Span], now: _State, event: Event) -> None:
    if not now.state or now.state == "ended" or event.utc <= now.since:
        return
    holder = now.holder
    if now.state == GAP and now.pending:
        receiver = event.by or now.pending[1] or "not recorded"
        holder = f"{now.pending[0]} → {receiver}"
    spans.append(Span(now.since, event.utc, now.state, holder, now.place, (*now.evidence, event)))


def _step(now: _State, event: Event, carriers: frozenset[str], sealed: bool) -> _State | None:
    """Return the state after an event, None where it changes nothing."""
    if event.kind in _TAKES:
        return _taken(now, event, carriers, sealed)
    if event.kind == "placed":
        return _State(IN_PLACE, "", event.place, evidence=(event,))
    if event.kind == "disposed":
        return _State("ended", evidence=(event,))
    if event.kind == "relinquished":
        return _released(now, event, carriers, sealed)
    if event.kind == "stored":
        return _State(STORED, event.by or now.holder, event.place, evidence=(event,))
    return None


def _taken(now: _State, event: Event, carriers: frozenset[str], sealed: bool) -> _State | None:
    if event.by in carriers and event.by:
        return _State(CARRIER if sealed else GAP, event.by, evidence=(event,), pending=(event.by, ""))
    if event.kind == "analysed" and not event.by and now.state in (HELD, STORED):
        return None
    return _State(HELD, event.by or now.holder or "not recorded", event.place, evidence=(event,))


def _released(now: _State, event: Event, carriers: frozenset[str], sealed: bool) -> _State | None:
    already_there = now.state == HELD and event.to != "" and event.to == now.holder
    if now.state == GAP or already_there:
        return None
    to_carrier = event.to in carriers or (event.subject_kind == "shipment" and not event.to)
    if to_carrier and event.by not in carriers:
        return _State(
            CARRIER if sealed else GAP, event.to or "carrier", evidence=(event,), pending=(event.by, event.to)
        )
    return _State(GAP, "", evidence=(event,), pending=(event.by or now.holder, event.to))


def _merged(spans: list[Span]) -> list[Span]:
    """Join neighbours in the same state with the same holder and place."""
    joined: list[Span] = []
    for span in spans:
        last = joined[-1] if joined else None
        same = last and (last.state, last.holder, last.place) == (span.state, span.holder, span.place)
        if last and same and last.end == span.start:
            extra = tuple(event for event in span.events if event not in last.events)
            joined[-1] = last._replace(end=span.end, events=last.events + extra)
        else:
            joined.append(span)
    return joined


def _overlaps(spans: list[Span], events: tuple[Event, ...]) -> list[Span]:
    """Mark the time in which two holders are recorded at once.

    A role that takes over before the holder gives up holds together with it until the
    holder's release is recorded.
    """
    takes = [event for event in events if event.kind in ("accepted", "received", "lab_received")]
    releases = [event for event in events if event.kind == "relinquished"]
    late = [(take, release) for take in takes for release in releases if _released_late(take, release, takes)]
    for take, release in late:
        holder = f"{release.by} and {take.by}"
        overlap = Span(take.utc, release.utc, OVERLAP, holder, "", (take, release))
        spans = [part for span in spans for part in _without(span, overlap)] + [overlap]
    return sorted(spans, key=lambda span: span.start)


def _released_late(take: Event, release: Event, takes: list[Event]) -> bool:
    """Tell whether ``release`` is the giving up of what ``take`` took before."""
    if release.utc <= take.utc or release.subject_id != take.subject_id:
        return False
    if release.by == take.by or release.to not in ("", take.by):
        return False
    return not any(take.utc < other.utc < release.utc and other.by == release.by for other in takes)


def _without(span: Span, hole: Span) -> list[Span]:
    parts = []
    if span.start < hole.start:
        parts.append(span._replace(end=min(span.end, hole.start)))
    if span.end > hole.end:
        parts.append(span._replace(start=max(span.start, hole.end)))
    return parts
