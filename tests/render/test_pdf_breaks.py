"""Where pages of the printed report end: what belongs together stays together."""

from __future__ import annotations

from functools import cache

import pytest
from pdf_samples import COLUMNS, a_report, pages_of, render, text_of

from sitegen.report.record.pages import Block, Cell, Chapter, Column, Facts, Mark, Section, Source, Table

SOURCE = "lab/results.csv; lab/lab_samples.csv"


def few_rows(number: int) -> Table:
    """Return a table of three rows with note and source."""
    rows = tuple((Cell(f"Compound {i}"), Cell("12"), Cell("12")) for i in range(3))
    return Table(
        f"t{number}", f"Masses of set {number}", COLUMNS, rows, note="Read with care.", sources=(Source(SOURCE),)
    )


def filled(number: int) -> Chapter:
    """Return a chapter on a page of its own that so many rows of a table fill before a table with note and source."""
    rows = tuple((Cell(f"Row {i}"), Cell("12"), Cell("12")) for i in range(number))
    blocks = (Table(f"f{number}", "Filler", COLUMNS, rows), few_rows(number))
    return Chapter(f"c{number}", f"Set {number}", blocks, appendix=True)


def formula(number: int) -> Section:
    """Return a section as the calculation sheet has it."""
    words = "The mean of the two results of a pair, over the detections of both samplers. " * 4
    facts = (("Formula", Cell(f"first line of {number}")), ("Where", Cell(words)), ("Source", Cell("own")))
    return Section(f"s{number}", f"Quantity {number}", (Facts(facts),))


@cache
def pages_with(*blocks: Block) -> list[str]:
    return pages_of(render(a_report(*blocks)))


def body(page: str) -> str:
    """Return a page's text below its running head."""
    return page.partition("Draft for review")[2].strip()


@pytest.mark.long
def test_no_page_begins_with_the_lines_below_a_table() -> None:
    """Note and source stand on the page on which their table ends."""
    numbers = range(36, 56)
    pages = pages_of(render(a_report(chapters=tuple(filled(number) for number in numbers))))
    starts = [body(page) for page in pages]
    assert any(start.startswith("Table") and "Masses of set" in start[:40] for start in starts)
    assert not [start for start in starts if start.startswith(("Source:", "Read with care"))]
    assert sum(page.count(f"Source: {SOURCE}") for page in pages) == len(numbers)


def marked(number: int) -> Chapter:
    """Return a chapter of its own page with a long table, the last rows of which stand near the foot of a page."""
    marks = tuple(Mark(f"mark{i}", f"Reason {i} why a reader should look twice.") for i in range(6))
    rows = tuple((Cell(f"Row {i}", marks=() if i else marks), Cell("12"), Cell("12")) for i in range(number))
    table = Table(f"m{number}", f"Long set {number}", COLUMNS, rows, note="Read with care.", sources=(Source(SOURCE),))
    return Chapter(f"d{number}", f"Set {number}", (table,), appendix=True)


@pytest.mark.long
def test_a_table_over_several_pages_takes_its_last_rows_to_its_legend() -> None:
    """No page holds the legend, note and source of a table without rows of it."""
    numbers = range(60, 110)
    pages = pages_of(render(a_report(chapters=tuple(marked(number) for number in numbers))))
    ends = [page for page in pages if "Reason 0" in page]
    assert len(ends) == len(numbers)
    assert any("Set" not in body(page)[:40] for page in ends), "no table goes on over a page"
    for page in ends:
        assert page.partition("Reason 0")[0].count("Row ") >= 3
        assert all(words in page for words in ("Reason 5", "Read with care", f"Source: {SOURCE}"))


def test_a_formula_stays_with_its_explanation() -> None:
    """A short list of facts is never split between pages."""
    pages = pages_with(*(formula(number) for number in range(30)))
    for number in range(30):
        (page,) = [page for page in pages if f"first line of {number}\n" in page]
        rest = page.split(f"first line of {number}\n")[1].split("Quantity")[0]
        assert "own" in rest, number


def test_a_long_list_of_facts_still_goes_on_over_the_page() -> None:
    """Facts of more than a page are split rather than cut off."""
    pages = pages_with(Facts(tuple((f"Fact {n}", Cell("word " * 40)) for n in range(60))))
    assert "Fact 59" in "".join(pages)
    assert sum("Fact " in page for page in pages) >= 2


def test_the_running_head_holds_a_title_of_eighty_characters() -> None:
    """A title that fits the line is not cut; a longer one ends in an ellipsis."""
    for length, whole in ((80, True), (81, False)):
        title = ("Passive soil-gas survey of a former depot and its two neighbours by the river " * 2)[:length]
        second = pages_of(render(a_report(few_rows(1), title=title)))[1]
        head = " ".join(second.partition("Draft for review")[0].split())
        assert (title.strip() in head) is whole
        assert ("…" in head) is not whole


def test_a_row_longer_than_a_page_is_printed_to_its_end() -> None:
    comment = " ".join(f"word{i}" for i in range(1500)) + " last"
    rows = ((Cell("L-01"), Cell(comment), Cell("x" * 400)),)
    shown = text_of(
        render(
            a_report(
                Table(
                    "t",
                    "T",
                    (Column("l", "L"), Column("c", "Comment", kind="wide"), Column("s", "Serial")),
                    rows,
                )
            )
        )
    )
    assert all(word in shown for word in ("word0", "word700", "word1499", "last"))
    assert "".join(shown.split()).count("x") >= 400
