"""A report in the shape in which a person writes its values down: place, block, row, column, text.

A place is a page (``page:quality``), a chapter (``chapter:summary``) or an export (``export:results``).
Each place holds blocks by name:

==================  =================================================================================
``table NAME``      the cells of a table by row and :attr:`Column.key`, marks in square brackets
``facts NAME``      labels and values, NAME being the section that they stand in
``numbers NAME``    the words with a digit in them of the sentences of a section, of a figure or of the
                    words around a table (caption, heads, note), in the order in which they are read
==================  =================================================================================

The places ``marks``, ``map`` and ``cover`` hold each mark of the whole report with the words with a digit of its
reason, what the web map tells of points and values, and what stands on the cover.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import TypeAlias

from sitegen.report.record.exports import ExportTable
from sitegen.report.record.maps import MapData
from sitegen.report.record.pages import (
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
    """Return every page but those of rows as received, every chapter and export, the marks, the map, the cover."""
    own = [page for page in report.pages if page.ref.kind != "source"]
    pages = {f"{page.ref.kind}:{page.ref.id}": _place(page.blocks, page.lead) for page in own}
    chapters = {f"chapter:{chapter.id}": _place(chapter.blocks) for chapter in report.chapters}
    exports: dict[str, Place] = {f"export:{one.name}": {"table rows": _export(one)} for one in report.exports}
    meta = report.meta
    cover = {name: {"value": str(getattr(meta, name))} for name in type(meta).__dataclass_fields__}
    rest: dict[str, Place] = {
        "marks": {"table marks": _marks(report)},
        "map": {"table points": _map_points(report.map), "table values": _map_values(report.map)},
        "cover": {"facts cover": Grid(["value"], list(cover.items()))},
    }
    return pages | chapters | exports | rest


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


def _map_points(data: MapData) -> Grid:
    names = ["location_id", "label", "lon", "lat", "easting", "northing", "medium", "surface", "state", "detected"]
    rows = [{name: _value(getattr(point, name)) for name in names} for point in data.points]
    marks = [" ".join(mark.word for mark in point.marks) for point in data.points]
    with_marks = [row | {"marks": words} for row, words in zip(rows, marks, strict=True)]
    return Grid([*names, "marks"], [(row["location_id"], row) for row in with_marks])


def _map_values(data: MapData) -> Grid:
    """Return text, size class and marks of each value, a column to each layer."""
    columns = ["point", *(layer.id for layer in data.layers)]
    rows = [(point.location_id, {"point": point.location_id}) for point in data.points]
    for layer in data.layers:
        for (_, row), value in zip(rows, layer.values, strict=True):
            words = (value.text, f"/ {value.size_class}", *(f"[{mark.word}]" for mark in value.marks))
            row[layer.id] = " ".join(words)
    return Grid(columns, rows)


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
