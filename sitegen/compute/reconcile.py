"""Counts of samplers at each step, from issue to analysis."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from sitegen.compute.exposure import Placement
from sitegen.project.survey import Survey


@dataclass(frozen=True, slots=True)
class Step:
    """A step, the samplers counted at it, and the file in which they were counted."""

    title: str
    count: int
    source: str


def reconcile(survey: Survey, placed: tuple[Placement, ...], store: pd.DataFrame) -> tuple[Step, ...]:
    """Count samplers issued, placed, recovered, bagged (trip blanks apart), received and analysed."""
    path = {name: table.spec.path for name, table in survey.tables.items()}
    bags = survey.frame("return_bags")
    shipments = survey.frame("shipments")
    back = shipments[shipments["direction"] == "return"]
    analysed = set(store.loc[store["sampler_id"] != "", "sampler_id"])
    return (
        Step("issued", len(survey.frame("samplers")), path["samplers"]),
        Step("placed", len(placed), path["deployments"]),
        Step("recovered", sum(p.recovered for p in placed), path["deployments"]),
        Step("in a return bag", sum(bool(p.bag_id) for p in placed), path["deployments"]),
        Step("declared in return bags", int(bags["count_declared"].fillna(0).sum()), path["return_bags"]),
        Step("trip blanks", int((bags["trip_blank_id"] != "").sum()), path["return_bags"]),
        Step("items counted at receipt", int(back["items_received"].fillna(0).sum()), path["shipments"]),
        Step("analysed, trip blanks included", len(analysed), path["lab_samples"]),
    )
