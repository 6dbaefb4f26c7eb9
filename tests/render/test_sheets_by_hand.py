"""Heights and sheets of the print tree, worked by hand: letters times their width, over the column, in whole lines."""

from __future__ import annotations

import math
from typing import Any

import pytest

from sitegen.render.print.fold import fold
from sitegen.render.print.fold import sheets as folded_sheets
from sitegen.render.print.sheets import flat, height_pt, sheets

Node = dict[str, Any]


def par(letters: int) -> Node:
    return {"kind": "par", "body": [{"kind": "text", "text": "x" * letters}]}


def prose(letters: int = 40, **others: object) -> Node:
    return {"kind": "prose", "body": [par(letters)], **others}


def heading(level: int = 2, text: str = "A heading") -> Node:
    return {"kind": "heading", "level": level, "text": text}


def a_table(height: float = 50.0, **others: object) -> Node:
    return {"kind": "table", "caption": "", "height": height, "whole": False, **others}


def remark(letters: int = 40, refs: tuple[str, ...] = ()) -> Node:
    return {"kind": "callout", "title": "t" * 20, "body": [par(letters)], "refs": refs}


@pytest.mark.parametrize(
    ("node", "width", "height"),
    [
        (heading(1, "h" * 40), 100, 86),
        (heading(2, "h" * 40), 100, 76),
        (heading(2, "h" * 13), 100, 40),
        (prose(), 100, 42.5),
        ({"kind": "prose", "body": [par(22), par(23)]}, 100, 62),
        ({"kind": "prose", "body": [{"items": [[par(40)], [par(40)]]}]}, 114, 75),
        ({"kind": "prose", "body": [{"lines": ["x" * 50, ""]}]}, 100, 62),
        ({"kind": "prose", "body": [par(10) | {"text": "x" * 30}]}, 100, 42.5),
        (remark(), 100, 113.5),
        (remark(refs=("a",)), 100, 126.5),
        ({"kind": "facts", "legend": (), "rows": [("a", "x" * 30), ("b", {"text": ""})]}, 230, 71),
        ({"kind": "facts", "legend": ("J",), "rows": []}, 230, math.inf),
        (a_table(100.0), 100, 140),
        (a_table(100.0, caption="c" * 30, source="s" * 10, note="n" * 21, legend=[("J", "x" * 27)]), 100, 224),
        ({"kind": "figure"}, 100, math.inf),
    ],
)  # fmt: skip
def test_the_height_of_a_node_is_its_lines_and_what_is_around_them(node: Node, width: float, height: float) -> None:
    """In a column of 100 pt a line holds 22 letters of prose (4.5 pt each), 13 of a heading and 20 of a table's words.

    A paragraph of 40 letters has 1.8 lines: two, and half a one for the space after it, of 13 pt each, and 10 pt.
    """
    assert height_pt([node], width) == pytest.approx(height)
    assert height_pt([node, node], width) == pytest.approx(2 * height)


def test_nodes_inside_groups_and_rows_are_read_in_order() -> None:
    one, two, three, four = (prose(n) for n in (1, 2, 3, 4))
    inside = [{"kind": "group", "nodes": [one, {"kind": "row", "cells": [[two], [three]]}]}, four]
    assert list(flat(inside)) == [one, two, three, four]


def shape(made: list[Node]) -> list[tuple[str, list[str]]]:
    """Return of each sheet its direction and how it begins, and the kinds of what is on it."""
    return [
        (f"{'wide' if one['wide'] else 'tall'} {one['start']}".strip(), [n["kind"] for n in one["nodes"]])
        for one in made
    ]


def test_a_wide_table_takes_its_heading_and_a_short_lead_on_to_its_page() -> None:
    """What stood before stays; what follows the table goes back to an ordinary page."""
    nodes = [prose(), heading(), prose(), a_table(wide=True), prose()]
    made = sheets(nodes, fresh=True, appendix=True)
    assert shape(made) == [
        ("tall page", ["prose"]), ("wide", ["heading", "prose", "table"]), ("tall", ["prose"])
    ]  # fmt: skip
    assert [one["appendix"] for one in made] == [True] * 3
    assert shape(sheets([prose()], fresh=False, appendix=False)) == [("tall room", ["prose"])]


def test_a_lead_without_a_heading_or_one_too_long_stays_behind() -> None:
    """1,200 characters of a node as it is written down are the most that move."""
    assert shape(sheets([prose(), a_table(wide=True)], fresh=False, appendix=False)) == [
        ("tall room", ["prose"]), ("wide", ["table"])
    ]  # fmt: skip
    long = [heading(), prose(1200), a_table(wide=True)]
    assert shape(sheets(long, fresh=False, appendix=False)) == [
        ("tall room", ["heading", "prose"]), ("wide", ["table"])
    ]  # fmt: skip
    second = [heading(), prose(1200), heading(), a_table(wide=True)]
    assert shape(sheets(second, fresh=False, appendix=False)) == [
        ("tall room", ["heading", "prose"]), ("wide", ["heading", "table"])
    ]  # fmt: skip


def test_panels_of_a_long_wide_table_have_a_sheet_each_and_short_ones_share_it() -> None:
    """Tables kept whole, and tables on an ordinary page, are not parted."""
    for whole, wide, expected in (
        ((False, False), True, [["table"], ["table"]]),
        ((True, False), True, [["table", "table"]]),
        ((False, True), True, [["table", "table"]]),
        ((False, False), False, [["table", "table"]]),
    ):
        nodes = [a_table(whole=one, wide=wide) for one in whole]
        assert [kinds for _, kinds in shape(sheets(nodes, fresh=False, appendix=False))] == expected


def test_a_short_remark_stays_with_what_it_leads_in() -> None:
    """Prose and a callout before a table; a heading is never marked, nor is a remark of more than 900 characters."""
    nodes = [prose(), remark(), prose(), a_table(), prose(), heading(), {"kind": "figure"}]
    sheets(nodes, fresh=False, appendix=False)
    assert [node.get("sticky", False) for node in nodes] == [True, True, True, False, False, False, False]
    long = [prose(), prose(900), {"kind": "photo"}]
    sheets(long, fresh=False, appendix=False)
    assert [node.get("sticky", False) for node in long] == [False, False, False]


# --- fold-out sheets ---------------------------------------------------------------------------


def drawing(width: float, height: float, below: str = "") -> Node:
    return fold({"kind": "figure", "caption": "A map", "below": below}, (width, height))


def test_a_drawing_for_a_fold_out_has_a_sheet_of_its_own_with_its_heading() -> None:
    """What stood before has an ordinary sheet, and what follows another, which begins wherever the fold-out ends."""
    nodes = [prose(4000), heading(), prose(), drawing(100, 100), prose(4000)]
    first, second, third = folded_sheets(nodes, paper="a4", fresh=True, appendix=True)
    assert (first["start"], second["start"], third["start"]) == ("page", "", "")
    assert ("fold" in first, "fold" in second, "fold" in third) == (False, True, False)
    assert [one["appendix"] for one in (first, second, third)] == [True] * 3
    assert [node["kind"] for node in flat(second["nodes"])] == ["heading", "figure", "prose"]
    assert (second["wide"], [node["kind"] for node in third["nodes"]]) == (False, ["prose"])


def test_words_that_would_have_a_page_to_themselves_go_with_the_drawing() -> None:
    """Short words before the first drawing move; long ones, or words with another kind of node, stay."""
    (only,) = folded_sheets([prose(), drawing(100, 100)], paper="a4", fresh=False, appendix=False)
    assert "fold" in only
    assert len(folded_sheets([prose(4000), drawing(100, 100)], paper="a4", fresh=False, appendix=False)) == 2
    assert len(folded_sheets([a_table(), prose(), drawing(100, 100)], paper="a4", fresh=False, appendix=False)) == 2


def test_the_words_below_a_drawing_stand_beside_it_on_the_sheet_as_prose() -> None:
    (only,) = folded_sheets([drawing(100, 100, below="What it shows.")], paper="a4", fresh=False, appendix=False)
    figure, words = flat(only["nodes"])
    assert (figure["kind"], figure["below"]) == ("figure", "")
    assert words["body"] == [{"kind": "par", "body": [{"kind": "text", "text": "What it shows."}]}]
    assert words["full"] is True
