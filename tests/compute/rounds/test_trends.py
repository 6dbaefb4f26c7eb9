"""Trends over three rounds and more."""

from __future__ import annotations

import pytest
from tworounds import At, a_round

from sitegen.compute.evaluate import Evaluation
from sitegen.compute.rounds.trends import Trends, trends


def rounds_of(*points: list[str]) -> Trends:
    """Return the trends of points, each with its tetrachloroethene in every round; "" for none."""
    return trends([_round(masses) for masses in zip(*points, strict=True)])


def _round(masses: tuple[str, ...]) -> Evaluation:
    known = [{"pce": mass} if mass else {} for mass in masses]
    return a_round(*(At(f"P-{at}", x=50 * at, tce="<10", **results) for at, results in enumerate(known)))


def test_two_rounds_have_no_trend() -> None:
    """Two are a change, told elsewhere."""
    assert rounds_of(["10", "20"]) == Trends(2)


def test_three_rounds_give_a_site_a_trend_and_a_point_none() -> None:
    """S = 3 + 1 = 4 over two points.

    The second round stands as high as the third: of the 6 orders of the rounds 4 give 4 or −4 (123, 132, 231, 321)
    and 2 give 0, so that p = 2/3.
    """
    found = rounds_of(["10", "20", "30"], ["10", "30", "20"])
    (pce,) = [c for c in found.compounds if c.analyte_id == "pce"]
    assert (pce.points, pce.kendall.s, pce.kendall.p) == (2, 4, pytest.approx(2 / 3))
    assert found.points == ()


def test_a_hundred_points_that_rise_together_say_no_more_than_one() -> None:
    """One wet season raises them all: with three rounds p stays at 1/3."""
    (pce,) = [c for c in rounds_of(*[["10", "20", "30"]] * 20).compounds if c.analyte_id == "pce"]
    assert (pce.kendall.s, pce.kendall.p) == (60, pytest.approx(1 / 3))


def test_four_rounds_give_each_point_a_trend() -> None:
    """Rising in all: S = 6, tau-b 1, p = 2/24; in µg as in ng. A non-detect is below a detection at its limit."""
    found = rounds_of(["<10", "20", "0.03 ug", "40"], ["10", "", "20", "15"])
    pce = [p for p in found.points if p.analyte_id == "pce"]
    assert [(p.location_id, p.rounds) for p in pce] == [("P-0", 4)]
    assert (pce[0].kendall.s, pce[0].kendall.tau_b, pce[0].kendall.p) == (6, 1.0, pytest.approx(2 / 24))
    (site,) = [c for c in found.compounds if c.analyte_id == "pce"]
    assert (site.points, site.kendall.s, site.kendall.pairs) == (2, 6 + 1, 6 + 3)


def test_rejected_results_and_moved_points_are_left_out() -> None:
    """A point that moved 40 m in the first round, and one that has a rejected result there: two rounds remain."""
    at = [
        a_round(At("P-1", x=x, pce="10"), At("P-2", x=90, pce=mass), At("P-3", x=150, pce="7"))
        for x, mass in ((40, "5 R"), (0, "6"), (0, "7"))
    ]
    found = trends(at)
    assert [(c.analyte_id, c.group, c.points) for c in found.compounds] == [("pce", "soil", 1)]
    assert found.compounds[0].kendall.p is None


def test_a_round_that_reported_something_else_is_left_out() -> None:
    """A concentration first, masses after: three rounds of four remain, which are too few for a point."""
    found = rounds_of(["900 ug/m3", "10", "20", "30"])
    (pce,) = [c for c in found.compounds if c.analyte_id == "pce"]
    assert (pce.kendall.s, pce.kendall.pairs) == (3, 3)
    assert "pce" not in {p.analyte_id for p in found.points}


def test_points_are_followed_back_by_position_and_compounds_by_cas() -> None:
    """Other ids for the point and the compound in the first round."""
    rounds = [a_round(At("X", x=0.5, perc="10"), cas=(("perc", "127-18-4"),))]
    rounds += [a_round(At("P-1", pce=mass)) for mass in ("20", "30")]
    (found,) = trends(rounds).compounds
    assert (found.analyte_id, found.kendall.s) == ("pce", 3)


def test_soil_and_air_have_trends_apart() -> None:
    """Air by its concentrations."""
    rounds = [
        a_round(At("P-1", pce=mass), At("A-1", x=9, medium="indoor_air", pce=f"{100 - int(mass)} ug/m3"))
        for mass in ("10", "20", "30")
    ]
    assert [(c.group, c.kendall.s) for c in trends(rounds).compounds] == [("soil", 3), ("air", -3)]
