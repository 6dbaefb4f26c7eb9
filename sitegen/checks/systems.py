"""Coordinate systems: known, in metres, of the place; and measured positions beside those of the table."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from sitegen.checks.catalogue import find
from sitegen.checks.rows import setting_where
from sitegen.checks.space import NEAR_SITE_M, boundary, given_xy, plane, usable, within
from sitegen.compute.limits import limits
from sitegen.compute.place.points import map_crs
from sitegen.findings.problems import Finding
from sitegen.project.place.candidates import fits, proposal
from sitegen.project.place.coordinates import WGS84, crs, transform
from sitegen.project.positions import DEGREES, Supplied
from sitegen.project.survey import Survey
from sitegen.project.systemwords import site_degrees
from sitegen.project.tables import Location
from sitegen.voice import worded

EDGE_DEG = 1.0
"""So far beyond the area that the register gives for a system nothing is said: project default, no published source."""


def crs_known(survey: Survey) -> Iterator[Finding]:
    """The coordinate systems exist."""
    for key in ("crs", "map_crs"):
        name = getattr(survey.settings.space, key)
        if name and crs(name) is None:
            where = setting_where(survey, f"space.{key}")
            wanted = worded("a coordinate reference system such as EPSG:32614")
            do = _proposed(survey, key)
            yield find("crs-unknown", f"space.{key}", where, repr(name), wanted, do=do, kind="setting")


def crs_metric(survey: Survey) -> Iterator[Finding]:
    """Distances can be measured in metres."""
    system = crs(map_crs(survey))
    if system is None:
        return
    where = setting_where(survey, "space.map_crs" if survey.settings.space.map_crs else "space.crs")
    if not plane(system):
        wanted = worded("a projected, two-dimensional system in crs, or in map_crs where crs is EPSG:4326")
        found = f"{system.name} ({system.type_name})"
        yield find("crs-not-projected", "space.crs", where, found, wanted, do=_proposed(survey, "map_crs"))
    elif system.axis_info[0].unit_conversion_factor != 1.0:
        unit = system.axis_info[0].unit_name
        wanted = worded("a map_crs in metres, for measuring distances")
        found = worded("{name}, in units of {unit}", name=system.name, unit=unit)
        yield find("crs-not-metric", "space.map_crs", where, found, wanted, do=_proposed(survey, "map_crs"))


def _proposed(survey: Survey, key: str) -> str:
    """Return the lines that would give a system of the site, "" where it is not known where that is."""
    at = site_degrees(survey.features, survey.tables)
    return proposal(key, *at, metric=key == "map_crs") if at else ""


def crs_fits(survey: Survey) -> Iterator[Finding]:
    """The points lie where the coordinate systems are meant to be used."""
    x, y = given_xy(survey)
    known = ~np.isnan(x)
    if not usable(survey) or not known.any():
        return
    site = boundary(survey)
    if site is not None and not within(survey, site, x[known], y[known], reach_m=NEAR_SITE_M).any():
        return  # the boundary tells more: swapped axes, or another system
    degrees = transform(survey.settings.space.crs, WGS84, x[known], y[known])
    if not np.isfinite(degrees).all():
        return
    longitude, latitude = (float(np.median(one)) for one in degrees)
    for key in ("crs", "map_crs"):
        code = getattr(survey.settings.space, key)
        if code and not fits(code, longitude, latitude, EDGE_DEG):
            known_as = crs(code)
            found = worded(
                "points at about {longitude:.2f}, {latitude:.2f}, outside the area of use of {code}",
                longitude=longitude,
                latitude=latitude,
                code=code,
            )
            yield find(
                "crs-elsewhere",
                f"space.{key}",
                setting_where(survey, f"space.{key}"),
                found,
                worded(
                    "a position within {edge:g} degree of the area of use of {name}",
                    edge=EDGE_DEG,
                    name=known_as.name if known_as else code,
                ),
                do=proposal(key, longitude, latitude, metric=key == "map_crs"),
                kind="setting",
            )


def measured_agree(survey: Survey) -> Iterator[Finding]:
    """A point's own position and the measured one of the file beside the table are the same place."""
    if not usable(survey) or not survey.measured:
        return
    limit = limits(survey.settings)["coordinates_agree_m"]
    given_x, given_y = given_xy(survey)
    x, y = transform(survey.settings.space.crs, map_crs(survey), given_x, given_y)
    for at, row in enumerate(survey.rows(Location)):
        beside = survey.measured.get(row.origin.row)
        if beside is None or beside.fills:
            continue
        most = max(limit.value, 0.0 if np.isnan(row.accuracy_m) else row.accuracy_m)
        there = _measured_xy(survey, beside)
        apart = float(np.hypot(x[at] - there[0], y[at] - there[1]))
        if not apart <= most:
            stated = (
                worded("{accuracy:g} m, the stated accuracy (limit {limit})", accuracy=most, limit=limit.text)
                if most > limit.value
                else limit.text
            )
            yield find(
                "positions-differ",
                row.location_id,
                row.origin.where("easting"),
                worded(
                    "a position {apart:,.1f} m from that of {other}; the position in the table is used",
                    apart=apart,
                    other=beside.measured.words,
                ),
                worded("at most {limit}", limit=stated),
                kind="location",
            )


def _measured_xy(survey: Survey, beside: Supplied) -> tuple[float, float]:
    """Return a measured position in the map's system."""
    measured = beside.measured
    source = WGS84 if measured.columns == DEGREES else survey.settings.space.crs
    x, y = transform(source, map_crs(survey), np.array([measured.x]), np.array([measured.y]))
    return float(x[0]), float(y[0])


RULES = (crs_known, crs_metric, crs_fits, measured_agree)
