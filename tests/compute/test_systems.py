"""Coordinate systems: units as the register has them, and what PROJ did from which to which."""

from __future__ import annotations

import numpy as np
import pytest
from builders import changed, load
from survey_in_feet import SOUTH_DAKOTA_FT, feet

from sitegen.compute.place.points import Point, points
from sitegen.compute.place.systems import steps, system
from sitegen.project.place.coordinates import transform
from sitegen.project.tables import Location


def test_the_kind_of_foot_is_the_register_s_own() -> None:
    """EPSG names for US state plane zones: Pennsylvania South in US survey feet, Arizona Central in international."""
    units = [found.unit for code in ("EPSG:2272", "EPSG:2223", "EPSG:32614") if (found := system(code))]
    assert units == ["US survey foot", "foot", "metre"]
    assert system("EPSG:1") is None


def test_the_steps_say_which_way_each_transformation_went() -> None:
    """In feet: points to the map and to WGS 84, features to the map. In metres of UTM: nothing for the map."""
    survey = load(changed(*feet("us_survey")))
    ways = [(s.what, s.source, s.target) for s in steps(survey, points(survey))]
    assert ways == [
        ("points", SOUTH_DAKOTA_FT, "EPSG:32614"),
        ("points", SOUTH_DAKOTA_FT, "EPSG:4326"),
        ("features", "EPSG:4326", "EPSG:32614"),
    ]
    plain = load(changed())
    assert [(s.what, s.target) for s in steps(plain, points(plain))] == [
        ("points", "EPSG:4326"),
        ("features", "EPSG:32614"),
    ]


def test_the_operation_is_the_one_that_proj_used() -> None:
    """EPSG operation 1188, NAD83 to WGS 84 (1), has an accuracy of 4 m; a projection alone has 0 m (EPSG, PROJ 9)."""
    survey = load(changed(*feet("us_survey")))
    (made,) = steps(survey, points(survey))[0].operations
    assert "NAD83 to WGS 84 (1)" in made[0]
    assert "South Dakota South" in made[0]
    assert "axis order" not in made[0]
    assert made[1] == 4.0
    plain = load(changed())
    assert steps(plain, points(plain))[0].operations == (("Inverse of UTM zone 14N", 0.0),)


def test_a_point_keeps_what_the_folder_gives_beside_where_it_was_put() -> None:
    """The text as received is that of the row; transformed, it gives the point's place on the map to a millimetre."""
    survey = load(changed(*feet("us_survey")))
    rows = {row.location_id: row for row in survey.rows(Location)}
    received = survey.tables["locations"].raw
    for at, point in enumerate(points(survey)):
        given = _given(point)
        row = rows[point.location_id]
        east = (row.plan_easting, "plan_easting") if point.as_planned else (row.easting, "easting")
        assert given == (east[0], received[east[1]][at])
        assert point.given is not None
        x, _ = transform(SOUTH_DAKOTA_FT, "EPSG:32614", np.array([given[0]]), np.array([point.given.y]))
        assert x[0] == pytest.approx(point.x, abs=0.001)


def _given(point: Point) -> tuple[float, str]:
    assert point.given is not None
    return point.given.x, point.given.x_text
