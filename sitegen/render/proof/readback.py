"""Read every kind of output again and compare its numbers with the report: a difference stops the build.

What is compared: every cell of every exported table in CSV, workbook, GeoJSON and GeoPackage,
with its place on the map; every cell of the workbook's sheets for people, and their results with
those of the store; every cell of every table of the site's pages, with its marks; every
paragraph and cell of the copy for comments, in their order; every
number of every table, fact list and row of tiles in print, in their order; what is attached to
the PDF, byte for byte; and the results that pages and print show against those of the store.
What is not: numbers in sentences, drawings and the web map, the lists of printed numbers, and in
print the texts in scripts whose signs are not drawn in the order in which they are written.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from itertools import islice
from pathlib import Path

from sitegen.findings.problems import OutputFault
from sitegen.render.data.downloads import COPY, GEOPACKAGE, GIS_NOTE, OFFICE_NOTE, WORKBOOK
from sitegen.render.data.exports import geojson_path, geojson_tables
from sitegen.render.print.pdf import PrintSources
from sitegen.render.proof.comments import copy_differences
from sitegen.render.proof.lone import lone_differences
from sitegen.render.proof.maps import geojson_differences, geopackage_differences
from sitegen.render.proof.pages import page_differences, store_differences
from sitegen.render.proof.print import print_differences
from sitegen.render.proof.sheets import sheet_store_differences
from sitegen.render.proof.tables import csv_differences, workbook_differences
from sitegen.report.record.lone import Atlas
from sitegen.report.record.pages import Report

MOST_TOLD = 5


def require_same_data(site: Path, report: Report) -> None:
    """Raise OutputFault where a table or a page below ``site`` does not say what the report says."""
    _require_none(data_differences(site, report))


def require_same_print(printed: Path, sources: PrintSources, attachments: Mapping[str, bytes]) -> None:
    """Raise OutputFault where the PDF does not say what it was set from, or does not carry what was attached."""
    _require_none(print_differences(printed, sources, attachments))


def require_same_maps(printed: Path, atlas: Atlas) -> None:
    """Raise OutputFault where the PDF of the maps to print alone has not a page for each of them, in their order."""
    _require_none(lone_differences(printed, atlas))


def _require_none(differences: Iterable[str]) -> None:
    told = list(islice(differences, MOST_TOLD))
    if told:
        raise OutputFault(f"what was written, read again, is not what the report holds: {'; '.join(told)}")


def data_differences(site: Path, report: Report) -> Iterator[str]:
    """Yield a line for each difference between the report and the data files and pages below ``site``."""
    downloads = site / "downloads"
    yield from store_differences(report)
    yield from sheet_store_differences(report)
    for table in report.exports:
        yield from csv_differences(downloads / f"{table.name}.csv", table)
    for table in geojson_tables(report):
        yield from geojson_differences(site / geojson_path(table), table)
    for note, text in ((OFFICE_NOTE, report.away.office_note), (GIS_NOTE, report.away.gis_note)):
        if (site / note).read_bytes() != text.encode():
            yield f"{note}: another text"
    yield from workbook_differences(site / WORKBOOK, report.exports, report.workbook.sheets)
    yield from geopackage_differences(site / GEOPACKAGE, report)
    if report.comment_copy:
        yield from copy_differences(site / COPY, report.comment_copy, report.meta)
    yield from page_differences(site, report)
