"""What the evening page shows, as frozen records: every line has a place in the folder."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple


class Latest(NamedTuple):
    """The moment that the page is about: the latest time on record and its place, or the report's date."""

    day: date
    text: str
    where: str


class Day(NamedTuple):
    """What is on record for one day."""

    day: str
    placed: int
    retrieved: int
    bags_sealed: int
    hand_overs: int
    photographs: int
    people: tuple[str, ...]


class Unplaced(NamedTuple):
    """Points of one medium without a sampler: ``said_placed`` where their status says otherwise."""

    medium: str
    number: int
    points: str
    said_placed: bool
    where: str


class InPlace(NamedTuple):
    """A sampler without a retrieval on record, the days it is due between, and whether the last is over."""

    sampler_id: str
    location_id: str
    placed_at: str
    due_from: str
    due_on: str
    overdue: bool
    field_blank: bool
    where: str


class Unused(NamedTuple):
    """Serials of one kind with nothing on record but their row."""

    kind: str
    number: int
    serials: str
    where: str


class Exposure(NamedTuple):
    """An exposure outside the plan: none at all, shorter than the shortest or longer than the longest."""

    sampler_id: str
    location_id: str
    lasted: str
    fault: str
    where: str


class Bag(NamedTuple):
    """A return bag: the samplers in it by deployments.csv, the number declared, its trip blank and seal."""

    bag_id: str
    counted: int
    declared: str
    trip_blank: str
    seal: str
    sealed_at: str
    where: str


class Sent(NamedTuple):
    """A shipment with its counts as declared and as received."""

    shipment_id: str
    direction: str
    packed_at: str
    declared: str
    received: str
    where: str


class Open(NamedTuple):
    """A conflict between a device and the folder that nobody has decided."""

    table: str
    key: str
    column: str
    device: str
    device_value: str
    folder_value: str
    where: str


class Line(NamedTuple):
    """A finding of a check: its severity, what it is about, what was found and expected, where, what to do."""

    severity: str
    about: str
    found: str
    expected: str
    where: str
    do: str


@dataclass(frozen=True, slots=True)
class Evening:
    """Everything on the page. ``counts`` says on how many records each section rests.

    ``evaluated`` is False where stops keep a part of the checks from running.
    """

    project: str
    title: str
    site: str
    stage: str
    digest: str
    latest: Latest
    counts: Mapping[str, int]
    days: tuple[Day, ...]
    unplaced: tuple[Unplaced, ...]
    in_place: tuple[InPlace, ...]
    unused: tuple[Unused, ...]
    exposures: tuple[Exposure, ...]
    exposure_limits: tuple[str, str]
    bags: tuple[Bag, ...]
    shipments: tuple[Sent, ...]
    conflicts: tuple[Open, ...]
    findings: Mapping[str, tuple[Line, ...]]
    evaluated: bool
