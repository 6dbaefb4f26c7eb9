"""Proposed systems: the published rule of the UTM zones by hand, and PROJ's own answer for every other system."""

from __future__ import annotations

import pyproj
import pytest
from builders import Change, changed, new_findings, removed, setting, table
from pyproj.aoi import AreaOfInterest
from pyproj.database import query_crs_info, query_utm_crs_info

from sitegen.project.load import load_folder
from sitegen.project.place.candidates import MOST, candidates, fits, proposal, utm_code, utm_zone

HOME = (-99.366, 43.083)

# Longitude, latitude and zone, each by hand: floor((lon + 180) / 6) + 1, and the exceptions of the published grid.
BY_HAND = [
    (-180.0, 10.0, 1), (-177.5, 10.0, 1), (-174.0, 10.0, 2), (-99.37, 43.08, 14), (-0.001, 51.5, 30), (0.0, 51.5, 31),
    (5.999, 51.0, 31), (6.0, 51.0, 32), (151.2, -33.9, 56), (179.999, -17.0, 60), (180.0, -17.0, 1),
    (2.999, 60.0, 31), (3.0, 60.0, 32), (3.0, 55.999, 31), (3.0, 64.0, 31), (11.999, 63.9, 32), (12.0, 60.0, 33),
    (8.999, 72.0, 31), (9.0, 72.0, 33), (20.999, 78.0, 33), (21.0, 78.0, 35), (32.999, 78.0, 35), (33.0, 78.0, 37),
    (41.999, 78.0, 37), (42.0, 78.0, 38), (7.0, 71.999, 32), (10.0, 84.0, 0), (10.0, -80.1, 0),
]  # fmt: skip


@pytest.mark.parametrize(("longitude", "latitude", "zone"), BY_HAND)
def test_a_zone_is_that_of_the_published_rule(longitude: float, latitude: float, zone: int) -> None:
    """Six degrees each from 180 degrees west, south-west Norway and Svalbard apart, none beyond 80 S and 84 N."""
    assert utm_zone(longitude, latitude) == zone


@pytest.mark.parametrize("longitude", range(-177, 180, 24))
@pytest.mark.parametrize("latitude", [-60.5, -1.5, 1.5, 45.5])
def test_the_zone_is_the_one_that_proj_gives(longitude: float, latitude: float) -> None:
    """PROJ's own query of UTM zones on WGS 84, away from the exceptions, which it does not know."""
    here = AreaOfInterest(longitude, latitude, longitude, latitude)
    (info,) = query_utm_crs_info("WGS 84", here, contains=True)
    assert utm_code(longitude, latitude) == f"EPSG:{info.code}"


@pytest.mark.parametrize(
    ("longitude", "latitude", "codes"),
    [
        (*HOME, ["EPSG:32614", "EPSG:2842", "EPSG:32135", "EPSG:3455", "EPSG:32035"]),
        (-0.1, 51.5, ["EPSG:32630", "EPSG:27700"]),
        (151.2, -33.9, ["EPSG:32756", "EPSG:3308", "EPSG:8058"]),
    ],
)
def test_a_states_or_nations_systems_come_next_to_the_zone(longitude: float, latitude: float, codes: list[str]) -> None:
    """Areas of use of the register, looked up by hand: South Dakota South, Great Britain, New South Wales."""
    found = [one.code for one in candidates(longitude, latitude)]
    assert found[: len(codes)] == codes
    assert len(found) <= MOST + 1


@pytest.mark.parametrize(("longitude", "latitude"), [HOME, (12.6, 55.7), (151.2, -33.9), (178.0, -18.0), (-0.1, 51.5)])
def test_each_candidate_is_projected_in_force_and_of_the_place(longitude: float, latitude: float) -> None:
    """By PROJ's query and by the system itself; smaller areas come first, and metres alone where they are asked for."""
    here = AreaOfInterest(longitude, latitude, longitude, latitude)
    there = {f"EPSG:{info.code}" for info in query_crs_info("EPSG", area_of_interest=here, contains=True)}
    for metric in (False, True):
        found = candidates(longitude, latitude, metric=metric)
        assert found[0].code == utm_code(longitude, latitude)
        assert {one.code for one in found} <= there
        for one in found:
            system = pyproj.CRS(one.code)
            assert system.is_projected
            assert not system.is_deprecated
            assert (one.name, one.unit) == (system.name, system.axis_info[0].unit_name)
            assert not metric or system.axis_info[0].unit_conversion_factor == 1.0


def test_a_proposal_is_the_lines_to_write() -> None:
    """Each with its name and unit; where nothing fits, nothing is said."""
    said = proposal("crs", *HOME)
    assert said.startswith(
        'write under [space] the system that the coordinates are in, one of: crs = "EPSG:32614" (WGS'
    )
    assert 'crs = "EPSG:3455" (NAD83 / South Dakota South (ftUS), US survey foot)' in said


def test_an_area_may_reach_across_the_180th_meridian() -> None:
    """The area of Fiji's grid begins east of it and ends west of it."""
    west, _, east, _ = pyproj.CRS("EPSG:3460").area_of_use.bounds
    assert west > east
    assert fits("EPSG:3460", 178.0, -18.0, 1.0)
    assert fits("EPSG:3460", -179.0, -18.0, 1.0)
    assert not fits("EPSG:3460", 0.0, -18.0, 1.0)


@pytest.mark.parametrize(("longitude", "yes"), [(-103.0, True), (-103.01, False), (-95.0, True), (-94.99, False)])
def test_a_system_may_be_used_a_degree_beyond_its_area(longitude: float, yes: bool) -> None:
    """The area of zone 14 N is 102 to 96 degrees west."""
    assert fits("EPSG:32614", longitude, 43.0, 1.0) == yes


def do_of(code: str, *changes: Change) -> str:
    """Return what to do about the one finding of a code."""
    (found,) = [one for one in new_findings(changed(*changes)) if one.code == code]
    return found.do


CRS = 'crs = "EPSG:32614"'
LINE = '{} = "EPSG:32614" (WGS 84 / UTM zone 14N, metre)'


@pytest.mark.parametrize(
    ("code", "to", "line"),
    [
        ("crs-unknown", 'crs = "EPSG:99999"', LINE.format("crs")),
        ("crs-not-projected", 'crs = "EPSG:4326"', LINE.format("map_crs")),
        ("crs-not-projected", 'crs = "EPSG:4269"', LINE.format("map_crs")),
        ("setting-missing", 'x_crs = "EPSG:32614"', LINE.format("crs")),
        ("setting-invalid", 'crs = "UTM 14"', LINE.format("crs")),
        ("crs-elsewhere", 'crs = "EPSG:4326"\nmap_crs = "EPSG:32617"', LINE.format("map_crs")),
    ],
)
def test_a_message_about_the_system_names_those_that_fit(code: str, to: str, line: str) -> None:
    """Missing, unknown, geographic or of another place: the lines to write stand in the message."""
    degrees = [] if "map_crs" not in to else [DEGREES]
    assert line in do_of(code, setting(CRS, to), *degrees)


def _degrees(rows: list[dict[str, str]]) -> list[dict[str, str]]:
    to_degrees = pyproj.Transformer.from_crs("EPSG:32614", "EPSG:4326", always_xy=True)
    moved = []
    for row in rows:
        new = dict(row)
        for x, y in (("easting", "northing"), ("plan_easting", "plan_northing")):
            if row[x] not in ("", "NA"):
                lon, lat = to_degrees.transform(float(row[x]), float(row[y]))
                new |= {x: f"{lon:.8f}", y: f"{lat:.8f}"}
        moved.append(new)
    return moved


DEGREES = table("locations/locations.csv", _degrees)
"""The positions of the example in degrees, in the same columns."""


def test_without_features_the_points_say_where_the_site_is() -> None:
    """Longitude and latitude of the points are enough for a proposal."""

    def edit(rows: list[dict[str, str]]) -> list[dict[str, str]]:
        return [row | {"longitude": "-99.366", "latitude": "43.083"} for row in rows]

    rows = table("locations/locations.csv", edit, "longitude", "latitude")
    gone = removed("locations/features.geojson")
    _, told = load_folder(changed(setting(CRS, 'x_crs = ""'), gone, rows))
    assert LINE.format("crs") in next(one.do for one in told if one.code == "setting-missing")
    _, told = load_folder(changed(setting(CRS, 'x_crs = ""'), gone))
    assert next(one.do for one in told if one.code == "setting-missing") == "write space.crs in project.toml"


def test_points_of_a_states_system_declared_as_a_zone_are_recognised() -> None:
    """Where all points lie outside the boundary, the system in which they would lie on the site is named."""
    to_feet = pyproj.Transformer.from_crs("EPSG:32614", "EPSG:2842", always_xy=True)

    def edit(rows: list[dict[str, str]]) -> list[dict[str, str]]:
        moved = []
        for row in rows:
            new = dict(row)
            for x, y in (("easting", "northing"), ("plan_easting", "plan_northing")):
                if row[x] not in ("", "NA"):
                    e, n = to_feet.transform(float(row[x]), float(row[y]))
                    new |= {x: f"{e:.3f}", y: f"{n:.3f}"}
            moved.append(new)
        return moved

    assert (
        do_of("points-outside-all", table("locations/locations.csv", edit)) == "check whether crs should be EPSG:2842"
    )
