"""Samples against their blanks: each result on its height, each kind with its shape, nothing lost."""

from __future__ import annotations

import xml.etree.ElementTree as ET

import pytest

from sitegen.figures.blankbags import BLANK_KINDS, BlankLevel, BlankPanel, BlankSample, blank_bags
from sitegen.figures.look import ACCENT, WARN

SVG = "{http://www.w3.org/2000/svg}"
WORDS = {key: key for key in (*BLANK_KINDS, "detected", "affected", "below", "value", "action")}
TRIP = BlankLevel("trip_blank", 10.0, 100.0, "10", "100")
PLAIN, HIT = BlankSample("SG-1", 1000.0, True, False), BlankSample("SG-2", 100.0, True, True)
UNDER = BlankSample("SG-3", 10.0, False, False)


def drawn(*samples: BlankSample, blanks: tuple[BlankLevel, ...] = (TRIP,), title: str = "PCE") -> ET.Element:
    panel = BlankPanel(title, "in time", samples, blanks)
    return ET.fromstring(blank_bags("blank", [panel], "ng", WORDS))  # noqa: S314 - our own drawing


def said(root: ET.Element) -> list[str]:
    return [one.text or "" for one in root.iter(f"{SVG}text")]


def lines(root: ET.Element) -> dict[bool, float]:
    """Return the heights of the blank's line and of its action level, which is the dashed one."""
    found = [one for one in root.findall(f"{SVG}line") if one.get("stroke") == WARN]
    return {bool(one.get("stroke-dasharray")): float(one.get("y1", "nan")) for one in found}


def test_a_sample_at_the_action_level_is_on_its_line_and_one_ten_times_it_a_decade_above() -> None:
    """The blank's 10, the action level of 100 and a sample of 1,000 are drawn at equal distances."""
    root = drawn(PLAIN, HIT)
    high = next(float(one.get("cy", "nan")) for one in root.findall(f"{SVG}circle") if one.get("fill") == ACCENT)
    at = lines(root)
    assert at[False] - at[True] == pytest.approx(at[True] - high, abs=0.02)
    hit = next(one for one in root.findall(f"{SVG}polygon") if one.get("fill") == WARN)
    heights = [float(corner.split(",")[1]) for corner in hit.get("points", "").split()]
    assert (min(heights) + max(heights)) / 2 == pytest.approx(at[True], abs=0.02)


def test_samples_keep_the_order_given() -> None:
    """The labels run from left to right as handed over."""
    root = drawn(HIT, PLAIN, UNDER)
    places = {one.text: float(one.get("x", "nan")) for one in root.iter(f"{SVG}text")}
    assert places["SG-2"] < places["SG-1"] < places["SG-3"]


def test_an_affected_result_has_another_shape_and_not_only_another_colour() -> None:
    """A dot becomes a full diamond."""
    plain, hit = drawn(PLAIN), drawn(PLAIN._replace(affected=True))
    assert len(plain.findall(f"{SVG}circle")) == 1
    assert len(hit.findall(f"{SVG}circle")) == 0
    assert len(hit.findall(f"{SVG}polygon")) == len(plain.findall(f"{SVG}polygon")) + 1


def test_each_kind_of_blank_has_its_own_shape() -> None:
    """Three kinds, three outlines."""
    shapes = set()
    for kind in BLANK_KINDS:
        (sign,) = drawn(PLAIN, blanks=(TRIP._replace(kind=kind),)).findall(f"{SVG}polygon")
        corners = [tuple(map(float, corner.split(","))) for corner in sign.get("points", "").split()]
        shapes.add(tuple((round(x - corners[0][0], 2), round(y - corners[0][1], 2)) for x, y in corners))
    assert len(shapes) == 3


def test_the_key_explains_what_occurs_and_nothing_else() -> None:
    """No non-detect, none in the key."""
    assert "below" not in said(drawn(PLAIN))
    assert {"below", "affected", "detected", "trip_blank"} <= set(said(drawn(PLAIN, HIT, UNDER)))
    assert "field_blank" not in said(drawn(PLAIN))


def test_labels_are_left_out_where_they_would_overlap() -> None:
    """With 200 samples every dot is drawn and no label."""
    many = [PLAIN._replace(label=f"SG-{at}") for at in range(200)]
    root = drawn(*many)
    assert len(root.findall(f"{SVG}circle")) == 200
    assert not [words for words in said(root) if words.startswith("SG-")]


def test_words_from_the_record_are_escaped() -> None:
    """A title like a tag stays text."""
    assert "<b>&" in said(drawn(PLAIN, title="<b>&"))


def test_a_mass_of_zero_is_refused() -> None:
    """A decade axis has no place for it."""
    with pytest.raises(ValueError, match="above zero"):
        drawn(PLAIN._replace(mass=0.0))
