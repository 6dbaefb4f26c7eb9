"""What the crew packs: counts by the plan."""

from __future__ import annotations

from collections import Counter

from sitegen.compute.design.fieldplan import FieldPlan, ground_of
from sitegen.fieldwork.kit.boxes import Node
from sitegen.fieldwork.kit.inplace import Task, open_tasks
from sitegen.project.survey import Survey
from sitegen.project.tables import Location


def packing_list(survey: Survey, plan: FieldPlan) -> Node:
    """Return what the template of the packing list counts: samplers by use, holes to be made, bags and seals.

    Samplers that are in place already are counted by ``to_retrieve``, and their holes as made.
    """
    tasks = open_tasks(survey, plan)
    grounds = {row.location_id: ground_of(row) for row in survey.rows(Location)}
    to_place = [task for task in tasks if task.row is None]
    holes = Counter(grounds.get(task.location_id, "unpaved") for task in to_place if task.location_id)
    back = Counter(grounds.get(task.location_id, "unpaved") for task in tasks if _in_ground(task))
    counts = plan.allocation.counts
    return {
        "samplers": dict(Counter(task.use for task in to_place)),
        "to_retrieve": sum(task.row is not None for task in tasks),
        "holes": dict(holes),
        "restored": dict(back),
        "trip_blanks": counts.trip_blanks,
        "spares": counts.spares,
        "bags": counts.bags,
        "points": len(plan.points) + len(plan.unplaced),
        "in_own_bag": len(tasks),
        "depth": next((point.depth_text for point in plan.points if point.depth_text), ""),
    }


def _in_ground(task: Task) -> bool:
    return task.use in ("sample", "field_duplicate")
