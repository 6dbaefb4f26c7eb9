"""Every table, every number of a page and every cell of an export, against what a person worked out by hand.

The survey stands in ``byhand_survey.py``, its values with their reasons in ``expected/``. Where a test fails, a person
decides who is right: the values were never taken from what the program says.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from functools import cache

import byhand_survey as survey
import pytest
from byhand_places import Grid, Numbers, Place, cell_text, places
from byhand_sheets import Sheet, sheets
from slips import report_slips

from sitegen.report.record.pages import Callout, Section, Table


@cache
def report_places() -> dict[str, Place]:
    """Return the places of the survey's report."""
    return places(survey.report())


def differences(place: Place, sheet: Sheet) -> Iterator[str]:
    """Yield what differs between a place of the report and what is written of it."""
    assert not sheet.blocks.keys() & sheet.aside.keys()
    for name in place.keys() - sheet.blocks.keys() - sheet.aside.keys():
        yield f"{name}: in the report, and not written down"
    for name in (sheet.blocks.keys() | sheet.aside.keys()) - place.keys():
        yield f"{name}: written down, and not in the report"
    for name in place.keys() & sheet.blocks.keys():
        between = block_differences(place[name], sheet.blocks[name], sheet.hidden.get(name, set()))
        yield from (f"{name}, {words}" for words in between)


def block_differences(block: Grid | Numbers, by_hand: Grid | Numbers, hidden: set[str]) -> Iterator[str]:
    """Yield what differs in one block; ``hidden`` are the columns, or among facts the labels, left aside."""
    if isinstance(block, Grid) and isinstance(by_hand, Grid):
        facts = by_hand.columns == ["value"]
        if facts:
            block = Grid(block.columns, [row for row in block.rows if row[0] not in hidden])
        if {*block.columns} != {*by_hand.columns, *(() if facts else hidden)}:
            yield f"columns: by hand {by_hand.columns}, in the report {block.columns}"
        elif [head for head, _ in block.rows] != headings(block, by_hand):
            yield f"rows: by hand {headings(block, by_hand)}, in the report {[head for head, _ in block.rows]}"
        else:
            yield from cell_differences(block, by_hand)
    elif not alike(block, by_hand):
        yield f"numbers: by hand {by_hand}, in the report {block}"


def headings(block: Grid, by_hand: Grid) -> list[str]:
    """Return the headings that a person gave the rows: those of the report's own column of headings."""
    if not block.rows or by_hand.columns == ["value"]:
        return [head for head, _ in by_hand.rows]
    head, row = block.rows[0]
    column = next(name for name, text in row.items() if text == head)
    return [wanted[column] for _, wanted in by_hand.rows]


def cell_differences(block: Grid, by_hand: Grid) -> Iterator[str]:
    """Yield each cell that differs, by the heading of its row and the key of its column."""
    for number, ((head, row), (_, wanted)) in enumerate(zip(block.rows, by_hand.rows, strict=True), start=1):
        for column in by_hand.columns:
            if row[column] != wanted[column] and not (wanted[column] == "*" and row[column]):
                yield f"row {number} ({head}), {column}: by hand {wanted[column]!r}, in the report {row[column]!r}"


def alike(block: Grid | Numbers, by_hand: Grid | Numbers) -> bool:
    """Tell whether number words agree; one with ``~`` behind it stands for any."""
    if isinstance(block, Grid) or isinstance(by_hand, Grid) or len(block) != len(by_hand):
        return False
    return all(word == wanted or wanted.endswith("~") for word, wanted in zip(block, by_hand, strict=True))


@pytest.mark.parametrize("name", sheets())
def test_a_place_of_the_report_says_what_was_worked_out_by_hand(name: str) -> None:
    """Each block of a page, a chapter or an export: cell by cell, number by number."""
    told = sorted(differences(report_places().get(name, {}), sheets()[name]))
    assert not told, "\n".join([f"{name}:", *told])


def test_every_place_of_the_report_is_written_down() -> None:
    """A page, a chapter or an export that nobody worked out does not pass unseen."""
    assert report_places().keys() == sheets().keys()


def test_one_changed_cell_or_number_is_told() -> None:
    """A comparison that finds nothing would pass everything."""
    sheet = Sheet({"table t": Grid(["a", "b"], [("1", {"a": "1", "b": "2"})]), "numbers n": ("3", "4~")})
    same: Place = {"table t": Grid(["a", "b"], [("1", {"a": "1", "b": "2"})]), "numbers n": ("3", "5")}
    assert list(differences(same, sheet)) == []
    cell: Place = same | {"table t": Grid(["a", "b"], [("1", {"a": "1", "b": "3"})])}
    assert list(differences(cell, sheet)) == ["table t, row 1 (1), b: by hand '2', in the report '3'"]
    row: Place = same | {"table t": Grid(["a", "b"], [("2", {"a": "2", "b": "2"})])}
    assert list(differences(row, sheet)) == ["table t, rows: by hand ['1'], in the report ['2']"]
    word: Place = same | {"numbers n": ("4", "5")}
    assert list(differences(word, sheet)) == ["numbers n, numbers: by hand ('3', '4~'), in the report ('4', '5')"]
    assert list(differences({"numbers n": ("3", "5")}, sheet)) == ["table t: written down, and not in the report"]
    assert list(differences(same | {"numbers m": ("1",)}, sheet)) == ["numbers m: in the report, and not written down"]


def test_the_words_of_the_report_have_no_slips() -> None:
    """One hold, one lost sampler, one gap: a survey of ones finds plurals that others don't."""
    assert report_slips(survey.report()) == []


def test_two_ends_that_disagree_stand_each_in_its_own_column() -> None:
    """In the survey every count and seal agrees at both ends; here none does, and nothing is mistaken for the other."""
    report = survey.report(
        ("field/return_bags.csv", "FS-2,5,SH-2,", "FS-2,6,SH-2,"),
        ("field/custody.csv", "ink,5502,intact", "ink,5520,intact"),
        ("field/shipments.csv", "7002,11,", "7002,13,"),
        ("field/shipments.csv", "America/Denver,11,7002", "America/Denver,12,7020"),
    )
    place = places(report)["page:custody"]
    bag, ship = cells_of(place, "return-bags", "RB-2"), cells_of(place, "shipments", "SH-2, return")
    assert (bag["count"], bag["found"]) == ("6", "5")
    assert (bag["applied"], bag["read"]) == ("5502", "5520 (differs)")
    assert (ship["declared"], ship["counted"]) == ("13", "12")
    assert (ship["seal"], ship["read"]) == ("7002", "7020 (differs), intact")
    assert cells_of(place, "custody-counts", "in a return bag")["count"] == "9"
    assert cells_of(place, "custody-counts", "declared in return bags")["count"] == "10"
    assert cells_of(place, "custody-counts", "items counted at receipt")["count"] == "12"


@pytest.mark.parametrize(("state", "told"), [("answered", "1 on record, 0 open"), ("open", "1 on record, 1 open")])
def test_readers_outside_the_team_are_told_how_many_comments_are_open(state: str, told: str) -> None:
    """Where the comments themselves are shown and only what is to do is withheld; of one role none has signed."""
    report = survey.report(
        ("project.toml", "[publish]\n", '[publish]\nwithhold = ["team_notes"]\n'),
        ("review/comments.csv", ",PM-1,answered", f",PM-1,{state}"),
    )
    (start,) = (page for page in report.pages if page.ref.id == "start")
    (opened,) = (b for b in start.blocks if isinstance(b, Section) and b.id == "open")
    (text,) = (b.markdown for b in opened.blocks if isinstance(b, Callout) and b.title == "State of this version")
    assert f"Review comments: {told}." in text
    assert "Signatures for this version: 0 of 1 required." in text


def cells_of(place: Place, table: str, heading: str) -> dict[str, str]:
    """Return the one row of a table with a heading."""
    grid = place[f"table {table}"]
    assert isinstance(grid, Grid)
    (row,) = (row for head, row in grid.rows if head == heading)
    return row


def test_the_input_files_stand_with_size_and_checksum() -> None:
    """The page of input files and the exports name each file's bytes."""
    bytes_of = {path: text.encode() for path, text in survey.FILES.items()}
    sha = {path: hashlib.sha256(content).hexdigest() for path, content in bytes_of.items()}
    pages = {page.ref.id: page for page in survey.report().pages}
    (files,) = (block for block in pages["files"].blocks if isinstance(block, Table))
    listed = [tuple(map(cell_text, row)) for row in files.rows]
    assert listed == [(path, f"{len(bytes_of[path]):,}", sha[path]) for path in sorted(bytes_of)]
    (results,) = (table for table in survey.report().exports if table.name == "results")
    assert {row[results.at("source_sha256")] for row in results.rows} == {sha["lab/results.csv"]}
    assert survey.report().hashes == sha


def test_the_content_digest_is_that_of_the_rule_on_the_page_of_input_files() -> None:
    """The SHA-256 of one line to each file, in path order; nothing is signed here."""
    sha = {path: hashlib.sha256(text.encode()).hexdigest() for path, text in survey.FILES.items()}
    lines = "".join(f"{sha[path]}  {path}\n" for path in sorted(sha))
    meta = survey.report().meta
    assert meta.digest == hashlib.sha256(lines.encode()).hexdigest()
    (lead,) = (page.lead for page in survey.report().pages if page.ref.id == "files")
    assert meta.digest[:8] in lead
