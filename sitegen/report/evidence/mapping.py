"""The mapping preview: a laboratory's own rows beside what the mapping makes of them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import NamedTuple

from sitegen.project.delivery.tables import MappingPreview, mapping_preview
from sitegen.report.record.pages import Block, Cell, Facts, Page, Ref, Section, Table
from sitegen.report.record.specs import Spec, table
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
    mapped = [_mapped(at, preview, name) for name in preview.columns]
    blocks += [one for one in mapped if one.rows]
    return Section(f"mapping-{at}", preview.mapping, tuple(blocks))


class _Line(NamedTuple):
    """Cells that a row of the laboratory's file has, or that the mapping makes of it."""

    number: int
    cells: tuple[str, ...]


def _received(at: int, preview: MappingPreview) -> Table:
    heads = [(f"c{n}", name or "–") for n, name in enumerate(preview.header)]
    lines = [_Line(row.number, row.original) for row in preview.rows]
    return table(f"received-{at}", say("mapping.received_caption", file=preview.file), _columns(heads), lines)


def _mapped(at: int, preview: MappingPreview, name: str) -> Table:
    heads = [(column, column) for column in preview.columns[name]]
    lines = [_Line(row.number, cells) for row in preview.rows for to, cells in row.mapped if to == name]
    return table(f"mapped-{at}-{name}", say("mapping.mapped_caption", table=name), _columns(heads), lines)


def _columns(heads: Iterable[tuple[str, str]]) -> list[Spec[_Line]]:
    """Return the columns of a line's number and of its cells, by key and title; a short line has empty cells."""
    number: Spec[_Line] = Spec("row", "Row", cell=lambda line: str(line.number))
    return [number, *(_nth(n, *head) for n, head in enumerate(heads))]


def _nth(n: int, key: str, title: str) -> Spec[_Line]:
    return Spec(key, title, cell=lambda line: line.cells[n] if n < len(line.cells) else "")
