"""Where the points lie, in words and as a table: the twin of the location map."""

from __future__ import annotations

from collections.abc import Sequence

from sitegen.compute.place.points import Point
from sitegen.report.field.surveyed import is_geographic, surveyed, system_text, unit_head
from sitegen.report.record.pages import Cell, Column, Table
from sitegen.report.write.context import Context, location_ref
from sitegen.report.write.words import say


def location_words(context: Context, moved: Sequence[Point]) -> str:
    """Return the location map in words: how many points, and which lie away from their plan."""
    points = context.evaluation.points
    limit = context.evaluation.limits["moved_m"]
    as_planned = [point.location_id for point in points if point.as_planned]
    furthest = max(moved, key=lambda point: (point.moved_m or 0.0, point.location_id), default=None)
    return say(
        "figures.location_words",
        count=len(points),
        unplaced=context.unplaced,
        planned=sum(point.planned is not None for point in points),
        both=sum(point.moved_m is not None for point in points),
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
    """Return every point as surveyed, on the map grid where that is another system, and as planned."""
    rows_by_id = {row.location_id: row for row in context.locations}
    code = context.survey.settings.space.crs
    names = ("Longitude", "Latitude") if is_geographic(code) else ("Easting", "Northing")
    on_map = code != context.crs
    columns = (
        Column("point", "Point"),
        Column("state", "State"),
        *(Column(f"surveyed_{n.lower()}", f"{n} as surveyed", unit_head(code), "number") for n in names),
        *((Column("easting", "Map easting", "m", "number"), Column("northing", "Map northing", "m", "number"))
          if on_map else ()),
        Column("plan_easting", "Planned easting", "m", "number"),
        Column("plan_northing", "Planned northing", "m", "number"),
        Column("moved", "Moved", "m", "number"),
    )  # fmt: skip
    rows = []
    for point in context.evaluation.points:
        state = context.state_of(rows_by_id[point.location_id]).replace("_", " ")
        given = surveyed(point)
        mapped = ((f"{point.x:.1f}", f"{point.y:.1f}") if given else ("–", "–")) if on_map else ()
        planned = tuple(f"{value:.1f}" for value in point.planned) if point.planned else ("–", "–")
        moved = f"{point.moved_m:.1f}" if point.moved_m is not None else "–"
        cells = (*_as_surveyed(point), *(Cell(text) for text in (*mapped, *planned, moved)))
        rows.append((Cell(point.location_id, location_ref(point.location_id)), Cell(state), *cells))
    caption = say("figures.location_data", surveyed=system_text(code), crs=context.crs_name, same=not on_map)
    return Table("location-map-data", caption, columns, tuple(rows))


def _as_surveyed(point: Point) -> tuple[Cell, Cell]:
    given = surveyed(point)
    if given is None:
        return Cell("–"), Cell("–")
    x, y = (
        Cell(text.strip(), origin=point.origin.cell(column))
        for text, column in zip((given.x_text, given.y_text), given.columns, strict=True)
    )
    return x, y
