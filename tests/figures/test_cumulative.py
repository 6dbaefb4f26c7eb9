"""The drawing of a cumulative distribution: each step and each limit is drawn, in its place."""

from __future__ import annotations

from xml.etree import ElementTree as ET

import pytest

from sitegen.figures.cumulative import Words, cumulative_steps

SVG = "{http://www.w3.org/2000/svg}"
SAID = Words("ng", "points", "step", "not known", "limit")
HOSTILE = Words(*["<script>&\"'"] * 5)


def drawn(
    steps: list[tuple[float, float]], below: float, limits: list[tuple[float, int]], said: Words = SAID
) -> ET.Element:
    return ET.fromstring(cumulative_steps("c", steps, below, limits, said))  # noqa: S314


def texts(svg: ET.Element) -> list[str]:
    return [element.text or "" for element in svg.iter(f"{SVG}text")]


def test_each_step_has_a_dot_where_its_mass_and_share_are() -> None:
    """The axis runs from 10 (62) to 1,000 (442) and from 0 % (226) to 100 % (14): 100 is half across, 60 % at 98.8."""
    svg = drawn([(10, 0.2), (100, 0.6), (1000, 1.0)], 0.1, [])
    dots = [(float(d.attrib["cx"]), float(d.attrib["cy"])) for d in svg.iter(f"{SVG}circle")][:-1]
    assert [x for x, _ in dots] == pytest.approx([62, 252, 442], abs=0.01)
    assert [y for _, y in dots] == pytest.approx([183.6, 98.8, 14], abs=0.01)


def test_each_limit_has_a_tick_below_with_its_number_of_non_detects() -> None:
    """One non-detect has a tick alone; the ticks stand at their limits, 100 half across a scale from 10 to 1,000."""
    svg = drawn([(10, 0.2), (1000, 1.0)], 0.1, [(100, 3), (1000, 1)])
    ticks = [e for e in svg.iter(f"{SVG}line") if float(e.attrib["y1"]) == 228]
    assert [float(e.attrib["x1"]) for e in ticks] == pytest.approx([252, 442], abs=0.01)
    assert [words for words in texts(svg) if "×" in words] == ["3×"]
    crowded = drawn([(10, 0.2), (1000, 1.0)], 0.1, [(100, 3), (101, 4)])
    assert [words for words in texts(crowded) if "×" in words] == ["4×"], "the first has no room before the next tick"


def test_the_unknown_part_is_broken_and_told_only_where_there_is_one() -> None:
    """Without a share below the lowest detection no line is broken; without limits their key is left out."""
    with_share, without = drawn([(10, 0.5), (100, 1.0)], 0.25, [(5, 1)]), drawn([(10, 0.5), (100, 1.0)], 0.0, [])
    broken = [sum("stroke-dasharray" in e.attrib for e in svg.iter(f"{SVG}line")) for svg in (with_share, without)]
    assert broken == [2, 0], "the line and its key"
    assert {"not known", "limit"} <= set(texts(with_share))
    assert not {"not known", "limit"} & set(texts(without))


def test_words_are_text_and_nothing_without_a_step_is_drawn() -> None:
    """Words can't become markup; a distribution without a detection has no drawing, nor has a mass of nothing."""
    assert "<script>&\"'" in texts(drawn([(10, 1.0)], 0.0, [], HOSTILE))
    with pytest.raises(ValueError, match="a step"):
        drawn([], 1.0, [(5, 1)])
    with pytest.raises(ValueError, match="above zero"):
        drawn([(10, 1.0)], 0.0, [(0.0, 1)])
