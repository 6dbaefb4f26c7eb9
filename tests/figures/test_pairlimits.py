"""Duplicates against their rule: a pair is in a shaded area exactly where the rule says that it agrees."""

from __future__ import annotations

import xml.etree.ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sitegen.compute.limits import DEFAULTS
from sitegen.compute.quality.duplicates import AGREES, compare, rpd
from sitegen.figures.look import INK, WARN
from sitegen.figures.pairlimits import PairDot, PairRule, pair_limits

SVG = "{http://www.w3.org/2000/svg}"
WORDS = {key: key for key in ("across", "up", "strip", "rpd", "difference", "agrees", "differs")}
RULE = PairRule(30.0, 5.0, 2.0)
LIMITS = {one.name: one for one in DEFAULTS}


def drawn(*dots: PairDot) -> ET.Element:
    return ET.fromstring(pair_limits("pairs", dots, RULE, WORDS))  # noqa: S314 - our own drawing


def corners(shape: ET.Element) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in (one.split(",") for one in shape.get("points", "").split())]


def inside(area: list[tuple[float, float]], x: float, y: float) -> bool:
    """Tell by even-odd rule whether a place lies in an area."""
    odd = False
    for (x0, y0), (x1, y1) in zip(area, [*area[1:], area[0]], strict=True):
        if (y0 > y) != (y1 > y) and x < x0 + (y - y0) * (x1 - x0) / (y1 - y0):
            odd = not odd
    return odd


def near(area: list[tuple[float, float]], x: float, y: float) -> bool:
    """Tell whether a rim of the area passes close by, where a drawing of steps decides nothing."""
    around = [(x + dx, y + dy) for dx in (-4.0, 0.0, 4.0) for dy in (-3.0, 0.0, 3.0)]
    return len({inside(area, *one) for one in around}) > 1


@given(st.floats(0.2, 900), st.floats(0.2, 900))
def test_a_pair_is_in_a_shaded_area_where_the_rule_lets_it_agree(a: float, b: float) -> None:
    """The areas say the same as the rule that computes the verdict; places at a rim are left out."""
    _, _, verdict = compare(a, b, 1.0, LIMITS)
    root = drawn(PairDot("p", (a + b) / 2, rpd(a, b), differs=False), PairDot("q", 0.15, 190.0, differs=False))
    dot = root.findall(f"{SVG}circle")[0]
    x, y = float(dot.get("cx", "")), float(dot.get("cy", ""))
    areas = [corners(one) for one in root.findall(f"{SVG}polygon")[:2]]
    if not any(near(area, x, y) for area in areas):
        assert any(inside(area, x, y) for area in areas) is (verdict == AGREES)


def test_a_pair_that_differs_is_a_full_diamond_with_its_name() -> None:
    """One that agrees is a dot without a name."""
    root = drawn(PairDot("far", 50.0, 60.0, differs=True), PairDot("close", 50.0, 5.0, differs=False))
    said = [one.text for one in root.iter(f"{SVG}text")]
    assert "far" in said
    assert "close" not in said
    assert [one.get("fill") for one in root.findall(f"{SVG}polygon")[2:]] == [WARN]
    assert [one.get("fill") for one in root.findall(f"{SVG}circle")] == [INK]


def test_a_detection_beside_a_non_detect_is_hollow_and_below_the_chart() -> None:
    """It has no RPD; without one there is no strip."""
    root = drawn(PairDot("one", 1.0, None, differs=False), PairDot("both", 1.0, 0.0, differs=False))
    one, both = sorted(root.findall(f"{SVG}circle"), key=lambda dot: dot.get("fill") == INK)
    assert one.get("fill") != INK
    assert float(one.get("cy", "")) > float(both.get("cy", "")) + 10
    assert "strip" not in [text.text for text in drawn(PairDot("both", 1.0, 0.0, differs=False)).iter(f"{SVG}text")]


def test_names_of_pairs_in_one_place_are_not_written_over_each_other() -> None:
    """Of two in the same place the one further apart is named; the table has both."""
    root = drawn(PairDot("first", 50.0, 60.0, differs=True), PairDot("second", 50.0, 59.0, differs=True))
    said = [one.text for one in root.iter(f"{SVG}text")]
    assert "first" in said
    assert "second" not in said


def test_words_from_the_record_are_escaped() -> None:
    """A point called like a tag stays text."""
    said = [one.text for one in drawn(PairDot("<b>&", 50.0, 60.0, differs=True)).iter(f"{SVG}text")]
    assert "<b>&" in said


@pytest.mark.parametrize("rule", [RULE._replace(rpd_pct=0), RULE._replace(multiple=0), RULE._replace(difference=-1)])
def test_a_rule_without_a_limit_is_refused(rule: PairRule) -> None:
    """There would be no area to draw."""
    with pytest.raises(ValueError, match="above zero"):
        pair_limits("pairs", [], rule, WORDS)
