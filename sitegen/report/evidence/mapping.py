"""The mapping preview: a laboratory's own rows beside what the mapping makes of them."""

from __future__ import annotations

from collections.abc import Iterator

from sitegen.project.delivery.tables import MappingPreview, PreviewRow, mapping_preview
from sitegen.report.record.pages import Block, Cell, Column, Facts, Page, Ref, Section, Table
from sitegen.report.write.context import Context
from sitegen.report.write.words import say

PAGE = Ref("page", "mapping")


def mapping_pages(context: Context) -> Iterator[Page]:
    """Yield the preview of every mapping file; nothing where the folder has none."""
    previews = mapping_preview(context.survey)
    if previews:
        blocks = tuple(_section(at, preview) for at, preview in enumerate(previews, start=1))
        yield Page(PAGE, "Laboratory mapping", say("mapping.lead", count=len(previews)), blocks, group="Data")


def _section(at: int, preview: MappingPreview) -> Section:
    facts = Facts(
        (
            ("Mapping file", Cell(preview.mapping)),
            ("Laboratory's file", Cell(preview.file)),
            ("SHA-256", Cell(preview.sha256)),
            ("Sheet", Cell(preview.sheet or "–")),
            ("Layout", Cell(preview.layout)),
        )
    )
    blocks: list[Block] = [facts, _received(at, preview)]
    made = [_mapped(at, preview, table) for table in preview.columns]
    blocks += [table for table in made if table.rows]
    return Section(f"mapping-{at}", preview.mapping, tuple(blocks))


def _received(at: int, preview: MappingPreview) -> Table:
    columns = (Column("row", "Row"), *(Column(f"c{n}", name or "–") for n, name in enumerate(preview.header)))
    width = len(preview.header)
    texts = ((row.number, (*row.original, *[""] * width)[:width]) for row in preview.rows)
    rows = tuple((Cell(str(number)), *map(Cell, cells)) for number, cells in texts)
    return Table(f"received-{at}", say("mapping.received_caption", file=preview.file), columns, rows)


def _mapped(at: int, preview: MappingPreview, table: str) -> Table:
    names = preview.columns[table]
    columns = (Column("row", "Row"), *(Column(name, name) for name in names))
    rows = tuple(cells for row in preview.rows for cells in _cells(row, table))
    return Table(f"mapped-{at}-{table}", say("mapping.mapped_caption", table=table), columns, rows)


def _cells(row: PreviewRow, table: str) -> Iterator[tuple[Cell, ...]]:
    for name, values in row.mapped:
        if name == table:
            yield (Cell(str(row.number)), *(Cell(value) for value in values))
