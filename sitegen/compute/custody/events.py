"""Custody events: what each one says, and in which order those of one minute happened.

The words of ``custody.event`` fall into few effects; :data:`EFFECTS` is the whole list. Events
follow one another by time. In one minute the meaning of the words decides, never the order of
the rows: a thing is given before it is taken, who takes it does so before acting on it, and who
gives it has acted on it before.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from enum import Enum
from itertools import groupby
from typing import NamedTuple

from sitegen.project.places import row_order
from sitegen.project.schema import Origin
from sitegen.project.survey import Survey
from sitegen.project.tables import CustodyEvent


class Effect(Enum):
    """What an event does to the chain."""

    GIVES = "gives out of hand"
    TAKES = "takes in hand"
    HAS = "is done by whoever has it in hand"
    STORES = "puts into a store"
    PLACES = "puts into the ground or the room sampled"
    LEAVES = "goes on its way with nobody named"
    READS = "is read, and stays where it is"
    ENDS = "is no more"


EFFECTS: Mapping[str, Effect] = {
    "retrieved": Effect.TAKES,
    "removed": Effect.TAKES,
    "bagged": Effect.HAS,
    "sealed": Effect.HAS,
    "released": Effect.GIVES,
    "relinquished": Effect.GIVES,
    "packed": Effect.LEAVES,
    "accepted": Effect.TAKES,
    "received": Effect.TAKES,
    "lab_received": Effect.TAKES,
    "carrier_scan": Effect.TAKES,
    "seal_checked": Effect.READS,
    "stored": Effect.STORES,
    "placed": Effect.PLACES,
    "analysed": Effect.HAS,
    "disposed": Effect.ENDS,
}
"""The effect of each event, in the order of a day's work. ``packed`` is no word of custody.csv:
it stands for a shipment's packing where nobody is recorded between packing and receipt."""

GIVING = ("released", "relinquished")
ACCEPTING = ("accepted", "received", "lab_received")
FROM_HAND = (*ACCEPTING, "carrier_scan")
"""Events by which a thing is taken from somebody, not from a store or from the ground."""
AT_LABORATORY = ("lab_received", "analysed")
"""Events that take place at the laboratory, whoever does them."""
HAND_OVERS = (*GIVING, *ACCEPTING)
"""The two sides of a hand-over, each of which somebody signs."""

_WORK_ORDER = {kind: at for at, kind in enumerate(EFFECTS)}


IMPLIED_BY: Mapping[str, str] = {
    "packed": "packed_at",
    "placed": "placed_at",
    "retrieved": "retrieved_at",
    "sealed": "sealed_at",
    "received": "received_at",
    "lab_received": "received_at",
    "analysed": "analysed_at",
}
"""The column of the record that implies an event, where no custody row records it."""


class Event(NamedTuple):
    """One event of a chain, with the row that records it; ``event_id`` is "" where no custody row does."""

    utc: int
    at: str
    kind: str
    by: str
    subject_kind: str
    subject_id: str
    origin: Origin
    event_id: str = ""
    to: str = ""
    organisation: str = ""
    signature: str = ""
    seal_number: str = ""
    seal_condition: str = ""
    place: str = ""
    comment: str = ""
    scan_file: str = ""

    @property
    def effect(self) -> Effect:
        """What the event does to the chain."""
        return EFFECTS[self.kind]

    @property
    def column(self) -> str:
        """The column that holds its time."""
        return "at" if self.event_id else IMPLIED_BY.get(self.kind, "at")

    @property
    def sort_key(self) -> tuple[int, int, tuple[str, int, str, str]]:
        """By time; within a minute by the order of a day's work, then by row."""
        return (self.utc, _WORK_ORDER[self.kind], row_order(self.origin))


def by_carrier(event: str, organisation: str) -> bool:
    """Tell whether an event is a carrier's: a scan on the way, or an act of an organisation called a carrier."""
    return event == "carrier_scan" or organisation.casefold().startswith("carrier")


def recorded_events(survey: Survey) -> dict[tuple[str, str], list[Event]]:
    """Return the rows of custody.csv that have a time, by subject, in order."""
    by_subject: dict[tuple[str, str], list[Event]] = {}
    for row in survey.rows(CustodyEvent):
        if row.event in EFFECTS and not math.isnan(row.at_utc):
            event = Event(
                int(row.at_utc), row.at, row.event, row.by_role, row.subject_kind, row.subject_id, row.origin,
                row.event_id, row.to_role, row.organisation, row.signature, row.seal_number, row.seal_condition,
                row.place, row.comment, row.scan_file,
            )  # fmt: skip
            by_subject.setdefault((event.subject_kind, event.subject_id), []).append(event)
    return {subject: list(in_time_order(events)) for subject, events in by_subject.items()}


def in_time_order(events: Iterable[Event]) -> tuple[Event, ...]:
    """Return events in the order in which they happened, those of one minute by the meaning of their words."""
    ordered = sorted(events, key=lambda event: event.sort_key)
    events_in_order: list[Event] = []
    for _, minute in groupby(ordered, key=lambda event: event.utc):
        events_in_order += _within_minute(list(minute))
    return tuple(events_in_order)


def _within_minute(left: list[Event]) -> list[Event]:
    """Order the events of one minute: each time the first, in work order, that no other must precede."""
    first = []
    while len(left) > 1:
        free = (event for event in left if not any(_precedes(other, event) for other in left if other is not event))
        first.append(next(free, left[0]))
        left.remove(first[-1])
    return first + left


def _precedes(first: Event, second: Event) -> bool:
    """Tell whether ``first`` must come before ``second``, both being of one minute."""
    if first.effect is Effect.GIVES and second.kind in FROM_HAND:
        return second.by == first.to if first.to else second.by != first.by
    if not first.by or first.by != second.by:
        return False
    if first.kind in FROM_HAND:
        return second.kind not in FROM_HAND
    return second.effect is Effect.GIVES and first.effect is not Effect.GIVES
