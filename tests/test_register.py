"""The report keeps to the plain English of the trade: words and phrases of an older house style stay out of its text.

A template's static text is scanned with the words that its expressions put in; of the built report, what the program
writes: titles, leads, captions, heads, notes. Cells and quotations may be words of the record, and are not read.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import NamedTuple

import pytest
from jinja2 import Environment

from sitegen.pipeline import Built
from sitegen.report.record.pages import Block, Callout, Facts, Figure, Page, Prose, Section, Table, Tiles

ROOT = Path(__file__).parents[1]
WORDS = ROOT / "sitegen/templates/words"

HOUSE = {
    "stand": r"stands?|standing|stood",
    "hold": r"holds?|holding|held",
    "touch": r"touch(?:es|ed|ing)?",
    "lie": r"lies?|lying|lay",
    "speak": r"speaks?|speaking|spoken?",
    "tell": r"tells?|telling|told",
    "say": r"says?|saying|said",
    "bear on": r"bears? (?:up)?on",
    "lean on": r"lean(?:s|ing)? on",
    "rest on": r"rests? on",
    "call for": r"calls? for",
    "go on": r"went (?:on|out|back)",
    "come back": r"(?:came|comes?|coming) back",
    "turn into": r"turn(?:s|ed)? into",
    "way": r"ways?",
    "ground": r"grounds?",
    "mark": r"marks?|marked|marking|unmarked",
    "free of": r"free of",
    "want of": r"(?:for )?want of",
    "thing": r"things?",
    "apart": r"apart",
    "aside": r"aside",
    "beside": r"beside",
    "of its own": r"of (?:its|their) own",
    "on file": r"on file",
    "named below": r"named (?:above|below)",
    "put together": r"put together",
    "what … is": r"what (?:it|this|each|every) \w+(?: is)?",
    "looked for": r"look(?:s|ed|ing)? (?:for|at|harder)",
    "contraction": r"\w+n['’]t",
    "please": r"please",
}
"""What a word or phrase is called here, and the forms of it that are found, in any case."""

PATTERNS = {name: re.compile(rf"(?<![\w-])(?:{forms})(?![\w-])", re.IGNORECASE) for name, forms in HOUSE.items()}

ALLOWED = {
    r"\bhold times?": "the trade's term for the time from sampling to analysis",
    r"\bmajor, hold\b|\bstop, hold\b|\bhold or flag\b|\bholds and flags\b": "names of severities",
    r"(?<![\w-])hold$|^hold\b": "a severity by itself: an entry of the glossary, a label",
    r"\b(?:un)?paved ground\b|\bground (?:level|surface|floor)\b": "the trade's terms for surfaces",
    r"\bmark_only\b|\bcolumns qualifier and marks\b": "names of the folder and data formats",
    r"\bexclamation marks?\b|\bquotation marks?\b|\bquestion marks?\b": "characters",
    r"\butilities must be located and marked\b|\bthe marked lines\b": "utility lines marked out on site",
    r"\blays? down\b": "to prescribe",
}
"""Phrases in which such a word is the right one, with the reason."""

FILES_DONE = (
    "compound.j2",
    "downloads.j2",
    "export.j2",
    "figures.j2",
    "glossary.toml",
    "glossary_outside.toml",
    "labels.toml",
    "location.j2",
    "lone.j2",
    "missed.j2",
    "publish.j2",
    "relations.j2",
    "sheets.j2",
    "standout.j2",
    "takeaway.j2",
    "working.j2",
)
"""The files of words that keep to it; each that is rewritten joins them."""

PAGES_DONE = ("compounds", "relations", "heat", "patterns", "locations", "downloads")
"""The pages of the built example that keep to it, by slug; with them go those of each compound and point."""

OTHERS = ("custody",)
"""Sections of those pages with words of files that are not rewritten yet."""

NARRATIVE_DONE = (
    "conceptual_model.md",
    "conclusions.md",
    "interpretation.md",
    "limitations.md",
    "objectives.md",
    "recommendations.md",
    "setting.md",
)
"""The texts of the example that keep to it."""


class Hit(NamedTuple):
    """A house word: where, which, and the words around it."""

    place: str
    word: str
    text: str


def house_words(place: str, text: str) -> Iterator[Hit]:
    """Yield what of a text belongs to the house style, phrases that are allowed left out."""
    flat = " ".join(text.split())
    for phrase in ALLOWED:
        flat = re.sub(phrase, lambda found: "·" * len(found[0]), flat, flags=re.IGNORECASE)
    for name, pattern in PATTERNS.items():
        for found in pattern.finditer(flat):
            yield Hit(place, name, flat[max(0, found.start() - 40) : found.end() + 40])


def static_text(file: Path) -> list[tuple[str, str]]:
    """Return what a file of words can print, block by block: data, and the strings of its expressions."""
    if file.suffix == ".toml":
        return list(_leaves(file.name, tomllib.loads(file.read_text("utf-8"))))
    parts: list[tuple[str, str]] = []
    block, last = file.name, ""
    words: list[str] = []
    compared = False
    for _, kind, value in Environment(autoescape=False).lex(file.read_text("utf-8")):  # noqa: S701 - read, never filled
        if kind == "name" and last == "block":
            parts.append((block, " ".join(words)))
            block, words = f"{file.name}, {value}", []
        if kind == "data" or (kind == "string" and not compared):
            words.append(value if kind == "data" else value.strip("\"'"))
        if kind == "operator":
            compared = value in {"==", "!="}
        elif kind != "whitespace":
            compared = False
        if kind != "whitespace":
            last = value
    return [*parts, (block, " ".join(words))]


def _leaves(place: str, value: object) -> Iterator[tuple[str, str]]:
    """Yield the texts of a word list; the terms of a glossary are text as well."""
    if isinstance(value, str):
        yield place, value
    elif isinstance(value, dict):
        for key, one in value.items():
            if place.startswith("glossary"):
                yield f"{place}, term", key
            yield from _leaves(f"{place}, {key}", one)
    elif isinstance(value, list):
        for one in value:
            yield from _leaves(place, one)


def written(blocks: Iterable[Block]) -> Iterator[str]:
    """Yield what the program writes around the values of blocks: heads, captions, notes, sentences."""
    for block in blocks:
        if isinstance(block, Table):
            yield from (block.caption, block.note, block.empty, *(column.title for column in block.columns))
        elif isinstance(block, Figure):
            yield from (block.caption, block.alt, block.description)
            yield from written([block.table] if block.table else [])
        elif isinstance(block, Callout):
            yield from (block.title, *(ref.text for ref in block.refs))
        elif isinstance(block, Prose):
            yield block.markdown.replace("\\", "")
        elif isinstance(block, Facts):
            yield from (label for label, _ in block.rows)
        elif isinstance(block, Tiles):
            yield from (tile.label for tile in block.tiles)
        elif isinstance(block, Section) and block.id not in OTHERS:
            yield block.title
            yield from written(block.blocks)


def drawn(blocks: Iterable[Block]) -> Iterator[str]:
    """Yield the lettering of drawings."""
    for block in blocks:
        if isinstance(block, Figure):
            yield " · ".join(re.findall(r">([^<>]+)<", block.svg))
        elif isinstance(block, Section) and block.id not in OTHERS:
            yield from drawn(block.blocks)


def _done(page: Page) -> bool:
    return page.ref.kind in {"compound", "location"} or (page.ref.kind == "page" and page.ref.id in PAGES_DONE)


def told(hits: list[Hit]) -> str:
    """Write hits one to a line."""
    return "\n".join(f"{hit.place}: {hit.word}: … {hit.text} …" for hit in hits)


@pytest.mark.parametrize("name", FILES_DONE)
def test_no_file_of_words_falls_back_into_the_house_style(name: str) -> None:
    """A file of words that was rewritten prints no word or phrase of the house style."""
    hits = [hit for place, text in static_text(WORDS / name) for hit in house_words(place, text)]
    assert not hits, told(hits)


def test_no_page_of_the_example_falls_back_into_the_house_style(built: Built) -> None:
    """On the pages of results, points and downloads neither the words from Python nor those from templates do."""
    pages = [page for page in built.report.pages if _done(page)]
    assert {page.ref.id for page in pages} >= set(PAGES_DONE)
    hits = [
        hit
        for page in pages
        for text in (page.title, page.lead, *written(page.blocks), *drawn(page.blocks))
        for hit in house_words(f"{page.ref.kind} {page.ref.id}", text)
    ]
    assert not hits, told(hits)


@pytest.mark.parametrize("name", NARRATIVE_DONE)
def test_the_examples_own_text_keeps_to_the_trade(name: str) -> None:
    """The narrative of the example is written as a consultant writes it."""
    hits = list(house_words(name, (ROOT / "example_project/text" / name).read_text("utf-8")))
    assert not hits, told(hits)


def test_the_web_map_keeps_to_the_trade() -> None:
    """No text that the map's scripts write is of the house style; their comments and names are their own."""
    hits = []
    for file in sorted((ROOT / "sitegen/templates/map").glob("*.js")):
        code = re.sub(r"/\*.*?\*/", "", file.read_text("utf-8"), flags=re.DOTALL)
        for text in re.findall(r'"[^"\n]* [^"\n]*"|`[^`\n]* [^`\n]*`', code):
            hits += house_words(file.name, re.sub(r"\$\{[^}]*\}", "…", text).strip('"`'))
    assert not hits, told(hits)


@pytest.mark.parametrize(
    "sentence",
    [
        "A blank touches 3 of 5 detections",
        "The table holds every point.",
        "3 free of a mark of their own",
        "A trip blank speaks for its bag.",
        "It can't be told.",
        "{{ count }} {{ 'stands' if count == 1 else 'stand' }} in the table alone",
    ],
)
def test_the_scan_finds_what_it_is_for(sentence: str, tmp_path: Path) -> None:
    """Each of these sentences of the house style is found in a file of words, one inside an expression too."""
    file = tmp_path / "some.j2"
    file.write_text(f"{{% block one %}}\n{sentence}\n{{% endblock %}}\n", "utf-8")
    assert [hit for place, text in static_text(file) for hit in house_words(place, text)]


@pytest.mark.parametrize("sentence", ["a hold time of 30 days", "Unpaved ground", "No hold or flag is open."])
def test_terms_of_the_trade_are_no_house_words(sentence: str) -> None:
    """Where such a word is the right one nothing is found."""
    assert not list(house_words("", sentence))
