"""The search index: words of sections and tables, at a modest size."""

from __future__ import annotations

import json
import re
from html import unescape

import pytest

from sitegen.pipeline import Built
from sitegen.render.site.searching import MOST_CHARS, search_words
from sitegen.report.record.pages import Cell, Column, Page, Prose, Ref, Section, Table

COLUMNS = (Column("point", "Point"), Column("value", "Mass", "ng", "number"), Column("note", "Remark", kind="wide"))


def page(*rows: tuple[str, str, str], group: str = "Quality") -> Page:
    """Return a page with one section that holds prose and a table."""
    table = Table("t", "Duplicates", COLUMNS, tuple(tuple(map(Cell, row)) for row in rows), note="RPD in percent.")
    section = Section("pairs", "Pairs", (Prose(r"*Two* of 13\.0"), table))
    return Page(Ref("page", "quality"), "Quality", "A lead.", (Prose("Loose words."), section), group=group)


def test_a_section_is_found_by_its_words_and_those_of_its_tables() -> None:
    """Captions, headings, notes and cells of words, each once; numbers and dashes are left out."""
    own, section = search_words(page(("SG-01", "11,100", "stockpile"), ("SG-01", "9", "–")))
    assert own[:3] == ("", "Quality", "A lead. Loose words.")
    assert section[:3] == (
        "pairs",
        "Pairs",
        "Quality Two of 13.0 Duplicates Point Mass Remark RPD in percent. SG-01 stockpile",
    )


def test_a_page_reached_by_links_only_has_one_entry() -> None:
    """What it is found by stands in its own words."""
    assert [found.text for found in search_words(page(group=""))] == ["A lead."]


def test_a_long_table_is_cut_and_its_headings_are_kept() -> None:
    """Rows fill what room is left after the caption and the headings."""
    rows = [(f"SG-{n:04d}", "1", f"remark {n}") for n in range(5000)]
    *_, section = search_words(page(*rows))
    assert section.text.startswith("Quality Two of 13.0 Duplicates Point Mass Remark")
    assert MOST_CHARS - 20 < len(section.text) <= MOST_CHARS


@pytest.mark.parametrize(
    ("words", "page"),
    [
        ("deviations", "deviations.html"),
        ("GIS", "downloads.html"),
        ("lost", "locations/SG-21.html"),
        ("flagged", "findings.html"),
        ("dilution", "findings.html"),
        ("positions", "field.html#points"),
        ("depth", "field.html#log"),
        ("RPD", "quality.html#duplicates"),
        ("hold time", "quality.html#holding"),
        ("archive", "downloads.html#verify"),
        ("retention", "downloads.html#verify"),
        ("verify", "downloads.html#verify"),
        ("checksum", "downloads.html#verify"),
        ("PDF/A-3a", "downloads.html#formats"),
        ("contours", "downloads.html#gis"),
        ("11,100", "locations/SG-35.html"),
        ("stockpile", "locations/SG-07.html"),
    ],
)
def test_the_example_is_found_by_words_of_the_trade(built: Built, words: str, page: str) -> None:
    """A reader's word leads to the page where the thing stands."""
    entries = json.loads((built.out / "site/search/search_index.json").read_text("utf-8"))["docs"]
    holds = re.compile(rf"(?<![\w]){re.escape(words)}(?![\w])", re.IGNORECASE)
    assert page in {one["location"] for one in entries if holds.search(unescape(f"{one['title']} {one['text']}"))}


def test_the_index_of_the_example_is_modest(built: Built) -> None:
    """Less than a megabyte."""
    assert (built.out / "site/search/search_index.json").stat().st_size < 1_000_000
