"""The page of files to download: what each holds, its format, how to verify it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from sitegen.report.data.exports import has_contours
from sitegen.report.points.sheets import file_name, volume_words
from sitegen.report.record.exports import SHEET_ROWS, ExportTable
from sitegen.report.record.lone import MAPS
from sitegen.report.record.pages import Cell, Page, Ref, Section, Table, Volume
from sitegen.report.record.specs import Spec, table
from sitegen.report.write.context import Context
from sitegen.report.write.traced import traced
from sitegen.report.write.words import prose, say
from sitegen.units import NANOGRAM

PAGE = Ref("page", "downloads")
_COPY = "DOCX"


class _Format(NamedTuple):
    """A format, its standard, and the words for what it is and how it was checked."""

    name: str
    standard: str
    what: str
    checked: str


_FORMATS = (
    _Format("PDF", "PDF/A-3a (ISO 19005-3), PDF/UA-1 (ISO 14289-1)", "pdf", "pdf_checked"),
    _Format("CSV", "RFC 4180", "csv", "read_again"),
    _Format("JSON", "Data Package 2.0, Table Schema (datapackage.org)", "package", "package_checked"),
    _Format("XLSX", "Office Open XML SpreadsheetML (ECMA-376)", "xlsx", "read_again"),
    _Format(_COPY, "Office Open XML WordprocessingML (ECMA-376)", "docx", "docx_checked"),
    _Format("GeoJSON", "RFC 7946", "geojson", "read_again"),
    _Format("GPKG", "OGC GeoPackage (SQLite)", "gpkg", "read_again"),
    _Format("HTML", "HTML, CSS and SVG", "html", "html_checked"),
)


@traced
def downloads_page(context: Context, exports: Sequence[ExportTable], volumes: Sequence[Volume] = ()) -> Page:
    """Return the page of files to download."""
    kept = context.survey.settings.archive
    team = context.for_team
    ticks = team and context.with_results
    verify = prose("downloads.verify", team=team, retention=kept.retention, review_on=kept.review_on)
    with_copy = context.survey.settings.publish.narrative_docx
    blocks = (
        downloads_table(
            exports,
            volumes,
            with_copy=with_copy,
            with_features=bool(context.survey.features),
            unit=context.mass_unit.text,
            ticks=ticks,
            results=context.with_results,
            with_maps=bool(context.with_results and context.points),
        ),
        Section("formats", say("downloads.formats_title"), (formats_table(with_copy=with_copy, ticks=ticks),)),
        Section("verify", say("downloads.verify_title"), (verify,)),
    )
    return Page(PAGE, "Downloads", say("downloads.lead", results=context.with_results), blocks, group="Data")


def formats_table(*, with_copy: bool, ticks: bool = True) -> Table:
    """Return each format with its standard, and how far files of it were checked."""
    columns: list[Spec[_Format]] = [
        Spec("format", "Format", cell=lambda one: one.name),
        Spec("standard", "Standard", cell=lambda one: one.standard),
        Spec("what", "What it is", kind="wide", cell=lambda one: say(f"downloads.{one.what}")),
        Spec("checked", "Checked", kind="wide", cell=lambda one: say(f"downloads.{one.checked}", ticks=ticks)),
    ]
    formats = [one for one in _FORMATS if one.name != _COPY or with_copy]
    return table("formats", say("downloads.formats_caption"), columns, formats, note=say("downloads.formats_note"))


class _File(NamedTuple):
    """A file to download: its name, what it holds, how many rows, and its size where not its writer fills that in."""

    name: str
    words: str
    rows: str = "–"
    size: str = "–"


_FILE_COLUMNS: list[Spec[_File]] = [
    Spec("file", "File", cell=lambda file: Cell(file.name, Ref("file", f"downloads/{file.name}"))),
    Spec("what", "What it holds", kind="wide", cell=lambda file: file.words),
    Spec("rows", "Rows", kind="number", cell=lambda file: file.rows),
    Spec("size", "Size", "bytes", "number", cell=lambda file: file.size),
]


def downloads_table(  # noqa: PLR0913 - what a report may have beside its tables
    exports: Sequence[ExportTable],
    volumes: Sequence[Volume],
    *,
    with_copy: bool,
    with_features: bool,
    unit: str = NANOGRAM.text,
    ticks: bool = True,
    results: bool = True,
    with_maps: bool = False,
) -> Table:
    """Return the files to download with what they hold; their writer fills in the sizes."""
    sheets = [one.name for one in exports if len(one.rows) <= SHEET_ROWS]
    files = [
        _File("report.pdf", say("export.pdf_file"), size=say("export.no_size")),
        *(_File(file_name(volume), volume_words(volume)) for volume in volumes),
        *([_File(MAPS.rpartition("/")[2], say("lone.file"), size=say("export.no_size"))] if with_maps else ()),
        *([_File("narrative.docx", say("export.copy_file"))] if with_copy else ()),
        _File("tables.xlsx", say("export.workbook_file", sheets=sheets, results=results)),
        _File(
            "survey.gpkg",
            say(
                "export.geopackage_file",
                unit=unit,
                contours=has_contours(exports),
                features=with_features,
                results=results,
            ),
        ),
        _File("datapackage.json", say("export.package_file")),
    ]
    for one in exports:
        words, count = f"{one.title}. {one.note}", f"{len(one.rows):,}"
        files.append(_File(f"{one.name}.csv", words, count))
        if one.lon or one.shapes:
            files.append(_File(f"{one.name}.geojson", say("export.geojson_file", title=one.title), count))
    for name in ("values", "files", *(["tick_sheet"] if ticks else ())):
        files.append(_File(f"{name}.csv", say(f"review.{name}_file", volumes=bool(volumes))))
    return table("downloads", say("review.downloads_caption"), _FILE_COLUMNS, files)
