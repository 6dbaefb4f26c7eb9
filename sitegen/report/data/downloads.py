"""The page of files to download: which to begin with, what each holds, its format, how to verify it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from sitegen.report.data.exports import has_contours
from sitegen.report.points.sheets import file_name, volume_words
from sitegen.report.record.exports import SHEET_ROWS, ExportTable
from sitegen.report.record.lone import MAPS
from sitegen.report.record.pages import Button, Buttons, Cell, Page, Ref, Section, Table, Volume
from sitegen.report.record.sheets import WideSheet, sheet_names
from sitegen.report.record.specs import Spec, table
from sitegen.report.record.takeaway import NOTHING, TakeAway
from sitegen.report.write.context import Context
from sitegen.report.write.traced import traced
from sitegen.report.write.words import prose, say
from sitegen.units import NANOGRAM
from sitegen.voice import thousands, worded

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
    _Format("TXT", "Plain text in UTF-8", "txt", "txt_checked"),
    _Format("HTML", "HTML, CSS and SVG", "html", "html_checked"),
)


_REPORT, _WORKBOOK, _PACKAGE = "report.pdf", "for_office/tables.xlsx", "for_gis/survey.gpkg"
_OFFICE_NOTE, _GIS_NOTE = "for_office/README.txt", "for_gis/README.txt"


@traced
def downloads_page(
    context: Context,
    exports: Sequence[ExportTable],
    away: TakeAway = NOTHING,
    volumes: Sequence[Volume] = (),
    wide: Sequence[WideSheet] = (),
) -> Page:
    """Return the page of files to download: three to begin with, the two folders, then all others."""
    kept = context.survey.settings.archive
    team, results = context.for_team, context.with_results
    ticks = team and results
    verify = prose("downloads.verify", team=team, retention=kept.retention, review_on=kept.review_on)
    with_copy = context.survey.settings.publish.narrative_docx
    with_maps = results and bool(context.points)
    office = office_table(exports, volumes, wide, results=results, with_maps=with_maps)
    gis = gis_table(
        exports, away.tables, with_features=bool(context.survey.features), unit=context.mass_unit.text, results=results
    )
    others = downloads_table(exports, with_copy=with_copy, ticks=ticks, volumes=bool(volumes))
    blocks = (
        first_files(results=results),
        Section("office", say("takeaway.office_title"), (office,)),
        Section("gis", say("takeaway.gis_title"), (gis,)),
        Section("others", say("takeaway.others_title"), (others,)),
        Section("formats", say("downloads.formats_title"), (formats_table(with_copy=with_copy, ticks=ticks),)),
        Section("verify", say("downloads.verify_title"), (verify,)),
    )
    return Page(PAGE, worded("Downloads"), say("downloads.lead", results=results), blocks, group="Data")


def first_files(*, results: bool = True) -> Buttons:
    """Return the three files that most readers want; their writer fills in the sizes."""
    wanted = (("report", "PDF", _REPORT), ("table", "XLSX", _WORKBOOK), ("map", "GeoPackage", _PACKAGE))
    return Buttons(
        tuple(Button(say(f"takeaway.button_{key}", results=results), form, _ref(name)) for key, form, name in wanted)
    )


def formats_table(*, with_copy: bool, ticks: bool = True) -> Table:
    """Return each format with its standard, and how far files of it were checked."""
    columns: list[Spec[_Format]] = [
        Spec("format", "Format", cell=lambda one: one.name),
        Spec("standard", "Standard", cell=lambda one: worded(one.standard)),
        Spec("what", "Description", kind="wide", cell=lambda one: say(f"downloads.{one.what}")),
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


def _ref(name: str) -> Ref:
    return Ref("file", f"downloads/{name}")


_FILE_COLUMNS: list[Spec[_File]] = [
    Spec("file", "File", cell=lambda file: Cell(file.name, _ref(file.name))),
    Spec("what", "Content", kind="wide", cell=lambda file: file.words),
    Spec("rows", "Rows", kind="number", cell=lambda file: file.rows),
    Spec("size", "Size", "bytes", "number", cell=lambda file: file.size),
]


def office_table(
    exports: Sequence[ExportTable],
    volumes: Sequence[Volume] = (),
    wide: Sequence[WideSheet] = (),
    *,
    results: bool = True,
    with_maps: bool = False,
) -> Table:
    """Return what an office takes: the printed report with its volumes, the workbook and its note."""
    long = [one.name for one in exports if len(one.rows) <= SHEET_ROWS]
    first = sheet_names(wide, long)
    files = [
        _File(_REPORT, say("export.pdf_file"), size=say("export.no_size")),
        *(_File(file_name(volume), volume_words(volume)) for volume in volumes),
        *([_File(MAPS.rpartition("/")[2], say("lone.file"), size=say("lone.no_size"))] if with_maps else ()),
        _File(_WORKBOOK, say("export.workbook_file", first=first, sheets=[*first, *long], results=results)),
        _File(_OFFICE_NOTE, say("takeaway.note_file")),
    ]
    return table("downloads-office", say("takeaway.office_caption"), _FILE_COLUMNS, files)


def gis_table(
    exports: Sequence[ExportTable],
    away: Sequence[ExportTable] = (),
    *,
    with_features: bool,
    unit: str = NANOGRAM.text,
    results: bool = True,
) -> Table:
    """Return what a GIS takes: the GeoPackage, each GeoJSON file and its note."""
    told = {"unit": unit, "contours": has_contours(exports), "features": with_features, "results": results}
    placed = [one for one in (*away, *exports) if one.lon or one.shapes]
    files = [
        _File(_PACKAGE, say("export.geopackage_file", **told)),
        *(_File(f"for_gis/{one.name}.geojson", say("export.geojson_file", title=one.title), _rows_text(one))
          for one in placed),
        _File(_GIS_NOTE, say("takeaway.note_file")),
    ]  # fmt: skip
    return table("downloads-gis", say("takeaway.gis_caption"), _FILE_COLUMNS, files)


def _rows_text(one: ExportTable) -> str:
    return thousands(f"{len(one.rows):,}")


def downloads_table(
    exports: Sequence[ExportTable], *, with_copy: bool, ticks: bool = True, volumes: bool = False
) -> Table:
    """Return all other files: the tables as CSV, their description, the lists that lead to sources."""
    files = [
        *([_File("narrative.docx", say("export.copy_file"))] if with_copy else ()),
        *(_File(f"{one.name}.csv", f"{one.title}. {one.note}", _rows_text(one)) for one in exports),
        _File("datapackage.json", say("export.package_file")),
        *(_File(f"{name}.csv", say(f"review.{name}_file", volumes=volumes))
          for name in ("values", "files", *(["tick_sheet"] if ticks else ()))),
    ]  # fmt: skip
    return table("downloads", say("review.downloads_caption"), _FILE_COLUMNS, files)
