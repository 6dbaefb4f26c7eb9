"""The log sheets: a column of boxes for each sampler, in walking order, two columns on a page.

A duplicate stands beside its parent. Beside an air point stands the inventory of products, or its duplicate's
column with the inventory on the next page.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict
from itertools import groupby

from sitegen.compute.design.asked import length_text
from sitegen.compute.design.fieldplan import FieldPlan, Tie, building_words, ground_of
from sitegen.compute.place.points import Point, map_crs, points
from sitegen.compute.place.systems import is_geographic
from sitegen.fieldwork.form.plandata import depth_column
from sitegen.fieldwork.kit.boxes import Node, box_words, number, shown
from sitegen.fieldwork.kit.clocks import exposure_period
from sitegen.fieldwork.kit.inplace import Task, open_tasks
from sitegen.project.survey import Survey
from sitegen.project.tables import Deployment, Location
from sitegen.project.zones import clock_changes
from sitegen.units import LENGTHS

_DEPLOYMENT = (
    "sampler_id", "location_id", "placed_at", "retrieved_at", "depth_ft", "depth_m", "hole_diameter_in", "hole_method",
    "sleeve", "closure", "refusal", "moved_ft", "soil_type", "moisture", "odour", "condition", "individually_bagged",
    "bag_id", "hole_restored", "placed_by", "retrieved_by", "comment",
)  # fmt: skip
_PRODUCT = ("product_id", "product", "state", "noted_at", "comment")
_REMARK_CHARS = 90
"""What a sheet quotes of a remark: more would take the room of a box."""
PRODUCT_ROWS = 12


def log_sheets(survey: Survey, plan: FieldPlan) -> Node:
    """Return what the template of the log sheets draws: each page with the columns on it."""
    depth = depth_column(survey)
    facts = _facts(survey, plan)
    columns = [_column(task, facts.get(task.location_id), depth) for task in open_tasks(survey, plan)]
    columns += [_blank(slot.label) for slot in plan.allocation.of("spare")]
    period = exposure_period(survey)
    changes = clock_changes(survey.time_zone, *period) if period else ()
    return {
        "pages": list(_pages(columns)),
        "zone": survey.time_zone,
        "period": [day.isoformat() for day in period] if period else [],
        "clocks": [asdict(change) for change in changes],
        "depth": depth,
        "words": box_words("deployments", _DEPLOYMENT),
        "product_words": box_words("products", _PRODUCT),
        "product_rows": PRODUCT_ROWS,
    }


def _column(task: Task, facts: Node | None, depth: str) -> Node:
    blank = task.use == "field_blank"
    return {
        "kind": "log",
        "name": task.label,
        "use": task.use,
        "parent": task.parent,
        "location": task.location_id,
        "ground": "blank" if blank else facts["ground"] if facts else "any",
        "facts": None if blank else facts,
        "placed": _placed(task.row, depth) if task.row else None,
    }


def _blank(label: str) -> Node:
    """Return the column of a spare sampler, for a point that is added or placed anew."""
    return {
        "kind": "log", "name": label, "use": "spare", "parent": "", "location": "", "ground": "any",
        "facts": None, "placed": None,
    }  # fmt: skip


def _facts(survey: Survey, plan: FieldPlan) -> dict[str, Node]:
    """Return what is printed of each point as words and figures, those that have left the plan included."""
    known = {point.location_id: point for point in points(survey)}
    ties = {point.location_id: point.ties for point in plan.points}
    depth = survey.plan.depth
    feet = depth_column(survey) == "depth_ft"
    found = {}
    for row in survey.rows(Location):
        ground = "outdoor" if row.medium == "outdoor_air" else ground_of(row)
        place = _place(survey, known.get(row.location_id))
        found[row.location_id] = place | {
            "ground": ground,
            "medium": shown(row.medium),
            "surface": shown(row.surface),
            "thickness": f"{inches} in" if (inches := number(row.surface_thickness_in)) else "",
            "building": _short(building_words(survey, row.building)),
            "depth": length_text(depth) if depth and ground in ("unpaved", "paved") else "",
            "ties": [_tie(tie, feet=feet) for tie in ties.get(row.location_id, ())],
            "remark": _short(row.comment or row.rationale),
        }
    return found


def _place(survey: Survey, at: Point | None) -> Node:
    """Return a position in the project's system, or in metres where that is in degrees, and in WGS 84."""
    if at is None:
        return {"system": "", "easting": "", "northing": "", "latitude": "", "longitude": "", "as_planned": False}
    system, x, y = survey.settings.space.crs, at.x, at.y
    if is_geographic(system):
        system = map_crs(survey)
    elif at.given:
        x, y = at.given.x, at.given.y
    return {
        "system": system, "easting": f"{x:.2f}", "northing": f"{y:.2f}", "as_planned": at.as_planned,
        "latitude": f"{at.lat:.6f}", "longitude": f"{at.lon:.6f}",
    }  # fmt: skip


def _tie(tie: Tie, *, feet: bool) -> Node:
    distance = f"{tie.distance_m:.2f} m"
    if feet:
        distance += f" ({tie.distance_m / LENGTHS['ft'].value:.1f} ft)"
    return {"name": _short(tie.name), "distance": distance, "direction": tie.direction}


def _short(text: str) -> str:
    """Return the beginning of a long text.

    >>> len(_short("a" * 200))
    90
    """
    line = " ".join(text.split())
    return line if len(line) <= _REMARK_CHARS else f"{line[: _REMARK_CHARS - 1]}…"


def _placed(row: Deployment, depth: str) -> Node:
    """Return what is on record of the placing; the comment stays in the record, where it may be read whole."""
    texts = ("sampler_id", "hole_method", "sleeve", "closure", "refusal", "soil_type", "moisture", "odour", "placed_by")
    found: dict[str, object] = {name: getattr(row, name) for name in texts}
    found |= {name: number(getattr(row, name)) for name in ("hole_diameter_in", "moved_ft")}
    depths = {"depth_ft": number(row.depth_ft), "depth_m": number(row.depth_m)}
    other = [f"{value} {name.removeprefix('depth_')}" for name, value in depths.items() if value and name != depth]
    return found | {"placed_at": row.placed_at, "depth": depths[depth] or "".join(other)}


def _pages(columns: Sequence[Node]) -> Iterator[list[Node]]:
    """Yield pages of one or two columns; what belongs to one point stays together, and beside no other."""
    waiting: list[Node] = []
    for _, group in groupby(columns, key=_together):
        here = list(group)
        if here[0]["ground"] == "air":
            here = _with_inventory(here)
        if waiting and len(here) > 1:
            yield waiting
            waiting = []
        waiting += here
        while len(waiting) >= 2:
            yield waiting[:2]
            waiting = waiting[2:]
        if waiting and len(here) > 1:
            yield waiting
            waiting = []
    if waiting:
        yield waiting


def _together(column: Mapping[str, object]) -> tuple[object, ...]:
    return (column["location"],) if column["use"] in ("sample", "field_duplicate") else (column["name"], column["use"])


def _with_inventory(columns: Sequence[Node]) -> list[Node]:
    return [*columns, {"kind": "products", "name": columns[0]["location"], "ground": "air", "use": "", "location": ""}]
