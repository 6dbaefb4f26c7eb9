"""Workbooks to type a survey's tables into (Office Open XML SpreadsheetML, ECMA-376 parts 1 and 4).

Ids and texts have the text format, times a date's, words come from lists, and each header tells
its meaning in a note. Nothing is a formula. The same format gives the same bytes.
"""

from __future__ import annotations

import zipfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from io import BytesIO

from jinja2 import Environment, PackageLoader, StrictUndefined

from sitegen.project.examples import entry_columns, example_row
from sitegen.project.guide import column_note
from sitegen.project.intake.text import APART
from sitegen.project.read.xlsxparts import column_letters
from sitegen.project.schema import BOOK_FILE, Column, Kind, TableSpec
from sitegen.project.tables import TABLES

_NUMBER, _TEXT, _TIME, _DATE = 0, 1, 2, 3
"""Places in the list of cell formats in ``styles.xml``; those of the example's row lie four further on."""
_STYLES = {Kind.NUMBER: _NUMBER, Kind.INTEGER: _NUMBER, Kind.TIME: _TIME, Kind.DATE: _DATE}
_SERIAL_ZERO = datetime.fromisoformat("1899-12-30")
_SHARED = {
    "[Content_Types].xml": "content_types.xml",
    "_rels/.rels": "rels.xml",
    "xl/workbook.xml": "workbook.xml",
    "xl/_rels/workbook.xml.rels": "workbook_rels.xml",
    "xl/styles.xml": "styles.xml",
}
_OF_EACH = {
    "xl/worksheets/sheet{}.xml": "sheet.xml",
    "xl/worksheets/_rels/sheet{}.xml.rels": "sheet_rels.xml",
    "xl/comments{}.xml": "comments.xml",
    "xl/drawings/vmlDrawing{}.vml": "drawing.vml",
}
_NOTE_CHARS = 30
"""Characters in a line of a note, about."""


@dataclass(frozen=True, slots=True)
class _Cell:
    """A column of a sheet, and its cell of the invented row."""

    column: Column
    at: int
    example: str

    @property
    def name(self) -> str:
        return self.column.name

    @property
    def letters(self) -> str:
        return column_letters(self.at)

    @property
    def style(self) -> int:
        return _STYLES.get(self.column.kind, _TEXT)

    @property
    def width(self) -> int:
        return max(len(self.name) + 4, 18 if self.style == _TIME else 12)

    @property
    def choices(self) -> tuple[str, ...]:
        return self.column.choices or (("yes", "no") if self.column.kind is Kind.FLAG else ())

    @property
    def number(self) -> str | None:
        """The example as a spreadsheet stores it: days since the end of 1899, or the number."""
        if self.style in (_TIME, _DATE):
            days = (datetime.fromisoformat(self.example) - _SERIAL_ZERO).total_seconds() / 86_400
            return repr(days)
        return self.example if self.style == _NUMBER else None

    @property
    def note(self) -> str:
        return column_note(self.column)

    @property
    def note_rows(self) -> int:
        return 3 + len(self.note) // _NOTE_CHARS


@dataclass(frozen=True, slots=True)
class _Sheet:
    """A table's sheet."""

    spec: TableSpec
    cells: tuple[_Cell, ...]

    @property
    def name(self) -> str:
        return self.spec.name

    @property
    def lists(self) -> tuple[_Cell, ...]:
        return tuple(cell for cell in self.cells if cell.choices)


def entry_books() -> Mapping[str, bytes]:
    """Return the workbooks of an empty project by path: that of all tables, and those of tables that stand apart.

    >>> list(entry_books())
    ['survey.xlsx', 'review/signoff.xlsx']
    """
    together = [spec for spec in TABLES if spec.name not in APART]
    apart = [spec for spec in TABLES if spec.name in APART]
    return {BOOK_FILE: _workbook(together)} | {spec.book_path: _workbook([spec]) for spec in apart}


def _workbook(specs: Sequence[TableSpec]) -> bytes:
    sheets = [_sheet(spec) for spec in specs]
    target = BytesIO()
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as package:
        for name, template in _SHARED.items():
            _put(package, name, _filled(template, sheets=sheets))
        for number, sheet in enumerate(sheets, start=1):
            facts = {"sheet": sheet, "number": number, "first": number == 1}
            for name, template in _OF_EACH.items():
                _put(package, name.format(number), _filled(template, **facts))
    return target.getvalue()


def _put(package: zipfile.ZipFile, name: str, text: str) -> None:
    """Add a part to a package, without a clock and as if on one system."""
    info = zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0))
    info.compress_type, info.create_system = zipfile.ZIP_DEFLATED, 3
    package.writestr(info, text.encode())


def _sheet(spec: TableSpec) -> _Sheet:
    row = example_row(spec)
    cells = (_Cell(column, at, row[column.name]) for at, column in enumerate(entry_columns(spec), start=1))
    return _Sheet(spec, tuple(cells))


@cache
def _environment() -> Environment:
    return Environment(
        loader=PackageLoader("sitegen", "templates/entry"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
    )


def _filled(template: str, **facts: object) -> str:
    return _environment().get_template(template).render(facts)
