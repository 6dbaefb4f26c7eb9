"""The log sheets: a column of boxes for each sampler, in walking order, two columns on a page.

A duplicate stands beside its parent. Beside an air point stands the inventory of products, or its duplicate's
column with the inventory on the next page.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict
from itertools import groupby

from sitegen.compute.design.fieldplan import FieldPlan, PlannedPoint, Tie
from sitegen.compute.place.points import map_crs
from sitegen.fieldwork.kit.boxes import Node, box_words, shown
from sitegen.fieldwork.kit.clocks import clock_changes, exposure_period
from sitegen.fieldwork.kit.inplace import Task, open_tasks
from sitegen.project.place.coordinates import WGS84
from sitegen.project.survey import Survey
from sitegen.project.tables import Deployment
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
    tasks = open_tasks(survey, plan)
    points = {point.location_id: point for point in plan.points}
    depth = "depth_m" if survey.plan.depth and survey.plan.depth.unit == "m" else "depth_ft"
    columns = [_column(survey, task, points.get(task.location_id), depth) for task in tasks]
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


def _column(survey: Survey, task: Task, point: PlannedPoint | None, depth: str) -> Node:
    return {
        "kind": "log",
        "name": task.label,
        "use": task.use,
        "parent": task.parent,
        "location": task.location_id,
        "ground": _ground(task, point),
        "facts": _facts(survey, point) if point else None,
        "placed": _placed(task.row, depth) if task.row else None,
    }


def _ground(task: Task, point: PlannedPoint | None) -> str:
    """Return which kind of boxes a sampler needs."""
    if task.use == "field_blank":
        return "blank"
    if point is None:
        return "any"
    return "outdoor" if point.medium == "outdoor_air" else point.ground


def _blank(label: str) -> Node:
    """Return the column of a spare sampler, for a point that is added or placed anew."""
    return {
        "kind": "log", "name": label, "use": "spare", "parent": "", "location": "", "ground": "any",
        "facts": None, "placed": None,
    }  # fmt: skip


def _facts(survey: Survey, point: PlannedPoint) -> Node:
    """Return what is printed of a point as words and figures."""
    system = survey.settings.space.crs
    at = (point.easting, point.northing)
    if system == WGS84:
        system, at = map_crs(survey), (point.x_m, point.y_m)
    thickness = point.surface_thickness_in
    feet = bool(survey.plan.depth and survey.plan.depth.unit == "ft")
    return {
        "medium": shown(point.medium),
        "surface": shown(point.surface),
        "thickness": "" if thickness is None else f"{thickness:g} in",
        "building": point.building,
        "depth": point.depth_text,
        "system": system,
        "easting": f"{at[0]:.2f}",
        "northing": f"{at[1]:.2f}",
        "latitude": f"{point.latitude:.6f}",
        "longitude": f"{point.longitude:.6f}",
        "ties": [_tie(tie, feet=feet) for tie in point.ties],
        "remark": _short(point.comment or point.rationale),
    }


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
    found |= {name: _number(getattr(row, name)) for name in ("hole_diameter_in", "moved_ft")}
    depths = {"depth_ft": _number(row.depth_ft), "depth_m": _number(row.depth_m)}
    other = [f"{value} {name.removeprefix('depth_')}" for name, value in depths.items() if value and name != depth]
    return found | {"placed_at": row.placed_at, "depth": depths[depth] or "".join(other)}


def _number(value: float) -> str:
    """Return a number as a person writes it, "" for none.

    >>> _number(3.0), _number(float("nan"))
    ('3', '')
    """
    return f"{value:g}" if value == value else ""  # noqa: PLR0124 - blank numbers are NaN


def _pages(columns: Sequence[Node]) -> Iterator[list[Node]]:
    """Yield pages of one or two columns; the samplers of one point stay together."""
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
    if waiting:
        yield waiting


def _together(column: Mapping[str, object]) -> tuple[object, ...]:
    return (column["location"],) if column["use"] in ("sample", "field_duplicate") else (column["name"], column["use"])


def _with_inventory(columns: Sequence[Node]) -> list[Node]:
    return [*columns, {"kind": "products", "name": columns[0]["location"], "ground": "air", "use": "", "location": ""}]
