"""Indoor air against levels: each value on its place of the decade axis, levels through indoor rows alone."""

from __future__ import annotations

import xml.etree.ElementTree as ET

import pytest

from sitegen.figures.airlevels import (
    DUPLICATE,
    MOST_HEIGHT,
    OUTDOOR,
    PRIMARY,
    AirBlock,
    AirLevel,
    AirRow,
    AirValue,
    air_levels,
    air_sheets,
)
from sitegen.figures.look import ACCENT, WARN

SVG = "{http://www.w3.org/2000/svg}"
WORDS = {PRIMARY: "first", DUPLICATE: "second", OUTDOOR: "out", "below": "under", "axis": "scale", "level": "level,"}
ROW = AirRow("IA-1", (AirValue(PRIMARY, 10.0, True, "10"),))
OUT = AirRow("OA-1", (AirValue(OUTDOOR, 1.0, True, "1.0"),))
BLOCK = AirBlock("PCE", (AirLevel("homes", 1.0, "1"), AirLevel("shops", 100.0, "100")), (ROW,), (OUT,))


def drawn(*blocks: AirBlock) -> ET.Element:
    return ET.fromstring(air_levels("air", blocks, WORDS))  # noqa: S314 - our own drawing


def said(root: ET.Element) -> list[str]:
    return [one.text or "" for one in root.iter(f"{SVG}text")]


def level_lines(root: ET.Element) -> list[ET.Element]:
    return [one for one in root.findall(f"{SVG}line") if one.get("stroke") == WARN]


def test_a_value_is_midway_between_levels_a_decade_to_each_side() -> None:
    """10 is drawn halfway between the levels 1 and 100."""
    root = drawn(BLOCK)
    dot = next(one for one in root.findall(f"{SVG}circle") if one.get("fill") == ACCENT)
    low, high = (float(one.get("x1", "nan")) for one in level_lines(root))
    assert float(dot.get("cx", "nan")) == pytest.approx((low + high) / 2, abs=0.02)


def test_a_level_ends_above_the_outdoor_row() -> None:
    """The line passes the indoor value's height and does not reach the outdoor value."""
    root = drawn(BLOCK)
    dot = next(one for one in root.findall(f"{SVG}circle") if one.get("fill") == ACCENT)
    out = next(one for one in root.findall(f"{SVG}rect") if one.get("width") == "8.4")
    for one in level_lines(root):
        assert float(one.get("y1", "nan")) < float(dot.get("cy", "nan")) < float(one.get("y2", "nan"))
        assert float(one.get("y2", "nan")) < float(out.get("y", "nan"))


def test_the_uses_of_two_levels_have_lines_of_two_kinds() -> None:
    """One is solid and the other dashed, so that print without colour shows which is which."""
    assert len({one.get("stroke-dasharray") for one in level_lines(drawn(BLOCK))}) == 2


def test_the_names_of_two_close_levels_do_not_overlap() -> None:
    """They are written at different heights."""
    close = BLOCK._replace(levels=(AirLevel("homes", 5.0, "5"), AirLevel("shops", 6.0, "6")))
    names = [one for one in drawn(close).iter(f"{SVG}text") if one.text in ("homes 5", "shops 6")]
    assert len({one.get("y") for one in names}) == 2


def test_the_key_explains_the_signs_that_occur_and_no_other() -> None:
    """A duplicate or a non-detect enters the key with the first of its kind."""
    assert not {"second", "under"} & set(said(drawn(BLOCK)))
    more = AirRow("IA-1", (*ROW.values, AirValue(DUPLICATE, 2.0, True, "2"), AirValue(DUPLICATE, 3.0, False, "<3")))
    assert {"first", "second", "out", "under"} <= set(said(drawn(BLOCK._replace(indoors=(more,)))))


def test_a_non_detect_is_an_arrow_to_the_left_of_its_limit() -> None:
    """The arrow begins at the limit, where a detection of that size would be drawn, and no dot is drawn."""
    value = AirValue(PRIMARY, 10.0, False, "<10")
    root = drawn(BLOCK._replace(indoors=(AirRow("IA-1", (value,)),), outdoors=()))
    low, high = (float(one.get("x1", "nan")) for one in level_lines(root))
    (arrow,) = root.findall(f"{SVG}path")
    assert float(arrow.get("d", "").split(" ")[0][1:]) == pytest.approx((low + high) / 2, abs=0.02)
    assert "H" in arrow.get("d", "")
    assert not list(root.iter(f"{SVG}circle"))


def test_many_points_are_divided_over_sheets_and_none_is_lost() -> None:
    """A block higher than a page is cut between points; each drawing fits."""
    many = BLOCK._replace(indoors=tuple(ROW._replace(label=f"IA-{at}") for at in range(120)))
    sheets = air_sheets([many, BLOCK])
    assert len(sheets) > 1
    drawn_points = [row.label for sheet in sheets for block in sheet for row in block.indoors]
    assert drawn_points == [*(f"IA-{at}" for at in range(120)), "IA-1"]
    for sheet in sheets:
        assert float((drawn(*sheet).get("viewBox") or "").split()[3]) < MOST_HEIGHT + 120
    assert air_sheets([]) == []


def test_words_from_the_record_are_escaped() -> None:
    """A use and a compound called like a tag stay text."""
    hostile = AirBlock("<b>&", (AirLevel('<script>"', 1.0, "1"),), (ROW._replace(label="</svg>"),), ())
    assert "<script>" not in air_levels("air", [hostile], WORDS)
    assert "</svg>" in said(drawn(hostile))


def test_a_value_of_zero_is_refused() -> None:
    """A decade axis has no place for it."""
    with pytest.raises(ValueError, match="above zero"):
        drawn(BLOCK._replace(indoors=(AirRow("IA-1", (AirValue(PRIMARY, 0.0, True, "0"),)),)))
