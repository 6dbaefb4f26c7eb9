"""What the field form knows of the plan: points, samplers, bags, the words of the format, and the rows on record."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import asdict
from functools import cache
from hashlib import sha256
from importlib.resources import files
from typing import Any

import numpy as np
from shapely.geometry.base import BaseGeometry

from sitegen.compute.design.asked import length_text
from sitegen.compute.design.fieldplan import FieldPlan, PlannedPoint, Tie, building_words, ground_of
from sitegen.compute.limits import limits
from sitegen.compute.place.points import map_crs, on_map
from sitegen.compute.place.systems import is_geographic
from sitegen.project.place.coordinates import WGS84, transform
from sitegen.project.schema import Column, Kind
from sitegen.project.survey import Survey, SurveyTable
from sitegen.project.tables import TABLE, Deployment, Location
from sitegen.units import LENGTHS, to_metres
from sitegen.voice import Voice, all_spelt, voice

ENTERED = ("samplers", "deployments", "return_bags", "shipments", "custody", "photos", "products", "locations")
"""The tables that a device may write into; of ``locations`` only that a point is not done, and why."""

_ON_RECORD = ("samplers", "deployments", "return_bags", "shipments")
"""The tables whose rows the form begins with, so that what is in place is known to a device of the second day."""

_DRAWN = ("site_boundary", "building", "paved_area")
_FEET = ("ft", "us_ft", "in")
_STEP_DEG = 1e-4
"""Some 10 m: over so little a map is flat, and the device's own position is no better."""


def plan_data(survey: Survey, plan: FieldPlan) -> dict[str, Any]:
    """Return the plan as the form embeds it, with ``kit``, the first 16 digits of its SHA-256."""
    settings = survey.settings
    in_force = limits(settings)
    data: dict[str, Any] = {
        "project": {"id": settings.project.id, "title": settings.project.title, "zone": settings.project.time_zone},
        "per_bag": survey.plan.samplers_per_bag,
        "night": [in_force["night_begins_h"].value, in_force["night_ends_h"].value],
        "depth_column": depth_column(survey),
        "depth": _depth(survey),
        "roles": sorted({*settings.roles, *_roles_on_record(survey)}),
        "soils": sorted({row.soil_type for row in survey.rows(Deployment)} - {""}),
        "points": [*(_point(survey, point) for point in plan.points), *_unplaced(survey, plan)],
        "slots": [_slot(asdict(slot)) for slot in plan.allocation.slots],
        "shapes": list(_shapes(survey)),
        "to_map": _to_map(survey, plan),
        "tables": {name: _rows(survey.tables[name]) for name in _ON_RECORD},
        "columns": {name: list(TABLE[name].column_names) for name in ENTERED},
        "keys": {name: TABLE[name].key[0] for name in ENTERED},
        "longest": {f"{name}.{one.name}": one.longest.value for name, one in _columns() if one.longest},
        "choices": choices(),
    }
    return {**data, "kit": sha256(canonical(data)).hexdigest()[:16]}


def canonical(data: object) -> bytes:
    """Return JSON with keys by code point and no blanks, in UTF-8: one text for one content.

    >>> canonical({"b": "1", "a": ["ä"]}).decode()
    '{"a":["ä"],"b":"1"}'
    """
    return json.dumps(data, sort_keys=True, ensure_ascii=False, separators=(",", ":"), allow_nan=False).encode()


def depth_column(survey: Survey) -> str:
    """Return the column that depths go into, by the unit of the plan; feet where it states none."""
    depth = survey.plan.depth
    return "depth_ft" if depth is None or depth.unit in _FEET else "depth_m"


def choices() -> dict[str, list[list[str]]]:
    """Return the words that each column of the format may hold, each with its plain label."""
    words = {one.name: ("yes", "no") if one.kind is Kind.FLAG else one.choices for _, one in _columns()}
    labels = _labels(voice())
    return {
        column: [[word, labels.get(column, {}).get(word, word)] for word in held]
        for column, held in words.items()
        if held
    }


@cache
def _labels(_: Voice) -> Mapping[str, Mapping[str, str]]:
    text = files("sitegen").joinpath("templates/fieldwork/labels.toml").read_text("utf-8")
    read: Mapping[str, Mapping[str, str]] = all_spelt(tomllib.loads(text))
    return read


def _columns() -> Iterator[tuple[str, Column]]:
    for name in reversed(ENTERED):  # of two columns of one name with words, the earlier table's are taken
        yield from ((name, column) for column in TABLE[name].columns)


def _depth(survey: Survey) -> dict[str, str] | None:
    """Return planned depth and tolerance in the unit of the column, None where the plan states none."""
    depth = survey.plan.depth
    if depth is None:
        return None
    unit = depth_column(survey).removeprefix("depth_")
    one = to_metres(1.0, unit)
    tolerance = limits(survey.settings)["depth_tolerance_m"].value
    written = (f"{round(metres / one, 2):g}" for metres in (to_metres(depth.value, depth.unit), tolerance))
    return {"unit": unit, **dict(zip(("value", "tolerance"), written, strict=True))}


def _roles_on_record(survey: Survey) -> set[str]:
    return {role for row in survey.rows(Deployment) for role in (row.placed_by, row.retrieved_by)} - {""}


def _point(survey: Survey, point: PlannedPoint) -> dict[str, Any]:
    feet = depth_column(survey) == "depth_ft"
    thickness = "" if point.surface_thickness_in is None else f"{point.surface_thickness_in:g}"
    return {
        "id": point.location_id, "medium": point.medium, "ground": point.ground, "surface": point.surface,
        "thickness": thickness, "building": building_words(survey, point.building),
        "rationale": point.rationale, "comment": point.comment,
        "depth": point.depth_text, "ties": [_tie_words(tie, feet=feet) for tie in point.ties],
        "position": _position(point, survey.settings.space.crs),
        "x": round(point.x_m, 2), "y": round(point.y_m, 2),
    }  # fmt: skip


def _position(point: PlannedPoint, code: str) -> str:
    """Say where a point is in the project's own system: to the centimetre, of degrees to seven decimals."""
    if is_geographic(code):
        return f"longitude {point.easting:.7f}, latitude {point.northing:.7f} ({code})"
    return f"{point.easting:.2f} E, {point.northing:.2f} N ({code})"


def _tie_words(tie: Tie, *, feet: bool = False) -> str:
    """Say a tie as a person with a tape hears it, in feet as well for a crew that measures in them.

    >>> _tie_words(Tie("Depot hall", 4.2, "N")), _tie_words(Tie("Depot hall", 0.0, ""))
    ('4.2 m N of Depot hall', 'at Depot hall')
    >>> _tie_words(Tie("Depot hall", 4.2, "N"), feet=True)
    '4.2 m (13.8 ft) N of Depot hall'
    """
    if not tie.direction:
        return f"at {tie.name}"
    in_feet = f" ({tie.distance_m / LENGTHS['ft'].value:.1f} ft)" if feet else ""
    return f"{tie.distance_m:.1f} m{in_feet} {tie.direction} of {tie.name}"


def _unplaced(survey: Survey, plan: FieldPlan) -> Iterator[dict[str, Any]]:
    """Yield the points that have no position: they are listed, and not drawn."""
    by_id = {row.location_id: row for row in survey.rows(Location)}
    depth = survey.plan.depth
    for row in (by_id[name] for name in plan.unplaced):
        ground = ground_of(row)
        below = depth is not None and ground in ("unpaved", "paved")
        yield {
            "id": row.location_id, "medium": row.medium, "ground": ground, "surface": row.surface, "thickness": "",
            "building": building_words(survey, row.building), "rationale": row.rationale, "comment": row.comment,
            "depth": length_text(depth) if depth and below else "", "ties": [], "position": "",
        }  # fmt: skip


def _slot(slot: Mapping[str, str]) -> dict[str, str]:
    return {
        "label": slot["label"], "use": slot["use"], "point": slot["location_id"],
        "parent": slot["parent"], "bag": slot["bag_id"],
    }  # fmt: skip


def _shapes(survey: Survey) -> Iterator[dict[str, Any]]:
    """Yield outlines of the site to draw behind the points, to the decimetre."""
    crs = map_crs(survey)
    for feature in survey.features:
        if feature.kind in _DRAWN:
            for line in _outlines(on_map(feature.geometry, crs)):
                closed = line[0] == line[-1]
                yield {"kind": feature.kind, "closed": closed, "line": [[round(x, 1), round(y, 1)] for x, y in line]}


def _outlines(geometry: BaseGeometry) -> list[list[tuple[float, float]]]:
    edge = geometry.boundary if geometry.geom_type.endswith("Polygon") else geometry
    parts = getattr(edge, "geoms", (edge,))
    return [[(x, y) for x, y, *_ in part.coords] for part in parts if part.geom_type.startswith("Line")]


def _to_map(survey: Survey, plan: FieldPlan) -> dict[str, float] | None:
    """Return how a position of the device gets on to the map: linear about the points' middle."""
    if not plan.points:
        return None
    lon = float(np.mean([point.longitude for point in plan.points]))
    lat = float(np.mean([point.latitude for point in plan.points]))
    x, y = transform(
        WGS84, map_crs(survey), np.array([lon, lon + _STEP_DEG, lon]), np.array([lat, lat, lat + _STEP_DEG])
    )
    slopes = {
        "x_lon": (x[1] - x[0]) / _STEP_DEG, "x_lat": (x[2] - x[0]) / _STEP_DEG,
        "y_lon": (y[1] - y[0]) / _STEP_DEG, "y_lat": (y[2] - y[0]) / _STEP_DEG,
    }  # fmt: skip
    start = {"lon": round(lon, 7), "lat": round(lat, 7), "x": round(float(x[0]), 3), "y": round(float(y[0]), 3)}
    return start | {name: round(float(slope), 3) for name, slope in slopes.items()}


def _rows(table: SurveyTable) -> list[dict[str, str]]:
    """Return a table's rows as its file has them: filled cells alone, none that project.toml had filled."""
    made = []
    for at, values in enumerate(table.frame.to_dict("records")):
        cells = ((column, _cell(table, column, at, values[column.name])) for column in table.spec.columns)
        made.append({column.name: text for column, text in cells if text and (at, column.name) not in table.filled})
    return made


def _cell(table: SurveyTable, column: Column, at: int, value: object) -> str:
    if column.kind in (Kind.NUMBER, Kind.INTEGER):
        return str(table.received[column.name][at]) if value == value and column.name in table.received else ""  # noqa: PLR0124 - NaN
    return str(value)
