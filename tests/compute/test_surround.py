"""What lies around planned points, worked by hand from round metres of the planned survey."""

from __future__ import annotations

import math

import pytest
from builders import load
from planned_survey import folder, planned, texts

from sitegen.compute.design.fieldplan import field_plan
from sitegen.compute.design.surround import margins, nearest_utilities, spacing

NEAR = 0.02
"""Metres that rounding of degrees to nine figures may move a corner, both ways."""


def test_fewer_than_two_places_have_no_spacing() -> None:
    """One place has no neighbour."""
    assert spacing([]) is None
    assert spacing([(0.0, 0.0)]) is None


def test_the_nearest_utility_is_the_nearest_line() -> None:
    """The sewer lies at 30 m north, the water line at 50 m east: SG-12 is 3 m from one, SG-08 10 m from the other."""
    survey = load(planned())
    found = nearest_utilities(survey, field_plan(survey).points)
    told = {name: (near.name, near.type) for name, near in found.items()}
    assert (told["SG-12"], told["SG-08"]) == (("Sewer", "sewer"), ("Water line", "water"))
    assert found["SG-12"].distance_m == pytest.approx(3.0, abs=NEAR)
    assert found["SG-08"].distance_m == pytest.approx(10.0, abs=NEAR)


def test_without_a_mapped_utility_none_is_near() -> None:
    """A site without a mapped utility gives nothing, and no strip along one."""
    files = texts()
    files["locations/features.geojson"] = files["locations/features.geojson"].replace('"utility"', '"other"')
    survey = load(folder(files))
    assert nearest_utilities(survey, field_plan(survey).points) == {}
    assert [one.of for one in margins(survey, 1.0)] == ["building"]


def test_strips_have_the_stated_width_and_else_the_limit() -> None:
    """Buildings of 35 x 18 m and 20 x 12 m with 1 m around; crossing lines of 120 m and 90 m with 1.5 m on each side.

    A strip 1 m wide around a rectangle has its perimeter in area and a circle of 1 m at the corners.
    """
    found = {one.of: one for one in margins(load(planned()), 7.0)}
    around = 2 * (35 + 18) + 2 * (20 + 12) + 2 * math.pi
    assert found["building"].shape.area == pytest.approx(around, rel=0.01)
    lines = 3 * (120 + 90) + 2 * math.pi * 1.5**2 - 3 * 3
    assert found["utility"].shape.area == pytest.approx(lines, rel=0.01)
    assert (found["utility"].width_m, found["utility"].stated) == (1.5, True)
    files = texts()
    files["project.toml"] = files["project.toml"].replace('utilities = { value = 1.5, unit = "m" }\n', "")
    other = {one.of: one for one in margins(load(folder(files)), 7.0)}
    assert (other["utility"].width_m, other["utility"].stated) == (7.0, False)


def test_the_strip_along_the_boundary_is_inside() -> None:
    """Two metres inside a yard of 120 x 90 m leave 116 x 86 m."""
    files = texts()
    files["project.toml"] = files["project.toml"].replace(
        "[plan.keep_off]\n", '[plan.keep_off]\nboundary = { value = 2.0, unit = "m" }\n'
    )
    found = {one.of: one for one in margins(load(folder(files)), 1.0)}
    assert found["site_boundary"].shape.area == pytest.approx(120 * 90 - 116 * 86, rel=0.01)
