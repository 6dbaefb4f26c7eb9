"""Write sheets for people and export tables as one workbook (Office Open XML SpreadsheetML, ECMA-376 parts 1 and 2).

Ids stay text, numbers stay numbers, an empty cell is left out, and nothing is a formula. Texts
stand once each in the table of shared strings. The package carries no clock: the same tables
give the same bytes under the same zlib.

Ours, since no library was as fast or as exact when they were measured again: one took five times the
time and four times the memory and wrote numbers with 16 figures, another ten times the time, and put
the clock into its files (``docs/measurements.md``).
"""

from __future__ import annotations

import zipfile
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from io import BytesIO

from jinja2 import Environment, PackageLoader, StrictUndefined

from sitegen.kept import template_cache
from sitegen.render.data.sheetcells import (
    HEADER,
    NOT_FOR_XML,
    TEXT,
    WRAPPED,
    Pool,
    Style,
    head_row,
    letters_of,
    lines_of,
    shared_strings,
    table_row,
    wide_row,
)
from sitegen.render.data.sheetprint import MARGIN_IN, PrintLayout, Running, print_layout, running
from sitegen.report.record.exports import SHEET_ROWS, ExportTable
from sitegen.report.record.pages import Meta
from sitegen.report.record.sheets import WideSheet, Workbook, sheet_names

_PARTS = {
    "[Content_Types].xml": "content_types.xml",
    "_rels/.rels": "rels.xml",
    "docProps/core.xml": "core.xml",
    "xl/workbook.xml": "workbook.xml",
    "xl/_rels/workbook.xml.rels": "workbook_rels.xml",
}
"""Parts of the package that hold no cells and no styles, each with its template."""

_EPOCH = (1980, 1, 1, 0, 0, 0)
_LEVEL = 3
"""Of compression: 6 takes a quarter longer and saves a twentieth."""

_ROWS_AT_ONCE = 500
_NARROWEST, _WIDEST, _MEASURED_ROWS = 8, 60, 200


@dataclass(frozen=True, slots=True)
class _Sheet:
    """A sheet but for its cells; ``body`` is the record that has them, ``fixed`` counts the columns always in sight."""

    name: str
    body: ExportTable | WideSheet
    widths: tuple[int, ...]
    fixed: int
    head_lines: int
    layout: PrintLayout
    running: Running

    @property
    def area(self) -> str:
        return f"A1:{self._last}{len(self.body.rows) + 1}"

    @property
    def quoted(self) -> str:
        """The name as defined names refer to the sheet by it."""
        doubled = self.name.replace("'", "''")
        return f"'{doubled}'"

    @property
    def fixed_area(self) -> str:
        return f"{self.quoted}!$A$1:${self._last}${len(self.body.rows) + 1}"

    @property
    def print_titles(self) -> str:
        """Rows and columns that stand on each page of print."""
        columns = f"{self.quoted}!$A:${letters_of(self.fixed - 1)}," if self.fixed else ""
        return f"{columns}{self.quoted}!$1:$1"

    @property
    def corner(self) -> str:
        """The first cell that moves when the sheet is scrolled."""
        return f"{letters_of(self.fixed)}2"

    @property
    def _last(self) -> str:
        return letters_of(len(self.widths) - 1)


def workbook_bytes(tables: Sequence[ExportTable], meta: Meta, book: Workbook = Workbook()) -> bytes:  # noqa: B008 - frozen
    """Return a workbook with the sheets for people and a sheet for each table that fits on one, in their order.

    >>> from python_calamine import CalamineWorkbook
    >>> from sitegen.report.record.exports import ExportField
    >>> table = ExportTable("t", "", "", (ExportField("id", "string", "", ""),), (("007",),))
    >>> meta = Meta("P", "T", "", "", "", 1, "draft", "2026-01-30", "", "internal", "")
    >>> CalamineWorkbook.from_filelike(BytesIO(workbook_bytes([table], meta))).get_sheet_by_index(0).to_python()
    [['id'], ['007']]
    """
    sheets = _sheets([table for table in tables if len(table.rows) <= SHEET_ROWS], meta, book)
    pool = Pool()
    target = BytesIO()
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED, compresslevel=_LEVEL) as package:
        for name, template in _PARTS.items():
            _put(package, name, (_filled(template, sheets=sheets, meta=meta),))
        for number, sheet in enumerate(sheets, start=1):
            _put(package, f"xl/worksheets/sheet{number}.xml", _sheet(sheet, pool, first=number == 1))
        _put(package, "xl/styles.xml", (_filled("styles.xml", styles=pool.styles, formats=pool.formats),))
        _put(package, "xl/sharedStrings.xml", shared_strings(pool))
    return target.getvalue()


def _sheets(tables: Sequence[ExportTable], meta: Meta, book: Workbook) -> list[_Sheet]:
    names = sheet_names(book.sheets, [table.name for table in tables])
    wide = [_of_people(sheet, name, meta, book) for sheet, name in zip(book.sheets, names, strict=True)]
    return wide + [_of_table(table, meta, book) for table in tables]


def _of_people(sheet: WideSheet, name: str, meta: Meta, book: Workbook) -> _Sheet:
    widths = tuple(column.width for column in sheet.columns)
    layout = print_layout(widths, [column.block for column in sheet.columns], sheet.fixed, meta.paper)
    lines = max(lines_of(column.head, column.width) for column in sheet.columns)
    return _Sheet(name, sheet, widths, sheet.fixed, lines, layout, running(book, meta, sheet.title))


def _of_table(table: ExportTable, meta: Meta, book: Workbook) -> _Sheet:
    widths = tuple(_table_widths(table))
    layout = print_layout(widths, range(len(widths)), 0, meta.paper)
    return _Sheet(table.name, table, widths, 0, 0, layout, running(book, meta, table.title))


def _table_widths(table: ExportTable) -> Iterator[int]:
    """Yield widths in characters, from the header and the first rows."""
    for at, field in enumerate(table.fields):
        cells = (len(str(row[at])) for row in table.rows[:_MEASURED_ROWS])
        yield min(max(_NARROWEST, len(field.name) + 4, *cells), _WIDEST)


def _put(package: zipfile.ZipFile, name: str, pieces: Iterable[str]) -> None:
    info = zipfile.ZipInfo(name, _EPOCH)
    info.compress_type, info.create_system = zipfile.ZIP_DEFLATED, 3
    with package.open(info, "w") as part:
        for piece in pieces:
            part.write(piece.encode())


@cache
def _environment() -> Environment:
    loader = PackageLoader("sitegen", "templates/workbook")
    made = Environment(
        loader=loader,
        bytecode_cache=template_cache("workbook"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
    )
    made.filters["clean"] = lambda text: NOT_FOR_XML.sub("", text)
    made.globals["margin_in"] = MARGIN_IN
    return made


def _filled(template: str, **facts: object) -> str:
    return _environment().get_template(template).render(facts)


def _sheet(sheet: _Sheet, pool: Pool, *, first: bool) -> Iterator[str]:
    """Yield a sheet in pieces: frozen head, filter over all rows, no flags for digits kept as text."""
    yield _filled("sheet_start.xml", sheet=sheet, first=first)
    yield from (
        _wide_rows(sheet.body, sheet, pool) if isinstance(sheet.body, WideSheet) else _rows(sheet.body, sheet, pool)
    )
    yield _filled("sheet_end.xml", sheet=sheet)


def _rows(table: ExportTable, sheet: _Sheet, pool: Pool) -> Iterator[str]:
    letters = [letters_of(at) for at in range(len(table.fields))]
    styles = [pool.style(WRAPPED if width == _WIDEST else TEXT) for width in sheet.widths]
    yield head_row([field.name for field in table.fields], [pool.style(HEADER)] * len(styles), pool)
    for start in range(0, len(table.rows), _ROWS_AT_ONCE):
        some = table.rows[start : start + _ROWS_AT_ONCE]
        yield "".join(table_row(number, row, letters, styles, pool) for number, row in enumerate(some, start + 2))


def _wide_rows(wide: WideSheet, sheet: _Sheet, pool: Pool) -> Iterator[str]:
    letters = [letters_of(at) for at in range(len(wide.columns))]
    heads = [
        Style("@", head=True, wrap=True, right=column.kind == "number", indent=column.kind == "wide")
        for column in wide.columns
    ]
    yield head_row([column.head for column in wide.columns], [pool.style(one) for one in heads], pool, sheet.head_lines)
    for number, row in enumerate(wide.rows, start=2):
        yield wide_row(number, row, wide.columns, letters, pool)
