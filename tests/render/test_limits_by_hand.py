"""What the writers do at a limit and one beyond it: the numbers are those that a reader is told, written out here."""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from docx import Document
from pdf_samples import SVG, a_report
from sample_report import sample_meta, sample_report

from sitegen.findings.problems import OutputFault
from sitegen.render.comment.docx import docx_bytes
from sitegen.render.place.bag import refuse_unsafe
from sitegen.render.print.sheets import flat
from sitegen.render.print.tree import Picture, document_tree
from sitegen.render.proof import readback
from sitegen.render.site.html import finished_pages
from sitegen.report.record.pages import (
    Block,
    Cell,
    Chapter,
    Column,
    CommentCopy,
    Figure,
    Mark,
    Page,
    Photo,
    Ref,
    Section,
    Table,
)

Node = dict[str, Any]
A4_PT = 841.9
"""The longer side of the paper: 297 mm of 72 points to the inch."""


def a_table(rows: int, text: str = "x", **others: Any) -> Table:  # noqa: ANN401 - any field of the record
    """Return a table of one column with the same text in each row."""
    cells = tuple((Cell(text, **others),) for _ in range(rows))
    return Table("t", "A table", (Column("c", "Column"),), cells, row_header=-1)


def html(table: Table) -> str:
    """Return a page with a table, as the site has it."""
    page = Page(Ref("page", "one"), "One", "", (table,), "Results")
    (finished,) = finished_pages(sample_report(pages=(page,)), ())
    return finished.article


def nodes(*blocks: Block, **chapter: Any) -> list[Node]:  # noqa: ANN401 - any field of the record
    """Return the nodes of a report of one chapter in print, without its heading."""
    report = a_report(chapters=(Chapter("c", "Chapter", blocks, **chapter),))
    tree = document_tree(report, {"p.png": Picture("p", 0.5)})
    return [node for sheet in tree["sheets"] for node in flat(sheet["nodes"])][1:]


# --- the site ------------------------------------------------------------------------------


@pytest.mark.parametrize(("rows", "classes"), [(20, "table-region"), (21, "table-region long")])
def test_a_table_of_more_than_twenty_rows_keeps_its_head_in_sight(rows: int, classes: str) -> None:
    assert f'<div class="{classes}"' in html(a_table(rows))


@pytest.mark.parametrize(
    ("text", "cell"),
    [
        ("x" * 20, "<td>"),
        ("x " * 10 + "x", '<td class="long">'),
        ("x" * 28, '<td class="long">'),
        ("x" * 29, '<td class="long breaks">'),
        ("-".join(["x" * 20, "x" * 20]), '<td class="long">'),
    ],
)
def test_a_text_of_more_than_20_letters_may_wrap_and_a_word_of_more_than_28_may_break(text: str, cell: str) -> None:
    assert f"{cell}{text[:9]}" in html(a_table(1, text))


# --- print ---------------------------------------------------------------------------------


def test_the_running_head_has_eighty_letters_of_a_title() -> None:
    """Of a longer one 79 and a sign that there is more."""
    heads = [document_tree(a_report(title="x" * letters))["meta"]["short_title"] for letters in (80, 81)]
    assert heads == ["x" * 80, "x" * 79 + "…"]


def test_lists_have_a_caption_of_eighty_letters_whole() -> None:
    """Of a longer one what stands before the first colon or full stop."""
    captions = [f"Map: {'x' * letters}" for letters in (75, 76)]
    figures = [Figure(f"f{at}", SVG, caption, "A map") for at, caption in enumerate(captions)]
    assert [*document_tree(a_report(*figures))["lists"]["short"].values()] == [captions[0], "Map"]


@pytest.mark.parametrize(("rows", "leads"), [(150, True), (151, False)])
def test_a_table_of_more_than_150_cells_leads_nowhere(rows: int, *, leads: bool) -> None:
    """A longer one would be laid out anew for its links, unless it is one of words."""
    ref = Ref("location", "SG-01")
    (table, *_) = nodes(a_table(rows, ref=ref), Section("location-SG-01", "SG-01", ()))
    assert isinstance(table["rows"][0][0], dict) is leads


def test_a_table_of_more_than_six_tenths_of_a_page_may_be_split() -> None:
    """Between head and foot of a page are 841.9 - 146 pt, of which 0.6 are 417.5."""
    tables = [nodes(a_table(rows))[0] for rows in range(1, 40)]
    assert {table["whole"] for table in tables} == {True, False}
    assert [table["whole"] for table in tables] == [table["height"] <= 0.6 * (A4_PT - 146) for table in tables]


def test_drawings_and_photographs_are_as_high_as_a_part_of_the_page() -> None:
    """A drawing 62 % of it, a photograph 30 %, where their width would let them be higher."""
    tall = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 10 100"></svg>'
    drawing, photo = nodes(Figure("f", tall, "A", "A"), Photo("p.png", "P", "P"))
    assert drawing["width"] == round(0.62 * A4_PT / 10, 1)
    assert photo["width"] == round(0.30 * A4_PT / 2, 1)


@pytest.mark.parametrize(("rows", "kinds"), [(20, ["figure", "table"]), (21, ["figure"])])
def test_a_drawing_shows_its_data_up_to_twenty_rows(rows: int, kinds: list[str]) -> None:
    """Longer ones are on the site, and that is said."""
    found = nodes(Figure("f", SVG, "A", "A", "Words.", a_table(rows)))
    assert [node["kind"] for node in found] == kinds
    assert found[0]["below"] == ("Words." if rows == 20 else "Words. The site has the data of this figure as a table.")


@pytest.mark.parametrize(("reasons", "ends"), [(6, "No 5."), (7, "No 5. And 1 more, each said beside its number")])
def test_the_key_of_marks_has_six_reasons_of_a_mark(reasons: int, ends: str) -> None:
    marks = tuple(Mark("water", f"No {number}.") for number in range(reasons))
    key = nodes(a_table(1, marks=marks), keyed=True)[-1]
    assert key["kind"] == "key"
    assert ends in key["rows"][0][1]
    assert key["rows"][0][1].startswith("No 0. No 1. No 2. No 3. No 4. No 5.")


# --- files ---------------------------------------------------------------------------------


def test_a_property_of_the_copy_for_comments_has_255_letters() -> None:
    copy = CommentCopy((), "", (Chapter("c", "Chapter", ()),))
    written = docx_bytes(copy, replace(sample_meta(), title="x" * 255 + "y"))
    assert Document(io.BytesIO(written)).core_properties.title == "x" * 255


def test_of_names_that_no_archive_takes_five_are_told() -> None:
    """Their count is of all."""
    with pytest.raises(OutputFault) as raised:
        refuse_unsafe(f"a{number}\\b" for number in range(7))
    assert str(raised.value).startswith("7 file name(s)")
    assert str(raised.value).count("it holds a backslash") == 5


def test_of_differences_read_again_five_are_told(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(readback, "data_differences", lambda *_: (f"cell {number}" for number in range(7)))
    with pytest.raises(OutputFault, match=r"holds: cell 0; cell 1; cell 2; cell 3; cell 4$"):
        readback.require_same_data(tmp_path, sample_report())
