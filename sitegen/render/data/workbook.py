"""Write the export tables as one workbook (Office Open XML SpreadsheetML, ECMA-376 parts 1 and 2).

Ids stay text, numbers stay numbers, an empty cell is left out, and nothing is a formula. Texts
stand once each in the table of shared strings. The package carries no clock: the same tables
give the same bytes under the same zlib.

Ours, since a library was slower and wrote some numbers with fewer figures than they have
(``docs/measurements.md``).
"""

from __future__ import annotations

import re
import zipfile
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from io import BytesIO
from string import ascii_uppercase
from typing import Any
from xml.sax.saxutils import escape

from jinja2 import Environment, PackageLoader, StrictUndefined

from sitegen.kept import template_cache
from sitegen.report.record.exports import CELL_CHARS, SHEET_ROWS, ExportTable
from sitegen.report.record.pages import Meta

_PARTS = {
    "[Content_Types].xml": "content_types.xml",
    "_rels/.rels": "rels.xml",
    "docProps/core.xml": "core.xml",
    "xl/workbook.xml": "workbook.xml",
    "xl/_rels/workbook.xml.rels": "workbook_rels.xml",
    "xl/styles.xml": "styles.xml",
}
"""Parts of the package that hold no cells, each with its template."""

_TEXT, _HEADER, _WRAPPED = 1, 2, 3
"""Places in the list of cell formats in ``styles.xml``."""

_EPOCH = (1980, 1, 1, 0, 0, 0)
_LEVEL = 3
"""Of compression: 6 takes a quarter longer and saves a twentieth."""

_ROWS_AT_ONCE = 500
_NARROWEST, _WIDEST, _MEASURED_ROWS = 8, 60, 200
_NOT_FOR_XML = re.compile(r"[\x00-\x08\x0b-\x1f\ud800-\udfff\ufffe\uffff]")
_ESCAPED = re.compile(rf"_(?=x[0-9A-Fa-f]{{4}}_)|{_NOT_FOR_XML.pattern}")


@dataclass(frozen=True, slots=True)
class _Sheet:
    """A table with what its sheet says about its cells."""

    table: ExportTable

    @property
    def name(self) -> str:
        return self.table.name

    @property
    def area(self) -> str:
        return f"A1:{_letters(len(self.table.fields) - 1)}{len(self.table.rows) + 1}"

    @property
    def fixed_area(self) -> str:
        return f"$A$1:${_letters(len(self.table.fields) - 1)}${len(self.table.rows) + 1}"

    @property
    def widths(self) -> Iterator[int]:
        """Widths in characters, from the header and the first rows."""
        for at, field in enumerate(self.table.fields):
            cells = (len(str(row[at])) for row in self.table.rows[:_MEASURED_ROWS])
            yield min(max(_NARROWEST, len(field.name) + 4, *cells), _WIDEST)


def workbook_bytes(tables: Sequence[ExportTable], meta: Meta) -> bytes:
    """Return a workbook with a sheet for each table that fits on one, in their order.

    >>> from python_calamine import CalamineWorkbook
    >>> from sitegen.report.record.exports import ExportField
    >>> table = ExportTable("t", "", "", (ExportField("id", "string", "", ""),), (("007",),))
    >>> meta = Meta("P", "T", "", "", "", 1, "draft", "2026-01-30", "", "internal", "")
    >>> CalamineWorkbook.from_filelike(BytesIO(workbook_bytes([table], meta))).get_sheet_by_index(0).to_python()
    [['id'], ['007']]
    """
    sheets = [_Sheet(table) for table in tables if len(table.rows) <= SHEET_ROWS]
    strings: dict[str, int] = {}
    target = BytesIO()
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED, compresslevel=_LEVEL) as package:
        for name, template in _PARTS.items():
            _put(package, name, (_filled(template, sheets=sheets, meta=meta),))
        for number, sheet in enumerate(sheets, start=1):
            _put(package, f"xl/worksheets/sheet{number}.xml", _sheet(sheet, strings, first=number == 1))
        _put(package, "xl/sharedStrings.xml", _shared(strings))
    return target.getvalue()


def cell_text(text: str) -> str:
    """Return a text as a cell holds it: cut, with an ellipsis, where it is too long."""
    return text if len(text) <= CELL_CHARS else f"{text[: CELL_CHARS - 1]}…"


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
    made.filters["clean"] = lambda text: _NOT_FOR_XML.sub("", text)
    return made


def _filled(template: str, **facts: object) -> str:
    return _environment().get_template(template).render(facts)


def _letters(at: int) -> str:
    """Return the letters of a column counted from 0.

    >>> _letters(0), _letters(25), _letters(26)
    ('A', 'Z', 'AA')
    """
    ahead, own = divmod(at, len(ascii_uppercase))
    return (_letters(ahead - 1) if ahead else "") + ascii_uppercase[own]


def _sheet(sheet: _Sheet, strings: dict[str, int], *, first: bool) -> Iterator[str]:
    """Yield a sheet in pieces: frozen header, filter over all rows, no flags for digits kept as text."""
    fields = sheet.table.fields
    letters = [_letters(at) for at in range(len(fields))]
    header = tuple(field.name for field in fields)
    styles = [_WRAPPED if width == _WIDEST else _TEXT for width in sheet.widths]
    yield _filled("sheet_start.xml", sheet=sheet, first=first)
    yield _row(1, header, letters, [_HEADER] * len(fields), strings)
    for start in range(0, len(sheet.table.rows), _ROWS_AT_ONCE):
        some = sheet.table.rows[start : start + _ROWS_AT_ONCE]
        yield "".join(_row(number, row, letters, styles, strings) for number, row in enumerate(some, start + 2))
    yield _filled("sheet_end.xml", sheet=sheet)


def _row(
    number: int, row: Sequence[Any], letters: Sequence[str], styles: Sequence[int], strings: dict[str, int]
) -> str:
    """Return a row: texts by their place in the shared strings, truth and numbers as such, no empty cells."""
    cells = []
    for letter, value, style in zip(letters, row, styles, strict=True):
        if value is None or value == "":
            continue
        if isinstance(value, str):
            place = strings.setdefault(value, len(strings))
            cells.append(f'<c r="{letter}{number}" s="{style}" t="s"><v>{place}</v></c>')
        elif isinstance(value, bool):
            cells.append(f'<c r="{letter}{number}" t="b"><v>{value:d}</v></c>')
        else:
            cells.append(f'<c r="{letter}{number}"><v>{value!r}</v></c>')
    return f'<row r="{number}">{"".join(cells)}</row>'


def _shared(strings: Collection[str]) -> Iterator[str]:
    yield (
        '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n'
        f'<sst xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main" uniqueCount="{len(strings)}">'
    )
    for text in strings:
        yield f'<si><t xml:space="preserve">{_written(cell_text(text))}</t></si>'
    yield "</sst>"


def _written(text: str) -> str:
    """Return a text for a shared string; what XML can't hold is written by its code (part 1, 22.9.2.19)."""
    return escape(_ESCAPED.sub(lambda found: f"_x{ord(found[0]):04X}_", text))
