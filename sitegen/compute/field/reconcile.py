"""Counts of samplers at each step, from issue to analysis."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import pandas as pd

from sitegen.compute.field.exposure import FIELD_BLANK, IN_PLACE, LOST, Placement
from sitegen.project.survey import Survey, SurveyTable
from sitegen.project.tables import Sampler

_COUNTED = ("samplers", "deployments", "return_bags", "shipments", "results")


@dataclass(frozen=True, slots=True)
class Step:
    """A step, the samplers counted at it, and the file in which they were counted.

    ``count`` is None where nothing is on record. A sum of stated numbers was stated by ``on`` of
    ``of`` rows; both are 0 where rows themselves were counted.
    """

    title: str
    count: int | None
    source: str
    on: int = 0
    of: int = 0


def reconcile(survey: Survey, placed: tuple[Placement, ...], store: pd.DataFrame) -> tuple[Step, ...]:
    """Count samplers issued, placed, recovered, bagged (trip blanks apart), received and analysed.

    ``placed`` are the rows of deployments.csv, field blanks included.
    """
    path = {name: _counted_in(survey.tables[name]) for name in _COUNTED}
    bags = survey.frame("return_bags")
    shipments = survey.frame("shipments")
    back = shipments[shipments["direction"] == "return"]
    sampled = [p for p in placed if p.role != FIELD_BLANK]
    opened = len(placed) - len(sampled)
    analysed = set(store.loc[store["sampler_id"] != "", "sampler_id"])
    return (
        Step("issued", len(survey.frame("samplers")) or None, path["samplers"]),
        Step("placed", len(sampled) if placed else None, path["deployments"]),
        Step("recovered", sum(p.recovered for p in sampled) or None, path["deployments"]),
        Step("field blanks opened", opened if placed else None, path["deployments"]),
        Step("in a return bag", sum(bool(p.bag_id) for p in placed) or None, path["deployments"]),
        Step("declared in return bags", *_sum_on_record(bags["count_declared"], path["return_bags"])),
        Step("trip blanks", int((bags["trip_blank_id"] != "").sum()) or None, path["return_bags"]),
        Step("items counted at receipt", *_sum_on_record(back["items_received"], path["shipments"])),
        Step("with results, blanks included", len(analysed) or None, path["results"]),
    )


def _counted_in(table: SurveyTable) -> str:
    """Name the files that the rows of a table came from, its own where it has none."""
    files = dict.fromkeys(table.frame["_file"])
    return ", ".join(table.called if file == table.file else str(file) for file in files) or table.called


def _sum_on_record(numbers: pd.Series[float], source: str) -> tuple[int | None, str, int, int]:
    """Add up the numbers that rows state; None where none does."""
    known = numbers.dropna()
    return int(known.sum()) if len(known) else None, source, len(known), len(numbers)


@dataclass(frozen=True, slots=True)
class Fates:
    """What became of the samplers sent out, each counted once.

    ``bagged`` and ``trip_blanks`` came back in ``bags`` return bags, ``outside`` (counts by kind)
    with no bag on record; ``in_place`` are still at their points; of ``unknown`` no return is on record.
    """

    sent: int
    bagged: int
    trip_blanks: int
    outside: Mapping[str, int]
    lost: int
    destroyed: int
    in_place: int
    unknown: int
    bags: int

    @property
    def back(self) -> int:
        """How many came back."""
        return self.bagged + self.trip_blanks + sum(self.outside.values())


def count_fates(survey: Survey, bag_of: Mapping[str, str], placed: Iterable[Placement]) -> Fates:
    """Count the samplers sent by what became of them; ``bag_of`` names each one's return bag.

    A sampler with no bag on record came back where its outcome says so, or where the laboratory had it.
    """
    seen = set(survey.frame("lab_samples")["sampler_id"])
    blanks = set(survey.frame("return_bags")["trip_blank_id"])
    outside: dict[str, int] = {}
    still = {p.sampler_id for p in placed if p.state == IN_PLACE and p.role != FIELD_BLANK}
    lost = {p.sampler_id for p in placed if p.state == LOST}
    counts = dict.fromkeys(("bagged", "trip_blanks", "lost", "destroyed", "in_place", "unknown"), 0)
    rows = survey.rows(Sampler)
    for row in rows:
        name, outcome = row.sampler_id, row.outcome
        if name in bag_of:
            counts["trip_blanks" if name in blanks else "bagged"] += 1
        elif outcome in ("lost", "destroyed") or name in lost:
            counts["destroyed" if outcome == "destroyed" else "lost"] += 1
        elif name in still:
            counts["in_place"] += 1
        elif outcome == "returned_unused" or name in seen:
            outside[row.kind] = outside.get(row.kind, 0) + 1
        else:
            counts["unknown"] += 1
    bags = {bag_of[row.sampler_id] for row in rows if row.sampler_id in bag_of}
    return Fates(sent=len(rows), outside=outside, bags=len(bags), **counts)
