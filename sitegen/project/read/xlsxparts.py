"""The parts of an XLSX file, opened with care, and what a sheet's XML says of its cells.

An XLSX file is a zip of XML parts (ECMA-376). It comes from outside, so sizes are bounded
before anything is unpacked, document types (and with them entities) are refused, and no
part is read beyond the size that the zip declares for it.
"""

from __future__ import annotations

import io
import posixpath
import re
import struct
import zipfile
import zlib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from typing import NamedTuple, TypeAlias
from xml.parsers import expat

from sitegen.findings.problems import SitegenError
from sitegen.project import limits

MAX_UNPACKED_BYTES = limits.UNPACKED.value
MAX_PARTS = limits.PARTS.value
MAX_CELLS = limits.SHEET_CELLS.value
MAX_TAGS = 30_000_000
"""A part of more XML tags is refused: project default, no published source."""
MAX_FRAME_BYTES = 16 * 1024 * 1024
"""A larger list of sheets, relations or styles is refused: project default, no published source."""
MAX_UNFILLED = MAX_MERGED = 100_000
"""A sheet of more cells without a value, or merged ranges, is refused: project default, no published source."""
MAX_ROW, MAX_COLUMN = limits.SHEET_ROWS.value, limits.SHEET_COLUMNS.value

_WORKBOOK = "xl/workbook.xml"
_RELATIONS = "xl/_rels/workbook.xml.rels"
_STYLES = "xl/styles.xml"
_SHEETS = "xl/worksheets/"
_SHARED_PARTS = ("[Content_Types].xml", "_rels/.rels", _WORKBOOK, _RELATIONS, _STYLES, "xl/sharedStrings.xml")
_BUILT_IN_FORMATS = {
    1: "0", 2: "0.00", 3: "#,##0", 4: "#,##0.00", 9: "0%", 10: "0.00%", 11: "0.00E+00", 49: "@",
    18: "h:mm AM/PM", 19: "h:mm:ss AM/PM", 20: "h:mm", 21: "h:mm:ss", 22: "m/d/yy h:mm",
}  # fmt: skip
GENERAL = "General"

_BROKEN = (
    zipfile.BadZipFile,
    zlib.error,
    struct.error,
    EOFError,
    OSError,
    RuntimeError,  # a part under a password; NotImplementedError is one of its kind
    ValueError,
)

_INSIDE = frozenset(("v", "is", "t"))
_LETTERS = re.compile("[A-Z]{1,3}")

Attributes: TypeAlias = dict[str, str]
Handler: TypeAlias = Callable[[str, Attributes], None]


class Unsafe(SitegenError):
    """A file that is not read, with the reason in words that follow "found"."""


@dataclass(frozen=True, slots=True)
class SheetPart:
    """A sheet of a workbook: its name, the part that holds it, and whether it is hidden."""

    name: str
    part: str
    hidden: bool


@dataclass(frozen=True, slots=True)
class Package:
    """The parts of an XLSX file as bytes, its sheets, and its number formats by style."""

    parts: Mapping[str, bytes]
    sheets: tuple[SheetPart, ...]
    formats: tuple[str, ...]

    def alone(self, sheet: SheetPart) -> bytes:
        """Return an XLSX file that holds this sheet and the shared parts alone, uncompressed."""
        buffer = io.BytesIO()
        with zipfile.ZipFile(buffer, "w", zipfile.ZIP_STORED) as made:
            for name in (*_SHARED_PARTS, sheet.part):
                if name in self.parts:
                    made.writestr(zipfile.ZipInfo(name), self.parts[name])
        return buffer.getvalue()


class Merged(NamedTuple):
    """A merged range of a sheet: its first and last row and column, counted from 1."""

    top: int
    left: int
    bottom: int
    right: int


@dataclass(slots=True)
class SheetState:
    """What a sheet's XML says beside the values; rows and columns count from 1.

    ``hidden_columns`` are (first, last), and no more than the first thousand of them.
    ``formats`` holds the number format of numbers shown in another than the general one,
    ``unfilled`` the formulas without a stored value and the cells that hold an error such as
    ``#N/A``; both by (row, column). ``merged`` are the ranges of cells that show one value;
    ``area`` is how many cells the sheet spans, blank ones too.
    """

    hidden_rows: list[int] = field(default_factory=list)
    hidden_columns: list[tuple[int, int]] = field(default_factory=list)
    unfilled: set[tuple[int, int]] = field(default_factory=set)
    formats: dict[tuple[int, int], str] = field(default_factory=dict)
    merged: list[Merged] = field(default_factory=list)
    area: int = 0


def open_package(content: bytes) -> Package:
    """Unpack an XLSX file. Raises Unsafe where it is broken, too large, or no XLSX file."""
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as package:
            parts = dict(_unpack(package))
    except _BROKEN as error:
        raise Unsafe(f"a file that cannot be unpacked ({type(error).__name__})") from error
    if _WORKBOOK not in parts:
        raise Unsafe("a file that is not an XLSX workbook")
    return Package(parts, tuple(_sheets(parts)), tuple(_formats(parts.get(_STYLES, b""))))


def _unpack(package: zipfile.ZipFile) -> Iterator[tuple[str, bytes]]:
    entries = package.infolist()
    names = [entry.filename for entry in entries]
    if len(entries) > MAX_PARTS:
        raise Unsafe(f"{len(entries)} parts, more than {MAX_PARTS}")
    if len(set(names)) < len(names):
        raise Unsafe("two parts of one name")
    size = sum(entry.file_size for entry in entries)
    if size > MAX_UNPACKED_BYTES:
        raise Unsafe(f"{size} bytes when unpacked, more than {MAX_UNPACKED_BYTES}")
    for entry in entries:
        if entry.filename in _SHARED_PARTS or entry.filename.startswith(_SHEETS):
            if entry.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
                raise Unsafe("a part packed by a method that XLSX does not allow")
            yield entry.filename, _content(package, entry)


def _content(package: zipfile.ZipFile, entry: zipfile.ZipInfo) -> bytes:
    # Asking for the declared size bounds what is unpacked; ZipFile.read does not.
    with package.open(entry) as part:
        content = part.read(entry.file_size)
    if content.count(b"<") > MAX_TAGS:
        raise Unsafe(f"a part of more than {MAX_TAGS} XML tags")
    if entry.filename in (_WORKBOOK, _RELATIONS, _STYLES) and len(content) > MAX_FRAME_BYTES:
        raise Unsafe(f"a list of sheets, relations or styles of {len(content)} bytes")
    return content


def _parse(part: bytes, start: Handler, end: Callable[[str], None] | None = None) -> None:
    """Run handlers over a part's elements; names come without their prefix."""
    parser = _parser()
    parser.StartElementHandler = lambda name, attributes: start(_bare(name), attributes)
    if end is not None:
        parser.EndElementHandler = lambda name: end(_bare(name))
    _read_through(parser, part)


def _bare(name: str) -> str:
    return name.rpartition(":")[2]


def _parser() -> expat.XMLParserType:
    """Return a parser that refuses document types, and encodings that XLSX does not have."""
    parser = expat.ParserCreate()

    def refuse(*_: object) -> None:
        raise Unsafe("XML with a document type")

    def declared(_version: str, encoding: str | None, _standalone: int) -> None:
        if encoding and encoding.lower() not in ("utf-8", "utf-16"):
            raise Unsafe(f"XML in the encoding {encoding[:20]!r}")

    parser.StartDoctypeDeclHandler = refuse
    parser.XmlDeclHandler = declared
    return parser


def _read_through(parser: expat.XMLParserType, part: bytes) -> None:
    try:
        parser.Parse(part, True)
    except expat.ExpatError as error:
        raise Unsafe(f"XML that cannot be read ({error})") from error


def _sheets(parts: Mapping[str, bytes]) -> Iterator[SheetPart]:
    targets: dict[str, str] = {}
    found: list[tuple[str, str, bool]] = []

    def relation(name: str, attributes: Attributes) -> None:
        if name == "Relationship":
            targets[attributes.get("Id", "")] = attributes.get("Target", "")

    def sheet(name: str, attributes: Attributes) -> None:
        if name == "sheet":
            link = next((value for key, value in attributes.items() if key.rpartition(":")[2] == "id"), "")
            hidden = attributes.get("state", "visible") != "visible"
            found.append((attributes.get("name", ""), link, hidden))

    _parse(parts.get(_RELATIONS, b"<none/>"), relation)
    _parse(parts[_WORKBOOK], sheet)
    for name, link, hidden in found:
        part = posixpath.normpath(posixpath.join("/xl", targets.get(link, ""))).lstrip("/")
        if part in parts and part.startswith(_SHEETS):
            yield SheetPart(name, part, hidden)


def _formats(styles: bytes) -> Iterator[str]:
    """Yield the number format of each cell style, in order."""
    own: dict[str, str] = {}
    used: list[str] = []
    inside = [False]

    def start(name: str, attributes: Attributes) -> None:
        if name == "numFmt":
            own[attributes.get("numFmtId", "")] = attributes.get("formatCode", GENERAL)
        elif name == "cellXfs":
            inside[0] = True
        elif name == "xf" and inside[0]:
            used.append(attributes.get("numFmtId", "0"))

    def end(name: str) -> None:
        if name == "cellXfs":
            inside[0] = False

    if styles:
        _parse(styles, start, end)
    for number in used:
        built_in = _BUILT_IN_FORMATS.get(int(number), GENERAL) if number.isdecimal() else GENERAL
        yield own.get(number, built_in)


def scan_sheet(part: bytes, formats: tuple[str, ...]) -> SheetState:
    """Read what a sheet's XML says beside the values.

    Raises Unsafe where the sheet spans too many cells or can't be read; so a sheet that
    passes can be laid out as a full grid.
    """
    scan = _Scan(formats)
    _read_through(scan.parser, part)
    scan.state.area = scan.area
    return scan.state


class _Scan:
    """Walks over a sheet's rows and cells, as expat meets them.

    It is called for every element of a sheet, so it asks for cells first, and listens to
    text and ends only inside a formula's cell.
    """

    def __init__(self, formats: tuple[str, ...]) -> None:
        self.state = SheetState()
        self.parser = _parser()
        self.parser.StartElementHandler = self._start
        self._formats = formats
        self._row = self._column = self._rows = self._count = self._last_row = self._last_column = 0
        self._filled = False

    @property
    def area(self) -> int:
        return self._last_row * self._last_column

    def _start(self, name: str, attributes: Attributes) -> None:
        if name == "c":
            self._cell(attributes)
            return
        if name in _INSIDE and self.parser.EndElementHandler is None:
            return
        bare = _bare(name)
        if bare == "f":
            self._filled = False
            self.parser.EndElementHandler = self._end
        elif bare == "v" and self.parser.EndElementHandler is not None:
            self.parser.CharacterDataHandler = self._text
        elif bare == "row":
            self._begin_row(attributes)
        elif bare == "col" and _truth(attributes.get("hidden")) and len(self.state.hidden_columns) < 1000:
            first, last = _whole(attributes.get("min"), 1), _whole(attributes.get("max"), 1)
            self.state.hidden_columns.append((first, last))
        elif bare == "mergeCell":
            self._merge(attributes.get("ref", ""))
        elif bare == "c":
            self._cell(attributes)

    def _end(self, name: str) -> None:
        bare = _bare(name)
        if bare == "v":
            self.parser.CharacterDataHandler = None
        elif bare == "c":
            self.parser.EndElementHandler = None
            if not self._filled:
                self._unfilled()

    def _text(self, _: str) -> None:
        self._filled = True

    def _begin_row(self, attributes: Attributes) -> None:
        self._row = _whole(attributes.get("r"), self._row + 1)
        self._column = 0
        self._rows += 1
        if self._rows > MAX_ROW:
            raise Unsafe(f"a sheet of more than {MAX_ROW} rows")
        if _truth(attributes.get("hidden")):
            self.state.hidden_rows.append(self._row)

    def _cell(self, attributes: Attributes) -> None:
        address = attributes.get("r")
        if address is None:
            self._column += 1
        else:
            self._row, self._column = _place(address)
        self._count += 1
        if self._row > self._last_row or self._column > self._last_column or self._count > MAX_CELLS:
            self._grow()
        kind = attributes.get("t", "n")
        if kind == "e":
            self._unfilled()
        elif kind == "n" and (style := _whole(attributes.get("s"), 0)):
            shown = self._formats[style] if style < len(self._formats) else GENERAL
            if shown != GENERAL:
                self.state.formats[self._row, self._column] = shown

    def _merge(self, range_: str) -> None:
        first, colon, last = range_.partition(":")
        (top, left), (bottom, right) = _place(first), _place(last if colon else first)
        if top > bottom or left > right:
            raise Unsafe(f"the merged range {range_[:40]!r}")
        self.state.merged.append(Merged(top, left, bottom, right))
        if len(self.state.merged) > MAX_MERGED:
            raise Unsafe(f"a sheet of more than {MAX_MERGED} merged ranges")

    def _grow(self) -> None:
        self._last_row = max(self._last_row, self._row)
        self._last_column = max(self._last_column, self._column)
        if self._count > MAX_CELLS or self.area > MAX_CELLS:
            raise Unsafe(f"a sheet of more than {MAX_CELLS} cells")

    def _unfilled(self) -> None:
        self.state.unfilled.add((self._row, self._column))
        if len(self.state.unfilled) > MAX_UNFILLED:
            raise Unsafe(f"a sheet of more than {MAX_UNFILLED} formulas without a value")


def _truth(text: str | None) -> bool:
    return text in ("1", "true")


def _whole(text: str | None, otherwise: int) -> int:
    if text is None:
        return otherwise
    if not (text.isascii() and text.isdigit() and len(text) < 8):
        raise Unsafe("a row, column or style number that cannot be read")
    return int(text)


def column_number(letters: str) -> int:
    """Return the number of a spreadsheet column, from 1.

    >>> column_number("A"), column_number("AB")
    (1, 28)
    """
    number = 0
    for letter in letters:
        number = number * 26 + ord(letter) - ord("A") + 1
    return number


def column_letters(number: int) -> str:
    """Return the letters of a spreadsheet column.

    >>> column_letters(28)
    'AB'
    """
    letters = ""
    while number:
        number, rest = divmod(number - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters


def _place(address: str) -> tuple[int, int]:
    letters = address.rstrip("0123456789")
    digits = address[len(letters) :]
    column = _column(letters)
    if not (column and 0 < len(digits) < 8 and 0 < int(digits) <= MAX_ROW):
        raise Unsafe(f"the cell address {address[:20]!r}")
    return int(digits), column


@lru_cache(maxsize=MAX_COLUMN)
def _column(letters: str) -> int:
    number = column_number(letters) if _LETTERS.fullmatch(letters) else 0
    return number if number <= MAX_COLUMN else 0
