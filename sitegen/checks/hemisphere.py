"""Longitudes that lost their minus: the place of the same latitude on the other side of Greenwich."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TypeAlias

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from sitegen.checks.catalogue import find
from sitegen.checks.rows import first_rows, surplus
from sitegen.findings.problems import Finding
from sitegen.project.place.coordinates import WGS84, crs, transform
from sitegen.project.survey import Survey
from sitegen.project.tables import Location
from sitegen.voice import worded

_Degrees: TypeAlias = NDArray[np.float64]
REACH_DEG = 0.05
"""So near to the site, in degrees, a position is one of it: some 5 km, project default, no published source."""


def signs_lost(survey: Survey) -> pd.Series[bool]:
    """Tell which points have a longitude that lies at the site with the other sign, and not as it is."""
    frame = survey.frame("locations")
    longitude, latitude = (frame[name].to_numpy(dtype=float) for name in ("longitude", "latitude"))
    west, south, east, north = _site(survey, longitude, latitude)
    level = (latitude >= south - REACH_DEG) & (latitude <= north + REACH_DEG)
    here, there = ((x >= west - REACH_DEG) & (x <= east + REACH_DEG) for x in (longitude, -longitude))
    return pd.Series(level & there & ~here, index=frame.index)


def _site(survey: Survey, longitude: _Degrees, latitude: _Degrees) -> tuple[float, float, float, float]:
    """Return the edges of the site in degrees: of its features, else of the points' other coordinates, else of most."""
    shapes = [feature.geometry for feature in survey.features if feature.kind == "site_boundary"]
    if shapes := shapes or [feature.geometry for feature in survey.features]:
        west, south, east, north = shapely.total_bounds(shapes)
        return float(west), float(south), float(east), float(north)
    x, y = _projected(survey)
    if not np.isfinite(x).any():
        with np.errstate(invalid="ignore"):
            most = np.sign(longitude) == np.sign(np.nansum(np.sign(longitude)))
        x, y = longitude[most], latitude[most]
    known = np.isfinite(x) & np.isfinite(y)
    if not known.any():
        return np.nan, np.nan, np.nan, np.nan
    return float(x[known].min()), float(y[known].min()), float(x[known].max()), float(y[known].max())


def _projected(survey: Survey) -> tuple[_Degrees, _Degrees]:
    """Return the positions by easting and northing in degrees, none where their system gives none."""
    frame, name = survey.frame("locations"), survey.settings.space.crs
    system = crs(name)
    easting, northing = (frame[column].to_numpy(dtype=float) for column in ("easting", "northing"))
    if system is None or not system.is_projected:
        return np.array([]), np.array([])
    return transform(name, WGS84, easting, northing)


def longitude_signs(survey: Survey) -> Iterator[Finding]:
    """A longitude west of Greenwich has a minus."""
    table = survey.tables["locations"]
    bad = signs_lost(survey)
    for row in first_rows(table, bad, Location):
        yield find(
            "longitude-sign",
            row.location_id,
            row.origin.where("longitude"),
            worded(
                "longitude {longitude:.12g}, on the other side of the earth; {meant:.12g} is at the site",
                longitude=row.longitude,
                meant=-row.longitude,
            ),
            worded("a longitude with its sign: west of Greenwich it is negative"),
            do=worded("write {meant:.12g} if that is intended", meant=-row.longitude),
            kind="location",
        )
    yield from surplus("longitude-sign", table, bad, "longitude")


RULES = (longitude_signs,)
