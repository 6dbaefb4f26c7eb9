"""Points by stage: bars as long as their counts, losses as outlines, and no bar where nothing is known."""

from __future__ import annotations

import xml.etree.ElementTree as ET

import pytest

from sitegen.figures.funnel import WIDTH, FunnelGroup, funnel
from sitegen.figures.look import ACCENT, WARN

SVG = "{http://www.w3.org/2000/svg}"
STAGES = ("planned", "placed", "usable")


def drawn(*groups: FunnelGroup) -> ET.Element:
    return ET.fromstring(funnel("funnel", STAGES, groups, "no record"))  # noqa: S314 - our own drawing


def widths(root: ET.Element, **look: str) -> list[float]:
    found = root.findall(f"{SVG}rect")
    return [float(one.get("width", "")) for one in found if all(one.get(key) == what for key, what in look.items())]


def test_bars_are_as_long_as_their_counts_on_one_scale_for_all_groups() -> None:
    """8, 6, 2 and 4, 4, 3 points."""
    bars = widths(drawn(FunnelGroup("a", (8, 6, 2)), FunnelGroup("b", (4, 4, 3))), fill=ACCENT)
    assert [bar / bars[0] * 8 for bar in bars] == pytest.approx([8, 6, 2, 4, 4, 3], abs=0.01)


def test_what_a_stage_lost_is_an_outline_with_its_number() -> None:
    """2 and then 4 of 8; where nothing is lost there is no outline."""
    root = drawn(FunnelGroup("a", (8, 6, 2)))
    bars, lost = widths(root, fill=ACCENT), widths(root, stroke=WARN)
    assert [one / bars[0] * 8 for one in lost] == pytest.approx([2, 4], abs=0.01)
    assert {"−2", "−4"} <= {one.text for one in root.iter(f"{SVG}text")}
    assert widths(drawn(FunnelGroup("a", (8, 8, 8))), stroke=WARN) == []


def test_a_stage_without_a_record_is_said_and_not_drawn_as_zero() -> None:
    """It takes nothing from the stage after it either."""
    root = drawn(FunnelGroup("a", (8, None, 8)))
    assert len(widths(root, fill=ACCENT)) == 2
    assert widths(root, stroke=WARN) == []
    assert "no record" in {one.text for one in root.iter(f"{SVG}text")}
    assert "no record" not in {one.text for one in drawn(FunnelGroup("a", (8, 0, 0))).iter(f"{SVG}text")}


def test_no_stage_is_cut() -> None:
    """The bars begin further right where a stage has a long name, and still end within the drawing."""
    stages = ("planned", "usable, no sample-specific qualification")
    root = ET.fromstring(funnel("funnel", stages, [FunnelGroup("a", (8, 6))], "no record"))  # noqa: S314
    assert set(stages) <= {one.text for one in root.iter(f"{SVG}text")}
    bars = [one for one in root.findall(f"{SVG}rect") if one.get("fill") == ACCENT]
    assert all(float(one.get("x", "")) + float(one.get("width", "")) <= WIDTH - 110 + 0.01 for one in bars)


def test_words_are_escaped() -> None:
    """A title like a tag stays text."""
    assert "<b>&" in {one.text for one in drawn(FunnelGroup("<b>&", (1, 1, 1))).iter(f"{SVG}text")}


def test_a_group_needs_a_count_for_each_stage() -> None:
    """Two counts for three stages are refused."""
    with pytest.raises(ValueError, match="each stage"):
        drawn(FunnelGroup("a", (1, 1)))
