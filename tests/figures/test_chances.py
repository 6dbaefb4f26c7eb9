"""The chart of chances: every size in its place, the size at the level marked, words escaped."""

from __future__ import annotations

from xml.etree import ElementTree as ET

import pytest

from sitegen.figures.chances import Rising, chance_curves

SVG = "{http://www.w3.org/2000/svg}"
HOSTILE = "<script>&\"'"
CURVES = (
    Rising("circles", [(0.0, 0.0), (50.0, 0.45), (100.0, 0.9), (200.0, 1.0)], 100.0),
    Rising(f"long, {HOSTILE}", [(0.0, 0.0), (100.0, 0.5), (200.0, 0.95)], 180.0),
)


def tree(svg: str) -> ET.Element:
    return ET.fromstring(svg)  # noqa: S314


def test_each_curve_goes_through_its_sizes_and_rises() -> None:
    lines = [
        line.attrib["points"].split() for line in tree(chance_curves("c", CURVES, 0.9, "m")).iter(f"{SVG}polyline")
    ]
    assert [len(spots) for spots in lines] == [4, 3]
    first = [tuple(map(float, spot.split(","))) for spot in lines[0]]
    assert first == sorted(first)
    (left, bottom), (_, middle), (hit, level), (right, top) = first
    assert (hit - left) / (right - left) == pytest.approx(0.5, abs=1e-3)
    assert (bottom - middle) / (bottom - top) == pytest.approx(0.45, abs=1e-3)
    assert (bottom - level) / (bottom - top) == pytest.approx(0.9, abs=1e-3)


def test_the_size_at_the_level_is_marked_on_each_curve() -> None:
    found = tree(chance_curves("c", CURVES, 0.9, "m")).iter(f"{SVG}circle")
    circles = [(float(one.attrib["cx"]), float(one.attrib["cy"])) for one in found]
    assert len(circles) == 2
    assert circles[0][1] == circles[1][1]
    assert circles[0][0] < circles[1][0]


def test_curves_differ_by_their_dashes_and_words_are_escaped() -> None:
    drawn = tree(chance_curves("c", CURVES, 0.9, HOSTILE))
    dashes = [line.attrib.get("stroke-dasharray", "") for line in drawn.iter(f"{SVG}polyline")]
    assert len(set(dashes)) == 2
    told = [element.text for element in drawn.iter(f"{SVG}text")]
    assert {"90 %", "circles", "long", HOSTILE} <= set(told)


def test_no_curve_is_still_a_drawing() -> None:
    assert tree(chance_curves("c", (), 0.9, "m")).tag == f"{SVG}svg"
