"""Coordinates: the reference system, feet, axes, the site boundary, two kinds of coordinates."""

from __future__ import annotations

import re
from collections.abc import Iterator

import numpy as np
import pandas as pd
import pyproj
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from sitegen.checks.catalogue import find
from sitegen.checks.hemisphere import signs_lost
from sitegen.checks.rows import MAX_TOLD, enumeration, first_rows, number_of, numbered_rows, setting_where, surplus
from sitegen.compute.limits import limits
from sitegen.compute.place.points import map_crs, on_map
from sitegen.findings.problems import Finding
from sitegen.project.place.candidates import candidates
from sitegen.project.place.coordinates import WGS84, crs, transform
from sitegen.project.survey import Survey
from sitegen.project.systemwords import site_degrees
from sitegen.project.tables import Location
from sitegen.units import INTERNATIONAL_FOOT, US_SURVEY_FOOT
from sitegen.voice import worded

Coordinates = NDArray[np.float64]
Flags = NDArray[np.bool_]
_UTM = re.compile(r"EPSG:(326|327)(\d\d)")
NEAR_SITE_M = 500.0
"""A point that lies this near to the boundary is not taken for one with swapped axes."""

_SAME_DEGREES = 1e-6


def usable(survey: Survey) -> bool:
    """Tell whether positions can be computed from the declared coordinate systems."""
    system = crs(map_crs(survey))
    return crs(survey.settings.space.crs) is not None and system is not None and plane(system)


def plane(system: pyproj.CRS) -> bool:
    """Tell whether a system gives two projected coordinates: a compound one gives a height as well.

    >>> plane(pyproj.CRS("EPSG:32614")), plane(pyproj.CRS("EPSG:5698")), plane(pyproj.CRS("EPSG:4326"))
    (True, False, False)
    """
    return system.is_projected and len(system.axis_info) == 2


def positions_exist(survey: Survey) -> Iterator[Finding]:
    """A coordinate is one that its system gives to a place on earth."""
    if not usable(survey):
        return
    table, source = survey.tables["locations"], survey.settings.space.crs
    for x_name, y_name in (("easting", "northing"), ("plan_easting", "plan_northing")):
        x, y = (table.frame[name].to_numpy(dtype=float) for name in (x_name, y_name))
        longitude, latitude = transform(source, WGS84, x, y)
        nowhere = pd.Series(~np.isnan(x) & ~np.isnan(y) & ~(np.isfinite(longitude) & np.isfinite(latitude)))
        for row in first_rows(table, nowhere, Location):
            found = worded(
                "{x:g} and {y:g}, not a valid position in {system}",
                x=getattr(row, x_name),
                y=getattr(row, y_name),
                system=source,
            )
            where = row.origin.where(x_name)
            yield find(
                "point-nowhere",
                f"{row.location_id}+{x_name}",
                where,
                found,
                worded("a valid position in {system}", system=source),
                kind="location",
            )
        yield from surplus("point-nowhere", table, nowhere, x_name)


def foot_declared(survey: Survey) -> Iterator[Finding]:
    """A system in feet says which foot, and rightly so."""
    system = crs(survey.settings.space.crs)
    unit = system.axis_info[0].unit_name if system is not None else ""
    real = "us_survey" if "US survey" in unit else "international"
    stated = survey.settings.space.foot
    if "foot" not in unit or stated == real:
        return
    largest = max((np.nanmax(np.abs(v)) for v in given_xy(survey) if not np.isnan(v).all()), default=0.0)
    shift = worded("the other foot shifts points by {metres:.1f} m", metres=foot_shift_m(float(largest)))
    where = setting_where(survey, "space.foot" if stated else "space.crs")
    if not stated:
        yield find(
            "foot-undeclared", "space.foot", where, worded("no kind of foot; {shift}", shift=shift), f'foot = "{real}"'
        )
    else:
        yield find(
            "foot-disagrees",
            "space.foot",
            where,
            f"{stated}; {shift}",
            worded('foot = "{real}", as in the CRS', real=real),
        )


def foot_shift_m(coordinate_ft: float) -> float:
    """Return how far a coordinate moves when the two kinds of foot are mixed up, in metres.

    >>> round(foot_shift_m(2_000_000), 2)
    1.22
    """
    return abs(coordinate_ft) * (US_SURVEY_FOOT.value - INTERNATIONAL_FOOT.value)


def given_xy(survey: Survey) -> tuple[Coordinates, Coordinates]:
    """Return each location's best position in the project CRS: surveyed, else planned, else NaN."""
    frame = survey.frame("locations")
    pairs = [("easting", "northing"), ("plan_easting", "plan_northing")]
    if survey.settings.space.crs == WGS84:
        pairs.insert(0, ("longitude", "latitude"))
    x = np.full(len(frame), np.nan)
    y = np.full(len(frame), np.nan)
    for name_x, name_y in reversed(pairs):
        known = (frame[name_x].notna() & frame[name_y].notna()).to_numpy()
        x = np.where(known, frame[name_x].to_numpy(dtype=float), x)
        y = np.where(known, frame[name_y].to_numpy(dtype=float), y)
    return x, y


def boundary(survey: Survey) -> BaseGeometry | None:
    """Return the site boundary in the map CRS, None where there is none."""
    shapes = [f.geometry for f in survey.features if f.kind == "site_boundary"]
    return on_map(shapely.union_all(shapes), map_crs(survey)) if shapes else None


def within(
    survey: Survey, shape: BaseGeometry, x: Coordinates, y: Coordinates, source: str = "", reach_m: float = 0.0
) -> Flags:
    """Tell which positions of ``source`` (the project CRS) lie in a shape of the map CRS, or no further from it."""
    map_x, map_y = transform(source or survey.settings.space.crs, map_crs(survey), x, y)
    known = np.isfinite(map_x) & np.isfinite(map_y)
    found = np.zeros(len(x), dtype=bool)
    shapely.prepare(shape)
    if reach_m:
        found[known] = shapely.dwithin(shape, shapely.points(map_x[known], map_y[known]), reach_m)
    else:
        found[known] = shapely.contains_xy(shape, map_x[known], map_y[known])
    return found


def points_and_boundary(survey: Survey) -> Iterator[Finding]:
    """Axes are not swapped, and points lie within the boundary or are said not to."""
    site = boundary(survey) if usable(survey) else None
    x, y = given_xy(survey)
    known = ~np.isnan(x) & ~_by_a_lost_sign(survey)
    if site is None or not known.any():
        return
    inside = within(survey, site, x, y)
    swapped = known & ~inside & within(survey, site, y, x, reach_m=NEAR_SITE_M)
    near = within(survey, site, x, y, reach_m=NEAR_SITE_M)
    meant_inside = known & (survey.frame("locations")["off_site"] != "yes").to_numpy()
    outside = meant_inside & ~inside
    if swapped.any() and not (near & known).any():
        yield _all_swapped(survey, int(swapped.sum()))
    elif meant_inside.sum() > 2 and outside.sum() == meant_inside.sum():
        yield _all_outside(survey, site, x, y, outside)
    else:
        yield from _swapped_points(survey, swapped & ~near, x, y)
        yield from _outside_points(survey, site, outside & ~(swapped & ~near), x, y)


def _by_a_lost_sign(survey: Survey) -> Flags:
    """Tell which positions are a longitude without its minus, which is told by itself."""
    in_degrees = survey.settings.space.crs == WGS84
    return signs_lost(survey).to_numpy() if in_degrees else np.zeros(len(survey.frame("locations")), dtype=bool)


def _all_swapped(survey: Survey, count: int) -> Finding:
    table = survey.tables["locations"]
    found = worded("{points} on the site only if easting and northing are exchanged", points=number_of(count, "point"))
    return find("axes-swapped", "all", table.where(0, "easting"), found, worded("easting, then northing"))


def _all_outside(survey: Survey, site: BaseGeometry, x: Coordinates, y: Coordinates, outside: Flags) -> Finding:
    zones = _zones_that_fit(survey, site, x[outside], y[outside])
    hint = worded("in {system} they would be on the site", system=zones[0]) if zones else worded("none is inside")
    return find(
        "points-outside-all",
        "all",
        setting_where(survey, "space.crs"),
        worded(
            "{points}, all outside the site boundary; {hint}", points=number_of(int(outside.sum()), "point"), hint=hint
        ),
        worded("points within the boundary in {system}", system=survey.settings.space.crs),
        do=worded("check whether crs should be {system}", system=zones[0]) if zones else "",
    )


def _zones_that_fit(survey: Survey, site: BaseGeometry, x: Coordinates, y: Coordinates) -> list[str]:
    """Return the neighbouring UTM zones, and the systems of the site's own area, in which most points lie on it."""
    match = _UTM.fullmatch(survey.settings.space.crs)
    number = int(match[2]) if match else 0
    others = [f"EPSG:{match[1]}{zone:02d}" for zone in (number - 1, number + 1) if 1 <= zone <= 60] if match else []
    at = site_degrees(survey.features, survey.tables)
    others += [one.code for one in candidates(*(round(one, 2) for one in at)) if one.code not in others] if at else []
    return [name for name in others if 2 * within(survey, site, x, y, name).sum() > len(x)]


def _swapped_points(survey: Survey, swapped: Flags, x: Coordinates, y: Coordinates) -> Iterator[Finding]:
    table = survey.tables["locations"]
    for at in np.flatnonzero(swapped)[:MAX_TOLD]:
        yield find(
            "axes-swapped",
            str(table.frame["location_id"].iloc[at]),
            table.where(int(at), "easting"),
            worded("easting {x:.2f} and northing {y:.2f}, on the site only if exchanged", x=x[at], y=y[at]),
            worded("easting, then northing"),
            kind="location",
        )


def _outside_points(
    survey: Survey, site: BaseGeometry, outside: Flags, x: Coordinates, y: Coordinates
) -> Iterator[Finding]:
    table = survey.tables["locations"]
    map_x, map_y = transform(survey.settings.space.crs, map_crs(survey), x, y)
    for at in np.flatnonzero(outside)[:MAX_TOLD]:
        finite = np.isfinite(map_x[at]) and np.isfinite(map_y[at])
        metres = site.distance(shapely.Point(map_x[at], map_y[at])) if finite else np.inf
        yield find(
            "point-outside",
            str(table.frame["location_id"].iloc[at]),
            table.where(int(at), "easting"),
            worded("a point {metres:,.1f} m outside the site boundary", metres=metres)
            if finite
            else worded("a point far outside the site boundary"),
            worded("a point within it, or off_site = yes"),
            kind="location",
        )


def coordinates_agree(survey: Survey) -> Iterator[Finding]:
    """Projected and geographic coordinates of one point agree."""
    table = survey.tables["locations"]
    frame = table.frame
    columns = ["easting", "northing", "longitude", "latitude"]
    both = frame[columns].notna().all(axis=1)
    if not usable(survey) or not both.any():
        return
    source = map_crs(survey) if survey.settings.space.crs == WGS84 else survey.settings.space.crs
    e, n, lon, lat = (frame[name].to_numpy(dtype=float) for name in columns)
    x1, y1 = transform(source, map_crs(survey), e, n)
    x2, y2 = transform(WGS84, map_crs(survey), lon, lat)
    apart = np.hypot(x1 - x2, y1 - y2)
    limit = limits(survey.settings)["coordinates_agree_m"]
    bad = both & ~(apart <= limit.value) & ~signs_lost(survey)
    for at, row in numbered_rows(table, bad, Location):
        yield find(
            "coordinates-disagree",
            row.location_id,
            row.origin.where("longitude"),
            worded("easting and northing {apart:,.1f} m from longitude and latitude", apart=apart[at]),
            worded("at most {limit}", limit=limit.text),
            kind="location",
        )
    yield from surplus("coordinates-disagree", table, bad, "longitude")


def coordinates_present(survey: Survey) -> Iterator[Finding]:
    """Every point that was used has a surveyed position."""
    table = survey.tables["locations"]
    frame = table.frame
    x, _ = given_xy(survey)
    used = frame["location_id"].isin(survey.frame("deployments")["location_id"])
    surveyed = frame["easting"].notna() & frame["northing"].notna()
    surveyed |= frame["longitude"].notna() & frame["latitude"].notna()
    nowhere = used & np.isnan(x)
    planned = used & ~np.isnan(x) & ~surveyed
    for code, mask, found in (
        ("coordinates-missing", nowhere, worded("a point that was used, without coordinates")),
        ("position-not-surveyed", planned, worded("a point with a planned position only")),
    ):
        for row in first_rows(table, mask, Location):
            where = row.origin.where("easting" if np.isnan(row.easting) else "northing")
            yield find(code, row.location_id, where, found, worded("a surveyed position"), kind="location")
        yield from surplus(code, table, mask, "easting")


def plan_counts(survey: Survey) -> Iterator[Finding]:
    """As many points are listed as the plan asks for, points added in the field aside."""
    planned = survey.settings.plan.locations
    frame = survey.frame("locations")
    rows = frame[frame["design"] != "added"]
    if planned is not None and len(rows) != planned and survey.tables["locations"].present:
        last = enumeration(rows["location_id"].tolist()[-2:])
        yield find(
            "plan-count-differs",
            "plan.locations",
            setting_where(survey, "plan.locations"),
            worded(
                "{points} in locations.csv (the last are {last})",
                points=number_of(len(rows), "planned point"),
                last=last,
            ),
            worded("{planned}, as planned", planned=planned),
        )


def features_on_the_map(survey: Survey) -> Iterator[Finding]:
    """Every feature is where the map's coordinate system can hold it, to the millimetre and back."""
    target = map_crs(survey)
    for feature in survey.features if usable(survey) else ():
        degrees = shapely.get_coordinates(feature.geometry)
        easting, northing = np.round(transform(WGS84, target, *degrees.T), 3)
        away = np.abs(np.column_stack(transform(target, WGS84, easting, northing)) - degrees)
        if not (away < _SAME_DEGREES).all():
            found = worded("coordinates that are not valid in {system}", system=target)
            subject, wanted = f"feature {feature.number}", worded("a site feature in WGS 84 degrees")
            yield find("feature-unusable", subject, feature.where, found, wanted, kind="feature")


RULES = (
    features_on_the_map,
    foot_declared,
    positions_exist,
    points_and_boundary,
    coordinates_agree,
    coordinates_present,
    plan_counts,
)
