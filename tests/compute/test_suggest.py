"""Suggested places: the widest gaps, inside the ground, one after another."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from builders import example
from hypothesis import given, settings
from hypothesis import strategies as st

from sitegen.compute.evaluate import evaluate
from sitegen.compute.picture.suggest import gaps, grid, widest
from sitegen.compute.place.points import map_crs, on_map
from sitegen.project.load import load_folder

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
                assert shape.exterior.distance(spot) >= evaluation.limits["gap_inset_m"].value - 0.01
            if kind in ("building", "tank"):
                assert not shape.contains(spot)
            if kind == "utility":
                assert shape.distance(spot) >= evaluation.limits["utility_distance_m"].value - 0.01
