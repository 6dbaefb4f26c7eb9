"""Rows of a sheet as SpreadsheetML (ECMA-376 part 1, 18.3): texts shared, numbers in the fewest digits they need."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from string import ascii_uppercase
from typing import Any, NamedTuple
from xml.sax.saxutils import escape

from sitegen.report.record.exports import CELL_CHARS
from sitegen.report.record.sheets import SheetCell, SheetColumn, Shown

NOT_FOR_XML = re.compile(r"[\x00-\x08\x0b-\x1f\ud800-\udfff\ufffe\uffff]")
_ESCAPED = re.compile(rf"_(?=x[0-9A-Fa-f]{{4}}_)|{NOT_FOR_XML.pattern}")


class Style(NamedTuple):
    """How a cell looks: its number format; whether it is a head, wraps, stands at the right, is pale or indented."""

    format: str = ""
    head: bool = False
    wrap: bool = False
    right: bool = False
    pale: bool = False
    indent: bool = False


PLAIN, TEXT, HEADER, WRAPPED = Style(), Style("@"), Style("@", head=True), Style("@", wrap=True)
TRUTH = Style('"TRUE";"TRUE";"FALSE"')
"""Of truth: LibreOffice, which keeps it as a number with a format, shows a 1 in some cells that have no format."""

_LINE_PT, _HIGHEST_PT = 12.75, 409.0
"""How high a line is, and the highest row that programs open, in points."""

_KINDS = {
    "text": TEXT,
    "wide": Style("@", wrap=True, indent=True),
    "number": Style("@", wrap=True, right=True, pale=True),
}
"""How a text looks in each kind of column of a sheet for people: among numbers it stands at the right, pale."""


@dataclass(frozen=True)
class Pool:
    """What the sheets of a workbook share: each text and each style once, by the place that cells name it by."""

    strings: dict[str, int] = field(default_factory=dict)
    styles: dict[Style, int] = field(default_factory=lambda: {PLAIN: 0, TEXT: 1, HEADER: 2, WRAPPED: 3, TRUTH: 4})

    def style(self, style: Style) -> int:
        """Return the place of a style."""
        return self.styles.setdefault(style, len(self.styles))

    def string(self, text: str) -> int:
        """Return the place of a text."""
        return self.strings.setdefault(text, len(self.strings))

    @property
    def formats(self) -> dict[str, int]:
        """The number formats that are none of the built-in ones, from the first number that is free for them (164)."""
        own = dict.fromkeys(style.format for style in self.styles if style.format not in _BUILT_IN)
        return _BUILT_IN | {code: number for number, code in enumerate(own, start=164)}


_BUILT_IN = {"": 0, "@": 49}


def cell_text(text: str) -> str:
    """Return a text as a cell holds it: cut, with an ellipsis, where it is too long."""
    return text if len(text) <= CELL_CHARS else f"{text[: CELL_CHARS - 1]}…"


def letters_of(at: int) -> str:
    """Return the letters of a column counted from 0.

    >>> letters_of(0), letters_of(25), letters_of(26)
    ('A', 'Z', 'AA')
    """
    ahead, own = divmod(at, len(ascii_uppercase))
    return (letters_of(ahead - 1) if ahead else "") + ascii_uppercase[own]


def format_code(number: Shown) -> str:
    """Return the format that shows a number with its decimals.

    >>> format_code(Shown(1200.0, 2, scientific=True)), format_code(Shown(1270.0, 0, grouped=True))
    ('0.00E+00', '#,##0')
    """
    decimals = f".{'0' * number.decimals}" if number.decimals else ""
    return f"{'#,##0' if number.grouped else '0'}{decimals}{'E+00' if number.scientific else ''}"


def head_row(heads: Sequence[str], styles: Sequence[int], pool: Pool, lines: int = 0) -> str:
    """Return the row of heads; with its height where the heads are known to take so many lines."""
    high = _height(lines) if lines else ""
    cells = (
        f'<c r="{letters_of(at)}1" s="{style}" t="s"><v>{pool.string(head)}</v></c>'
        for at, (head, style) in enumerate(zip(heads, styles, strict=True))
    )
    return f'<row r="1"{high}>{"".join(cells)}</row>'


def _height(lines: int) -> str:
    return f' ht="{min(lines * _LINE_PT, _HIGHEST_PT):g}" customHeight="1"'


def table_row(number: int, row: Sequence[Any], letters: Sequence[str], styles: Sequence[int], pool: Pool) -> str:
    """Return a row of a long table: texts by their place, truth and numbers as such, no empty cells."""
    strings, truth = pool.strings, pool.style(TRUTH)
    cells = []
    for letter, value, style in zip(letters, row, styles, strict=True):
        if value is None or value == "":
            continue
        if isinstance(value, str):
            place = strings.setdefault(value, len(strings))
            cells.append(f'<c r="{letter}{number}" s="{style}" t="s"><v>{place}</v></c>')
        elif isinstance(value, bool):
            cells.append(f'<c r="{letter}{number}" s="{truth}" t="b"><v>{value:d}</v></c>')
        else:
            cells.append(f'<c r="{letter}{number}"><v>{value!r}</v></c>')
    return f'<row r="{number}">{"".join(cells)}</row>'


def wide_row(
    number: int, row: Sequence[SheetCell], columns: Sequence[SheetColumn], letters: Sequence[str], pool: Pool
) -> str:
    """Return a row of a sheet for people: a number is a number in its own format, all else is text.

    Its height is given where a text needs several lines, for not every program works it out by itself.
    """
    cells = []
    lines = 1
    for letter, value, column in zip(letters, row, columns, strict=True):
        if value is None or value == "":
            continue
        if isinstance(value, Shown):
            style = pool.style(Style(format_code(value)))
            cells.append(f'<c r="{letter}{number}" s="{style}"><v>{float(value.value)!r}</v></c>')
        else:
            lines = max(lines, 1 if column.kind == "text" else lines_of(value, column.width))
            style, place = pool.style(_KINDS[column.kind]), pool.string(value)
            cells.append(f'<c r="{letter}{number}" s="{style}" t="s"><v>{place}</v></c>')
    high = _height(lines) if lines > 1 else ""
    return f'<row r="{number}"{high}>{"".join(cells)}</row>'


def lines_of(text: str, width: int) -> int:
    """Return how many lines a text takes in a column of that many characters, its edges and its indent aside.

    >>> lines_of("custody; cap", 20), lines_of("exposure; seal; unsigned", 20), lines_of("", 20)
    (1, 2, 1)
    """
    room = max(width - 3, 1)
    short = len(text) <= room and "\n" not in text
    return 1 if short else sum(max(len(textwrap.wrap(line, room)), 1) for line in cell_text(text).split("\n"))


def shared_strings(pool: Pool) -> Iterator[str]:
    """Yield the part that holds the texts."""
    yield (
        '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n'
        f'<sst xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main" uniqueCount="{len(pool.strings)}">'
    )
    for text in pool.strings:
        yield f'<si><t xml:space="preserve">{_written(cell_text(text))}</t></si>'
    yield "</sst>"


def _written(text: str) -> str:
    """Return a text for a shared string; what XML can't hold is written by its code (part 1, 22.9.2.19)."""
    return escape(_ESCAPED.sub(lambda found: f"_x{ord(found[0]):04X}_", text))
