"""Which rows of a folder belong to which of its rounds.

A placement names its round; all else follows from placements, along the way of a sampler: the bag it
went into, the shipments it came and went with, its laboratory samples, and their batch. A round stated with a bag,
a shipment or a laboratory sample comes before what would follow. Records of a day (weather, tickets, departures,
photographs) belong to the round whose field work is on that day, else to the nearest. What belongs to no
round in particular, such as a spare sampler that came with no shipment, belongs to each.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import TypeAlias

import numpy as np
import pandas as pd

from sitegen.project.survey import Survey
from sitegen.project.tables import (
    CustodyEvent,
    Departure,
    Deployment,
    LabSample,
    Location,
    ReturnBag,
    Sampler,
    Shipment,
)
from sitegen.project.zones import read_time

DAY_MIN = 1440.0

Rounds: TypeAlias = frozenset[str]
Of: TypeAlias = Mapping[str, Rounds]


@dataclass(frozen=True)
class Membership:
    """The rounds of a survey's records, by their ids; ``first`` is where a blank placement belongs."""

    survey: Survey
    ids: tuple[str, ...]

    @property
    def first(self) -> str:
        """The round declared first."""
        return self.ids[0]

    @cached_property
    def every(self) -> Rounds:
        """All rounds."""
        return frozenset(self.ids)

    @cached_property
    def placed(self) -> Of:
        """The round of each sampler placed."""
        return {row.sampler_id: frozenset((self._known(row.round),)) for row in self.survey.rows(Deployment)}

    @cached_property
    def points(self) -> Of:
        """The rounds of each point: those that placed a sampler there, and the one whose plan first asks for it."""
        at = _gathered((row.location_id, self.placed[row.sampler_id]) for row in self.survey.rows(Deployment))
        return {
            row.location_id: at.get(row.location_id, frozenset())
            | (frozenset((self._known(row.round),)) if row.round or row.location_id not in at else frozenset())
            for row in self.survey.rows(Location)
        }

    @cached_property
    def bags(self) -> Of:
        """The rounds of each return bag: as stated, else those of the samplers in it."""
        inside = _gathered(
            (row.bag_id, self.placed[row.sampler_id]) for row in self.survey.rows(Deployment) if row.bag_id
        )
        return {row.bag_id: self._stated(row.round) or inside.get(row.bag_id, self.every) for row in self._bags}

    @cached_property
    def shipments(self) -> Of:
        """The rounds of each shipment: as stated, else those of the samplers sent, or of the bags returned, with it."""
        sent = _gathered((row.shipment_id, self.placed.get(row.sampler_id, frozenset())) for row in self._samplers)
        back = _gathered((row.shipment_id, self.bags[row.bag_id]) for row in self._bags)
        return {
            row.shipment_id: self._stated(row.round)
            or (sent if row.direction == "out" else back).get(row.shipment_id, frozenset())
            or self.every
            for row in self.survey.rows(Shipment)
        }

    @cached_property
    def samplers(self) -> Of:
        """The rounds of each sampler: of one that was not placed, those of its bag or shipment."""
        blanks = {row.trip_blank_id: self.bags[row.bag_id] for row in self._bags if row.trip_blank_id}
        return {
            row.sampler_id: self.placed.get(row.sampler_id)
            or blanks.get(row.sampler_id)
            or self.shipments.get(row.shipment_id)
            or self.every
            for row in self._samplers
        }

    @cached_property
    def lab_samples(self) -> Of:
        """The rounds of each laboratory sample: as stated, else its sampler's, else those of its batch."""
        runs = self.survey.rows(LabSample)
        own = {
            row.lab_sample_id: self._stated(row.round) or self.samplers.get(row.sampler_id, frozenset()) for row in runs
        }
        batches = _gathered((row.batch_id, own[row.lab_sample_id]) for row in runs if row.batch_id)
        return {
            row.lab_sample_id: own[row.lab_sample_id] or batches.get(row.batch_id, frozenset()) or self.every
            for row in runs
        }

    def subject(self, event: CustodyEvent) -> Rounds:
        """Return the rounds of what a custody event is about."""
        of = {"sampler": self.samplers, "bag": self.bags, "shipment": self.shipments}.get(event.subject_kind, {})
        return of.get(event.subject_id, self.every)

    def departure(self, row: Departure) -> Rounds:
        """Return the rounds of a departure from the plan: of the samplers it affects, else of its day."""
        names = [name.strip() for name in row.affected_ids.split(";")]
        stated = frozenset().union(*(self.placed.get(name, frozenset()) for name in names))
        noon = read_time(f"{row.date}T12:00", self.survey.time_zone).utc_min if row.date else None
        return stated or (self.every if noon is None else self.on_day(noon))

    def on_day(self, at_utc: float) -> Rounds:
        """Return the round whose field work lies nearest to a moment (UTC minutes), every one where none is known."""
        if not self._spans or np.isnan(at_utc):
            return self.every
        away = {name: max(start - at_utc, at_utc - end, 0.0) for name, (start, end) in self._spans.items()}
        least = min(away.values())
        return frozenset(name for name, far in away.items() if far == least)

    @cached_property
    def _spans(self) -> Mapping[str, tuple[float, float]]:
        """The first placing and the last retrieval of each round in UTC minutes, a day around them."""
        frame = self.survey.frame("deployments")
        rounds = frame["round"].map(self._known)
        found = {}
        for name, rows in frame.groupby(rounds, sort=False):
            times = pd.concat([rows["placed_at_utc"], rows["retrieved_at_utc"]]).dropna()
            if len(times):
                found[str(name)] = (float(times.min()) - DAY_MIN, float(times.max()) + DAY_MIN)
        return found

    @property
    def _bags(self) -> tuple[ReturnBag, ...]:
        return self.survey.rows(ReturnBag)

    @property
    def _samplers(self) -> tuple[Sampler, ...]:
        return self.survey.rows(Sampler)

    def _known(self, stated: str) -> str:
        return stated if stated in self.ids else self.first

    def _stated(self, stated: str) -> Rounds:
        return frozenset((stated,)) if stated in self.ids else frozenset()


def _gathered(pairs: Iterable[tuple[str, Rounds]]) -> Of:
    found: dict[str, Rounds] = {}
    for key, rounds in pairs:
        found[key] = found.get(key, frozenset()) | rounds
    return found
