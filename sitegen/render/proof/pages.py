"""Read the tables of the site's pages again, and hold the results that are shown against the store."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache
from html import unescape
from pathlib import Path

from sitegen.render.site.html import clean
from sitegen.render.site.html_table import shown
from sitegen.render.site.paths import page_url
from sitegen.report.record.pages import Block, Cell, Column, Page, Report, Table
from sitegen.report.trace.printed import tables_in

_BODY = re.compile(r"<tbody[^>]*>\n(.*?)</tbody>", re.DOTALL)
_CELL = re.compile(
    r"""<t[dh][^>]*>(?:<a href=[^>]*>)?((?:[^<]|<wbr>)*)(?:</a>)?((?: <span class="mark">[^<]*</span>)*)</t[dh]>"""
)
_MARK = re.compile(r'<span class="mark">([^<]*)</span>')
_RESULT, _LIMIT = "result", "rl"
_ALL_RESULTS = ("heat", "matrix")
"""The column of results, and the tables whose every number is one."""

Origin = tuple[str, int, str]


def page_differences(site: Path, report: Report) -> Iterator[str]:
    """Yield what differs between the tables of the written pages and those of the report."""
    for page in report.pages:
        url = page_url(page.ref)
        yield from _page_differences(url, (site / url).read_text("utf-8"), page)


def _page_differences(url: str, html: str, page: Page) -> Iterator[str]:
    meant = [shown(table).table for table in tables_in(page.blocks) if table.rows]
    bodies = _BODY.findall(html)
    if len(bodies) != len(meant):
        yield f"{url}: {len(bodies)} tables instead of {len(meant)}"
        return
    for table, body in zip(meant, bodies, strict=True):
        cells = [cell for row in table.rows for cell in row]
        read = _CELL.findall(body)
        if len(read) != len(cells):
            yield f"{url}, table {table.id}: {len(read)} cells instead of {len(cells)}"
            continue
        wrong = _first_wrong(cells, read)
        if wrong is not None:
            row, column = divmod(wrong, len(table.columns))
            where = f"{url}, table {table.id}, row {row + 1}, {table.columns[column].key}"
            yield f"{where}: {' '.join(map(_text, read[wrong]))!r}"


def _first_wrong(cells: Sequence[Cell], read: Sequence[tuple[str, str]]) -> int | None:
    """Return the first cell whose text or marks are not those that were read; most tables are right as a whole."""
    texts = [_text(text) for text, _ in read]
    if texts != [cell.text for cell in cells]:
        for at, (cell, text) in enumerate(zip(cells, texts, strict=True)):
            if text != clean(cell.text):
                return at
    marked = ((at, cell, marks) for at, (cell, (_, marks)) in enumerate(zip(cells, read, strict=True)))
    return next((at for at, cell, marks in marked if (marks or cell.marks) and _marks(marks) != _words(cell)), None)


def _marks(html: str) -> list[str]:
    return [_text(word) for word in _MARK.findall(html)]


def _words(cell: Cell) -> list[str]:
    return [clean(word) for word in cell.mark_words]


@lru_cache(maxsize=1 << 14)
def _text(html: str) -> str:
    return unescape(html.replace("<wbr>", ""))


def store_differences(report: Report) -> Iterator[str]:
    """Yield the results shown by pages and print that are not those of the table of all results."""
    results = next((table for table in report.exports if table.name == "results"), None)
    if results is None:
        return
    at = [results.at(name) for name in ("source_file", "source_row", "source_column")]
    shown = results.at("shown")
    store: Mapping[Origin, str] = {(row[at[0]], row[at[1]], row[at[2]]): row[shown] for row in results.rows}
    for where, blocks in _all_blocks(report):
        for table in tables_in(blocks):
            wanted = [number for number, column in enumerate(table.columns) if _holds_results(table, column)]
            apart = any(column.key == _LIMIT for column in table.columns)
            for cell in (row[number] for row in table.rows for number in wanted):
                if cell.origin and not _is_shown(cell.text, store.get(cell.origin, cell.text), apart=apart):
                    yield f"{where}, table {table.id}: {cell.text!r} for {store[cell.origin]!r} of the store"


def _is_shown(text: str, stored: str, *, apart: bool) -> bool:
    """Tell whether a cell has the text of the store; ``apart``: a limit added to it has a column of its own."""
    return text == stored or (apart and stored.startswith(f"{text} (<"))


def _all_blocks(report: Report) -> Iterator[tuple[str, tuple[Block, ...]]]:
    yield from ((page_url(page.ref), page.blocks) for page in report.pages)
    yield from ((f"chapter {chapter.id}", chapter.blocks) for chapter in report.chapters)
    yield from ((volume.file, chapter.blocks) for volume in report.volumes for chapter in volume.chapters)


def _holds_results(table: Table, column: Column) -> bool:
    return column.key == _RESULT or table.id in _ALL_RESULTS
