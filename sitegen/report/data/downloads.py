"""The page of files to download: what each holds, its format, how to verify it."""

from __future__ import annotations

from collections.abc import Sequence

from sitegen.report.data.exports import has_contours
from sitegen.report.points.sheets import file_name, volume_words
from sitegen.report.record.exports import SHEET_ROWS, ExportTable
from sitegen.report.record.pages import Cell, Column, Page, Ref, Section, Table, Volume
from sitegen.report.write.context import Context
from sitegen.report.write.traced import traced
from sitegen.report.write.words import prose, say
from sitegen.units import NANOGRAM

PAGE = Ref("page", "downloads")
_COPY = "DOCX"
_FORMATS = (
    ("PDF", "PDF/A-3a (ISO 19005-3), PDF/UA-1 (ISO 14289-1)", "pdf", "pdf_checked"),
    ("CSV", "RFC 4180", "csv", "read_again"),
    ("JSON", "Data Package 2.0, Table Schema (datapackage.org)", "package", "package_checked"),
    ("XLSX", "Office Open XML SpreadsheetML (ECMA-376)", "xlsx", "read_again"),
    (_COPY, "Office Open XML WordprocessingML (ECMA-376)", "docx", "docx_checked"),
    ("GeoJSON", "RFC 7946", "geojson", "read_again"),
    ("GPKG", "OGC GeoPackage (SQLite)", "gpkg", "read_again"),
    ("HTML", "HTML, CSS and SVG", "html", "html_checked"),
)
"""Format, its standard, and the words for what it is and how it was checked."""


@traced
def downloads_page(context: Context, exports: Sequence[ExportTable], volumes: Sequence[Volume] = ()) -> Page:
    """Return the page of files to download."""
    kept = context.survey.settings.archive
    team = context.for_team
    verify = prose("downloads.verify", team=team, retention=kept.retention, review_on=kept.review_on)
    with_copy = context.survey.settings.publish.narrative_docx
    blocks = (
        downloads_table(
            exports,
            volumes,
            with_copy=with_copy,
            with_features=bool(context.survey.features),
            unit=context.mass_unit.text,
            ticks=team,
        ),
        Section("formats", say("downloads.formats_title"), (formats_table(with_copy=with_copy, ticks=team),)),
        Section("verify", say("downloads.verify_title"), (verify,)),
    )
    return Page(PAGE, "Downloads", say("downloads.lead"), blocks, group="Data")


def formats_table(*, with_copy: bool, ticks: bool = True) -> Table:
    """Return each format with its standard, and how far files of it were checked."""
    columns = (
        Column("format", "Format"),
        Column("standard", "Standard"),
        Column("what", "What it is", kind="wide"),
        Column("checked", "Checked", kind="wide"),
    )
    rows = tuple(
        (Cell(name), Cell(standard), Cell(say(f"downloads.{what}")), Cell(say(f"downloads.{checked}", ticks=ticks)))
        for name, standard, what, checked in _FORMATS
        if name != _COPY or with_copy
    )
    return Table("formats", say("downloads.formats_caption"), columns, rows, note=say("downloads.formats_note"))


def downloads_table(
    exports: Sequence[ExportTable],
    volumes: Sequence[Volume],
    *,
    with_copy: bool,
    with_features: bool,
    unit: str = NANOGRAM.text,
    ticks: bool = True,
) -> Table:
    """Return the files to download with what they hold; their writer fills in the sizes."""
    columns = (
        Column("file", "File"),
        Column("what", "What it holds", kind="wide"),
        Column("rows", "Rows", kind="number"),
        Column("size", "Size", "bytes", "number"),
    )
    sheets = [table.name for table in exports if len(table.rows) <= SHEET_ROWS]
    rows = [
        _printed_row("report.pdf", say("export.pdf_file")),
        *(_file_row(file_name(volume), volume_words(volume)) for volume in volumes),
        *([_file_row("narrative.docx", say("export.copy_file"))] if with_copy else ()),
        _file_row("tables.xlsx", say("export.workbook_file", sheets=sheets)),
        _file_row(
            "survey.gpkg",
            say("export.geopackage_file", unit=unit, contours=has_contours(exports), features=with_features),
        ),
        _file_row("datapackage.json", say("export.package_file")),
    ]
    for table in exports:
        words, count = f"{table.title}. {table.note}", f"{len(table.rows):,}"
        rows.append(_file_row(f"{table.name}.csv", words, count))
        if table.lon or table.shapes:
            rows.append(_file_row(f"{table.name}.geojson", say("export.geojson_file", title=table.title), count))
    for name in ("values", "files", *(["tick_sheet"] if ticks else ())):
        rows.append(_file_row(f"{name}.csv", say(f"review.{name}_file", volumes=bool(volumes))))
    return Table("downloads", say("review.downloads_caption"), columns, tuple(rows))


def _file_row(name: str, words: str, count: str = "–") -> tuple[Cell, ...]:
    return Cell(name, Ref("file", f"downloads/{name}")), Cell(words), Cell(count), Cell("–")


def _printed_row(name: str, words: str) -> tuple[Cell, ...]:
    """Return the row of a PDF, which is finished after the pages."""
    return (*_file_row(name, words)[:-1], Cell(say("export.no_size")))
