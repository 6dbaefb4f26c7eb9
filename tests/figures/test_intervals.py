"""The drawing of shares as intervals: each bar runs from its least to its largest share."""

from __future__ import annotations

from xml.etree import ElementTree as ET

import pytest

from sitegen.figures.intervals import IntervalRow, Words, share_intervals
from sitegen.figures.look import ACCENT, PAPER, WARN

SVG = "{http://www.w3.org/2000/svg}"
SAID = Words("share", "found", "not found", "qualified")


def drawn(*rows: IntervalRow) -> ET.Element:
    return ET.fromstring(share_intervals("i", ["Parent", "<script>&\"'"], rows, SAID))  # noqa: S314


def texts(svg: ET.Element) -> list[str]:
    return [element.text or "" for element in svg.iter(f"{SVG}text")]


def test_a_bar_runs_from_the_least_to_the_largest_share() -> None:
    """Two panels of 260 from 84 and 356: 50 to 100 % is 214 to 344, 0 to 25 % is 356 to 421; 1.5 more at either end."""
    svg = drawn(IntervalRow("P-1", ((50, 100, True), (0, 25, False))))
    bars = [e for e in svg.iter(f"{SVG}rect") if e.attrib.get("stroke") == ACCENT][:2]
    assert [float(e.attrib["x"]) for e in bars] == pytest.approx([212.5, 354.5], abs=0.01)
    assert [float(e.attrib["width"]) for e in bars] == pytest.approx([133, 68], abs=0.01)
    assert [e.attrib["fill"] for e in bars] == [ACCENT, PAPER], "filled where it was detected, else open"


def test_a_share_without_an_interval_is_still_seen() -> None:
    """A single figure is a bar 3 wide."""
    svg = drawn(IntervalRow("P-1", ((40, 40, True), (60, 60, True))))
    bars = [e for e in svg.iter(f"{SVG}rect") if e.attrib.get("stroke") == ACCENT][:2]
    assert [float(e.attrib["width"]) for e in bars] == [3, 3]


def test_a_qualified_point_has_a_ring_and_its_key() -> None:
    """Of two points one is qualified: a ring in its row, one in the key; with none the key is left out."""
    plain = IntervalRow("P-1", ((40, 40, True), (60, 60, True)))
    rings = list(drawn(plain, plain._replace(label="P-2", marked=True)).iter(f"{SVG}circle"))
    assert [e.attrib["stroke"] for e in rings] == [WARN, WARN]
    assert float(rings[0].attrib["cy"]) == 46.5, "the second row, of 15 each, from 24"
    assert not list(drawn(plain).iter(f"{SVG}circle"))
    assert "qualified" not in texts(drawn(plain))


def test_names_are_text_and_a_row_needs_an_interval_for_each() -> None:
    """A compound's name can't become markup."""
    assert "<script>&\"'" in texts(drawn(IntervalRow("P-1", ((1, 2, True), (3, 4, True)))))
    with pytest.raises(ValueError, match="one interval for each"):
        drawn(IntervalRow("P-1", ((1, 2, True),)))


def test_a_long_name_is_whole_where_four_compounds_share_the_width() -> None:
    """cis-1,2-Dichloroethene in bold fits its quarter of the drawing."""
    names = ["cis-1,2-Dichloroethene", "a", "b", "c"]
    svg = share_intervals("i", names, [IntervalRow("P-1", ((0.0, 1.0, True),) * 4)], SAID)
    assert names[0] in svg
