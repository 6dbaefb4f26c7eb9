"""What the search index holds of the pages: titles, leads, and the words of sections and tables."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import NamedTuple

from sitegen.render.site.paths import anchor
from sitegen.report.record.pages import (
    Block,
    Buttons,
    Callout,
    Facts,
    Figure,
    Page,
    Photo,
    Prose,
    Quote,
    Section,
    Table,
    Tiles,
)
from sitegen.report.write.searchwords import page_words
from sitegen.report.write.sentences import plain

MOST_CHARS = 16_000
"""Of the words of a section; a table's caption and headings stand before its rows."""


class SearchWords(NamedTuple):
    """What the search finds at a place: the section's id ("" for the page itself), title and text.

    ``words`` are other names of the page.
    """

    section: str
    title: str
    text: str
    words: tuple[str, ...] = ()


def search_words(page: Page) -> Iterator[SearchWords]:
    """Yield what the search holds for a page and, where the navigation lists the page, for its sections.

    Numbers of tables are left to the pages of the points, which name theirs in ``Page.search``.
    """
    own = page.search or page.lead
    names = page.words or (page_words(page.ref.id) if page.ref.kind == "page" else ())
    if not page.group:
        yield SearchWords("", page.title, own, names)
        return
    loose = [block for block in page.blocks if not isinstance(block, Section)]
    yield SearchWords("", page.title, _joined([own, *_texts(loose)]), names)
    for block in page.blocks:
        if isinstance(block, Section):
            yield SearchWords(anchor(block.id), block.title, _joined([page.title, *_texts(block.blocks)]))


def _joined(texts: Iterable[str]) -> str:
    """Return texts one after another, each once, as far as there is room."""
    kept, room = [], MOST_CHARS
    for text in dict.fromkeys(" ".join(text.split()) for text in texts):
        if text and len(text) < room:
            kept.append(text)
            room -= len(text) + 1
    return " ".join(kept)


def _texts(blocks: Iterable[Block]) -> Iterator[str]:
    for block in blocks:
        match block:
            case Section():
                yield block.title
                yield from _texts(block.blocks)
            case Table():
                yield from _of_table(block)
            case Figure():
                yield from (block.caption, block.description)
            case Photo():
                yield from (block.caption, block.alt)
            case Prose():
                yield plain(block.markdown)
            case Callout():
                yield from (block.title, plain(block.markdown))
            case Quote():
                yield block.text
            case Facts() | Tiles() | Buttons():
                yield from _of_list(block)
            case _:
                pass


def _of_list(block: Facts | Tiles | Buttons) -> Iterator[str]:
    if isinstance(block, Buttons):
        yield from (f"{one.words} ({one.format})" for one in block.buttons)
    elif isinstance(block, Facts):
        yield from (part for label, cell in block.rows for part in (label, cell.text))
    else:
        yield from (part for tile in block.tiles for part in (tile.value, tile.label, tile.note))


def _of_table(table: Table) -> Iterator[str]:
    """Yield a table's caption, headings and note, then the cells of words, row by row."""
    yield from (table.caption, *(column.title for column in table.columns), table.note)
    worded = [at for at, column in enumerate(table.columns) if column.kind != "number"]
    for row in table.rows:
        yield from (row[at].text for at in worded if row[at].text != "–")
