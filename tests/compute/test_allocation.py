"""Samplers, bags and labels: cases worked by hand, and what must hold for every plan."""

from __future__ import annotations

import math
from collections import Counter
from fractions import Fraction

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from sitegen.compute.design.allocation import Allocation, allocate, count_samplers
from sitegen.project.read.textsafe import alike

# Points, rate, pairs, bags of up to 30, all samplers with a trip blank for each bag; worked by hand.
BY_HAND = [
    (30, 0.1, 3, 2, 35),  # 30 + 3 = 33 fill one bag and 3 of the next; 33 + 2
    (31, 0.1, 4, 2, 37),  # 3.1 pairs are 4; 31 + 4 = 35
    (60, 0.1, 6, 3, 69),  # 66 fill two bags and 6 of a third; 66 + 3
    (61, 0.1, 7, 3, 71),  # 6.1 pairs are 7; 61 + 7 = 68
    (30, 0.0, 0, 1, 31),
    (31, 0.0, 0, 2, 33),
    (60, 0.0, 0, 2, 62),
    (61, 0.0, 0, 3, 64),
    (28, 0.05, 2, 1, 31),  # 1.4 pairs are 2; 30 fill one bag
    (29, 0.05, 2, 2, 33),  # 31 need a second
]


@pytest.mark.parametrize(("points", "rate", "pairs", "bags", "samplers"), BY_HAND)
def test_the_numbers_worked_by_hand(points: int, rate: float, pairs: int, bags: int, samplers: int) -> None:
    """Counted and then allotted: no bag more, none fuller than 30."""
    counts = count_samplers(points, rate)
    assert (counts.duplicates, counts.bags, counts.trip_blanks, counts.samplers) == (pairs, bags, bags, samplers)
    made = allocate([f"P{at:02}" for at in range(points)], counts)
    assert len(filled(made)) == bags
    assert max(filled(made).values()) <= 30
    assert len(made.slots) == samplers


def test_least_number_blanks_and_spares_count() -> None:
    """20 points at 5 % are 1 pair, and 3 are planned at least; 20 + 3 + 2 blanks in one bag, and 4 spares."""
    counts = count_samplers(20, 0.05, least=3, field_blanks=2, spares=4)
    assert (counts.duplicates, counts.bags, counts.samplers) == (3, 1, 30)
    assert count_samplers(2, 0.0, least=5).duplicates == 2


def test_bags_are_alike_in_size_and_filled_along_the_way() -> None:
    """31 samplers are no bag of 30 and one of 1."""
    made = allocate([f"P{at:02}" for at in range(31)], count_samplers(31, 0.0))
    assert sorted(filled(made).values()) == [15, 16]
    way = [slot.location_id for slot in made.of("sample")]
    assert way == sorted(way)


def test_duplicates_are_spread_over_the_way() -> None:
    """Of 40 points with 4 pairs, each quarter of the way has one."""
    made = allocate([str(at) for at in range(40)], count_samplers(40, 0.1))
    assert [int(slot.parent) // 10 for slot in made.of("field_duplicate")] == [0, 1, 2, 3]


def filled(made: Allocation) -> Counter[str]:
    """Return how many samplers each bag has, its trip blank left out."""
    return Counter(slot.bag_id for slot in made.slots if slot.use not in ("trip_blank", "spare"))


PLANS = st.tuples(
    st.integers(0, 130), st.sampled_from([0.0, 0.05, 0.1, 1 / 3, 0.5, 0.9, 0.97, 1.0]) | st.floats(0, 1),
    st.integers(1, 40), st.integers(0, 12), st.integers(0, 9), st.integers(0, 4),
)  # fmt: skip


@settings(max_examples=300)
@given(PLANS)
@example((3, 1.0, 3, 0, 0, 0))
@example((30, 0.97, 31, 1, 0, 0))
@example((0, 0.1, 30, 2, 0, 1))
def test_every_plan_fits_its_bags(plan: tuple[int, float, int, int, int, int]) -> None:
    """No more bags than samplers over room, pairs together, each point once, and one trip blank for each bag.

    A bag with room for an odd number has room for one pair less than half of it: only there, where nearly every
    point is doubled, are there more bags, and then as few as the pairs allow.
    """
    points, rate, per_bag, blanks, least, spares = plan
    counts = count_samplers(points, rate, least=least, field_blanks=blanks, per_bag=per_bag, spares=spares)
    pairs = min(points, max(math.ceil(Fraction(str(rate)) * points), least))
    fewest = math.ceil((points + pairs + blanks) / per_bag)
    room = per_bag // 2
    assert counts.duplicates == pairs
    assert counts.bags == (max(fewest, math.ceil(pairs / room)) if room else fewest)
    if per_bag % 2 == 0 or pairs <= fewest * room:
        assert counts.bags == fewest or per_bag == 1
    made = allocate([f"SG-{at:03}" for at in range(points)], counts)
    bag_of = {slot.label: slot.bag_id for slot in made.slots}
    assert len(bag_of) == len(made.slots) == counts.samplers
    assert Counter(slot.use for slot in made.slots) == Counter(
        sample=points, field_duplicate=pairs, field_blank=blanks, trip_blank=counts.bags, spare=spares
    )
    assert [slot.location_id for slot in made.of("sample")] == [f"SG-{at:03}" for at in range(points)]
    assert len(filled(made)) == counts.bags == len({slot.bag_id for slot in made.of("trip_blank")})
    assert all(count <= per_bag for count in filled(made).values())
    if per_bag > 1:
        assert all(slot.bag_id == bag_of[slot.parent] for slot in made.of("field_duplicate"))


def test_where_a_bag_has_room_for_one_a_duplicate_has_the_next() -> None:
    """The pair cannot share a bag, and that is told."""
    counts = count_samplers(2, 0.5, per_bag=1)
    made = allocate(["A", "B"], counts)
    assert counts.pairs_apart
    assert [(slot.label, slot.bag_id) for slot in made.slots if slot.use != "trip_blank"] == [
        ("A", "BAG-1"), ("B", "BAG-2"), ("B-D", "BAG-3"),
    ]  # fmt: skip
    assert not count_samplers(2, 0.5, per_bag=2).pairs_apart


def test_pairs_that_fill_no_bag_whole_take_more_bags() -> None:
    """Three pairs in bags of three are three bags, one more than six samplers ask for."""
    counts = count_samplers(3, 1.0, per_bag=3)
    assert (counts.bags, counts.bags_for_pairs) == (3, 1)
    assert count_samplers(61, 0.1).bags_for_pairs == 0


def test_labels_are_unlike_every_id_and_each_other() -> None:
    """Points may be called as blanks, spares, bags and duplicates are, but for case or zeros."""
    ids = ["SG-05", "SG-05-D", "tb-01", "FB-1", "SPARE-1", "BAG-1", "SG-06"]
    made = allocate(ids, count_samplers(7, 1.0, field_blanks=2, spares=2, per_bag=8), taken=["SG-06-D"])
    names = [slot.label for slot in made.slots] + sorted({slot.bag_id for slot in made.slots} - {""})
    assert len({alike(name) for name in names}) == len(names)
    assert "SG-06-D" not in names
    parents = {slot.parent: slot.label for slot in made.of("field_duplicate")}
    assert parents["SG-05"] == "SG-05-D2"


def test_another_number_of_points_is_refused() -> None:
    """An allocation of other points would give wrong bags in silence."""
    with pytest.raises(ValueError, match="2 points for 3 primaries"):
        allocate(["A", "B"], count_samplers(3, 0.1))
