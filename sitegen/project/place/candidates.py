"""Projected systems that a place lies in, for a person to choose from: proposed, never taken.

The UTM zone is that of the published rule (NGA.SIG.0012, 2014): six degrees each from 180 degrees
west, with the exceptions of south-west Norway and Svalbard. All others come from the areas of use
of the EPSG register, as PROJ holds it, smallest first.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from functools import lru_cache
from itertools import groupby
from typing import NamedTuple, TypeAlias

import pyproj
from pyproj.aoi import AreaOfInterest
from pyproj.database import query_crs_info
from pyproj.enums import PJType

from sitegen.voice import worded

Bounds: TypeAlias = tuple[float, float, float, float]

MOST = 4
"""So many systems are named beside the UTM zone."""
_SOUTH, _NORTH = -80.0, 84.0
_NORWAY = (56.0, 64.0, 3.0, 12.0, 32)
_SVALBARD = ((0.0, 9.0, 31), (9.0, 21.0, 33), (21.0, 33.0, 35), (33.0, 42.0, 37))
_LEFT_OUT = ("WGS 72", "(N-E)", "(E-N)", "UTM grid system")
"""Words in the names of systems that were replaced, or that differ from another by the order of their axes alone."""


class Candidate(NamedTuple):
    """A projected system: code, name, and unit as the register has it."""

    code: str
    name: str
    unit: str


def utm_zone(longitude: float, latitude: float) -> int:
    """Return the UTM zone of a place, 0 where there is none.

    >>> utm_zone(-99.37, 43.08), utm_zone(5.3, 60.4), utm_zone(16.0, 78.2), utm_zone(0.0, 85.0)
    (14, 32, 33, 0)
    """
    if not _SOUTH <= latitude < _NORTH:
        return 0
    low, high, west, east, zone = _NORWAY
    if low <= latitude < high and west <= longitude < east:
        return zone
    if latitude >= 72.0:
        for west, east, zone in _SVALBARD:
            if west <= longitude < east:
                return zone
    return math.floor((longitude + 180.0) / 6.0) % 60 + 1


def utm_code(longitude: float, latitude: float) -> str:
    """Return the code of the UTM zone of a place on WGS 84, "" where there is none.

    >>> utm_code(-99.37, 43.08), utm_code(151.2, -33.9)
    ('EPSG:32614', 'EPSG:32756')
    """
    zone = utm_zone(longitude, latitude)
    return f"EPSG:{326 if latitude >= 0 else 327}{zone:02d}" if zone else ""


@lru_cache(maxsize=64)
def candidates(longitude: float, latitude: float, *, metric: bool = False) -> tuple[Candidate, ...]:
    """Return the UTM zone of a place and a few systems whose area of use it lies in, smallest areas first.

    Of one area and unit the first and the last of the register are named. ``metric`` keeps to metres.

    >>> [one.code for one in candidates(-0.1, 51.5)][:2]
    ['EPSG:32630', 'EPSG:27700']
    """
    utm = utm_code(longitude, latitude)
    first = [_candidate(utm)] if utm else []
    others = (one for one in _of_areas(longitude, latitude) if one.code != utm)
    kept = [one for one in (*first, *others) if not metric or one.unit == "metre"]
    return tuple(kept[: MOST + len(first)])


def _candidate(code: str) -> Candidate:
    system = pyproj.CRS.from_user_input(code)
    return Candidate(code, system.name, system.axis_info[0].unit_name)


def _of_areas(longitude: float, latitude: float) -> Iterator[Candidate]:
    for _, alike in groupby(sorted(_there(longitude, latitude)), key=lambda one: one[:2]):
        made = [_candidate(f"EPSG:{code}") for *_, code in alike]
        for unit in dict.fromkeys(one.unit for one in made):
            of_unit = [one for one in made if one.unit == unit]
            yield from dict.fromkeys((of_unit[0], of_unit[-1]))


def _there(longitude: float, latitude: float) -> Iterator[tuple[float, Bounds, int]]:
    """Yield size, frame and code of the areas on land that a place lies in.

    Systems that are kept for one railway line are left out.
    """
    here = AreaOfInterest(longitude, latitude, longitude, latitude)
    found = query_crs_info("EPSG", PJType.PROJECTED_CRS, area_of_interest=here, contains=True)
    for info in {info.code: info for info in found}.values():
        area = info.area_of_use
        said = (area.name or "").lower() if area else ""
        if area is None or ("offshore" in said and "onshore" not in said) or "rail" in said:
            continue
        if not any(word in info.name for word in _LEFT_OUT) and len(pyproj.CRS.from_epsg(info.code).axis_info) == 2:
            yield _size(area.bounds), area.bounds, int(info.code)


def _size(bounds: Bounds) -> float:
    """Return the size of an area's frame on the sphere; one may reach across the 180th meridian."""
    west, south, east, north = bounds
    width = east - west if east >= west else east - west + 360.0
    return round(width * (math.sin(math.radians(north)) - math.sin(math.radians(south))), 6)


def proposal(key: str, longitude: float, latitude: float, *, metric: bool = False) -> str:
    """Say which lines of ``[space]`` would give a system that a place lies in.

    >>> proposal("map_crs", -0.1, 51.5, metric=True)[:82]
    'write under [space] a system in metres for the site, one of: map_crs = "EPSG:32630'
    """
    known = candidates(round(longitude, 2), round(latitude, 2), metric=metric)
    lines = "; ".join(f'{key} = "{one.code}" ({one.name}, {worded(one.unit)})' for one in known)
    if not known:
        return ""
    if key == "map_crs":
        return worded("write under [space] a system in metres for the site, one of: {lines}", lines=lines)
    return worded("write under [space] the system that the coordinates are in, one of: {lines}", lines=lines)


def fits(code: str, longitude: float, latitude: float, edge: float) -> bool:
    """Tell whether a place lies in a system's area of use, or no further from it than some degrees.

    A UTM zone fits where the rule has it, whatever its area says; so does a system without an area.

    >>> fits("EPSG:32614", -99.4, 43.1, 1.0), fits("EPSG:32614", -94.0, 43.1, 1.0), fits("EPSG:32632", 3.5, 60.0, 1.0)
    (True, False, True)
    """
    area = pyproj.CRS.from_user_input(code).area_of_use
    if area is None or code == utm_code(longitude, latitude):
        return True
    west, south, east, north = area.bounds
    width = (east - west) % 360.0 or 360.0
    beyond = (longitude - west + edge) % 360.0 <= width + 2 * edge or width + 2 * edge >= 360.0
    return beyond and south - edge <= latitude <= north + edge
