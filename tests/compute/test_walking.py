"""The way over points: never longer than the nearest first, never shorter than the shortest, and soon found."""

from __future__ import annotations

import math
from itertools import permutations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sitegen.compute.design.walking import Place, length_m, walking_order

COORDINATE = st.integers(0, 50).map(float)
PLACES = st.lists(st.tuples(COORDINATE, COORDINATE), min_size=1, max_size=7).map(
    lambda xy: [(f"P{at}", x, y) for at, (x, y) in enumerate(xy)]
)


def walked(places: list[Place]) -> list[Place]:
    by_id = {place[0]: place for place in places}
    order = walking_order(places)
    assert sorted(order) == sorted(by_id)
    return [by_id[name] for name in order]


def nearest_first(places: list[Place]) -> list[Place]:
    """Return the way that always goes to the nearest, from the same first place; worked anew, without arrays."""
    left = sorted(places, key=lambda place: (round(place[1] + place[2], 6), place))
    way = [left.pop(0)]
    while left:
        x, y = way[-1][1:]
        way.append(min(left, key=lambda place: (round(math.hypot(place[1] - x, place[2] - y), 6), place[0])))
        left.remove(way[-1])
    return way


@given(PLACES)
def test_a_way_over_few_places_lies_between_the_shortest_and_the_nearest_first(places: list[Place]) -> None:
    """All ways over up to seven places are tried."""
    way = walked(places)
    assert way[0] == min(places, key=lambda place: (round(place[1] + place[2], 6), place))
    shortest = min(length_m([way[0], *rest]) for rest in permutations(way[1:]))
    assert shortest - 1e-6 <= length_m(way) <= length_m(nearest_first(places)) + 1e-6


@given(PLACES)
def test_no_part_of_a_short_way_is_worth_turning_round(places: list[Place]) -> None:
    """Of few places each is among the nearest of every other, so that no turn is overlooked."""
    way = walked(places)
    for i in range(1, len(way)):
        for j in range(i + 1, len(way) + 1):
            turned = way[:i] + way[i:j][::-1] + way[j:]
            assert length_m(turned) >= length_m(way) - 1e-5


def test_most_ways_over_seven_places_are_the_shortest() -> None:
    """A search that undoes crossings finds the shortest of so few nearly always: at least 80 of 100."""
    chance, best = np.random.default_rng(7), 0
    for _ in range(100):
        way = walked([(f"P{at}", chance.uniform(0, 99), chance.uniform(0, 99)) for at in range(7)])
        shortest = min(length_m([way[0], *rest]) for rest in permutations(way[1:]))
        best += length_m(way) < shortest + 1e-6
    assert best >= 80


@pytest.mark.parametrize("kind", ["scattered", "grid"])
def test_a_thousand_places_are_walked_without_a_long_search(kind: str) -> None:
    """The way is far shorter than the nearest first over scattered places, and no longer than a grid's rows."""
    chance = np.random.default_rng(1)
    places = [
        (f"P{at:04}", chance.uniform(0, 1000), chance.uniform(0, 1000))
        if kind == "scattered"
        else (f"P{at:04}", at % 40 * 20.0, at // 40 * 20.0)
        for at in range(1000)
    ]
    way, first = length_m(walked(places)), length_m(nearest_first(places))
    assert way < 0.95 * first if kind == "scattered" else way <= first + 1e-6


def test_the_order_of_the_rows_changes_no_way() -> None:
    """Ties are broken by id: a grid has many."""
    places = [(f"P{at:02}", at % 6 * 10.0, at // 6 * 10.0) for at in range(36)]
    mixed = [places[at] for at in np.random.default_rng(3).permutation(len(places))]
    assert walking_order(mixed) == walking_order(places)


def test_no_place_and_places_at_one_spot_are_walked_too() -> None:
    """A plan may be empty, and two points may share a place."""
    assert walking_order([]) == ()
    assert walking_order([("B", 1, 1), ("A", 1, 1), ("C", 1, 1)]) == ("A", "B", "C")
