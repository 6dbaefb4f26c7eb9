"""Grids, lines and rings against what number theory and geometry say of them."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry.base import BaseGeometry

from sitegen.compute.design.layout import Lattice, along, ring

GAUSS = {1: 5, 2: 13, 3: 29, 4: 49, 5: 81, 6: 113, 7: 149, 8: 197, 9: 253, 10: 317}
"""Points of the square lattice in a circle: the Gauss circle problem, OEIS A000328 (from memory)."""

HEXAGONAL = {1: 7, 2: 19, 3: 37, 4: 61, 5: 91}
"""The same of the triangular lattice: sums of OEIS A004016, the numbers of ways to write n as a² + ab + b² (memory)."""


def in_circle(lattice: Lattice, radius: float) -> int:
    x, y = lattice.origin
    nodes = lattice.nodes((x - radius - 1, y - radius - 1, x + radius + 1, y + radius + 1))
    return int((np.hypot(nodes[:, 0] - x, nodes[:, 1] - y) <= radius + 1e-6).sum())


@pytest.mark.parametrize(("radius", "count"), GAUSS.items())
@pytest.mark.parametrize("turn", [0.0, 31.0, -90.0])
def test_a_square_grid_has_as_many_nodes_in_a_circle_as_gauss_counted(radius: int, count: int, turn: float) -> None:
    """Of any spacing and turn."""
    assert in_circle(Lattice("square", 12.5, turn, (470_000.25, 4_770_000.5)), 12.5 * radius) == count


@pytest.mark.parametrize(("radius", "count"), HEXAGONAL.items())
@pytest.mark.parametrize("turn", [0.0, 17.0, 200.0])
def test_a_triangular_grid_has_the_nodes_of_the_hexagonal_lattice(radius: int, count: int, turn: float) -> None:
    """Each has six neighbours at the spacing, and so on outwards."""
    assert in_circle(Lattice("triangular", 8.0, turn, (470_000.0, 4_770_000.0)), 8.0 * radius) == count


def test_rows_of_a_triangular_grid_are_the_height_of_an_equilateral_triangle_apart() -> None:
    """They are s √3 / 2, and every other row is half a spacing aside."""
    nodes = Lattice("triangular", 20.0).nodes((0, 0, 60, 60))
    rows = sorted(set(nodes[:, 1].round(9)))
    assert rows == pytest.approx([0, 10 * math.sqrt(3), 20 * math.sqrt(3), 30 * math.sqrt(3)])
    assert sorted(nodes[nodes[:, 1].round(9) == rows[1], 0]) == pytest.approx([10, 30, 50])


@given(st.floats(-360, 360), st.sampled_from(["square", "triangular"]), st.floats(-50, 50), st.floats(-50, 50))
def test_no_node_in_a_box_is_missed_however_the_grid_is_turned(turn: float, pattern: str, x: float, y: float) -> None:
    """A grid over a far larger box has the same nodes in the small one, those on its very edge aside."""
    lattice = Lattice(pattern, 9.0, turn, (x, y))  # type: ignore[arg-type]
    few, many = lattice.nodes((0, 0, 40, 25)), lattice.nodes((-100, -100, 140, 125))
    edge = 1e-6
    within = [nodes[((nodes > edge) & (nodes < (40 - edge, 25 - edge))).all(axis=1)] for nodes in (few, many)]
    assert len(within[0]) == len(within[1]) > 0
    apart = np.linalg.norm(within[0][:, None] - within[1][None], axis=2)
    assert apart.min(axis=1).max() < edge
    assert apart.min(axis=0).max() < edge


def test_a_turn_is_clockwise_from_north() -> None:
    """Turned by 90°, what was north of the origin is east of it."""
    turned = Lattice("triangular", 10.0, 90.0).nodes((-1, -11, 9, 11))
    assert [tuple(node) for node in turned.round(2) + 0.0] == [
        pytest.approx(node) for node in [(0, 10), (0, 0), (0, -10), (8.66, 5), (8.66, -5)]
    ]


def test_places_along_a_line_turn_with_it_and_keep_their_side() -> None:
    """An L of 30 m and 20 m: distances run along it, and the right hand is that of its way."""
    bend = shapely.LineString([(0, 0), (0, 30), (20, 30)])
    assert along(bend, 20).tolist() == [[0, 0], [0, 20], [10, 30]]
    assert along(bend, 20, 2, "right").tolist() == [[2, 0], [2, 20], [10, 28]]
    assert along(bend, 20, 2, "left").tolist() == [[-2, 0], [-2, 20], [10, 32]]
    assert along(bend, 20, 2, "both").tolist() == [[2, 0], [-2, 0], [2, 20], [-2, 20], [10, 28], [10, 32]]


def test_a_line_of_several_parts_is_walked_part_by_part() -> None:
    """Each begins anew; a vertex drawn twice is none."""
    parts = shapely.MultiLineString([[(0, 0), (0, 0), (15, 0)], [(0, 50), (10, 50)]])
    assert along(parts, 10).tolist() == [[0, 0], [10, 0], [0, 50], [10, 50]]


def test_the_last_place_of_a_whole_number_of_spacings_is_there() -> None:
    """0.1 m thirty times is 3 m, whatever binary fractions make of it."""
    assert len(along(shapely.LineString([(0, 0), (3, 0)]), 0.1)) == 31


@pytest.mark.parametrize("shape", [shapely.Point(7, 3), shapely.box(0, 0, 10, 4), shapely.LineString([(0, 0), (9, 5)])])
def test_a_ring_keeps_its_distance_and_begins_in_the_north(shape: BaseGeometry) -> None:
    """Every place is as far from the shape as asked for, the first due north of its middle."""
    places = ring(shape, 3.0, 8)
    assert shapely.distance(shape, shapely.points(places)) == pytest.approx([3.0] * 8, abs=1e-3)
    assert places[0, 0] == pytest.approx(shape.centroid.x)
    assert places[0, 1] > shape.centroid.y


def test_a_ring_runs_clockwise_in_equal_steps() -> None:
    """Around a square of 10 m at 2 m: the ring is 40 m and a circle of 2 m long."""
    places = ring(shapely.box(0, 0, 10, 10), 2.0, 4)
    assert places.round(3).tolist() == [[5, 12], [12, 5], [5, -2], [-2, 5]]


def test_a_ring_around_two_parts_surrounds_both() -> None:
    """No place lies between two tanks of one name."""
    tanks = shapely.MultiPolygon([shapely.box(0, 0, 4, 4), shapely.box(20, 0, 24, 4)])
    between = shapely.box(5, 0, 19, 4)
    assert not shapely.contains(between, shapely.points(ring(tanks, 2.0, 40))).any()
