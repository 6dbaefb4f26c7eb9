"""All files to download beside the printed report, and the page that lists them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import TypeGuard

from sitegen.render.data.datapackage import package_bytes
from sitegen.render.data.exports import FOR_GIS, export_files
from sitegen.render.data.geopackage import geopackage_bytes
from sitegen.render.data.values import value_files
from sitegen.render.data.workbook import workbook_bytes
from sitegen.render.map.layers import map_layers
from sitegen.render.site.paths import page_url
from sitegen.render.sizes import size_text
from sitegen.report.record.pages import Block, Buttons, Cell, Page, Ref, Report, Section, Table
from sitegen.report.record.takeaway import BY_POINT
from sitegen.voice import thousands

PRINTED = "downloads/report.pdf"
"""Where the printed report stands in the site."""

FOR_OFFICE = "downloads/for_office"
WORKBOOK = f"{FOR_OFFICE}/tables.xlsx"
OFFICE_NOTE = f"{FOR_OFFICE}/README.txt"
GEOPACKAGE = f"{FOR_GIS}/survey.gpkg"
GIS_NOTE = f"{FOR_GIS}/README.txt"
PACKAGE = "downloads/datapackage.json"
COPY = "downloads/narrative.docx"
"""The copy for comments, where the project asks for one."""

LIST, SIZE = "downloads", "size"
"""The page of files, and the column of its tables that waits for their sizes."""


def download_files(report: Report) -> dict[str, bytes]:
    """Return every data file by its site-relative path."""
    return export_files(report) | {
        WORKBOOK: workbook_bytes(report.exports, report.meta, report.workbook),
        GEOPACKAGE: geopackage_bytes(map_layers(report), report.meta),
        PACKAGE: package_bytes(report),
        OFFICE_NOTE: report.away.office_note.encode(),
        GIS_NOTE: report.away.gis_note.encode(),
        **value_files(report),
        **_copy_file(report),
    }


def _copy_file(report: Report) -> dict[str, bytes]:
    if report.comment_copy is None:
        return {}
    from sitegen.render.comment.docx import docx_bytes

    return {COPY: docx_bytes(report.comment_copy, report.meta)}


def listed_files(report: Report) -> tuple[str, ...]:
    """Return the site-relative paths that the report's lists of files name, print included, without making any."""
    found = (page.blocks for page in report.pages if page.ref == Ref("page", LIST))
    return tuple(ref.id for blocks in found for ref in _listed(blocks))


def _listed(blocks: Iterable[Block]) -> Iterator[Ref]:
    for block in blocks:
        if isinstance(block, Section):
            yield from _listed(block.blocks)
        elif _lists_files(block):
            yield from (row[0].ref for row in block.rows if row[0].ref)


def _lists_files(block: Block) -> TypeGuard[Table]:
    return isinstance(block, Table) and any(column.key == SIZE for column in block.columns)


def attachments(files: Mapping[str, bytes]) -> dict[str, bytes]:
    """Return what the printed report carries, by name: all but the map data, the notes and the copy for comments.

    A GeoPackage is large and says what the tables say, results by point say it once more; what is missing
    from the tables, the site's features, print shows. The notes are about the folders. A report that is
    signed carries no file that is there to be changed.
    """
    left = (GEOPACKAGE, COPY, GIS_NOTE, OFFICE_NOTE, f"{FOR_GIS}/{BY_POINT}")
    return {path.rpartition("/")[2]: content for path, content in files.items() if not path.startswith(left)}


def with_sizes(report: Report, files: Mapping[str, bytes]) -> Report:
    """Return the report whose lists of files say how large each is."""
    sizes = {Ref("file", path): len(content) for path, content in files.items()}
    pages = (_page_with_sizes(page, sizes) if page.ref == Ref("page", LIST) else page for page in report.pages)
    return replace(report, pages=tuple(pages))


def tell_size(site: Path, path: str) -> None:
    """Write the size of a file below ``site`` on its button: that of print is known when its page is written."""
    page = site / page_url(Ref("page", LIST))
    bare = f'data-file="{path}">'
    told = f"{bare}, {size_text((site / path).stat().st_size)}"
    page.write_bytes(page.read_bytes().replace(f"{bare}</span>".encode(), f"{told}</span>".encode()))


def _page_with_sizes(page: Page, sizes: Mapping[Ref, int]) -> Page:
    return replace(page, blocks=tuple(_block_with_sizes(block, sizes) for block in page.blocks))


def _block_with_sizes(block: Block, sizes: Mapping[Ref, int]) -> Block:
    if isinstance(block, Section):
        return replace(block, blocks=tuple(_block_with_sizes(inner, sizes) for inner in block.blocks))
    if isinstance(block, Buttons):
        told = (one._replace(size=size_text(sizes[one.ref])) if one.ref in sizes else one for one in block.buttons)
        return replace(block, buttons=tuple(told))
    if not _lists_files(block):
        return block
    at = [column.key for column in block.columns].index(SIZE)
    rows = (
        (
            *row[:at],
            Cell(thousands(f"{sizes[ref]:,}")) if (ref := row[0].ref) and ref in sizes else row[at],
            *row[at + 1 :],
        )
        for row in block.rows
    )
    return replace(block, rows=tuple(rows))
