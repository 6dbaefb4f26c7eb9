"""The copy for comments as a run of paragraphs and tables, before any file format.

Markdown comes through the same tree as print's. Links keep their text, with the address in
words behind it; drawings and photographs are mentioned, for the copy is there to be read and
written in.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple, TypeAlias

from sitegen.render.print.markdown import Node, markdown_nodes
from sitegen.report.record.pages import (
    Block,
    Callout,
    Cell,
    Column,
    CommentCopy,
    Facts,
    Figure,
    Meta,
    Photo,
    Prose,
    Quote,
    Section,
    Table,
    Tiles,
)
from sitegen.report.write.qualified import every_text, key_notes, qualified, qualifiers_in
from sitegen.voice import worded

PLAIN, QUOTED, CAPTION, CODE = "Normal", "Quote", "Caption", "macro"
BULLET, NUMBER, GOES_ON = "List Bullet", "List Number", "List Continue"
"""Names of styles that every word processor knows; lists have three depths of them."""

_LIST_DEPTHS, _HEADING_LEVELS = 3, 6
_NOT_FOR_XML = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")
_LINE_END = re.compile("\r\n?")


class Run(NamedTuple):
    """A text in one look; a line feed in it breaks the line."""

    text: str
    bold: bool = False
    slanted: bool = False
    mono: bool = False


_AS_IT_IS = Run("")


class Paragraph(NamedTuple):
    """A paragraph in a style. In a numbered list ``depth`` counts lists from 1; ``begins`` is a new list's number.

    With ``new_page`` it begins on a new page.
    """

    style: str
    runs: tuple[Run, ...]
    depth: int = 0
    begins: int | None = None
    new_page: bool = False


class Grid(NamedTuple):
    """A table: columns, whose heads are repeated on each page, and rows of texts, all ``small`` where it is long."""

    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]
    small: bool = False

    @property
    def heads(self) -> tuple[str, ...]:
        """What stands in the header row."""
        return tuple(clean(f"{c.title}, {c.unit}" if c.unit else c.title) for c in self.columns)


Part: TypeAlias = Paragraph | Grid


def copy_parts(copy: CommentCopy, meta: Meta) -> Iterator[Part]:
    """Yield the title, the notices and the chapters of a copy, from top to bottom."""
    yield one_line("Title", meta.title)
    yield from (one_line(PLAIN, notice) for notice in copy.notices)
    for chapter in copy.chapters:
        yield heading(1, chapter.title)
        yield from block_parts(chapter.blocks, 2)


def copy_texts(copy: CommentCopy, meta: Meta) -> Iterator[str]:
    """Yield the texts of paragraphs and cells in the order in which a copy shows them."""
    for part in copy_parts(copy, meta):
        if isinstance(part, Paragraph):
            yield "".join(run.text for run in part.runs)
        else:
            yield from part.heads
            yield from (text for row in part.rows for text in row)


def clean(text: str) -> str:
    r"""Return a text as XML 1.0 can hold it, with U+FFFD for what it can't, and with plain line ends.

    >>> clean("a\x00b\r\nc") == "a\N{REPLACEMENT CHARACTER}b\nc"
    True
    """
    return _NOT_FOR_XML.sub("\ufffd", _LINE_END.sub("\n", text))


def one_line(style: str, *texts: str, bold: bool = False) -> Paragraph:
    """Return a paragraph of some texts, which are clean from here on."""
    return Paragraph(style, tuple(Run(clean(text), bold) for text in texts))


def heading(level: int, text: str) -> Paragraph:
    """Return the heading of a level; one without words would be lost in an outline."""
    return one_line(f"Heading {min(level, _HEADING_LEVELS)}", text.strip() or "(untitled)")


def block_parts(blocks: Iterable[Block], level: int) -> Iterator[Part]:
    """Yield the parts of blocks whose own headings have a level."""
    for block in blocks:
        yield from _block(block, level)


def _block(block: Block, level: int) -> Iterator[Part]:
    """Yield the parts of a block whose own headings have a level."""
    match block:
        case Section():
            yield heading(level, block.title)
            yield from block_parts(block.blocks, level + 1)
        case Prose():
            yield from _markdown(markdown_nodes(block.markdown), level)
        case Callout():
            yield one_line(PLAIN, block.title, bold=True)
            yield from _markdown(markdown_nodes(block.markdown), level)
            places = "; ".join(cell.text for cell in block.refs)
            yield from _lines(PLAIN, worded("See: {places}", places=places) if places else "")
        case Table():
            yield from _table(block)
        case _:
            yield from _short_block(block)


def _short_block(block: Block) -> Iterator[Paragraph]:
    """Yield the paragraphs of a block without a heading; a web map has none."""
    match block:
        case Quote():
            yield one_line(QUOTED, block.text)
            yield from _lines(PLAIN, f"— {block.source}" if block.source else "")
        case Facts():
            yield from (one_line(BULLET, f"{label}: {_cell_text(cell)}") for label, cell in block.rows)
            yield from _reasons(cell for _, cell in block.rows)
        case Tiles():
            yield from (one_line(BULLET, _noted(f"{t.value} {t.label}", t.note)) for t in block.tiles)
        case Figure():
            yield from _lines(
                PLAIN, worded("Drawing, in the report: {caption}", caption=block.caption), block.description
            )
        case Photo():
            yield one_line(
                PLAIN, _noted(worded("Photograph, in the report: {caption}", caption=block.caption), block.credit)
            )
        case _:
            return


def _lines(style: str, *texts: str) -> Iterator[Paragraph]:
    yield from (one_line(style, text) for text in texts if text)


def _noted(text: str, note: str) -> str:
    return f"{text} ({note})" if note else text


def _table(table: Table) -> Iterator[Part]:
    made = qualified(table)
    table = made.table
    yield one_line(CAPTION, table.caption)
    yield from _lines(PLAIN, every_text(made))
    if table.rows:
        yield Grid(table.columns, tuple(tuple(clean(_cell_text(cell)) for cell in row) for row in table.rows))
        yield one_line(PLAIN)
    else:
        yield one_line(PLAIN, table.empty)
    qualifiers = (f"{name}: {meaning}" for name, meaning in (qualifiers_in(table) if table.rows else ()))
    yield from _lines(PLAIN, *key_notes(made), *qualifiers)
    yield from _reasons((Cell("", marks=made.every), *(cell for row in table.rows for cell in row)))
    yield from _lines(
        PLAIN, table.note, worded("Source: {source_line}", source_line=table.source_line) if table.sources else ""
    )


def _reasons(cells: Iterable[Cell]) -> Iterator[Paragraph]:
    """Yield what each mark of the cells means, each once, in order of appearance."""
    told = dict.fromkeys(f"{mark.word}: {mark.reason}" for cell in cells for mark in cell.marks)
    yield from _lines(PLAIN, *told)


def _cell_text(cell: Cell) -> str:
    """Return a cell's text with the words of its marks in brackets behind it."""
    return f"{cell.text} [{', '.join(cell.mark_words)}]" if cell.marks else cell.text


def _markdown(nodes: Sequence[Node], level: int, style: str = PLAIN, depth: int = 0) -> Iterator[Paragraph]:
    """Yield the paragraphs of Markdown nodes inside ``depth`` lists."""
    for node in nodes:
        match node["kind"]:
            case "subheading":
                yield Paragraph(f"Heading {min(level, _HEADING_LEVELS)}", tuple(_runs(node["body"])))
            case "list":
                yield from _list(node, level, depth + 1)
            case "quote":
                yield from _markdown(node["body"], level, QUOTED, depth)
            case "code":
                yield one_line(CODE, "\n".join(node["lines"]))
            case "rule":
                yield one_line(style, "* * *")
            case _:
                yield Paragraph(style, tuple(_runs(node["body"])))


def _list(node: Node, level: int, depth: int) -> Iterator[Paragraph]:
    own, after = (_of_depth(name, depth) for name in (NUMBER if node["ordered"] else BULLET, GOES_ON))
    for at, item in enumerate(node["items"]):
        begins = node["start"] if node["ordered"] and at == 0 else None
        inside = list(_markdown(item, level, after, depth))
        first = inside.pop(0).runs if inside and inside[0].style == after else ()
        yield Paragraph(own, first, depth, begins)
        yield from inside


def _of_depth(style: str, depth: int) -> str:
    """Return the name of a list's style at a depth.

    >>> [_of_depth(BULLET, depth) for depth in (1, 2, 7)]
    ['List Bullet', 'List Bullet 2', 'List Bullet 3']
    """
    return style if depth == 1 else f"{style} {min(depth, _LIST_DEPTHS)}"


def _runs(nodes: Iterable[Node], look: Run = _AS_IT_IS) -> Iterator[Run]:
    """Yield the runs of inline nodes, each in the look of what surrounds it."""
    for node in nodes:
        match node["kind"]:
            case "text":
                yield look._replace(text=clean(node["text"]))
            case "mono":
                yield look._replace(text=clean(node["text"]), mono=True)
            case "break":
                yield look._replace(text="\n")
            case "strong":
                yield from _runs(node["body"], look._replace(bold=True))
            case "emph":
                yield from _runs(node["body"], look._replace(slanted=True))
            case "link":
                inner = list(_runs(node["body"], look))
                yield from inner
                if "".join(run.text for run in inner) != node["url"]:
                    yield look._replace(text=clean(f" ({node['url']})"))
            case _:
                yield from _runs(node["body"], look)
