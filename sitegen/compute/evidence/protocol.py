"""The protocol that the records show: how samplers went in, came out, were packed and sent, each with its counts."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from sitegen.compute.custody.seals import seals
from sitegen.compute.design.fieldplan import Ground, ground_of
from sitegen.compute.field.exposure import DUPLICATE, Placement, depth
from sitegen.project.survey import Survey
from sitegen.project.tables import Deployment, Location, ReturnBag, Sampler, Shipment

GROUNDS: tuple[Ground, ...] = ("unpaved", "paved", "slab", "air")

Counts = tuple[tuple[str, int], ...]
"""Words of the format with how many rows have each, the most frequent first."""


@dataclass(frozen=True, slots=True)
class Stated:
    """A column over some rows: how many rows have which word, and how many rows there are.

    >>> Stated.of(["yes", "yes", "no", "", "NA"])
    Stated(counts=(('yes', 2), ('no', 1)), rows=5)
    """

    counts: Counts
    rows: int

    @classmethod
    def of(cls, words: Iterable[str]) -> Stated:
        """Count the words of a column; blank and ``NA`` state nothing."""
        known = list(words)
        counted = Counter(word for word in known if word not in ("", "NA"))
        return cls(tuple(sorted(counted.items(), key=lambda one: (-one[1], one[0]))), len(known))

    def __getitem__(self, word: str) -> int:
        """Return how many rows have a word."""
        return dict(self.counts).get(word, 0)

    @property
    def on_record(self) -> int:
        """How many rows state anything."""
        return sum(count for _, count in self.counts)

    @property
    def missing(self) -> int:
        """How many rows state nothing."""
        return self.rows - self.on_record


@dataclass(frozen=True, slots=True)
class Installation:
    """How samplers were placed in one kind of ground; ``samplers`` count duplicates, ``doubled`` are these alone.

    ``depths`` are the least and the greatest depth on record, as written; () where none is.
    """

    ground: Ground
    samplers: int
    doubled: int
    points: int
    method: Stated
    diameters_in: tuple[float, ...]
    depths: tuple[str, ...]
    sleeve: Stated
    closure: Stated
    refusal: Stated


@dataclass(frozen=True, slots=True)
class Retrieval:
    """How samplers came out: their condition, and how the holes among them were left."""

    samplers: int
    condition: Stated
    alone: Stated
    holes: int
    restored: Stated


@dataclass(frozen=True, slots=True)
class Packing:
    """How samplers were marked, bagged, sealed and sent back; ``chilled`` is a column of return shipments.

    Seals are those of the tables and, where these have none, of custody.csv.
    """

    issued: int
    labelled: int
    bagged: int
    bags: int
    sealed: int
    with_blank: int
    shipments: int
    outer_seals: int
    seal_read: Stated
    chilled: Stated


@dataclass(frozen=True, slots=True)
class Protocol:
    """What the records show of the work in the field; a kind of ground without a sampler is left out."""

    installations: tuple[Installation, ...]
    retrieval: Retrieval
    packing: Packing


def protocol(survey: Survey, placed: Sequence[Placement]) -> Protocol:
    """Return the protocol of the samplers ``placed`` at points, field blanks aside."""
    rows = {row.sampler_id: row for row in survey.rows(Deployment)}
    places = {row.location_id: row for row in survey.rows(Location)}
    at = {p.sampler_id: ground_of(places[p.location_id]) for p in placed if p.location_id in places}
    made = (_installation(ground, [p for p in placed if at.get(p.sampler_id) == ground], rows) for ground in GROUNDS)
    back = [rows[p.sampler_id] for p in placed if p.recovered]
    return Protocol(
        tuple(one for one in made if one.samplers), _retrieval(back, at), _packing(survey, list(rows.values()))
    )


def _installation(ground: Ground, placed: Sequence[Placement], rows: dict[str, Deployment]) -> Installation:
    own = [rows[p.sampler_id] for p in placed]
    deep = sorted((metres, text) for metres, text in map(depth, own) if metres is not None)
    return Installation(
        ground,
        len(placed),
        sum(p.role == DUPLICATE for p in placed),
        len({p.location_id for p in placed}),
        Stated.of(row.hole_method for row in own),
        tuple(sorted({row.hole_diameter_in for row in own if not math.isnan(row.hole_diameter_in)})),
        (deep[0][1], deep[-1][1]) if deep else (),
        Stated.of(row.sleeve for row in own),
        Stated.of(row.closure for row in own),
        Stated.of(row.refusal for row in own),
    )


def _retrieval(back: Sequence[Deployment], at: dict[str, Ground]) -> Retrieval:
    holes = [row for row in back if at.get(row.sampler_id, "air") != "air"]
    return Retrieval(
        len(back),
        Stated.of(row.condition for row in back),
        Stated.of(row.individually_bagged for row in back),
        len(holes),
        Stated.of(row.hole_restored for row in holes),
    )


def _packing(survey: Survey, placed: Sequence[Deployment]) -> Packing:
    samplers, bags = survey.rows(Sampler), survey.rows(ReturnBag)
    sent = [row for row in survey.rows(Shipment) if row.direction == "return"]
    sealed = seals(survey)
    of_bags = [sealed["bag", row.bag_id] for row in bags]
    of_sent = [sealed["shipment", row.shipment_id] for row in sent]
    return Packing(
        issued=len(samplers),
        labelled=sum(bool(row.label) for row in samplers),
        bagged=sum(bool(row.bag_id) for row in placed),
        bags=len(bags),
        sealed=sum(bool(seal.applied) for seal in of_bags),
        with_blank=sum(bool(row.trip_blank_id) for row in bags),
        shipments=len(sent),
        outer_seals=sum(bool(seal.applied) for seal in of_sent),
        seal_read=Stated.of(seal.condition for seal in of_sent),
        chilled=Stated.of(row.chilled for row in sent),
    )
