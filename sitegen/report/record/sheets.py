"""Sheets of the workbook that are laid out for people: points down, compounds across, ready to print.

What a sheet says is decided above; whoever writes it chooses how a page of print is cut.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import chain, count
from typing import NamedTuple, TypeAlias

from sitegen.report.record.exports import SHEET_ROWS

SHEET_COLUMNS = 16_384
"""The most columns of a sheet that spreadsheet programs open: 2^14."""

NAME_CHARS = 31
"""The most characters of a sheet's name; programs count code units of UTF-16."""

_NOT_IN_NAMES = re.compile(r"[\x00-\x1f\x7f\[\]:*?/\\\ud800-\udfff\ufffe\uffff]+")
_CODE = re.compile(r"_(x[0-9A-Fa-f]{4})(?=_)")
_RESERVED = "history"


class Shown(NamedTuple):
    """A number, and how a sheet shows it: with how many decimals, as a power of ten, with commas."""

    value: float
    decimals: int
    scientific: bool = False
    grouped: bool = False

    @property
    def text(self) -> str:
        """The number as it is shown where a point is the decimal sign.

        >>> Shown(1200.0, 2, scientific=True).text, Shown(1270.0, 1, grouped=True).text
        ('1.20E+03', '1,270.0')
        """
        kind = f"{',' if self.grouped else ''}.{self.decimals}{'E' if self.scientific else 'f'}"
        return format(self.value, kind)


SheetCell: TypeAlias = str | Shown | None
"""A text, a number, or nothing. A non-detect is a text."""


class SheetColumn(NamedTuple):
    """A column of such a sheet: its head, its width in characters and what is in it.

    ``kind`` is ``text``, ``number``, or ``wide`` for texts that wrap. Columns of one ``block`` stay on
    one page of print. ``analyte_id`` names the compound whose results stand in it, else it is empty.
    """

    head: str
    width: int
    kind: str = "text"
    block: int = 0
    analyte_id: str = ""


@dataclass(frozen=True, slots=True)
class WideSheet:
    """A sheet for people, named after ``kind`` and ``round``, or ``round_id`` where that is too long.

    ``title`` heads its print.

    The first ``fixed`` columns stay in sight, and on each page of print. ``sampler`` is the place of the
    column of serials, -1 where there is none. ``twin`` says that remarks stand in rows of their own,
    ``computed`` that its figures are no laboratory's; ``stored``, that they are those of the export ``results``.
    """

    kind: str
    title: str
    columns: tuple[SheetColumn, ...]
    rows: tuple[tuple[SheetCell, ...], ...]
    round: str = ""
    fixed: int = 1
    sampler: int = -1
    twin: bool = False
    computed: bool = False
    stored: bool = False
    round_id: str = ""

    @property
    def fits(self) -> bool:
        """Whether spreadsheet programs open a sheet of that size."""
        return len(self.columns) <= SHEET_COLUMNS and len(self.rows) <= SHEET_ROWS


@dataclass(frozen=True, slots=True)
class Workbook:
    """Sheets for people, which stand before those of the long tables, and what runs along every page of print.

    In ``page``, ``{page}`` and ``{pages}`` stand for the number of a page and of all.
    """

    sheets: tuple[WideSheet, ...] = ()
    head_left: str = ""
    head_right: str = ""
    foot_left: str = ""
    page: str = "{page} / {pages}"


def sheet_names(sheets: Iterable[WideSheet], taken: Iterable[str]) -> tuple[str, ...]:
    """Return a name for each sheet that programs accept and that no other has, whatever its case.

    ``taken`` are the names of the long tables, which they keep.

    All sheets of a round begin alike.

    >>> made = [WideSheet("soil gas", "", (), (), round="Round 2: [east/west]"), WideSheet("soil gas", "", (), ())]
    >>> sheet_names(made, ("Soil gas",))
    ('Round 2 east west soil gas', 'soil gas 2')
    """
    sheets = tuple(sheets)
    long = {sheet.round for sheet in sheets if _units(_safe(f"{sheet.round} {sheet.kind}")) > NAME_CHARS}
    used = {name.casefold() for name in taken}
    found = []
    for sheet in sheets:
        kinds = chain((sheet.kind,), (f"{sheet.kind} {number}" for number in count(2)))
        begin = sheet.round_id or sheet.round if sheet.round in long else sheet.round
        name = next(name for kind in kinds if (name := _name(begin, kind)).casefold() not in used)
        used.add(name.casefold())
        found.append(name)
    return tuple(found)


def _name(round_: str, kind: str) -> str:
    """Return a name of at most 31 code units, of which ``kind`` is the end that is never cut for the round's sake."""
    end = _cut(_safe(kind), NAME_CHARS)
    whole = _safe(round_)
    begin = _cut(whole, NAME_CHARS - _units(end) - 1)
    if whole[len(begin) :].strip() and not whole[len(begin) :].startswith(" "):
        begin = begin.rpartition(" ")[0] or begin  # no half word, unless it is the only one
    name = f"{begin} {end}".strip().strip("'").strip() or "sheet"
    return f"{name} 1" if name.casefold() == _RESERVED else name


def _safe(text: str) -> str:
    """Return a text without what names can't have, and without codes of characters, which programs would read."""
    plain = _CODE.sub(r"\1", _NOT_IN_NAMES.sub(" ", text))
    return " ".join(plain.split()).strip("'")


def _units(text: str) -> int:
    return len(text.encode("utf-16-le", "surrogatepass")) // 2


def _cut(text: str, most: int) -> str:
    """Return as much of a text as has at most ``most`` code units of UTF-16."""
    text = text[: max(most, 0)]
    while _units(text) > max(most, 0):
        text = text[:-1]
    return text.rstrip()
