"""Which places a plan asks for, before anything is kept off: each with its design, and the words that say why."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from sitegen.compute.design.layout import Floats, Lattice, along, ring
from sitegen.compute.place.points import map_crs, on_map
from sitegen.project.place.coordinates import transform
from sitegen.project.settings import AlongPart, AroundPart, GridPart, Length, PlacePart
from sitegen.project.survey import Feature, Survey
from sitegen.units import to_metres
from sitegen.voice import worded

Design: TypeAlias = Literal["grid", "targeted", "background"]
"""Why a point stands in the plan: the words of ``locations.design``, those of the field aside."""

_UNIT_WORDS = {"us_ft": "ft (US survey)"}


@dataclass(frozen=True, slots=True)
class Asked:
    """Places that one entry of the plan asks for, in the map's system (m), in order, and the building they are at."""

    design: Design
    rationale: str
    xy: Floats
    building: str = ""


def asked(survey: Survey, boundary: BaseGeometry) -> Iterator[Asked]:
    """Yield the places of each entry of a plan: of the grid, along lines, around features, for background."""
    plan = survey.plan
    if plan.grid:
        yield _on_grid(plan.grid, spacing_of(survey), boundary)
    for line in plan.along:
        yield _along(survey, line)
    for around in plan.around:
        yield _around(survey, around)
    for place in plan.background:
        yield _background(survey, place)


def spacing_of(survey: Survey) -> Length:
    """Return the spacing of the grid: its own, else the plan's. Raises ValueError where neither is stated."""
    grid = survey.plan.grid
    spacing = (grid.spacing if grid else None) or survey.plan.spacing
    if spacing is None:
        raise ValueError("a grid without a spacing")
    return spacing


def lattice(grid: GridPart, spacing: Length, boundary: BaseGeometry) -> Lattice:
    """Return the grid of a plan, which begins half a spacing inside the corner of the box around the boundary.

    The corner counts to the metre, so that the last digits of a drawing move no point.

    >>> lattice(GridPart(), Length(value=20.0, unit="m"), shapely.box(0.02, 100.4, 90, 190)).origin
    (10.0, 110.0)
    """
    metres = to_metres(spacing.value, spacing.unit)
    west, south, _, _ = boundary.bounds
    x = round(west) + metres / 2 + _m(grid.shift_east)
    y = round(south) + metres / 2 + _m(grid.shift_north)
    return Lattice(grid.pattern, metres, grid.rotation_deg, (x, y))


def _on_grid(grid: GridPart, spacing: Length, boundary: BaseGeometry) -> Asked:
    """Return the nodes of the grid within the boundary: nodes outside it were never asked for."""
    nodes = lattice(grid, spacing, boundary).nodes(boundary.bounds)
    shapely.prepare(boundary)
    inside = nodes[shapely.contains_xy(boundary, nodes[:, 0], nodes[:, 1])]
    turned = worded(", turned {degrees:g}° clockwise", degrees=grid.rotation_deg) if grid.rotation_deg else ""
    words = worded("{pattern} grid, {spacing}", pattern=worded(grid.pattern), spacing=length_text(spacing))
    return Asked("grid", f"{words}{turned}", inside)


def _along(survey: Survey, part: AlongPart) -> Asked:
    features = named(survey, part.feature)
    merged = shapely.line_merge(_shape(survey, features), directed=True)
    xy = along(merged, to_metres(part.spacing.value, part.spacing.unit), _m(part.offset), part.side)
    side = {"both": "on both sides", "left": "to the left", "right": "to the right"}[part.side]
    aside = f", {length_text(part.offset)} {worded(side)}" if part.offset and part.offset.value else ""
    every = length_text(part.spacing)
    words = worded("along {features}, every {spacing}", features=_publicly(features), spacing=every) + aside
    return Asked("targeted", part.rationale or words, xy)


def _around(survey: Survey, part: AroundPart) -> Asked:
    features = named(survey, part.feature)
    xy = ring(_shape(survey, features), to_metres(part.distance.value, part.distance.unit), part.points)
    words = part.rationale or f"{length_text(part.distance)} from {_publicly(features)}"
    return Asked("targeted", words, xy, _building(features))


def _building(features: tuple[Feature, ...]) -> str:
    """Return the name of a building that points stand around, as a table may have it that is published."""
    return features[0].name if all(one.kind == "building" and one.public for one in features) else ""


def _background(survey: Survey, part: PlacePart) -> Asked:
    x, y = transform(survey.settings.space.crs, map_crs(survey), np.array([part.easting]), np.array([part.northing]))
    return Asked("background", part.rationale or "background", np.column_stack([x, y]))


def named(survey: Survey, name: str) -> tuple[Feature, ...]:
    """Return the features of a name, the boundary aside."""
    return tuple(f for f in survey.features if f.name == name and f.kind != "site_boundary")


def _shape(survey: Survey, features: tuple[Feature, ...]) -> BaseGeometry:
    shapes = [on_map(feature.geometry, map_crs(survey)) for feature in features]
    return shapes[0] if len(shapes) == 1 else shapely.union_all(shapes) if _areas(shapes) else _collected(shapes)


def _areas(shapes: list[BaseGeometry]) -> bool:
    return all(shapely.get_dimensions(shape) == 2 for shape in shapes)


def _collected(shapes: list[BaseGeometry]) -> BaseGeometry:
    """Return shapes as one of several parts; lines keep their direction."""
    parts = [part for shape in shapes for part in shapely.get_parts(shape)]
    if all(part.geom_type == "LineString" for part in parts):
        return shapely.MultiLineString(parts)
    return shapely.union_all(parts)


def _publicly(features: tuple[Feature, ...]) -> str:
    """Name a feature as a table may that is published: one that is not public by its kind and number."""
    first = features[0]
    if all(feature.public for feature in features):
        return first.name
    return f"{first.kind.replace('_', ' ')} {first.number}"


def _m(length: Length | None) -> float:
    return to_metres(length.value, length.unit) if length else 0.0


def length_text(length: Length) -> str:
    """Write a length with its unit.

    >>> length_text(Length(value=20.0, unit="m")), length_text(Length(value=2.5, unit="us_ft"))
    ('20 m', '2.5 ft (US survey)')
    """
    return f"{length.value:g} {_UNIT_WORDS.get(length.unit, length.unit)}"
