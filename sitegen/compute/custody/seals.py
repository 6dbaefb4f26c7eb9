"""Seals: what was put on, what was read at receipt, in which condition.

A seal keeps nobody's custody. Where nobody is recorded as holder, a seal that was on before and
was read as applied and intact afterwards is evidence that the contents were not reached.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TypeAlias

from sitegen.compute.custody.events import GIVING, Event, recorded_events
from sitegen.compute.custody.walk import Span
from sitegen.compute.formats import moment_text
from sitegen.project.survey import Survey
from sitegen.project.tables import ReturnBag, Shipment
from sitegen.voice import worded

Seals: TypeAlias = Mapping[tuple[str, str], "Seal"]
"""Seals by subject: ("bag", id) or ("shipment", id)."""

MOST_TOLD = 3
"""At most this many seals are told one by one beside a time without a holder; the rest are counted."""
EQUAL, DIFFERS, NOT_READ, NOT_APPLIED = "equal", "differs", "not read", "not applied"


@dataclass(frozen=True, slots=True)
class Seal:
    """The seal of a bag or shipment. Numbers and condition are "" and times None where not on record.

    ``where`` is the file, row and column of the reading, else of the number applied.
    """

    kind: str
    subject: str
    applied: str
    read: str
    condition: str
    on_utc: int | None
    read_utc: int | None
    where: tuple[str, int, str]

    @property
    def verdict(self) -> str:
        """Whether the number read is the one applied."""
        if not self.applied:
            return NOT_APPLIED
        if not self.read:
            return NOT_READ
        return EQUAL if self.applied == self.read else DIFFERS

    def spans(self, start: int, end: int) -> bool:
        """Tell whether the seal was on before a time began and was read after it ended."""
        return self.on_utc is not None and self.read_utc is not None and self.on_utc <= start and self.read_utc >= end

    def text(self, zone: str) -> str:
        """Write what is known of the seal in one phrase, times local to ``zone``."""
        name = f"{worded(self.kind)} {self.subject}"
        if not self.applied:
            return worded("no seal of {name} on record", name=name)
        when = moment_text(self.on_utc, zone) if self.on_utc is not None else worded("a date not on record")
        read = {
            EQUAL: worded("read unchanged at receipt"),
            DIFFERS: worded("read as {number} at receipt", number=self.read),
            NOT_READ: worded("no number read at receipt on record"),
        }[self.verdict]
        return worded(
            "{name} sealed on {when} with {number}, {read}, condition {condition}",
            name=name,
            when=when,
            number=self.applied,
            read=read,
            condition=worded(self.condition or "not recorded"),
        )


def seals(survey: Survey) -> dict[tuple[str, str], Seal]:
    """Return the seal of every bag and shipment, as far as it is on record."""
    recorded = recorded_events(survey)
    every = [_of_bag(row, recorded) for row in survey.rows(ReturnBag)]
    every += [_of_shipment(row, recorded) for row in survey.rows(Shipment)]
    return {(seal.kind, seal.subject): seal for seal in every}


_Events: TypeAlias = Mapping[tuple[str, str], Iterable[Event]]


def _of_bag(row: ReturnBag, recorded: _Events) -> Seal:
    events = tuple(recorded.get(("bag", row.bag_id), ()))
    put_on = next((event for event in events if event.kind == "sealed"), None)
    applied = row.seal_applied or (put_on.seal_number if put_on else "")
    on_utc = put_on.utc if put_on else _minutes(row.sealed_at_utc)
    check = _reading(events, ("seal_checked",), applied)
    if check is None:
        return Seal("bag", row.bag_id, applied, "", "", on_utc, None, row.origin.cell("seal_applied"))
    return Seal("bag", row.bag_id, applied, *_as_read(check), on_utc, check.utc, _place(check))


def _of_shipment(row: Shipment, recorded: _Events) -> Seal:
    name = row.shipment_id
    events = tuple(recorded.get(("shipment", name), ()))
    put_on = next((event for event in events if event.kind == "sealed" or _is_sealed_giving(event)), None)
    applied = row.seal_outer or (put_on.seal_number if put_on else "")
    on_utc = put_on.utc if put_on else None
    check = _reading(events, ("seal_checked", "received", "lab_received"), applied)
    read_utc = check.utc if check else _minutes(row.received_at_utc)
    if check and not row.seal_received:
        return Seal("shipment", name, applied, *_as_read(check), on_utc, read_utc, _place(check))
    where = row.origin.cell("seal_received")
    return Seal("shipment", name, applied, row.seal_received, row.seal_condition, on_utc, read_utc, where)


def _is_sealed_giving(event: Event) -> bool:
    return event.kind in GIVING and event.seal_number != ""


def _as_read(check: Event) -> tuple[str, str]:
    return check.seal_number, check.seal_condition


def _place(check: Event) -> tuple[str, int, str]:
    return check.origin.cell("seal_number")


def _reading(events: Iterable[Event], kinds: tuple[str, ...], applied: str) -> Event | None:
    """Return the event that reads a seal: the first that differs from what was applied, else the last one."""
    read = [event for event in events if event.kind in kinds and event.seal_number]
    return next((event for event in read if applied not in ("", event.seal_number)), read[-1] if read else None)


def _minutes(utc: float) -> int | None:
    return None if math.isnan(utc) else int(utc)


def gap_evidence(on_file: Seals, span: Span, bags: Iterable[str], zone: str) -> str:
    """Write what seals say of a time without a holder.

    Told are the seal of the bag or shipment that was on its way, and those of the ``bags``
    concerned that were sealed before it ended. A seal that was not on throughout says so.
    """
    first = span.events[0]
    own = (first.subject_kind, first.subject_id)
    others = (("bag", bag) for bag in bags if ("bag", bag) != own)
    evidence = [on_file[own]] if own in on_file else []
    evidence += [on_file[key] for key in others if key in on_file and (on_file[key].on_utc or span.end) < span.end]
    parts = [seal.text(zone) + _reach(seal, span.start, span.end) for seal in evidence[:MOST_TOLD]]
    if more := evidence[MOST_TOLD:]:
        unchanged = sum(seal.verdict == EQUAL for seal in more)
        parts.append(
            worded("{unchanged} of {more} more seals read unchanged at receipt", unchanged=unchanged, more=len(more))
        )
    return "; ".join(parts)


def _reach(seal: Seal, start: int, end: int) -> str:
    if not seal.applied or seal.spans(start, end):
        return ""
    if seal.on_utc is not None and seal.on_utc > start:
        return worded(", put on after this time began")
    return worded(", not known to have been on throughout")
