"""Positions as they were surveyed: system, unit, coordinates as received, and how they were transformed."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Protocol

from sitegen.compute.place.points import Point, StatedPosition
from sitegen.compute.place.systems import PROJ_VERSION, Step, is_geographic, steps, system
from sitegen.project.place.coordinates import WGS84
from sitegen.project.tables import Location
from sitegen.report.record.pages import Cell
from sitegen.report.record.specs import NUMBER, Spec
from sitegen.report.write.context import Context
from sitegen.report.write.fields import AtPoint as AtLocation
from sitegen.report.write.words import say, word


class AtPosition(Protocol):
    """What stands at a point of the plan, its position None where none is on record."""

    @property
    def location_id(self) -> str:
        """The point's id."""

    @property
    def location(self) -> Location:
        """The point's row in the plan."""

    @property
    def point(self) -> Point | None:
        """Its position."""


def place_crs(context: Context) -> str:
    """Return the system of the map data beside WGS 84: the surveyed one, the map grid where that is WGS 84."""
    code = context.survey.settings.space.crs
    return context.crs if code == WGS84 else code


def place_of(context: Context, point: Point | None) -> tuple[float, float] | None:
    """Return where a point lies in :func:`place_crs`: as received, in metres of the map grid to the millimetre."""
    if point is None:
        return None
    if point.given is None or context.survey.settings.space.crs == WGS84:
        return round(point.x, 3), round(point.y, 3)
    return point.given.x, point.given.y


def coordinate_fields(context: Context) -> tuple[Spec[AtLocation], ...]:
    """Return the coordinates as surveyed of what stands at a point, with their system and unit."""
    code = context.survey.settings.space.crs
    unit = unit_text(code)

    def given(item: AtLocation) -> StatedPosition | None:
        point = context.points.get(item.location_id)
        return surveyed_position(point) if point else None

    return (
        _coordinate("surveyed_easting", _EASTING, lambda item: at.x if (at := given(item)) else None),
        _coordinate("surveyed_northing", _NORTHING, lambda item: at.y if (at := given(item)) else None),
        Spec("surveyed_crs", meaning=_CRS, value=lambda item: code if given(item) else ""),
        Spec("surveyed_unit", meaning=_UNIT, value=lambda item: unit if given(item) else ""),
    )


_EASTING = "easting as surveyed (longitude where surveyed_crs is geographic); empty for a point not surveyed"
_NORTHING = "northing as surveyed (latitude where surveyed_crs is geographic)"
_CRS = "coordinate reference system in which the point was surveyed"
_UNIT = "unit of the coordinates as surveyed; for feet, the kind of foot"


def _coordinate(key: str, meaning: str, value: Callable[[AtLocation], float | None]) -> Spec[AtLocation]:
    return Spec(key, unit="as in surveyed_unit", type=NUMBER, meaning=meaning, value=value)


def surveyed_fields(context: Context) -> tuple[Spec[AtPosition], ...]:
    """Return the columns of a point's own survey, beside its place on the map grid and in WGS 84."""
    return (
        *coordinate_fields(context),
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
