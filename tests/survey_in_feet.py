"""The example surveyed in another coordinate system: feet of a state plane zone, or degrees."""

from __future__ import annotations

import numpy as np
from builders import Change, Row, every, setting, table

from sitegen.project.place.coordinates import transform

LOCATIONS = "locations/locations.csv"
SOUTH_DAKOTA_FT = "EPSG:3455"
"""NAD83 / South Dakota South in US survey feet, which holds the example's open grassland."""


def _moved(row: Row, x: str, y: str, target: str, decimals: int) -> tuple[str, str]:
    e, n = transform("EPSG:32614", target, np.array([float(row[x])]), np.array([float(row[y])]))
    return f"{e[0]:.{decimals}f}", f"{n[0]:.{decimals}f}"


def in_feet(row: Row) -> Row:
    """Return a point's positions in the system in feet."""
    found = {}
    for x, y in (("easting", "northing"), ("plan_easting", "plan_northing")):
        if row[x] not in ("", "NA"):
            found[x], found[y] = _moved(row, x, y, SOUTH_DAKOTA_FT, 3)
    return found


def feet(foot: str, map_crs: str = "EPSG:32614") -> tuple[Change, ...]:
    """Return the changes that put the example into a system in feet."""
    return (
        every(LOCATIONS, in_feet),
        setting('crs = "EPSG:32614"', f'crs = "{SOUTH_DAKOTA_FT}"\nmap_crs = "{map_crs}"'),
        setting('foot = "international"', f'foot = "{foot}"'),
    )


def in_degrees(row: Row) -> Row:
    """Return a point's surveyed position as longitude and latitude, without any other."""
    none = {"longitude": "", "latitude": "", "easting": "", "northing": "", "plan_easting": "", "plan_northing": ""}
    if row["easting"] in ("", "NA"):
        return none
    lon, lat = _moved(row, "easting", "northing", "EPSG:4326", 8)
    return none | {"longitude": lon, "latitude": lat}


def degrees() -> tuple[Change, ...]:
    """Return the changes that give the example's surveyed positions in degrees."""
    return (
        table(LOCATIONS, lambda rows: [row | in_degrees(row) for row in rows], "longitude", "latitude"),
        setting('crs = "EPSG:32614"', 'crs = "EPSG:4326"\nmap_crs = "EPSG:32614"'),
    )
