"""What a grid, and what real points, could find: against closed formulas, areas of shapes, and each other."""

from __future__ import annotations

import math
import random

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry.base import BaseGeometry

from sitegen.compute.design import chance
from sitegen.compute.design.chance import Curve, curve, standard_error
from sitegen.compute.design.lattices import Step, lattice_chance, square_chance, triangular_chance

SPACING_M = 15.24
UNITS_EAST, UNITS_NORTH = 500_000.0, 4_400_000.0
ELL = shapely.transform(
    shapely.Polygon(
        [(0, 0), (300, 0), (300, 100), (100, 100), (100, 300), (0, 300)], [[(20, 20), (50, 20), (50, 50), (20, 50)]]
    ),
    lambda xy: np.add(xy, (UNITS_EAST, UNITS_NORTH)),
)
"""An L with a hole, as far from the origin as projected coordinates are."""


def scattered(count: int, seed: int = 1) -> list[tuple[float, float]]:
    """Return points in the L, at random."""
    draw = random.Random(seed)  # noqa: S311 (points that repeat)
    made: list[tuple[float, float]] = []
    while len(made) < count:
        place = (UNITS_EAST + 300 * draw.random(), UNITS_NORTH + 300 * draw.random())
        if ELL.contains(shapely.Point(place)):
            made.append(place)
    return made


def by_discs(points: list[tuple[float, float]], boundary: BaseGeometry, radius: float) -> float:
    """Return the covered part of a boundary by drawing the discs as many-sided shapes."""
    discs = shapely.union_all(shapely.buffer(shapely.points(points), radius, quad_segs=256))
    return float(discs.intersection(boundary).area / boundary.area)


@pytest.mark.parametrize("share", [0.0, 0.1, 0.3, 0.5])
def test_a_circle_up_to_half_of_the_spacing_covers_its_own_area(share: float) -> None:
    """Circles about the points of a grid don't meet yet: pi r^2 over the area to each point."""
    axis = 2 * share * SPACING_M
    assert square_chance(axis, SPACING_M) == pytest.approx(math.pi * share**2)
    assert triangular_chance(axis, SPACING_M) == pytest.approx(2 * math.pi * share**2 / math.sqrt(3))


def test_a_circle_that_reaches_the_corners_is_always_found() -> None:
    """1 from G / sqrt 2 on a square grid, from G / sqrt 3 on a triangular one, and less just before."""
    for of, root in ((square_chance, math.sqrt(2)), (triangular_chance, math.sqrt(3))):
        assert of(2 * 1.0001 * SPACING_M / root, SPACING_M) == 1
        assert 0.9999 < of(2 * 0.9999 * SPACING_M / root, SPACING_M) < 1


def test_nine_of_ten_circles_are_found_at_the_published_size() -> None:
    """Gilbert (1987), chapter 10: a chance of 0.90 at about r/G = 0.56 on a square grid (from memory)."""
    low, high = 0.5, 0.71
    for _ in range(50):
        middle = (low + high) / 2
        low, high = (middle, high) if square_chance(2 * middle, 1.0) < 0.9 else (low, middle)
    assert round(high, 2) == 0.56


@pytest.mark.parametrize("ratio", [0.25, 0.5, 0.8])
def test_a_small_ellipse_covers_its_own_area_whatever_its_orientation(ratio: float) -> None:
    """While the longer axis is no more than the spacing, no ellipse holds two points: pi a b over the area."""
    axis = 0.99 * SPACING_M
    assert square_chance(axis, SPACING_M, ratio) == pytest.approx(math.pi * 0.99**2 * ratio / 4)
    assert triangular_chance(axis, SPACING_M, ratio) == pytest.approx(math.pi * 0.99**2 * ratio / (2 * math.sqrt(3)))


@pytest.mark.parametrize(("ratio", "size"), [(0.5, 1.4), (0.5, 1.9), (0.25, 2.4), (0.8, 1.3)])
def test_an_ellipse_on_a_grid_is_found_as_often_as_trials_say(ratio: float, size: float) -> None:
    """Trials of one's own, centre and orientation at random, agree within four standard errors."""
    draw = np.random.Generator(np.random.PCG64(7))
    grid = np.array([(x, y) for x in range(-4, 6) for y in range(-4, 6)], dtype=float)
    x, y, angle = draw.random(20_000), draw.random(20_000), math.pi * draw.random(20_000)
    away_x, away_y = grid[:, 0, None] - x, grid[:, 1, None] - y
    along = away_x * np.cos(angle) + away_y * np.sin(angle)
    beside = away_y * np.cos(angle) - away_x * np.sin(angle)
    found = ((along**2 + (beside / ratio) ** 2).min(axis=0) <= (size / 2) ** 2).mean()
    expected = square_chance(size, 1.0, ratio)
    assert 0 < expected < 1
    assert found == pytest.approx(expected, abs=4 * standard_error(expected, 20_000))


@given(st.floats(-3, 3), st.floats(-3, 3), st.floats(0.1, 3))
def test_a_grid_is_the_same_by_whichever_steps_it_is_told(times: float, more: float, radius: float) -> None:
    """A step and that step with whole others added make one grid."""
    whole, further = round(times), round(more)
    two = Step(0.3 + whole * 2.0, 1.7)
    one = Step(2.0 + further * two.x_m, further * two.y_m)
    told = lattice_chance(2 * radius, Step(2.0, 0.0), Step(0.3, 1.7))
    assert lattice_chance(2 * radius, one, two) == pytest.approx(told)


@pytest.mark.parametrize("wrong", [(-1, 1, 1), (1, 0, 1), (1, 1, 0), (1, 1, 1.1), (math.nan, 1, 1)])
def test_no_chance_of_what_is_no_size_grid_or_shape(wrong: tuple[float, float, float]) -> None:
    """A negative size, a grid without a step and a shape that is none are refused."""
    with pytest.raises(ValueError, match="axis"):
        square_chance(*wrong)


def test_no_shape_beyond_a_circle() -> None:
    """The shorter axis is not longer than the longer, for real points too."""
    with pytest.raises(ValueError, match="ratio"):
        curve([(0.0, 0.0)], ELL, ratio=1.5)


@pytest.mark.parametrize("count", [1, 2, 3, 40])
def test_circles_are_found_in_the_part_of_the_boundary_that_discs_cover(count: int) -> None:
    """The closed formula over nearest pieces agrees with discs drawn as many-sided shapes, at every size."""
    points = scattered(count)
    made = curve(points, ELL)
    assert made.simulated == 0
    assert made.points == count
    assert made.area_m2 == ELL.area
    for size, found, error in made.rows:
        assert error == 0
        assert found == pytest.approx(by_discs(points, ELL, size / 2), abs=5e-5)
    assert made.found_with_90_m is not None
    assert by_discs(points, ELL, made.found_with_90_m / 2) == pytest.approx(0.9, abs=5e-5)


def test_a_point_outside_reaches_in() -> None:
    """A circle whose centre is in the boundary may contain a point beside it."""
    beside = [(-10.0, 50.0)]
    made = curve(beside, shapely.box(0, 0, 100, 100))
    assert {size: found for size, found, _ in made.rows}[100.0] == pytest.approx(
        (50**2 * math.acos(0.2) - 10 * math.sqrt(50**2 - 10**2)) / 10_000
    )


def test_a_large_square_grid_is_like_one_without_end() -> None:
    """Points in the middle of equal squares that fill the boundary: exactly the chance of the unbounded grid."""
    grid = [(10.0 * x + 5, 10.0 * y + 5) for x in range(6) for y in range(4)]
    for size, found, _ in curve(grid, shapely.box(0, 0, 60, 40)).rows:
        assert found == pytest.approx(square_chance(size, 10.0))


@pytest.mark.parametrize("count", [1, 3, 40])
def test_trials_find_circles_as_often_as_areas_say(count: int) -> None:
    """The simulation, set to circles that are all but round, agrees with areas within four standard errors."""
    exact, tried = curve(scattered(count), ELL), curve(scattered(count), ELL, ratio=1 - 1e-9)
    assert tried.simulated == chance.SIMULATED_AREAS
    known = {size: found for size, found, _ in exact.rows}
    shared = [(found, known[size], error) for size, found, error in tried.rows if size in known]
    assert len(shared) > 5
    for found, expected, error in shared:
        assert found == pytest.approx(expected, abs=4 * standard_error(expected, tried.simulated) + 1e-9)
        assert error == pytest.approx(standard_error(found, tried.simulated))
    assert tried.found_with_90_m is not None
    assert exact.found_with_90_m is not None
    assert tried.found_with_90_error_m is not None
    assert 0 < tried.found_with_90_error_m < 0.02 * tried.found_with_90_m
    assert tried.found_with_90_m == pytest.approx(exact.found_with_90_m, abs=4 * tried.found_with_90_error_m)


def test_a_small_ellipse_at_real_points_covers_its_own_area() -> None:
    """Far enough from the edge and from each other, points are found by pi a b each, within the stated error."""
    points = [(100.0 + 200 * x, 100.0 + 200 * y) for x in range(5) for y in range(5)]
    small = [row for row in curve(points, shapely.box(0, 0, 1000, 1000), ratio=0.4).rows if row[0] <= 200]
    assert len(small) > 2
    for size, found, error in small:
        assert error > 0
        assert found == pytest.approx(25 * math.pi * (size / 2) ** 2 * 0.4 / 1e6, abs=4 * error)


@settings(max_examples=25, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 99), st.integers(0, 99)), min_size=1, max_size=12), st.floats(0.001, 1))
def test_points_in_a_line_or_close_together_are_no_trouble(places: list[tuple[int, int]], step: float) -> None:
    """Whatever lies on one line, in one place or a hair apart: the pieces fill the ground, and sizes rise."""
    points = [(1000 + step * x, 1000 + step * y) for x, y in places]
    ground = shapely.box(1000, 1000, 1100, 1080)
    made = curve(points, ground)
    assert made.simulated == 0
    chances = [found for _, found, _ in made.rows]
    assert chances == sorted(chances)
    assert chances[-1] > 0.99
    size, found, _ = made.rows[len(made.rows) // 2]
    assert found == pytest.approx(by_discs(points, ground, size / 2), abs=1e-3)


def test_two_points_in_one_place_count_as_one() -> None:
    """A duplicate beside a point finds nothing more."""
    ground = shapely.box(0, 0, 100, 100)
    assert curve([(50.0, 50.0)] * 2, ground) == curve([(50.0, 50.0)], ground)


def test_no_curve_without_a_point_or_an_area() -> None:
    """Nothing to find with, or nowhere to look."""
    empty = Curve((), None, None, 0, ELL.area, 1.0, 0)
    assert curve([], ELL) == empty
    assert curve([(0.0, 0.0)], shapely.LineString([(0, 0), (1, 1)])).rows == ()


def test_an_area_that_cannot_be_cut_is_tried_instead(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the nearest pieces don't fill the ground, circles are simulated, with their error."""
    monkeypatch.setattr(chance._Pieces, "cut", lambda *_: None)
    assert curve(scattered(3), ELL).simulated == chance.SIMULATED_AREAS


def test_a_boundary_with_a_corner_told_twice_is_cut_all_the_same() -> None:
    """An edge without a length adds nothing."""
    twice = shapely.Polygon([(0, 0), (100, 0), (100, 0), (100, 100), (0, 100)])
    assert curve([(50.0, 50.0)], twice) == curve([(50.0, 50.0)], shapely.box(0, 0, 100, 100))


def test_a_strip_across_the_country_is_no_trouble() -> None:
    """A centimetre wide and ten kilometres long: no place of it is sought by trying."""
    strip = shapely.LineString([(0, 0), (7000, 7000)]).buffer(0.005)
    made = curve([(3500.0, 3500.0), (0.0, 0.0)], strip, ratio=0.5)
    assert made.found_with_90_m is not None
    assert made.found_with_90_m > 2000


def test_it_is_the_same_every_time() -> None:
    """One seed, one curve."""
    assert curve(scattered(5), ELL, ratio=0.5) == curve(scattered(5), ELL, ratio=0.5)


def test_centres_by_parts_find_what_all_of_them_find(monkeypatch: pytest.MonkeyPatch) -> None:
    """Points are compared with a few centres at once, and find what they find with all of them at once."""
    seldom = curve(scattered(200), ELL, ratio=0.5)
    monkeypatch.setattr(chance, "_AT_ONCE", 200 * chance.SIMULATED_AREAS)
    assert curve(scattered(200), ELL, ratio=0.5) == seldom
