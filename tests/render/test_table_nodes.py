"""Tables as nodes of the print tree, worked by hand: cells, titles, heights, panels, and what stands below them."""

from __future__ import annotations

from typing import Any

import pytest

from sitegen.figures.look import CLASS_COLOURS
from sitegen.render.print.table import (
    _lines,
    cell_node,
    cell_text,
    join_nondetects,
    shared_unit,
    sign_marks,
    signs,
    table_nodes,
)
from sitegen.render.print.targets import Targets
from sitegen.report.record.pages import Cell, Column, Mark, Ref, Source, Table

HERE = Ref("location", "P-1")
TARGETS = Targets({"P-1": "at-1"}, frozenset())
TRIP, WATER = Mark("trip", "A blank.", "k"), Mark("water", "Wet.")
WIDE = 470.0


def nodes(table: Table, width: float = WIDE, **options: bool) -> list[dict[str, Any]]:
    return table_nodes(table, TARGETS, width, "at-9", **options)


def a_table(*rows: tuple[Cell, ...], unit: str = "ng", **others: Any) -> Table:  # noqa: ANN401 - a table takes anything
    columns = (Column("a", "Compound"), Column("b", "Mass", unit, "number"))
    return Table("t", "Masses", columns, rows, **others)


@pytest.mark.parametrize(
    ("cell", "text"),
    [
        (Cell("12 of 13", tone="partly"), "◐ partly: 12 of 13"),
        (Cell("Yes", tone="yes"), "● Yes"),
        (Cell("", tone="no"), "○ no"),
        (Cell("", tone="no-record"), "□ no record"),
        (Cell("", tone="yes"), "● yes"),
        (Cell("", tone="partly"), "◐ partly"),
        (Cell("", tone="stop"), "■ stop"),
        (Cell("", tone="hold"), "◆ hold"),
        (Cell("", tone="major"), "◆ major"),
        (Cell("", tone="flag"), "▲ flag"),
        (Cell("", tone="note"), "▪ note"),
        (Cell("12", tone="strong"), "12"),
        (Cell("12", tone="class3"), "12"),
        (Cell("Hold this", tone="hold"), "◆ Hold this"),
    ],
)
def test_a_tone_is_led_by_its_shape_and_its_word_unless_the_text_says_it(cell: Cell, text: str) -> None:
    assert cell_text(cell) == text


@pytest.mark.parametrize(
    ("cell", "node"),
    [
        (Cell("12"), "12"),
        (Cell("12", HERE), {"text": "12", "to": "at-1"}),
        (Cell("12", Ref("location", "P-2")), "12"),
        (Cell("12", None, (TRIP, WATER, TRIP)), {"text": "12", "marks": ["trip", "water"]}),
        (Cell("12", tone="class3"), {"text": "12", "class": 3}),
        (Cell("12", tone="class99"), {"text": "12", "class": len(CLASS_COLOURS) - 1}),
        (Cell("12", tone="classes"), {"text": "12", "tone": "classes"}),
        (Cell("<1", tone="nondetect"), {"text": "<1", "tone": "nondetect"}),
    ],
)
def test_a_cell_is_a_plain_text_where_there_is_nothing_else(cell: Cell, node: object) -> None:
    """A link that print can't follow is none; a class above the last colour has the last one."""
    assert cell_node(cell, TARGETS, 9.0) == node


@pytest.mark.parametrize(
    ("cell", "limit", "lines"),
    [
        (Cell("123"), 1.5, 1.0),
        (Cell("123"), 1.0, 3.0),
        (Cell("12\n3"), 10.0, 2.2),
        (Cell("12", None, (Mark("0000", ""),)), 4.0, 1.0),
        (Cell("12", None, (Mark("0000", ""),)), 2.0, 1 + 1 / 1.5 + 2 / 1.5),
        (Cell("123", tone="strong"), 1.6, 1 + 1.5 / 1.2),
    ],
)
def test_a_cell_may_take_so_many_lines(cell: Cell, limit: float, lines: float) -> None:
    """A figure is half an em, bold 1.15 times that; in more than one line words fill three quarters at worst."""
    assert _lines(cell, limit) == pytest.approx(lines)


def test_a_panel_is_as_high_as_its_title_and_its_lines() -> None:
    """8.5 pt: 6 em of title and 1.2 em for each of two lines, 71.4 pt; and 0.95 pt for each row and the title."""
    (node,) = nodes(a_table((Cell("A"), Cell("1")), (Cell("B"), Cell("2"))))
    assert node["size"] == 8.5
    assert node["height"] == pytest.approx(74.25)
    (compact,) = nodes(a_table((Cell("A"), Cell("1")), (Cell("B"), Cell("2"))), compact=True)
    assert compact["size"] == 7.5
    assert compact["height"] == pytest.approx((6 + 2.4) * 7.5 + 3 * (7.5 * -0.5 + 4))
    assert (node["long"], node["gap"], compact["gap"]) == ([False, False], 2.6, 2.0)
    assert node["pad"] == pytest.approx(3.4)


def test_a_row_of_more_than_twenty_lines_is_long() -> None:
    """Of one letter a line: 1 line and a part of one each, so that 19 are 20 lines and 20 are more."""
    cells = [Cell("\n".join("1" for _ in range(n))) for n in (15, 19, 25)]
    (node,) = nodes(a_table(*((Cell("A"), cell) for cell in cells)))
    assert node["long"] == [False, True, True]


def test_columns_have_their_titles_units_and_sides() -> None:
    (node,) = nodes(a_table((Cell("A"), Cell("1"))))
    compound, mass = node["columns"]
    assert (compound["title"], compound["unit"], compound["right"], compound["upright"]) == (
        "Compound", "", False, False,
    )  # fmt: skip
    assert (mass["title"], mass["unit"], mass["right"]) == ("Mass", "ng", True)


def test_the_unit_of_a_compact_table_whose_caption_says_it_is_left_out() -> None:
    table = a_table((Cell("A"), Cell("1")))
    assert nodes(table, compact=True)[0]["columns"][1]["unit"] == "ng"
    said = Table("t", "Masses in ng", table.columns, table.rows)
    assert nodes(said, compact=True)[0]["columns"][1]["unit"] == ""
    assert nodes(said)[0]["columns"][1]["unit"] == "ng"


def test_a_unit_is_shared_where_every_column_of_numbers_has_it() -> None:
    columns = (Column("a", "A", "m"), Column("b", "B", "ng", "number"), Column("c", "C", "ng", "number"))
    assert shared_unit(Table("t", "T", columns, ())) == "ng"
    assert shared_unit(Table("t", "T", (*columns, Column("d", "D", "µg", "number")), ())) == ""
    assert shared_unit(Table("t", "T", columns[:1], ())) == ""


def test_a_table_too_wide_has_panels_with_what_stands_below_on_the_last() -> None:
    """Each names its part and repeats the head of the rows with its sign; a link leads to the first."""
    columns = (Column("h", "Point"), *(Column(f"c{n}", f"Compound {n}", "ng", "number") for n in range(60)))
    row = (Cell("P-1", HERE), *(Cell("1,000,000", HERE, (TRIP,)) for _ in range(60)))
    sources = (Source("a.csv", None, "a.csv"),)
    parts = nodes(Table("t", "Masses", columns, (row,), "Note.", sources=sources))
    count = len(parts)
    assert count > 1
    assert [p["caption"] for p in parts] == [
        f"Masses, ng (columns, part {n} of {count})" for n in range(1, count + 1)
    ]  # fmt: skip
    assert [p["label"] for p in parts] == ["at-9", *(f"at-9-part-{n}" for n in range(2, count + 1))]
    assert ["note" in p for p in parts] == [False] * (count - 1) + [True]
    assert (parts[-1]["note"], parts[-1]["legend"]) == ("Note.", [("† trip", "A blank.")])
    assert "a.csv" in parts[-1]["source"]
    assert all(p["rows"][0][0] == {"text": "P-1", "to": "at-1", "marks": ["†"]} for p in parts)
    assert all(cell == "1,000,000" for p in parts for cell in p["rows"][0][1:])
    assert sum(len(p["columns"]) - 1 for p in parts) == 60
    assert all(column["upright"] for p in parts for column in p["columns"][1:])


def test_a_link_of_its_own_is_kept_beside_the_head_of_the_row() -> None:
    elsewhere = Targets({"P-1": "at-1", "P-2": "at-2"}, frozenset())
    table = a_table((Cell("P-1", HERE), Cell("1", Ref("location", "P-2"))))
    assert table_nodes(table, elsewhere, WIDE, "l")[0]["rows"][0][1] == {"text": "1", "to": "at-2"}
    headless = a_table((Cell("P-1", HERE), Cell("1", HERE)), row_header=-1)
    assert table_nodes(headless, elsewhere, WIDE, "l")[0]["rows"][0][1] == {"text": "1", "to": "at-1"}


def test_a_table_without_columns_says_that_it_is_empty() -> None:
    (node,) = nodes(Table("t", "T", (), (), empty="None."))
    assert (node["empty"], node["rows"], [c["title"] for c in node["columns"]]) == ("None.", [], ["Record"])


def test_marks_are_told_once_under_signs_that_are_no_letters() -> None:
    """The mark at a row's head is not repeated in the row; a word with two reasons has one sign and both."""
    other = Mark("trip", "Another bag.")
    table = a_table((Cell("A", None, (TRIP,)), Cell("1", None, (WATER, TRIP))), (Cell("B"), Cell("2", None, (other,))))
    (node,) = nodes(table)
    assert node["rows"] == [
        [{"text": "A", "marks": ["†"]}, {"text": "1", "marks": ["‡"]}],
        ["B", {"text": "2", "marks": ["†"]}],
    ]
    assert node["legend"] == [("† trip", "A blank. Another bag."), ("‡ water", "Wet.")]
    assert node["key"] == "A qualification next to the name of a row applies to all results of that row."
    (keyed,) = nodes(table, keyed=True)
    assert (keyed["legend"], keyed["key"].rpartition("row. ")[2]) == ([], "† trip; ‡ water.")


def test_what_all_values_share_has_no_sign_and_is_in_the_line_below() -> None:
    (node,) = nodes(a_table(*((Cell(name), Cell("1", None, (WATER,))) for name in "AB")))
    assert node["rows"] == [["A", "1"], ["B", "1"]]
    assert (node["every"], node["legend"]) == ("All results: water.", [("water", "Wet.")])


def test_signs_follow_the_order_in_which_words_appear_and_are_doubled_after_the_fourth() -> None:
    table = a_table(*((Cell(str(n)), Cell("1", None, (Mark(f"m{n}", ""),))) for n in range(6)))
    assert [*signs(table).values()] == ["†", "‡", "§", "¶", "††", "‡‡"]
    assert sign_marks(table, signs(table)).rows[4][1].mark_words == ("††",)


def test_non_detects_that_say_the_same_are_one_row_after_the_others() -> None:
    """Of three alike two share their marks; a detection is never joined, though its numbers are the same."""
    below = Cell("<10", tone="nondetect")
    rows = (
        (Cell("A"), below), (Cell("B"), Cell("10")), (Cell("C"), Cell("10")),
        (Cell("D"), below._replace(marks=(TRIP,))), (Cell("E"), below),
    )  # fmt: skip
    assert [row[0].text for row in join_nondetects(a_table(*rows)).rows] == ["B", "C", "D", "A; E"]
    turned = Table("t", "T", (), tuple(row[::-1] for row in rows), row_header=1)
    assert [row[1].text for row in join_nondetects(turned).rows] == ["B", "C", "D", "A; E"]
    assert [node["rows"][-1][0] for node in nodes(a_table(*rows, joined=True))] == ["A; E"]
