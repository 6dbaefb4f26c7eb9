"""The checklists: what they hold back from being said in general, since it is the project's own."""

from __future__ import annotations

from sitegen.compute.design.fieldplan import FieldPlan
from sitegen.fieldwork.kit.boxes import Node
from sitegen.project.survey import Survey
from sitegen.project.tables import Ticket


def checklists(survey: Survey, plan: FieldPlan) -> Node:
    """Return what the checklists say of the project: its clearance tickets, and which kinds of ground there are."""
    tickets = [
        {
            "ticket": row.ticket,
            "from": row.valid_from.replace("T", " "),
            "to": row.valid_to.replace("T", " "),
            "points": len([name for name in row.location_ids.split(";") if name.strip()]),
        }
        for row in survey.rows(Ticket)
    ]
    grounds = {point.ground for point in plan.points}
    return {"tickets": tickets, "grounds": sorted(grounds), "zone": survey.time_zone}
