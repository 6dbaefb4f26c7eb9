"""The scan for slips finds each kind that is planted, and nothing in sound sentences."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from slips import RULES, report_slips, site_slips, slips_in

from sitegen.pipeline import Built
from sitegen.report.record.pages import (
    Callout,
    Cell,
    Chapter,
    Column,
    Facts,
    Page,
    Prose,
    Ref,
    Section,
    Table,
    Tile,
    Tiles,
)

PLANTED = [
    ("None for a word", "Retrieved by None on 3 May."),
    ("None for a word", "None ng per sampler"),
    ("None for a word", "None"),
    ("no number", "The highest is nan ng per sampler."),
    ("no number", "Placed at NaT."),
    ("an unfilled template", "Found at {{ point }}."),
    ("two blanks", "Found at  two points."),
    ("two blanks", "The compound  was found."),
    ("empty brackets", "Found at two points ()."),
    ("a blank inside brackets", "Found ( SG-1) here."),
    ("a blank before a sign", "Found at , and at SG-2."),
    ("a blank before a sign", "Found at two points ."),
    ("two signs", "The seal: ."),
    ("two signs", "Bags RB-1, , RB-2."),
    ("two signs", "It was found.."),
    ("a sign without words before it", ", and nothing else."),
    ("dashes for numbers", "Between – and – ng per sampler."),
    ("dashes for numbers", "from – to –"),
    ("a dash in a slot", "The highest is at –."),
    ("a dash in a slot", "Placed between – and 12 October."),
    ("nothing of nothing", "0 of 0 duplicate pairs differ."),
    ("nothing of nothing", "No of no results."),
    ("a dash with a unit", "The highest is – ng per sampler."),
    ("an empty slot", "The levels of and their source."),
    ("an empty slot", "Results between and 12 ng per sampler."),
    ("an end without a word", "The laboratory and."),
    ("a word twice", "The the sampler."),
    ("a plural left open", "Two sampler(s) were lost."),
    ("one of many", "It was found at 1 points."),
    ("one of many", "1 analyses were run."),
    ("many of one", "It was found at 3 point."),
    ("many of one", "12 batch were run."),
    ("one with a plural verb", "1 sampler were lost."),
    ("one with a plural verb", "Of these, 1 are non-detects."),
    ("one with a plural verb", "1 carry a mark."),
    ("many with a singular verb", "3 samplers was lost."),
    ("no that does nothing to no", "No detections in blanks touch no results."),
    ("no that does nothing to no", "0 detections of blanks bear on no result."),
    ("a sentence in lower case", "It was found. no sampler was lost."),
    ("a sentence in lower case", "no sampler was lost."),
]  # fmt: skip
SOUND = [
    "None of 12 samplers was lost. None was moved.",
    "1 of 22 compounds was detected over 13.1 days, at 1 point; 2 samplers were lost.",
    "cis-1,2-Dichloroethene was found. o-Xylene was not. m,p-Xylene was not. p-Cresol was not.",
    "results.csv has every row. `a  b` is code. The file .csv is read.",
    "**custody**: No holder is recorded for 2 h 10 min (bag RB-2, FS-1 → PM-1).",
    "Three ways:\n\n* take a look;\n* take another, at or below the floor.",
    "Seven to 14 days – the plan asks for no less – and 1.5 days more … and so on.",
    "No result is touched, and no bag was open. Not 11 points but 1,200 results at 48 of 50 points.",
    "SG-1 points north; at 2025-10-21 duplicates were read. Batch 1 blanks, table 3 results.",
    "1 result for 7 compounds was read, 1 of 3 in 2 batches is a non-detect.",
    "A financial matter, an infinite one; of the sampler or of the result.",
]


@pytest.mark.parametrize(("rule", "words"), PLANTED)
def test_a_planted_slip_is_found(rule: str, words: str) -> None:
    """Each is told under the name of its rule, with the words around it."""
    found = list(slips_in(words, prose=True))
    assert any(slip.startswith(f"{rule}: ") for slip in found), found


def test_every_rule_has_a_slip_that_it_alone_is_planted_for() -> None:
    """No rule can be broken without a test that fails."""
    assert {rule for rule, _ in PLANTED} == {name for name, _ in RULES} | {"a sentence in lower case"}


@pytest.mark.parametrize("words", SOUND)
def test_sound_sentences_pass(words: str) -> None:
    """Names of compounds, counts of one, dashes between clauses and list items are no slips."""
    assert list(slips_in(words, prose=True)) == []


SLIP = "It was found at 1 points."
BLOCKS = (
    Prose(SLIP),
    Callout("info", SLIP, "Sound."),
    Callout("info", "Sound", SLIP),
    Facts(((SLIP, Cell("")),)),
    Facts((("Label", Cell(SLIP)),)),
    Tiles((Tile("1", "point", SLIP),)),
    Table("t", "Sound", (Column("a", "A"),), ((Cell(SLIP),),)),
    Table("t", SLIP, (), ()),
    Table("t", "Sound", (), (), note=SLIP),
    Table("t", "Sound", (), (), empty=SLIP),
    Table("t", "Sound", (Column("a", SLIP),), ()),
)


@pytest.mark.parametrize("block", BLOCKS, ids=lambda block: type(block).__name__)
@pytest.mark.parametrize("printed", [False, True], ids=["site", "print"])
def test_no_part_of_a_report_is_passed_over(built: Built, block: Prose, printed: bool) -> None:
    """A slip is found in every part of a block, of pages and of print, in a section too."""
    inside = (Section("s", "Sound", (block,)),)
    page = Page(Ref("page", "one"), "One", "", () if printed else inside)
    chapter = Chapter("one", "One", inside if printed else ())
    report = replace(built.report, pages=(page,), chapters=(chapter,), volumes=())
    (told,) = report_slips(report)
    assert told.startswith("chapter one#s" if printed else "page page one#s")
    assert "one of many: It was found at 1 points." in told


def test_the_example_has_no_slip(built: Built) -> None:
    """Pages and print of the example, as records and as written, have no slip of any kind."""
    assert report_slips(built.report) == []
    assert site_slips(built.out / "site") == []


def test_a_slip_in_a_written_page_is_found(tmp_path: Path) -> None:
    """Words of paragraphs, cells, headings and alternative texts are read; scripts are not."""
    page = "<h2>At – m</h2><table><tr><td>12 <a href='x'>of  3</a></td></tr></table><img alt='1 points'>"
    page += "<script>()</script>"
    (tmp_path / "a.html").write_text(f"<html><body>{page}<p>Sound.</p></body></html>", "utf-8")
    assert [slip.split(": ")[1] for slip in site_slips(tmp_path)] == [
        "a dash with a unit",
        "two blanks",
        "two blanks",
        "one of many",
    ]
