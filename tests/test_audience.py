"""A copy for readers outside the project team says what it withholds, and speaks to them, not to the team."""

from __future__ import annotations

import re
from functools import cache

import pytest
from builders import Change, cell, changed, example, removed, setting, table

from sitegen.checking import check_snapshot
from sitegen.pipeline import compose
from sitegen.project.folder import Folder
from sitegen.report.records import Block, Chapter, Facts, Page, Quote, Report, Section, Table

COMMENTS = "review/comments.csv"


def copy_of(*edits: Change, level: str = "client") -> Report:
    """Return the example's report for a level, without its private words, put together in memory."""
    quiet = cell("field/deployments.csv", "0047102", "comment", "Gate was locked; began 20 min late.")
    shown = setting('level = "internal"', f'level = "{level}"')
    kept = {path: file for path, file in example().files.items() if not path.startswith("private/")}
    return compose(check_snapshot(changed(quiet, shown, *edits, folder=Folder(kept, (), ()))))[1]


@cache
def plain_copy(level: str) -> Report:
    """Return the example's report for a level, nothing else changed."""
    return copy_of(level=level)


def blocks_of(some: Page | Chapter | Section) -> list[Block]:
    """Return every block, those of sections included."""
    found: list[Block] = []
    for block in some.blocks:
        found.append(block)
        if isinstance(block, Section):
            found += blocks_of(block)
    return found


def page(report: Report, name: str) -> Page:
    """Return the page of that id."""
    return next(page for page in report.pages if page.ref.kind in ("page", "location") and page.ref.id == name)


def chapter(report: Report, name: str) -> Chapter:
    """Return the chapter of that id."""
    return next(chapter for chapter in report.chapters if chapter.id == name)


def table_in(some: Page | Chapter, name: str) -> Table:
    """Return the table of that id."""
    return next(block for block in blocks_of(some) if isinstance(block, Table) and block.id == name)


@pytest.mark.parametrize("level", ["client", "public"])
def test_withheld_comments_are_told_as_withheld_with_the_number_open(level: str) -> None:
    """The page on review says that there are five and one is open; its table says withheld, never none."""
    review = page(plain_copy(level), "review")
    assert review.lead.startswith("5 review comments withheld from this version (1 open).")
    comments = table_in(review, "comments")
    assert (comments.rows, comments.empty) == ((), "withheld (1 open)")


def test_where_no_comment_is_on_record_none_is_told_as_withheld() -> None:
    """Without the file, and with its header alone, there is nothing to withhold, and the page says so."""
    for empty in (removed(COMMENTS), table(COMMENTS, lambda _: [])):
        review = page(copy_of(empty), "review")
        assert review.lead.startswith("No review comment is on record.")
        assert table_in(review, "comments").empty == "No review comment is on record."


def test_a_departure_not_on_record_tells_its_comment_as_withheld() -> None:
    """In site and print the open comment that names the point is withheld in a client copy, named in the team's."""
    inside = table_in(page(plain_copy("internal"), "deviations"), "unrecorded")
    assert [row[2].text for row in inside.rows] == ["C-1, must fix"]
    client = plain_copy("client")
    for some in (page(client, "deviations"), chapter(client, "deviations")):
        assert [row[2].text for row in table_in(some, "unrecorded").rows] == ["withheld (1 open)"]


def test_the_working_set_tells_withheld_comments_at_the_internal_level_too() -> None:
    """A project that withholds its comments inside still has a working set, which says that they are withheld."""
    working = page(copy_of(setting("withhold = []", 'withhold = ["review_comments"]'), level="internal"), "working-set")
    assert "review comments withheld (1 open)" in working.lead
    assert table_in(working, "to-read").empty == "withheld (1 open)"


def test_withheld_remarks_leave_a_word_where_they_were_and_nowhere_else() -> None:
    """Pages, sheets and exports say that a remark is withheld where one is on record; the notes say how many."""
    public = plain_copy("public")
    quoted = [block.text for block in blocks_of(page(public, "SG-37")) if isinstance(block, Quote)]
    assert quoted == ["[remark withheld]"]
    assert not [block for block in blocks_of(page(public, "SG-28")) if isinstance(block, Quote)]
    sheet = next(s for s in chapter(public, "sheets").blocks if isinstance(s, Section) and "SG-37" in s.title)
    facts = [row for block in blocks_of(sheet) if isinstance(block, Facts) for row in block.rows]
    assert ("Notes of the crew", "[remark withheld]") in [(name, shown.text) for name, shown in facts]
    for some in (page(public, "field"), chapter(public, "field")):
        notes = table_in(some, "notes")
        assert notes.rows == ()
        assert re.fullmatch(r"Withheld: \d+ remarks of the field and laboratory record are not part of this version\.",
                            notes.empty)  # fmt: skip
    events = next(export for export in public.exports if export.name == "custody_events")
    at = [field.name for field in events.fields].index("comment")
    assert {row[at] for row in events.rows} == {"", "[remark withheld]"}


def test_a_public_copy_names_roles_by_function_and_tells_two_apart() -> None:
    """Custody, findings and sign-off say crew 1, crew 2, carrier, laboratory, lead, reviewer; no code is left."""
    public = plain_copy("public")
    chain = repr((page(public, "custody").blocks, chapter(public, "findings").blocks))
    for words in ("crew 1", "crew 2", "project lead"):
        assert words in chain
    assert "crew 2, then bagged by crew 1" in repr(page(public, "custody"))
    signed = [row[0].text for row in table_in(page(public, "review"), "signoff").rows]
    assert signed == ["project lead", "licensed reviewer"]
    sampler = repr(next(page for page in public.pages if page.ref.kind == "sampler"))
    for words in ("carrier", "laboratory 1"):
        assert words in sampler
    assert not re.search(r"(?<![\w-])(?:FS|PM|LR|LB)-\d(?!\w)", repr((public.pages, public.chapters, public.exports)))


def test_a_client_copy_keeps_the_codes() -> None:
    """A client may see the codes, and does; at no level does a function stand beside its code."""
    client = plain_copy("client")
    assert "FS-1" in repr(page(client, "custody"))
    assert "crew 1" not in repr(client.pages)
