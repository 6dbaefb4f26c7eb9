"""Stacked shares: bars as long as their shares, everything escaped, nothing off the panel."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from itertools import pairwise

import pytest

from sitegen.figures.shares import ShareBar, share_bars

SVG = "{http://www.w3.org/2000/svg}"
NAMES = ("first", "second", "third")


def drawn(*bars: ShareBar) -> ET.Element:
    return ET.fromstring(share_bars("flow", NAMES, bars))  # noqa: S314 - our own drawing


def test_the_parts_of_a_bar_are_as_long_as_their_shares() -> None:
    """50, 30 and 20 % stand end to end."""
    root = drawn(ShareBar("P1", "0 m", (50.0, 30.0, 20.0)))
    rects = [r for r in root.findall(f"{SVG}rect") if r.get("height") == "14"]
    widths = [float(r.get("width", "0")) for r in rects]
    assert [w / sum(widths) for w in widths] == pytest.approx([0.5, 0.3, 0.2], abs=0.001)
    for left, right in pairwise(rects):
        assert float(left.get("x", "0")) + float(left.get("width", "0")) == pytest.approx(
            float(right.get("x", "0")), abs=0.02
        )


def test_a_mark_is_drawn_and_explained_only_where_there_is_one() -> None:
    """The ring stands at the marked bar and in the legend."""
    plain = drawn(ShareBar("P1", "", (100.0, 0.0, 0.0)))
    marked = drawn(ShareBar("P1", "", (100.0, 0.0, 0.0), marked=True))
    assert len(list(plain.iter(f"{SVG}circle"))) == 0
    assert len(list(marked.iter(f"{SVG}circle"))) == 2


def test_words_from_the_record_are_escaped() -> None:
    """A point called like a tag stays text."""
    text = share_bars("flow", ('<b>"x"', "b", "c"), [ShareBar("<script>", "&", (40.0, 30.0, 30.0))])
    assert "<script>" not in text
    assert "<b>" not in text
    assert ET.fromstring(text) is not None  # noqa: S314 - our own drawing


def test_a_bar_needs_a_share_for_each_name() -> None:
    """Two shares for three names are refused."""
    with pytest.raises(ValueError, match="one share for each name"):
        share_bars("flow", NAMES, [ShareBar("P1", "", (50.0, 50.0))])
