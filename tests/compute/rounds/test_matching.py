"""Which points of two rounds are compared: by id, by position, moved, and without a partner."""

from __future__ import annotations

import pytest
from builders import setting, settings_added, table
from pyproj import Transformer
from tworounds import EAST, NORTH, At, a_round

from sitegen.compute.evaluate import Evaluation
from sitegen.compute.rounds.changes import Match, round_change
from sitegen.compute.rounds.matching import matched


def pairs(before: Evaluation, after: Evaluation) -> list[tuple[str, str, str, bool]]:
    return [(m.location_id, m.earlier_id, m.how, m.moved) for m in matched(before, after).matches]


def test_a_point_is_matched_by_its_id_and_told_how_far_apart_it_lies() -> None:
    """3-4-5: from (0, 0) to (1.5, 2) are 2.5 m, within 3 m."""
    found = matched(a_round(At("P-1", pce="10")), a_round(At("P-1", x=1.5, y=2.0, pce="10")))
    assert found.matches == (Match("P-1", "P-1", "id", pytest.approx(2.5), moved=False),)


@pytest.mark.parametrize(("x", "moved"), [(3.0, False), (3.01, True)])
def test_a_point_moved_beyond_the_limit_is_not_compared(x: float, *, moved: bool) -> None:
    """At 3 m it is still in its place, a centimetre farther it is not, and nothing there is compared."""
    change = round_change(a_round(At("P-1", pce="100")), a_round(At("P-1", x=x, pce="900")))
    assert [m.moved for m in change.matches] == [moved]
    (point,) = change.points
    assert (point.kind, point.reason) == (("not_comparable", "moved") if moved else ("grew", ""))
    assert point.factor == (None if moved else 9)


def test_a_larger_stated_accuracy_of_either_round_is_no_move() -> None:
    """8 m apart, where one of the positions is accurate to 10 m."""
    far, rough = At("P-1", x=8, pce="10"), At("P-1", pce="10", accuracy="10")
    assert pairs(a_round(rough), a_round(far)) == [("P-1", "P-1", "id", False)]
    assert pairs(a_round(far), a_round(rough)) == [("P-1", "P-1", "id", False)]
    assert pairs(a_round(At("P-1", pce="10")), a_round(far)) == [("P-1", "P-1", "id", True)]


def test_the_limits_can_be_the_projects_own_in_the_later_round() -> None:
    """A project that allows 10 m of move, and 0.5 m for another id in the same place."""
    own = (
        settings_added('[limits.round_moved_m]\nvalue = 10\nsource = "a letter"'),
        settings_added('[limits.same_place_m]\nvalue = 0.5\nsource = "a letter"'),
    )
    before = a_round(At("P-1", pce="10"), At("P-2", x=50, pce="10"))
    ats = At("P-1", x=8, pce="10"), At("Q-2", x=51, pce="10")
    assert pairs(before, a_round(*ats)) == [("P-1", "P-1", "id", True), ("Q-2", "P-2", "position", False)]
    assert pairs(before, a_round(*ats, changes=own)) == [("P-1", "P-1", "id", False)]


def test_the_rest_are_matched_by_position_each_the_others_nearest() -> None:
    """Of two new points 1.0 and 1.5 m from an old one the nearer has it; the other has no partner within 2 m."""
    before = a_round(At("A", pce="10"), At("B", x=30, pce="10"))
    after = a_round(At("N-2", x=-1.5, pce="10"), At("N-1", x=1.0, pce="10"), At("N-3", x=32.1, pce="10"))
    found = matched(before, after)
    assert [(m.location_id, m.earlier_id, m.how) for m in found.matches] == [("N-1", "A", "position")]
    assert found.only_before == ("B",)
    assert found.only_after == ("N-2", "N-3")
    assert found.matches[0].distance_m == pytest.approx(1.0)


def test_a_point_that_matches_by_id_is_never_matched_by_position() -> None:
    """P-1 moved 20 m; a new point stands in its old place, and has no partner."""
    before = a_round(At("P-1", pce="10"))
    after = a_round(At("P-1", x=20, pce="10"), At("N-1", pce="10"))
    found = matched(before, after)
    assert [(m.location_id, m.earlier_id, m.moved) for m in found.matches] == [("P-1", "P-1", True)]
    assert found.only_after == ("N-1",)


def test_a_point_that_matches_by_id_takes_no_other_points_place() -> None:
    """P-1 moved to 0.5 m from where A was; N-1, 1 m from A, is A's nearest of those without a partner by id."""
    before = a_round(At("P-1", pce="10"), At("A", x=20, pce="10"))
    after = a_round(At("P-1", x=20.5, pce="10"), At("N-1", x=21, pce="10"))
    assert pairs(before, after) == [("P-1", "P-1", "id", True), ("N-1", "A", "position", False)]


def test_points_of_different_media_are_not_one_place() -> None:
    """A point beneath a slab where there was one in soil gas: another id has no partner, the same id a reason."""
    before = a_round(At("P-1", pce="10"))
    assert pairs(before, a_round(At("N-1", medium="sub_slab", pce="10"))) == []
    (point,) = round_change(before, a_round(At("P-1", medium="sub_slab", pce="10"))).points
    assert (point.kind, point.reason) == ("not_comparable", "medium")


def test_a_nearer_point_of_another_medium_does_not_stand_between() -> None:
    """A slab point 0.2 m away is no neighbour of a soil point that has one at 1 m."""
    before = a_round(At("A", pce="10"))
    after = a_round(At("N-1", x=0.2, medium="sub_slab", pce="10"), At("N-2", x=1.0, pce="10"))
    assert pairs(before, after) == [("N-2", "A", "position", False)]


def test_a_point_without_a_position_is_matched_by_its_id_alone() -> None:
    """No distance, no move, and never a match by position."""
    found = matched(a_round(At("P-1", y=None, pce="10"), At("P-2", y=None, pce="10")), a_round(At("P-1", pce="10")))
    assert found.matches == (Match("P-1", "P-1", "id", None, moved=False),)
    assert found.only_before == ("P-2",)


def _in(code: str, *ats: At) -> Evaluation:
    """Return a round whose coordinates are those of another system, by PROJ, and which is mapped in it."""
    way = Transformer.from_crs("EPSG:32614", code, always_xy=True)

    def moved(rows: list[dict[str, str]]) -> list[dict[str, str]]:
        for row in rows:
            east, north = way.transform(float(row["easting"]), float(row["northing"]))
            row |= {"easting": f"{east:.4f}", "northing": f"{north:.4f}"}
        return rows

    return a_round(*ats, changes=(setting("EPSG:32614", code), table("locations/locations.csv", moved)))


def test_positions_in_two_systems_are_compared_in_metres_of_the_later_ones_map() -> None:
    """The neighbouring UTM zone has other numbers for the same places: 1 m apart to a few per mille."""
    before = _in("EPSG:32613", At("A", pce="10"), At("P-2", x=40, pce="10"))
    after = a_round(At("N-1", x=1.0, pce="10"), At("P-2", x=40, y=5, pce="10"))
    found = matched(before, after).matches
    assert [(m.location_id, m.earlier_id, m.how, m.moved) for m in found] == [
        ("N-1", "A", "position", False),
        ("P-2", "P-2", "id", True),
    ]
    assert [m.distance_m for m in found] == [pytest.approx(1.0, abs=0.002), pytest.approx(5.0, abs=0.002)]


def test_a_map_in_feet_is_compared_in_metres() -> None:
    """10 m are 32.8 international feet; the limits are in metres. EPSG:2222 is Arizona East in feet."""
    way = Transformer.from_crs("EPSG:2222", "EPSG:32614", always_xy=True)
    one, other = (way.transform(700_000.0 + feet, 1_000_000.0) for feet in (0.0, 10.0))
    spots = [(east - EAST, north - NORTH) for east, north in (one, other)]
    rounds = [_in("EPSG:2222", At("P-1", x=x, y=y, pce="10")) for x, y in spots]
    (found,) = matched(*rounds).matches
    assert found.distance_m == pytest.approx(10 * 0.3048, abs=0.001)
    assert found.moved


def test_where_no_accuracy_is_stated_for_the_way_between_two_systems_there_is_no_distance() -> None:
    """From Chos Malal 1914 (EPSG:2081) PROJ knows but a ballpark way to WGS 84: neither distance nor move is told."""
    before = _in("EPSG:2081", At("P-1", pce="10"), At("A", x=50, pce="10"))
    after = a_round(At("P-1", x=20, pce="10"), At("N-1", x=50, pce="10"))
    found = matched(before, after)
    assert found.matches == (Match("P-1", "P-1", "id", None, moved=False),)
    assert (found.only_before, found.only_after) == (("A",), ("N-1",))


def test_the_accuracy_stated_for_the_way_between_two_systems_is_no_move() -> None:
    """PROJ states 4 m from NAD 83 to WGS 84: 3.5 m, beyond the limit of 3 m, are no move, and 5 m are one."""
    for x, moved in ((3.5, False), (5.0, True)):
        before = _in("EPSG:26914", At("P-1", pce="10"))
        assert pairs(before, a_round(At("P-1", x=x, pce="10"))) == [("P-1", "P-1", "id", moved)]


def test_only_points_that_a_sampler_stands_for_are_matched() -> None:
    """A planned point without a sampler is of no round."""
    extra = table(
        "locations/locations.csv", lambda rows: [*rows, rows[0] | {"location_id": "P-9", "status": "planned"}]
    )
    with_plan = a_round(At("P-1", pce="10"), changes=(extra,))
    found = matched(with_plan, with_plan)
    assert [m.location_id for m in found.matches] == ["P-1"]
    assert (found.only_before, found.only_after) == ((), ())
