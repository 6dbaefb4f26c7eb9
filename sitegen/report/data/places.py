"""The points of the plan to download: what each is, where it lies, and what stands for it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from typing import NamedTuple

import shapely

from sitegen.compute.field.exposure import Placement
from sitegen.compute.place.points import Point, on_map
from sitegen.compute.results.store import StoredResult
from sitegen.project.schema import MEDIA
from sitegen.project.tables import TABLE, Location
from sitegen.report.data.over import over_rounds
from sitegen.report.data.signs import state_style
from sitegen.report.field.surveyed import place_crs, place_of, surveyed_fields
from sitegen.report.record.exports import ExportTable
from sitegen.report.record.specs import INTEGER, NUMBER, Spec, export
from sitegen.report.write.context import Context
from sitegen.report.write.fields import location_field
from sitegen.report.write.words import lexicon, say
from sitegen.voice import worded


class _Place(NamedTuple):
    """A point of the plan with its position, the sampler that stands for it and that sampler's results."""

    location: Location
    point: Point | None
    placement: Placement | None
    results: Sequence[StoredResult]

    @property
    def location_id(self) -> str:
        return self.location.location_id


def locations_export(context: Context) -> ExportTable:
    """Return every point, its position blank where none is on record; of several rounds those of each, on one grid."""
    return over_rounds(context, partial(_locations_of, reported=context))


def _locations_of(context: Context, reported: Context) -> ExportTable:
    crs = reported.crs
    places = (
        _Place(
            row,
            _on_grid(context.points.get(row.location_id), context.crs, crs),
            context.primary_at(row.location_id),
            context.by_location.get(row.location_id, []),
        )
        for row in context.locations
    )
    rows = context.locations
    states = tuple(dict.fromkeys(map(context.state_of, rows)))
    return export(
        "locations",
        say("export.locations_title"),
        say("export.locations_note", unplaced=context.unplaced),
        _location_fields(context, crs),
        places,
        lon="longitude",
        lat="latitude",
        places=tuple(_place(context, reported, context.points.get(row.location_id)) for row in rows),
        crs=place_crs(reported),
        key=("location_id",),
        styles=(state_style(say("takeaway.states_name"), say("takeaway.states_style"), "state", states),),
    )


def _place(context: Context, reported: Context, point: Point | None) -> tuple[float, float] | None:
    """Return where a point lies on the map data's grid, that of the round reported."""
    own, wanted = place_crs(context), place_crs(reported)
    moved = _on_grid(point, own, wanted)
    return place_of(context, point) if own == wanted or moved is None else (round(moved.x, 3), round(moved.y, 3))


def _on_grid(point: Point | None, own: str, crs: str) -> Point | None:
    """Return a point on the grid of ``crs``, where that is another than its ``own``."""
    if point is None or own == crs:
        return point
    x, y = shapely.get_coordinates(on_map(shapely.Point(point.lon, point.lat), crs))[0].tolist()
    return replace(point, x=x, y=y)


def _location_fields(context: Context, crs: str) -> list[Spec[_Place]]:
    column = TABLE["locations"].column
    return [
        location_field(),
        Spec("medium", meaning="medium", value=lambda place: place.location.medium, choices=MEDIA),
        Spec(
            "surface",
            meaning="surface",
            value=lambda place: place.location.surface,
            choices=column("surface").choices,
        ),
        Spec(
            "design",
            meaning="reason for the point in the plan",
            value=lambda place: place.location.design,
            choices=column("design").choices,
        ),
        Spec(
            "state",
            meaning="state of the point",
            value=lambda place: context.state_of(place.location),
            required=True,
            choices=tuple(lexicon("labels")["state"]),
        ),
        _position_field("x", "m", "easting on the map grid", lambda point: round(point.x, 3)),
        _position_field("y", "m", "northing on the map grid", lambda point: round(point.y, 3)),
        Spec(
            "crs",
            meaning="coordinate reference system of x and y",
            value=lambda place: crs if place.point else "",
        ),
        _position_field("longitude", "degrees", "WGS 84", lambda point: point.lon),
        _position_field("latitude", "degrees", "WGS 84", lambda point: point.lat),
        Spec(
            "sampler_id",
            meaning="the sampler that represents the point",
            value=lambda place: place.placement.sampler_id if place.placement else "",
        ),
        Spec(
            "exposure_min",
            unit="min",
            type=INTEGER,
            meaning="exposure in UTC minutes",
            value=lambda place: place.placement.exposure_min if place.placement else None,
        ),
        Spec(
            "depth_m",
            unit="m",
            type=NUMBER,
            meaning="depth of the sampler",
            value=lambda place: depth_of(place.placement),
        ),
        Spec(
            "compounds_detected",
            type=INTEGER,
            meaning="number of compounds detected",
            value=lambda place: sum(result.detected for result in place.results),
            required=True,
        ),
        Spec(
            "compounds_analysed",
            type=INTEGER,
            meaning=worded("number of compounds analysed"),
            value=lambda place: len(place.results),
            required=True,
        ),
        *surveyed_fields(context),
    ]


def _position_field(key: str, unit: str, meaning: str, value: Callable[[Point], float]) -> Spec[_Place]:
    """Return a column of a coordinate, empty for a point without a position."""
    return Spec(
        key,
        unit=unit,
        type=NUMBER,
        meaning=worded("{meaning}; empty where no position is on record", meaning=worded(meaning)),
        value=lambda place: value(place.point) if place.point else None,
    )


def depth_of(placed: Placement | None) -> float | None:
    """Return the depth of a sampler in metres to the millimetre, None where none is on record."""
    return round(placed.depth_m, 3) if placed and placed.depth_m is not None else None
