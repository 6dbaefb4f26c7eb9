"""Suggested places: the widest gaps, inside the ground, one after another."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from builders import changed, example, load
from hypothesis import given, settings
from hypothesis import strategies as st

from sitegen.compute.evaluate import evaluate
from sitegen.compute.picture.suggest import gaps, grid, widest
from sitegen.compute.place.points import map_crs, on_map
from sitegen.project.load import load_folder
from sitegen.project.place.coordinates import WGS84, transform
from sitegen.project.settings import KeepOffPart, Length
from sitegen.project.survey import Feature

SQUARE = shapely.box(0, 0, 100, 80)


def test_four_corners_leave_the_middle() -> None:
    corners = {"A": (0.0, 0.0), "B": (100.0, 0.0), "C": (0.0, 80.0), "D": (100.0, 80.0)}
    first = widest(grid(SQUARE, 0), corners, 1)[0]
    assert (first.x, first.y) == pytest.approx((50, 40), abs=1)
    assert first.distance_m == pytest.approx(np.hypot(50, 40), abs=1)


@given(st.lists(st.tuples(st.floats(0, 100), st.floats(0, 80)), min_size=1, max_size=20))
@settings(max_examples=30, deadline=None)
def test_no_place_on_a_coarser_grid_is_further_off(spots: list[tuple[float, float]]) -> None:
    used = {str(i): spot for i, spot in enumerate(spots)}
    first = widest(grid(SQUARE, 0), used, 1)[0]
    others = [(x, y) for x in range(0, 101, 10) for y in range(0, 81, 10)]
    best = max(min(np.hypot(x - a, y - b) for a, b in spots) for x, y in others)
    assert first.distance_m >= best - 1.0
    assert first.distance_m == pytest.approx(min(np.hypot(first.x - a, first.y - b) for a, b in spots), abs=1e-9)


def test_distances_fall_and_each_place_counts_for_the_next() -> None:
    found = widest(grid(SQUARE, 0), {"A": (0.0, 0.0)}, 4)
    away = [gap.distance_m for gap in found]
    assert away == sorted(away, reverse=True)
    assert len({(gap.x, gap.y) for gap in found}) == 4
    assert {gap.nearest for gap in found} & {"1", "2", "3"}


def test_no_ground_no_suggestion() -> None:
    assert widest(grid(shapely.Polygon(), 0), {"A": (0.0, 0.0)}, 3) == ()


def test_the_example_s_places_are_inside_off_buildings_and_away_from_utilities() -> None:
    survey, _ = load_folder(example())
    assert survey is not None
    evaluation = evaluate(survey)
    found = gaps(survey, evaluation)
    assert len(found) == 3
    shapes = {f.name: (f.kind, on_map(f.geometry, map_crs(survey))) for f in survey.features}
    for gap in found:
        spot = shapely.Point(gap.x, gap.y)
        for kind, shape in shapes.values():
            if kind == "site_boundary":
                assert shape.contains(spot)
                assert shapely.boundary(shape).distance(spot) >= evaluation.limits["gap_inset_m"].value - 0.01
            if kind in ("building", "tank", "utility", "surface_water"):
                assert shape.distance(spot) >= evaluation.limits["utility_distance_m"].value - 0.01
        assert gap.utility is not None
        nearest = min(shape.distance(spot) for kind, shape in shapes.values() if kind == "utility")
        assert gap.utility.distance_m == pytest.approx(nearest, abs=0.006)


@pytest.mark.parametrize("kind", ["building", "tank", "utility", "surface_water"])
def test_a_place_keeps_the_distance_of_the_plan_where_it_is_more_than_the_limit(kind: str) -> None:
    """A shape drawn around the first place moves it off, by the limit of 1 m; by 6 m where the plan keeps 6 m."""
    survey = load(changed())
    evaluation = evaluate(survey)
    first = gaps(survey, evaluation)[0]
    ring = shapely.Point(first.x, first.y).buffer(3)
    degrees = shapely.transform(ring, lambda xy: np.column_stack(transform(map_crs(survey), WGS84, xy[:, 0], xy[:, 1])))
    drawn = Feature(99, kind, "Drawn", public=True, geometry=degrees, properties={})
    for stated, least in ((None, 1.0), (Length(value=6.0, unit="m"), 6.0)):
        part = {"surface_water": "water", "building": "buildings"}.get(kind, "utilities")
        plan = survey.settings.plan.model_copy(update={"keep_off": KeepOffPart(**{part: stated})})
        settings = survey.settings.model_copy(update={"plan": plan})
        more = replace(survey, settings=settings, features=(*survey.features, drawn))
        spots = [shapely.Point(gap.x, gap.y) for gap in gaps(more, evaluate(more))]
        assert len(spots) == 3
        assert all(ring.distance(spot) >= least - 0.01 for spot in spots)


def test_without_a_drawn_utility_no_distance_is_told() -> None:
    """What is not drawn has no distance; the places are found all the same."""
    survey = load(changed())
    bare = replace(survey, features=tuple(one for one in survey.features if one.kind != "utility"))
    found = gaps(bare, evaluate(bare))
    assert [gap.utility for gap in found] == [None, None, None]
