"""How far a survey has come, as its own records show it, and what is not due before it has come further."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, TypeAlias, get_args

from sitegen.compute.field.exposure import FIELD_BLANK
from sitegen.project.delivery.files import lab_tables
from sitegen.project.survey import Survey
from sitegen.project.tables import CustodyEvent, Deployment, Location, Sampler, Shipment

Stage: TypeAlias = Literal["planned", "in_field", "returned"]
"""``planned``: points, and nothing placed; ``in_field``: a sampler is in place, and nothing came back to the
laboratory; else ``returned``."""

STAGES: tuple[Stage, ...] = get_args(Stage)
"""The stages in their order."""

TABLES_DUE: dict[str, Stage] = {
    "samplers": "in_field", "deployments": "in_field", "shipments": "in_field", "custody": "in_field",
    "return_bags": "returned", "deviations": "returned", "weather": "returned",
    "analytes": "returned", "lab_samples": "returned", "results": "returned", "lab_qc": "returned",
}  # fmt: skip
"""From which stage on a table has rows; every other is due from the start."""

SECTIONS_DUE: dict[str, Stage] = dict.fromkeys(
    ("summary", "interpretation", "conclusions", "recommendations", "limitations"), "returned"
)
"""From which stage on a section of the narrative can be written; every other is due from the start."""

_LEFT = ("not_done", "abandoned")
OF_RESULTS = ("lab_samples", "results", "lab_qc")
"""Tables whose rows come from the laboratory; the list of compounds may be written before."""


@dataclass(frozen=True, slots=True)
class Progress:
    """A survey's stage, how many points are in its plan, and at how many a sampler was placed and came back.

    A point is ``retrieved`` once no sampler is in place there and one came back.
    """

    stage: Stage
    points: int
    placed: int
    retrieved: int


def stage(survey: Survey) -> Stage:
    """Return how far a survey has come.

    It has ``returned`` once anything of it is at the laboratory (a sample, a result, a file of its own in
    ``lab/``, a return shipment that was received) or once no sampler that was placed is still in place: what
    the records lack from then on is a gap, and no step that is yet to come. Without a point there is no plan
    yet, and nothing is taken for one: such a folder has ``returned`` too, so that every rule applies to it.
    """
    placed = survey.rows(Deployment)
    if at_the_laboratory(survey) or not len(survey.frame("locations")):
        return "returned"
    if placed:
        return "in_field" if any(_in_place(row, _lost(survey)) for row in placed) else "returned"
    return "in_field" if _placed_by_other_records(survey) else "planned"


def is_due(from_stage: Stage, now: Stage) -> bool:
    """Tell whether what is due from a stage on is due at another.

    >>> is_due("returned", "in_field"), is_due("planned", "in_field")
    (False, True)
    """
    return STAGES.index(from_stage) <= STAGES.index(now)


def progress(survey: Survey) -> Progress:
    """Count the points in the plan, and those where a sampler was placed and retrieved; field blanks aside.

    A point that was not done or given up has left the plan, unless a sampler was placed there.
    """
    lost = _lost(survey)
    blanks = {row.sampler_id for row in survey.rows(Sampler) if row.kind == FIELD_BLANK}
    rows = [row for row in survey.rows(Deployment) if row.sampler_id not in blanks]
    listed = {row.location_id for row in survey.rows(Location)}
    placed = {row.location_id for row in rows} & listed
    still = {row.location_id for row in rows if _in_place(row, lost)}
    back = {row.location_id for row in rows if row.retrieved_at} & placed
    left = {row.location_id for row in survey.rows(Location) if row.status in _LEFT}
    return Progress(stage(survey), len(listed - (left - placed)), len(placed), len(back - still))


def at_the_laboratory(survey: Survey) -> bool:
    """Tell whether a record says that anything of the survey came back to the laboratory."""
    sent = {row.shipment_id for row in survey.rows(Shipment) if row.direction == "out"}
    received = any(_was_received(row) for row in survey.rows(Shipment) if row.direction == "return")
    taken = any(
        row.event in ("lab_received", "analysed") and (row.subject_kind != "shipment" or row.subject_id not in sent)
        for row in survey.rows(CustodyEvent)
    )
    own = {survey.tables[name].file for name in ("analytes", *OF_RESULTS) if survey.tables[name].present}
    rows = any(len(survey.frame(name)) for name in OF_RESULTS)
    return received or taken or rows or bool(lab_tables(survey.folder, own))


def _was_received(row: Shipment) -> bool:
    """Tell whether anything is on record that only a receipt tells, though its time is not."""
    told = (row.received_at, row.seal_received, row.seal_condition, row.receipt_note)
    return any(told) or not math.isnan(row.items_received)


def _lost(survey: Survey) -> frozenset[str]:
    return frozenset(row.sampler_id for row in survey.rows(Sampler) if row.outcome in ("lost", "destroyed"))


def _in_place(row: Deployment, lost: frozenset[str]) -> bool:
    """Tell whether a sampler was placed, neither retrieved nor lost."""
    return not row.retrieved_at and row.condition != "not_recovered" and row.sampler_id not in lost


def _placed_by_other_records(survey: Survey) -> bool:
    """Tell whether a record other than the table of placements says that a sampler was placed."""
    return (
        any(row.status == "placed" for row in survey.rows(Location))
        or any(row.outcome == "used" for row in survey.rows(Sampler))
        or any(row.event in ("placed", "retrieved") for row in survey.rows(CustodyEvent))
    )
