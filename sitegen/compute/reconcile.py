"""Counts of samplers at each step, from issue to analysis."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import pandas as pd

from sitegen.compute.exposure import FIELD_BLANK, IN_PLACE, LOST, Placement
from sitegen.project.survey import Survey


@dataclass(frozen=True, slots=True)
class Step:
    """A step, the samplers counted at it, and the file in which they were counted."""

    title: str
    count: int
    source: str


def reconcile(survey: Survey, placed: tuple[Placement, ...], store: pd.DataFrame) -> tuple[Step, ...]:
    """Count samplers issued, placed, recovered, bagged (trip blanks apart), received and analysed.

    ``placed`` are the rows of deployments.csv, field blanks included.
    """
    path = {name: table.spec.path for name, table in survey.tables.items()}
    bags = survey.frame("return_bags")
    shipments = survey.frame("shipments")
    back = shipments[shipments["direction"] == "return"]
    sampled = [p for p in placed if p.role != FIELD_BLANK]
    analysed = set(store.loc[store["sampler_id"] != "", "sampler_id"])
    return (
        Step("issued", len(survey.frame("samplers")), path["samplers"]),
        Step("placed", len(sampled), path["deployments"]),
        Step("recovered", sum(p.recovered for p in sampled), path["deployments"]),
        Step("field blanks opened", len(placed) - len(sampled), path["deployments"]),
        Step("in a return bag", sum(bool(p.bag_id) for p in placed), path["deployments"]),
        Step("declared in return bags", int(bags["count_declared"].fillna(0).sum()), path["return_bags"]),
        Step("trip blanks", int((bags["trip_blank_id"] != "").sum()), path["return_bags"]),
        Step("items counted at receipt", int(back["items_received"].fillna(0).sum()), path["shipments"]),
        Step("analysed, blanks included", len(analysed), path["lab_samples"]),
    )


@dataclass(frozen=True, slots=True)
class Returned:
    """What became of the samplers sent out, each counted once.

    ``bagged`` and ``trip_blanks`` came back in return bags, ``outside`` (counts by kind) beside
    them; ``in_place`` are still at their points; of ``unknown`` no return is on record.
    """

    sent: int
    bagged: int
    trip_blanks: int
    outside: Mapping[str, int]
    lost: int
    destroyed: int
    in_place: int
    unknown: int

    @property
    def back(self) -> int:
        """How many came back."""
        return self.bagged + self.trip_blanks + sum(self.outside.values())


def returned(survey: Survey, bag_of: Mapping[str, str], placed: Iterable[Placement]) -> Returned:
    """Count the samplers sent by what became of them; ``bag_of`` names each one's return bag.

    A sampler that is in no bag came back where its outcome says so, or where the laboratory had it.
    """
    seen = set(survey.frame("lab_samples")["sampler_id"])
    blanks = set(survey.frame("return_bags")["trip_blank_id"])
    outside: dict[str, int] = {}
    still = {p.sampler_id for p in placed if p.state == IN_PLACE and p.role != FIELD_BLANK}
    lost = {p.sampler_id for p in placed if p.state == LOST}
    counts = dict.fromkeys(("bagged", "trip_blanks", "lost", "destroyed", "in_place", "unknown"), 0)
    rows = survey.records("samplers")
    for row in rows:
        name, outcome = row["sampler_id"], row["outcome"]
        if name in bag_of:
            counts["trip_blanks" if name in blanks else "bagged"] += 1
        elif outcome in ("lost", "destroyed") or name in lost:
            counts["destroyed" if outcome == "destroyed" else "lost"] += 1
        elif name in still:
            counts["in_place"] += 1
        elif outcome == "returned_unused" or name in seen:
            outside[row["kind"]] = outside.get(row["kind"], 0) + 1
        else:
            counts["unknown"] += 1
    return Returned(sent=len(rows), outside=outside, **counts)
