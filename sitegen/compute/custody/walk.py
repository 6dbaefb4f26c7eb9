"""The chain of custody as a state machine: events in order, stretches of time out.

A chain is in one state at a time. Each event has one effect (:mod:`sitegen.compute.custody.events`):

======================================== ========================================== ===================
event                                    the chain is afterwards                    with
======================================== ========================================== ===================
``released``, ``relinquished``           in transit, custody not recorded           nobody
``accepted``, ``received``,              held; with a carrier where the role is     the role that took
``lab_received``, ``carrier_scan``,      a carrier's
``retrieved``, ``removed``
the same without a role                  custody not recorded                       nobody
``bagged``, ``sealed``, ``analysed``     held, likewise                             the role that acted
``stored``                               stored                                     the role that stored
``placed``                               in place, unattended                       nobody
``disposed``                             at its end
``seal_checked``                         as before                                  as before
packing of a shipment of which no        in transit, custody not recorded           nobody
hand-over is on record
======================================== ========================================== ===================

Six rules complete the table.

1. Giving alone is not taking: to whomever a thing is given, nobody has it until somebody takes it
   or acts on it. A seal does not change that; it is evidence told beside the state.
2. Who took holds until another takes or acts, or gives it away. A carrier holds like any other.
3. A giving that names nobody, followed by an act of the same role, has not left its hands.
4. A giving on record after the receiver has taken, by a role that no longer holds, changes
   nothing; until then both are on record as holders (overlap), where one subject's record says so.
5. An event without a role leaves the thing with whoever has it. Where nobody has, or where it
   is taken over, the custody is not recorded; the laboratory alone is a holder without a role.
6. An act at another place, with neither giving nor taking on record, shows that the thing had left
   its holder before: from the holder's last act until then the custody is not recorded. Such acts
   are those at the laboratory while another has the thing, placing while the laboratory has it, and
   a receipt of which only the shipment's row tells; a carrier, though, holds until the receipt.

Held means: in a person's hands or view, locked up, or under a seal (US EPA Region 5 manual
905R78115, 1978).

A state follows from the last event, not from what came before: while things travel in one
shipment they share its events, and so a sampler's line and its shipment's agree by construction.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

from sitegen.compute.custody.events import ACCEPTING, AT_LABORATORY, FROM_HAND, Effect, Event

HELD = "held"
IN_PLACE = "in place, unattended"
CARRIER = "with a carrier"
STORED = "stored"
UNRECORDED = "in transit, custody not recorded"
UNHELD = "custody not recorded"
OVERLAP = "overlap"
STATES = (HELD, IN_PLACE, CARRIER, STORED, UNRECORDED, UNHELD, OVERLAP)
GAPS = frozenset({UNRECORDED, UNHELD})
"""States in which nobody is on record as answering for the thing."""
IN_CUSTODY = frozenset({HELD, CARRIER, STORED})
"""States in which somebody answers for the thing."""

UNNAMED = "role not recorded"
LABORATORY = f"laboratory, {UNNAMED}"


class Span(NamedTuple):
    """A stretch of a chain in one state, from and to in UTC minutes.

    ``giver`` and ``taker`` are the parties between whom nobody is recorded, or who both are.
    """

    start: int
    end: int
    state: str
    holder: str
    place: str
    events: tuple[Event, ...]
    giver: str = ""
    taker: str = ""

    @property
    def minutes(self) -> int:
        """Length in minutes."""
        return self.end - self.start


class SilentChange(NamedTuple):
    """A change of holder of which neither giving nor taking is on record: from whom, and the next one's event."""

    before: str
    event: Event


@dataclass(frozen=True, slots=True)
class Walk:
    """What a walk gives: the spans in order, without holes or overlaps, and the changes without a hand-over."""

    spans: tuple[Span, ...]
    silent_changes: tuple[SilentChange, ...]


class _State(NamedTuple):
    """The state that an event leads to."""

    state: str = ""
    holder: str = ""
    place: str = ""
    since: int = 0
    evidence: tuple[Event, ...] = ()
    giver: str = ""
    taker: str = ""


_ENDED = "ended"


@dataclass
class _Chain:
    """A walk under way."""

    carriers: frozenset[str]
    laboratory: frozenset[str]
    arrival: float
    now: _State = field(default_factory=_State)
    spans: list[Span] = field(default_factory=list)
    silent_changes: list[SilentChange] = field(default_factory=list)
    both: list[Span] = field(default_factory=list)
    ungiven: dict[str, Event] = field(default_factory=dict)
    """By role that held: the event by which another took from it without its giving."""

    def follow(self, event: Event, effect: Effect) -> None:
        """Take one event into account."""
        if self.now.state == _ENDED or (effect is Effect.GIVES and self._gives_late(event)):
            return
        if event.utc > self.now.since and self._elsewhere(event, effect):
            self.now = self.now._replace(state=UNHELD, holder="", place="", giver=self.now.holder)
        self._watch(event, effect)
        following = _STEPS[effect](self.now, event, self.carriers)
        if following is not None:
            self.close(event)
            self.now = following._replace(since=event.utc, evidence=(event,))

    def close(self, event: Event) -> None:
        """End the present state at an event."""
        now = self.now
        if now.state in ("", _ENDED) or event.utc <= now.since:
            return
        holder, taker = now.holder, ""
        if now.state in GAPS:
            taker = _next_party(now, event)
            holder = _parties(now.giver, taker)
        evidence = (*now.evidence, event)
        self.spans.append(Span(now.since, event.utc, now.state, holder, now.place, evidence, now.giver, taker))

    def _elsewhere(self, event: Event, effect: Effect) -> bool:
        """Tell whether an event shows that its holder had the thing no longer (rule 6)."""
        now = self.now
        if now.state not in IN_CUSTODY or effect is Effect.GIVES or event.by == now.holder:
            return False
        if event.kind in FROM_HAND:
            return not (event.event_id or event.by) and now.state != CARRIER
        here, there = self._at_laboratory(now.evidence[0]), self._at_laboratory(event)
        return there != here and (there or effect is Effect.PLACES)

    def _at_laboratory(self, event: Event) -> bool:
        """Tell whether an event took place at the laboratory."""
        return event.kind in AT_LABORATORY or event.by in self.laboratory or event.utc >= self.arrival

    def _gives_late(self, event: Event) -> bool:
        """Tell whether an event is the giving of what its receiver has already (rule 4)."""
        if not event.by or event.by == self.now.holder:
            return False
        take = self.ungiven.get(event.by)
        if take is None or event.to not in ("", take.by):
            return self.now.state in IN_CUSTODY and event.to == self.now.holder
        del self.ungiven[event.by]
        if take.kind in ACCEPTING and take.utc < event.utc and _same_subject(take, event):
            holder = f"{event.by} and {take.by}"
            self.both.append(Span(take.utc, event.utc, OVERLAP, holder, "", (take, event), event.by, take.by))
        return True

    def _watch(self, event: Event, effect: Effect) -> None:
        """Keep in mind who lost a thing without giving it, and by what event."""
        self.ungiven.pop(event.by, None)
        before = self.now.holder
        if self.now.state not in IN_CUSTODY or not event.by or before in (event.by, UNNAMED, LABORATORY):
            return
        if event.kind in FROM_HAND:
            self.ungiven[before] = event
        elif effect is not Effect.TAKES:
            self.silent_changes.append(SilentChange(before, event))


def walk(
    events: tuple[Event, ...],
    carriers: frozenset[str],
    laboratory: frozenset[str] = frozenset(),
    arrival: float = math.inf,
) -> Walk:
    """Turn events, in order, into spans: one is closed at each change of state.

    ``carriers`` are the roles that carry, ``laboratory`` those of the laboratory, ``arrival`` is the
    UTC minute at which it received the return shipment.
    """
    chain = _Chain(carriers, laboratory, arrival)
    moving = [event for event in events if event.effect is not Effect.READS]
    for event, following in zip(moving, [*moving[1:], None], strict=False):
        chain.follow(event, Effect.HAS if _stays_in_hand(event, following) else event.effect)
    if events:
        chain.close(events[-1])
    return Walk(tuple(_overlay(_merge(chain.spans), chain.both)), tuple(chain.silent_changes))


def _stays_in_hand(event: Event, following: Event | None) -> bool:
    """Tell whether a giving has not left the giver's hands (rule 3)."""
    if event.effect is not Effect.GIVES or event.to or not event.by or following is None:
        return False
    return following.by == event.by and following.effect is not Effect.TAKES


def _same_subject(one: Event, other: Event) -> bool:
    return (one.subject_kind, one.subject_id) == (other.subject_kind, other.subject_id)


def _next_party(now: _State, event: Event) -> str:
    """Return who is next on record after a giving: who acts, else to whom it was given."""
    if event.by and (event.by != now.giver or not now.taker):
        return event.by
    return now.taker or _actor(event)


def _parties(giver: str, taker: str) -> str:
    """Name the parties between whom nobody is on record."""
    return UNNAMED if giver == taker == UNNAMED else f"{giver} → {taker}"


# --- one step for each effect --------------------------------------------------------------


def _give(now: _State, event: Event, carriers: frozenset[str]) -> _State:  # noqa: ARG001 - one form for all steps
    giver = event.by or (now.holder if now.state in IN_CUSTODY else "") or UNNAMED
    return _State(UNRECORDED, giver=giver, taker=event.to)


def _leave(now: _State, event: Event, carriers: frozenset[str]) -> _State:  # noqa: ARG001
    return _State(UNRECORDED, giver=event.by or UNNAMED)


def _take(now: _State, event: Event, carriers: frozenset[str]) -> _State:
    if not event.by and event.kind == "removed" and now.state in IN_CUSTODY:
        return _in_hand(now.holder, event, carriers)
    return _in_hand(_actor(event), event, carriers)


def _act(now: _State, event: Event, carriers: frozenset[str]) -> _State | None:
    if not event.by and now.state in IN_CUSTODY:
        return None
    return _in_hand(_actor(event), event, carriers)


def _actor(event: Event) -> str:
    return event.by or (LABORATORY if event.kind in AT_LABORATORY else UNNAMED)


def _in_hand(holder: str, event: Event, carriers: frozenset[str]) -> _State:
    if holder == UNNAMED:
        return _State(UNHELD, giver=UNNAMED)
    return _State(CARRIER, holder) if holder in carriers else _State(HELD, holder, event.place)


def _store(now: _State, event: Event, carriers: frozenset[str]) -> _State:  # noqa: ARG001
    return _State(STORED, event.by or (now.holder if now.state in IN_CUSTODY else "") or UNNAMED, event.place)


def _place(now: _State, event: Event, carriers: frozenset[str]) -> _State:  # noqa: ARG001
    return _State(IN_PLACE, "", event.place)


def _end(now: _State, event: Event, carriers: frozenset[str]) -> _State:  # noqa: ARG001
    return _State(_ENDED)


_STEPS: Mapping[Effect, Callable[[_State, Event, frozenset[str]], _State | None]] = {
    Effect.GIVES: _give,
    Effect.TAKES: _take,
    Effect.HAS: _act,
    Effect.STORES: _store,
    Effect.PLACES: _place,
    Effect.LEAVES: _leave,
    Effect.ENDS: _end,
}


# --- spans put together --------------------------------------------------------------------


def _merge(spans: list[Span]) -> list[Span]:
    """Join neighbours in the same state with the same holder and place."""
    joined: list[Span] = []
    for span in spans:
        last = joined[-1] if joined else None
        same = last and (last.state, last.holder, last.place) == (span.state, span.holder, span.place)
        if last and last.end == span.start and (same or _goes_on(last, span)):
            extra = tuple(event for event in span.events if event not in last.events)
            joined[-1] = last._replace(end=span.end, events=last.events + extra, taker=span.taker)
            if span.state == UNHELD:
                joined[-1] = joined[-1]._replace(holder=_parties(last.giver, span.taker))
        else:
            joined.append(span)
    return joined


def _goes_on(last: Span, span: Span) -> bool:
    """Tell whether a time without a record goes on past an act that names nobody."""
    return last.state == span.state == UNHELD and last.taker == span.giver == UNNAMED


def _overlay(spans: list[Span], both: list[Span]) -> list[Span]:
    """Put the times with two holders over the others."""
    for overlap in both:
        spans = [part for span in spans for part in _cut_out(span, overlap)] + [overlap]
    return sorted(spans, key=lambda span: span.start)


def _cut_out(span: Span, hole: Span) -> list[Span]:
    parts = []
    if span.start < hole.start:
        parts.append(span._replace(end=min(span.end, hole.start)))
    if span.end > hole.end:
        parts.append(span._replace(start=max(span.start, hole.end)))
    return parts
