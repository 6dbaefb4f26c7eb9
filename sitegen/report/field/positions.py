"""Where the points lie, in words and as a table: the twin of the location map."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from sitegen.compute.place.points import Point
from sitegen.compute.place.systems import is_geographic
from sitegen.report.field.surveyed import stated_cell, surveyed_position, system_text, unit_head
from sitegen.report.record.pages import Cell, Table
from sitegen.report.record.specs import Spec, table
from sitegen.report.write.columns import POINT
from sitegen.report.write.context import Context
from sitegen.report.write.traced import traced
from sitegen.report.write.words import say
from sitegen.voice import worded

_DEGREES = (("surveyed_longitude", "Longitude as surveyed"), ("surveyed_latitude", "Latitude as surveyed"))
_METRES = (("surveyed_easting", "Easting as surveyed"), ("surveyed_northing", "Northing as surveyed"))


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


@traced
def positions_table(context: Context) -> Table:
    """Return every point as surveyed, on the map grid where that is another system, and as planned."""
    rows_by_id = {row.location_id: row for row in context.locations}
    code = context.survey.settings.space.crs
    names = _DEGREES if is_geographic(code) else _METRES
    on_map = code != context.crs
    columns: list[Spec[Point]] = [
        POINT,
        Spec(
            "state",
            "State",
            cell=lambda point: worded(context.state_of(rows_by_id[point.location_id]).replace("_", " ")),
        ),
        *(_surveyed_column(key, title, at, code) for at, (key, title) in enumerate(names)),
        *(_ON_MAP if on_map else ()),
        _metres_column("plan_easting", "Planned easting", lambda point: point.planned[0] if point.planned else None),
        _metres_column("plan_northing", "Planned northing", lambda point: point.planned[1] if point.planned else None),
        _metres_column("moved", "Distance from plan", lambda point: point.moved_m),
    ]
    caption = say("figures.location_data", surveyed=system_text(code), crs=context.crs_name, same=not on_map)
    return table("location-map-data", caption, columns, context.evaluation.points)


def _surveyed_column(key: str, title: str, at: int, code: str) -> Spec[Point]:
    """Return the column of the first (0) or second (1) coordinate as received."""

    def cell(point: Point) -> Cell:
        given = surveyed_position(point)
        if given is None:
            return Cell("–")
        return Cell((given.x_text, given.y_text)[at].strip(), origin=stated_cell(point, given, at))

    return Spec(key, title, f"{code}, {unit_head(code)}", "number", cell=cell)


def _metres_column(key: str, title: str, value: Callable[[Point], float | None]) -> Spec[Point]:
    """Return a column of metres, with a dash where there are none."""

    def text(point: Point) -> str:
        metres = value(point)
        return "–" if metres is None else f"{metres:.1f}"

    return Spec(key, title, "m", "number", cell=text)


_ON_MAP = (
    _metres_column("easting", "Map easting", lambda point: point.x if surveyed_position(point) else None),
    _metres_column("northing", "Map northing", lambda point: point.y if surveyed_position(point) else None),
)
"""Where a point that was surveyed lies on the map grid."""
