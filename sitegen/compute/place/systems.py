"""Coordinate systems of a survey: their units, and which way and by which operation positions were transformed.

The operation is asked of PROJ after the transformation, at the corners of the site.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import pyproj

from sitegen.compute.place.points import Point, map_crs
from sitegen.project.place.coordinates import WGS84, crs, operations
from sitegen.project.survey import Survey

PROJ_VERSION: str = pyproj.proj_version_str


@dataclass(frozen=True, slots=True)
class System:
    """A coordinate reference system: its name, and its unit as the EPSG register names it."""

    name: str
    unit: str


@dataclass(frozen=True, slots=True)
class Step:
    """A transformation that was made: of ``what`` (``points`` or ``features``), from which system to which.

    ``operations`` names what PROJ did, each with the accuracy in metres that it states for
    it, None where it states none. There are several only where a site spans their areas.
    """

    what: str
    source: str
    target: str
    operations: tuple[tuple[str, float | None], ...]


def system(code: str) -> System | None:
    """Return a system by its code, such as ``EPSG:32614``; None where there is none.

    >>> system("EPSG:3455").unit, system("EPSG:32614").unit, system("EPSG:4326").unit
    ('US survey foot', 'metre', 'degree')
    """
    known = crs(code)
    return System(known.name, known.axis_info[0].unit_name) if known is not None else None


def is_geographic(code: str) -> bool:
    """Tell whether a system gives longitude and latitude.

    >>> is_geographic("EPSG:4269"), is_geographic("EPSG:32614")
    (True, False)
    """
    known = crs(code)
    return known is not None and known.is_geographic


def steps(survey: Survey, points: Iterable[Point]) -> tuple[Step, ...]:
    """Return the transformations that were made: points to the map's system and to WGS 84, features to the map's."""
    source, target = survey.settings.space.crs, map_crs(survey)
    given = [(point.given.x, point.given.y) for point in points if point.given]
    corners = [(x, y) for feature in survey.features for x, y in _corners(feature.geometry.bounds)]
    ways = (("points", source, target, given), ("points", source, WGS84, given), ("features", WGS84, target, corners))
    return tuple(
        Step(what, start, end, operations(start, end, places))
        for what, start, end, places in ways
        if start != end and places
    )


def _corners(bounds: tuple[float, ...]) -> tuple[tuple[float, float], ...]:
    west, south, east, north = bounds
    return (west, south), (east, north)
