"""Every number that the report prints in a table, with its place and its origin."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace

from sitegen.project.schema import FEATURES_FILE, SETTINGS_FILE
from sitegen.project.tables import TABLE
from sitegen.report.records import Block, Cell, Figure, Page, PrintedValue, Ref, Section, Table
from sitegen.report.words import lexicon

ABOUT_ITSELF = ("sources", "downloads", "files", "working-set", "changes")
"""Pages whose numbers tell of the report's own files and of earlier revisions."""
OTHER_FILES = {"features": FEATURES_FILE, "project": SETTINGS_FILE}


def printed_values(pages: Iterable[Page]) -> Iterator[PrintedValue]:
    """Yield every number in a table of the pages, in order; pages about the report itself aside."""
    for page in pages:
        if page.ref.kind != "source" and page.ref.id not in ABOUT_ITSELF:
            for table in tables_in(page.blocks):
                yield from _numbers(page.ref, table)


def tables_in(blocks: Iterable[Block]) -> Iterator[Table]:
    """Yield the tables among blocks, those in sections and behind figures (as ``<figure>-data``) included."""
    for block in blocks:
        if isinstance(block, Table):
            yield block
        elif isinstance(block, Section):
            yield from tables_in(block.blocks)
        elif isinstance(block, Figure) and block.table is not None:
            yield replace(block.table, id=f"{block.id}-data")


def _numbers(page: Ref, table: Table) -> Iterator[PrintedValue]:
    wanted = [(at, column.key) for at, column in enumerate(table.columns) if column.kind == "number"]
    if not wanted:
        return
    for number, row in enumerate(table.rows, start=1):
        head = row[table.row_header].text if table.row_header >= 0 else ""
        for at, key in wanted:
            cell = row[at]
            if is_number(cell):
                yield PrintedValue(page, table.id, head, number, key, cell.text, cell.origin, table.source)


def is_number(cell: Cell) -> bool:
    """Say whether a cell of a column of numbers holds one; a rejected result has a row as well."""
    return cell.origin is not None or any(sign.isdigit() for sign in cell.text)


def with_sources(blocks: Sequence[Block], files: Mapping[str, str]) -> tuple[Block, ...]:
    """Return blocks whose tables of numbers name their files where they do not yet.

    ``files`` gives the printed name of each table of the format's file.
    """
    return tuple(_sourced(block, files) for block in blocks)


def _sourced(block: Block, files: Mapping[str, str]) -> Block:
    if isinstance(block, Section):
        return replace(block, blocks=with_sources(block.blocks, files))
    if isinstance(block, Figure) and block.table is not None:
        return replace(block, table=_with_source(block.table, files))
    return _with_source(block, files) if isinstance(block, Table) else block


def _with_source(table: Table, files: Mapping[str, str]) -> Table:
    names = () if table.source else tables_behind(table.id)
    lines = dict.fromkeys(files[name] for name in names if name in files)
    return replace(table, source="; ".join(lines)) if lines else table


def tables_behind(table_id: str) -> tuple[str, ...]:
    """Return the tables of the format that a table of the report is made from.

    >>> tables_behind("weather-days"), tables_behind("near-SG-01")
    (('weather',), ('locations', 'results'))
    """
    known: Mapping[str, Sequence[str]] = lexicon("sources")["tables"]
    if table_id in known:
        return tuple(known[table_id])
    starts = [name for name in known if name.endswith("*") and table_id.startswith(name[:-1])]
    return tuple(known[max(starts, key=len)]) if starts else ()


def own_files() -> dict[str, str]:
    """Return the path of each table's own file by its name."""
    return {name: spec.path for name, spec in TABLE.items()} | OTHER_FILES
