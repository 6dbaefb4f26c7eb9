"""Where the points lie, in words and as a table: the twin of the location map."""

from __future__ import annotations

from collections.abc import Sequence

from sitegen.compute.place import Point
from sitegen.report.context import Context, location_ref
from sitegen.report.location import state_of
from sitegen.report.records import Cell, Column, Table
from sitegen.report.words import say


def location_words(context: Context, moved: Sequence[Point]) -> str:
    """Return the location map in words: how many points, and which lie away from their plan."""
    points = context.evaluation.points
    limit = context.evaluation.limits["moved_m"]
    as_planned = [point.location_id for point in points if point.as_planned]
    furthest = max(moved, key=lambda point: (point.moved_m or 0.0, point.location_id), default=None)
    return say(
        "figures.location_words",
        count=len(points),
        planned=sum(point.planned is not None for point in points),
        moved=", ".join(point.location_id for point in moved),
        limit=limit.text,
        source=limit.source,
        accurate=", ".join(p.location_id for p in points if p.planned and p.may_move_m(limit.value) > limit.value),
        furthest=furthest.location_id if furthest else "",
        away=f"{furthest.moved_m:.1f}" if furthest and furthest.moved_m is not None else "",
        undone=", ".join(name for name in as_planned if name not in context.placed_at),
        unsurveyed=", ".join(name for name in as_planned if name in context.placed_at),
    )


def positions_table(context: Context) -> Table:
    """Return the planned and the surveyed position of every point."""
    rows_by_id = {row["location_id"]: row for row in context.locations}
    columns = (
        Column("point", "Point"),
        Column("state", "State"),
        Column("easting", "Easting", "m", "number"),
        Column("northing", "Northing", "m", "number"),
        Column("plan_easting", "Planned easting", "m", "number"),
        Column("plan_northing", "Planned northing", "m", "number"),
        Column("moved", "Moved", "m", "number"),
    )
    rows = []
    for point in context.evaluation.points:
        state = state_of(context, rows_by_id[point.location_id]).replace("_", " ")
        surveyed = ("–", "–") if point.as_planned else (f"{point.x:.1f}", f"{point.y:.1f}")
        planned = tuple(f"{value:.1f}" for value in point.planned) if point.planned else ("–", "–")
        moved = f"{point.moved_m:.1f}" if point.moved_m is not None else "–"
        words = (state, *surveyed, *planned, moved)
        rows.append((Cell(point.location_id, location_ref(point.location_id)), *(Cell(text) for text in words)))
    caption = say("figures.location_data", crs=context.crs_name)
    return Table("location-map-data", caption, columns, tuple(rows))
