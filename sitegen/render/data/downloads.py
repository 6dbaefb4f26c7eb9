"""All files to download beside the printed report, and the page that lists them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace

from sitegen.render.data.datapackage import package_bytes
from sitegen.render.data.exports import export_files
from sitegen.render.data.geopackage import geopackage_bytes
from sitegen.render.data.values import value_files
from sitegen.render.data.workbook import workbook_bytes
from sitegen.render.map.layers import map_layers
from sitegen.report.record.pages import Block, Cell, Page, Ref, Report, Section, Table

PRINTED = "downloads/report.pdf"
"""Where the printed report stands in the site."""

WORKBOOK = "downloads/tables.xlsx"
GEOPACKAGE = "downloads/survey.gpkg"
PACKAGE = "downloads/datapackage.json"
COPY = "downloads/narrative.docx"
"""The copy for comments, where the project asks for one."""

LIST, SIZE = "downloads", "size"
"""The table of files, and its column that waits for their sizes."""


def download_files(report: Report) -> dict[str, bytes]:
    """Return every data file by its site-relative path."""
    return export_files(report) | {
        WORKBOOK: workbook_bytes(report.exports, report.meta, report.workbook),
        GEOPACKAGE: geopackage_bytes(map_layers(report), report.meta),
        PACKAGE: package_bytes(report),
        **value_files(report),
        **_copy_file(report),
    }


def _copy_file(report: Report) -> dict[str, bytes]:
    if report.comment_copy is None:
        return {}
    from sitegen.render.comment.docx import docx_bytes

    return {COPY: docx_bytes(report.comment_copy, report.meta)}


def listed_files(report: Report) -> tuple[str, ...]:
    """Return the site-relative paths that the report's list of files names, print included, without making any."""
    found = (page.blocks for page in report.pages if page.ref == Ref("page", LIST))
    return tuple(ref.id for blocks in found for ref in _listed(blocks))


def _listed(blocks: Iterable[Block]) -> Iterator[Ref]:
    for block in blocks:
        if isinstance(block, Section):
            yield from _listed(block.blocks)
        elif isinstance(block, Table) and block.id == LIST:
            yield from (row[0].ref for row in block.rows if row[0].ref)


def attachments(files: Mapping[str, bytes]) -> dict[str, bytes]:
    """Return what the printed report carries, by name: all but the map data and the copy for comments.

    A GeoPackage is large and says what the tables say; what is missing from them, the site's
    features, print shows. A report that is signed carries no file that is there to be changed.
    """
    return {path.rpartition("/")[2]: content for path, content in files.items() if path not in (GEOPACKAGE, COPY)}


def with_sizes(report: Report, files: Mapping[str, bytes]) -> Report:
    """Return the report whose list of files says how large each is."""
    sizes = {Ref("file", path): f"{len(content):,}" for path, content in files.items()}
    pages = (_page_with_sizes(page, sizes) if page.ref == Ref("page", LIST) else page for page in report.pages)
    return replace(report, pages=tuple(pages))


def _page_with_sizes(page: Page, sizes: Mapping[Ref, str]) -> Page:
    return replace(page, blocks=tuple(_block_with_sizes(block, sizes) for block in page.blocks))


def _block_with_sizes(block: Block, sizes: Mapping[Ref, str]) -> Block:
    if isinstance(block, Section):
        return replace(block, blocks=tuple(_block_with_sizes(inner, sizes) for inner in block.blocks))
    if not isinstance(block, Table) or block.id != LIST:
        return block
    at = [column.key for column in block.columns].index(SIZE)
    rows = (
        (*row[:at], Cell(sizes.get(row[0].ref, row[at].text)) if row[0].ref else row[at], *row[at + 1 :])
        for row in block.rows
    )
    return replace(block, rows=tuple(rows))
