"""The tables to download as records: what a writer of data files must know of each."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple

from sitegen.report.record.styles import Style

SHEET_ROWS = 1_048_575
"""The most rows below the header of a sheet that spreadsheet programs open: 2^20 in all."""

CELL_CHARS = 16_000
"""The most characters of a workbook's cell; programs open 32,767 code units of UTF-16, two for some characters."""


class ExportField(NamedTuple):
    """A column of an export: name, type (string, number, integer, boolean), unit, meaning.

    ``required`` says that a cell is never empty, ``choices`` names all words that stand in it.
    """

    name: str
    type: str
    unit: str
    meaning: str
    required: bool = False
    choices: tuple[str, ...] = ()


class ExportLink(NamedTuple):
    """A column whose values are those of a column of another export, empty cells aside.

    ``beside`` is a column that both tables have and in which the two rows agree as well, empty for none.
    """

    field: str
    table: str
    to: str
    beside: str = ""

    @property
    def fields(self) -> tuple[str, ...]:
        """The columns of the row that leads to the other."""
        return (self.beside, self.field) if self.beside else (self.field,)

    @property
    def others(self) -> tuple[str, ...]:
        """The columns of the other row that have the same values, in the same order."""
        return (self.beside, self.to) if self.beside else (self.to,)


@dataclass(frozen=True, slots=True)
class ExportTable:
    """A data table to download; values are str, int, float, bool or None.

    ``lon``/``lat`` name the fields with WGS 84 coordinates where the rows are places; ``places``
    has for each row its coordinates in ``crs``, the system that the points were surveyed in (x before
    y), None without a position. ``shapes`` holds a GeoJSON geometry for each row where the rows are
    lines or areas. ``key`` names the fields that tell rows apart. Rows that differ in the field
    ``apart`` are never drawn by one legend: it names their unit. ``styles`` are ways to draw them, the
    usual one first.
    """

    name: str
    title: str
    note: str
    fields: tuple[ExportField, ...]
    rows: tuple[tuple[Any, ...], ...]
    lon: str = ""
    lat: str = ""
    shapes: tuple[Mapping[str, Any], ...] = ()
    places: tuple[tuple[float, float] | None, ...] = ()
    crs: str = ""
    key: tuple[str, ...] = ()
    links: tuple[ExportLink, ...] = ()
    apart: str = ""
    styles: tuple[Style, ...] = ()

    def at(self, field: str) -> int:
        """Return the place of a field in a row; ValueError if there is no such field."""
        return [one.name for one in self.fields].index(field)

    def cells(self, fields: Iterable[str]) -> Iterator[tuple[Any, ...]]:
        """Yield what stands in some fields of each row; ValueError if one is not a field."""
        places = [self.at(field) for field in fields]
        return (tuple(row[at] for at in places) for row in self.rows)
