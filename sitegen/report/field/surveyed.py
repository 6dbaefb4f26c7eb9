"""Positions as they were surveyed: system, unit, coordinates as received, and how they were transformed."""

from __future__ import annotations

from typing import Any, Protocol

from sitegen.compute.place.points import Point, StatedPosition
from sitegen.compute.place.systems import PROJ_VERSION, Step, is_geographic, steps, system
from sitegen.project.tables import Location
from sitegen.report.record.pages import Cell
from sitegen.report.record.specs import NUMBER, Spec
from sitegen.report.write.context import Context
from sitegen.report.write.words import say, word


class AtPosition(Protocol):
    """What stands at a point of the plan, its position None where none is on record."""

    @property
    def location(self) -> Location:
        """The point's row in the plan."""

    @property
    def point(self) -> Point | None:
        """Its position."""


def surveyed_fields(context: Context) -> tuple[Spec[AtPosition], ...]:
    """Return the columns of a point's own survey, beside its place on the map grid and in WGS 84."""
    code = context.survey.settings.space.crs
    return (
        Spec(
            "surveyed_easting",
            unit="as in surveyed_unit",
            type=NUMBER,
            meaning="easting as surveyed (longitude where surveyed_crs is geographic); empty for a point not surveyed",
            value=lambda at: given.x if (given := _given(at)) else None,
        ),
        Spec(
            "surveyed_northing",
            unit="as in surveyed_unit",
            type=NUMBER,
            meaning="northing as surveyed (latitude where surveyed_crs is geographic)",
            value=lambda at: given.y if (given := _given(at)) else None,
        ),
        Spec(
            "surveyed_crs",
            meaning="coordinate reference system in which the point was surveyed",
            value=lambda at: code if _given(at) else "",
        ),
        Spec(
            "surveyed_unit",
            meaning="unit of the coordinates as surveyed; for feet, the kind of foot",
            value=lambda at: unit_text(code) if _given(at) else "",
        ),
        Spec(
            "coordinate_method",
            meaning="how the position was measured",
            value=lambda at: at.location.coordinate_method if _given(at) else "",
        ),
        Spec(
            "accuracy_m",
            unit="m",
            type=NUMBER,
            meaning="stated accuracy of the position",
            value=lambda at: at.point.accuracy_m if at.point and _given(at) else None,
        ),
    )


def _given(at: AtPosition) -> StatedPosition | None:
    return surveyed_position(at.point) if at.point else None


def surveyed_position(point: Point) -> StatedPosition | None:
    """Return a point's coordinates as surveyed, None where only its plan is known."""
    return None if point.as_planned else point.given


def surveyed_cell(context: Context, point: Point, row: Location) -> Cell:
    """Return a point's coordinates as received, with system, unit, method and stated accuracy."""
    given = surveyed_position(point)
    if given is None:
        return Cell(say("location.not_surveyed"))
    code = context.survey.settings.space.crs
    text = say(
        "location.surveyed",
        x=given.x_text.strip(),
        y=given.y_text.strip(),
        degrees=is_geographic(code),
        system=system_text(code),
        unit=unit_text(code),
        method=row.coordinate_method,
        rule=point.supplied.rule if point.supplied else "",
        accuracy="" if point.accuracy_m is None else f"{point.accuracy_m:g}",
    )
    return Cell(text, origin=stated_cell(point, given, 0))


def stated_cell(point: Point, given: StatedPosition, at: int) -> tuple[str, int, str]:
    """Return file, row and column of a coordinate as stated: of the point's row, or of the file that supplied it."""
    if point.supplied is None:
        return point.origin.cell(given.columns[at])
    measured = point.supplied.measured
    return measured.file, measured.number, measured.heads[at]


def system_text(code: str) -> str:
    """Return a system with its name, such as ``EPSG:32614 (WGS 84 / UTM zone 14N)``."""
    found = system(code)
    return f"{code} ({found.name})" if found else code


def unit_text(code: str) -> str:
    """Return the unit of a system's coordinates in words; of feet, which foot."""
    found = system(code)
    return word("crs_unit", found.unit) if found else ""


def unit_head(code: str) -> str:
    """Return the unit of a system's coordinates as the head of a column has it."""
    found = system(code)
    return word("crs_unit_short", found.unit) if found else ""


def survey_facts(context: Context) -> dict[str, Any]:
    """Return what the methods say of positions: system, unit, counts, and each transformation made."""
    points = context.evaluation.points
    code = context.survey.settings.space.crs
    return {
        "system": system_text(code),
        "unit": unit_text(code),
        "foot": unit_head(code).endswith("ft"),
        "surveyed": sum(surveyed_position(point) is not None for point in points),
        "planned": sum(point.planned is not None for point in points),
        "unsurveyed": sum(point.as_planned for point in points),
        "map": context.crs_name,
        "map_unit": unit_text(context.crs),
        "same": code == context.crs,
        "steps": [_step(step) for step in steps(context.survey, points)],
        "proj": PROJ_VERSION,
    }


def _step(step: Step) -> dict[str, Any]:
    return {
        "what": step.what,
        "source": step.source,
        "target": system_text(step.target),
        "made": [(name, "" if accuracy is None else f"{accuracy:g}") for name, accuracy in step.operations],
    }
