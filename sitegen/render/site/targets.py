"""What can be linked to: every page, anchor and file of one site, known beforehand."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from urllib.parse import unquote

from sitegen.findings.problems import OutputFault
from sitegen.render.site.paths import MAP_PAGE, SCANS, anchor, page_url, relative
from sitegen.report.record.lone import MAPS
from sitegen.report.record.pages import Block, Cell, Facts, Figure, Page, Ref, Section, Table
from sitegen.voice import worded

Owner = tuple[str, int]
"""The id of the block that carries an anchor, and the row in it (-1: the block itself)."""


@dataclass(frozen=True, slots=True)
class Targets:
    """The pages (URL to title), the anchors on each page with their owners, and the files."""

    titles: Mapping[str, str]
    anchors: Mapping[str, Mapping[str, Owner]]
    files: frozenset[str]

    def href(self, ref: Ref | None, here: str) -> str:
        """Return the relative link from page ``here``, or nothing if the target is not there."""
        if ref is None:
            return ""
        url = page_url(ref)
        return relative(here, url) if self.has(url) else ""

    def finding_href(self, key: str, here: str) -> str:
        """Return the relative link to a finding, or nothing if there is none to link to."""
        return self.href(Ref("finding", key), here) if key else ""

    def has(self, url: str) -> bool:
        """Say whether a URL below the output folder leads somewhere."""
        page, _, fragment = url.partition("#")
        if page not in self.titles:
            return (not fragment or page.startswith((SCANS, MAPS))) and unquote(page) in self.files
        return not fragment or page == MAP_PAGE or fragment in self.anchors[page]


def gather_targets(pages: Iterable[Page], files: Iterable[str]) -> Targets:
    """Look through all pages for what can be linked to.

    A row whose heading cell points at an anchor of its own page carries that anchor.
    Raises ``OutputFault`` where two pages would share a file name, letter case aside.
    """
    titles: dict[str, str] = {}
    anchors: dict[str, dict[str, Owner]] = {}
    taken = {name.casefold(): f"the file {name!r}" for name in files}
    for page in pages:
        url = page_url(page.ref)
        if url.casefold() in taken:
            raise OutputFault(f"{page.ref} would overwrite {taken[url.casefold()]}: both are {url!r}")
        taken[url.casefold()] = f"{page.ref}"
        titles[url] = page.title
        anchors[url] = _anchors(page.blocks, url)
    return Targets(titles, anchors, frozenset(files))


def _anchors(blocks: Iterable[Block], here: str) -> dict[str, Owner]:
    found: dict[str, Owner] = {}
    rows: list[tuple[str, Owner]] = []
    for block in _walk(blocks):
        if isinstance(block, Section | Table | Figure):
            found.setdefault(block_id(block), (block.id, -1))
        rows.extend(_row_anchors(block, here))
    for name, owner in rows:
        found.setdefault(name, owner)
    return found


def _walk(blocks: Iterable[Block]) -> Iterator[Block]:
    for block in blocks:
        yield block
        if isinstance(block, Section):
            yield from _walk(block.blocks)
        elif isinstance(block, Figure) and block.table is not None:
            yield data_table(block, block.table)


def block_id(block: Section | Table | Figure) -> str:
    """Return the HTML id of a block: a section's own anchor, a prefixed one for the others."""
    prefix = "" if isinstance(block, Section) else f"{type(block).__name__.lower()}-"
    return prefix + anchor(block.id)


def data_table(figure: Figure, table: Table) -> Table:
    """Return a figure's data table under an id and caption of its own, as it may stand elsewhere too."""
    return replace(table, id=f"{figure.id}-data", caption=worded("Data: {caption}", caption=table.caption))


def _row_anchors(block: Block, here: str) -> Iterator[tuple[str, Owner]]:
    for row, cell in enumerate(_heading_cells(block)):
        name = own_anchor(cell, here)
        if name:
            yield name, (block.id if isinstance(block, Table) else "", row)


def _heading_cells(block: Block) -> Iterable[Cell]:
    if isinstance(block, Table) and block.row_header >= 0:
        return (row[block.row_header] for row in block.rows)
    if isinstance(block, Facts):
        return (cell for _, cell in block.rows)
    return ()


def own_anchor(cell: Cell, here: str) -> str:
    """Return the anchor that a cell names on its own page, or nothing."""
    if cell.ref is None:
        return ""
    page, _, fragment = page_url(cell.ref).partition("#")
    return fragment if page == here else ""
