"""A report in the shape in which a person writes its values down: place, block, row, column, text.

A place is a page (``page:quality``), a chapter (``chapter:summary``) or an export (``export:results``).
Each place holds blocks by name:

==================  =================================================================================
``table NAME``      the cells of a table by row and :attr:`Column.key`, marks in square brackets
``facts NAME``      labels and values, NAME being the section that they stand in
``numbers NAME``    the words with a digit in them of the sentences of a section, of a figure or of the
                    words around a table (caption, heads, note), in the order in which they are read
==================  =================================================================================

The place ``marks`` holds each mark of the whole report with the words with a digit of its reason.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import TypeAlias

from sitegen.report.exported import ExportTable
from sitegen.report.records import (
    Block,
    Callout,
    Cell,
    Facts,
    Figure,
    Prose,
    Quote,
    Report,
    Section,
    Table,
    Tiles,
)


@dataclass
class Grid:
    """Cells: the names of the columns, and each row with its heading."""

    columns: list[str]
    rows: list[tuple[str, dict[str, str]]] = field(default_factory=list)


LONGEST = 12
"""The most characters of a number that stands as it is."""
Numbers: TypeAlias = tuple[str, ...]
Place: TypeAlias = dict[str, Grid | Numbers]

_NOT_READ = re.compile(
    r"\]\((?:ref:\d+|[^)\s]+)\)|three from 1,000|Toluene-d8|\b[0-9a-f]{64}\b|digest [0-9a-f]{8}\b"
    r"|(?:PROJ|sitegen) \d+\.\S*|time-zone data \S+|has [\d,]+ rules|makes: [\d,]+"
)
"""Where a link leads, the rule for rounding that is said on each page, a name with a digit, digests, the versions of
programs, and how many checks the program has."""
_WORD = re.compile(r"[^\s;,()\[\]“”|/–→<]*\d[^\s;()\[\]“”|–→]*")


def numbers(*texts: str) -> Numbers:
    r"""Return the words of texts that have a digit, in order.

    >>> numbers("Of 5 points (SG-1\\, SG-2), 10\\.1 days; [10,800 ng](ref:0) of <120.")
    ('5', 'SG-1', 'SG-2', '10.1', '10,800', '120')
    """
    plain = " ".join(texts).replace("\\", "").replace("*", "").replace("`", "")
    return tuple(word.strip(".,:;'\"") for word in _WORD.findall(_NOT_READ.sub(" ", plain)))


def cell_text(cell: Cell) -> str:
    """Return a cell as it is read: its text, and the word of each mark in square brackets."""
    return " ".join((cell.text.replace("\n", " "), *(f"[{word}]" for word in cell.mark_words))).strip()


def places(report: Report) -> dict[str, Place]:
    """Return every page but those of rows as received, every chapter, every export, and the marks."""
    own = [page for page in report.pages if page.ref.kind != "source"]
    pages = {f"{page.ref.kind}:{page.ref.id}": _place(page.blocks, page.lead) for page in own}
    chapters = {f"chapter:{chapter.id}": _place(chapter.blocks) for chapter in report.chapters}
    exports: dict[str, Place] = {f"export:{one.name}": {"table rows": _export(one)} for one in report.exports}
    return pages | chapters | exports | {"marks": {"table marks": _marks(report)}}


def _place(blocks: Iterable[Block], lead: str = "") -> Place:
    place: Place = {}
    _tell(place, "lead", lead)
    for name, item in _items(blocks, "page"):
        if isinstance(item, Table):
            _put(place, f"table {item.id}", _grid(item))
            heads = (f"{column.title} {column.unit}" for column in item.columns)
            _tell(place, f"table {item.id}", item.caption, *heads, item.note, "" if item.rows else item.empty)
        elif isinstance(item, Facts):
            facts = [(label, {"value": cell_text(cell)}) for label, cell in item.rows]
            _put(place, f"facts {name}", Grid(["value"], facts))
        else:
            _tell(place, name, *item)
    return place


def _put(place: Place, name: str, grid: Grid) -> None:
    assert name not in place, f"two blocks called {name}"
    place[name] = grid


def _tell(place: Place, name: str, *texts: str) -> None:
    """Add the number words of texts to those of their name."""
    words = numbers(*texts)
    before = place.get(f"numbers {name}", ())
    assert isinstance(before, tuple)
    if words:
        place[f"numbers {name}"] = before + words


def _items(blocks: Iterable[Block], name: str) -> Iterator[tuple[str, Table | Facts | tuple[str, ...]]]:
    """Yield tables, facts and texts, each with the section or the figure that it stands in."""
    for block in blocks:
        match block:
            case Section():
                yield from _items(block.blocks, block.id)
            case Table() | Facts():
                yield name, block
            case Figure():
                yield f"figure {block.id}", (block.caption, block.alt, block.description)
                yield from ((name, table) for table in (block.table,) if table)
            case Tiles():
                yield "tiles", tuple(f"{tile.value} {tile.label} {tile.note}" for tile in block.tiles)
            case _:
                yield name, _texts(block)


def _texts(block: Block) -> tuple[str, ...]:
    match block:
        case Prose():
            return (block.markdown,)
        case Callout():
            return (block.title, block.markdown, *(cell.text for cell in block.refs))
        case Quote():
            return (block.text, block.source)
        case _:
            return ()


def _grid(table: Table) -> Grid:
    keys = [column.key for column in table.columns]
    assert len(set(keys)) == len(keys), f"columns of {table.id} share a key"
    at = max(table.row_header, 0)
    rows = [(cell_text(row[at]), dict(zip(keys, map(cell_text, row), strict=True))) for row in table.rows]
    return Grid(keys, rows)


def _marks(report: Report) -> Grid:
    """Return the marks of the pages' tables, in the order in which they are first met."""
    items = (item for page in report.pages for _, item in _items(page.blocks, ""))
    cells = (cell for item in items if isinstance(item, Table) for row in item.rows for cell in row)
    marks = dict.fromkeys((mark.word, " ".join(numbers(mark.reason))) for cell in cells for mark in cell.marks)
    return Grid(["word", "reason"], [(word, {"word": word, "reason": reason}) for word, reason in marks])


def _export(table: ExportTable) -> Grid:
    names = [one.name for one in table.fields]
    rows = [dict(zip(names, map(_value, row), strict=True)) for row in table.rows]
    return Grid(names, [(row[names[0]], row) for row in rows])


def _value(value: object) -> str:
    """Write a value of an export: nothing for an empty cell, yes and no, a number without needless zeros.

    What was computed and has no end is written to six figures.
    """
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    text = repr(value).removesuffix(".0") if isinstance(value, float) else str(value)
    return f"{value:.6g}" if isinstance(value, float) and len(text) > LONGEST else text
