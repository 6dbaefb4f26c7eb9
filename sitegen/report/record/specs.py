"""A column in one place: what it is called, what it holds, and how it is filled.

A table of a page or of print, a table to download, its Data Package and the list of all columns
are made from the same specs, so that a head and its cells can't drift apart: no cell is matched
with its column by position.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any, Generic, TypeAlias, TypeVar

from sitegen.report.record.exports import ExportField, ExportTable
from sitegen.report.record.pages import Cell, Column, Table
from sitegen.voice import worded

T = TypeVar("T")
U = TypeVar("U")
T_contra = TypeVar("T_contra", contravariant=True)
Value: TypeAlias = str | int | float | bool | None

TEXT, NUMBER, INTEGER, BOOLEAN = "string", "number", "integer", "boolean"
"""Types of a column to download, as Table Schema names them."""


@dataclass(frozen=True, slots=True)
class Spec(Generic[T_contra]):
    """One column over things of the type ``T_contra``; a column over all of a kind fits each of it.

    Pages and print use ``title``, ``unit``, ``kind``, ``tells`` (both as :class:`Column` has them)
    and ``cell``, which returns a cell, or its text alone; data files ``type``, ``unit``,
    ``meaning``, ``required``, ``choices`` and ``value``. A title ``as_stated`` is of a file, and is shown as it is.
    """

    key: str
    title: str = ""
    unit: str = ""
    kind: str = "text"
    cell: Callable[[T_contra], Cell | str] | None = None
    type: str = TEXT
    meaning: str = ""
    value: Callable[[T_contra], Value] | None = None
    required: bool = False
    choices: tuple[str, ...] = ()
    tells: bool = False
    as_stated: bool = False

    @property
    def column(self) -> Column:
        """The column as a page knows it.

        >>> Spec("mass", "Mass", "ng", "number").column
        Column(key='mass', title='Mass', unit='ng', kind='number', tells=False)
        >>> Spec("found", "Detected", tells=True).column.tells
        True
        """
        title = self.title if self.as_stated else worded(self.title)
        return Column(self.key, title, worded(self.unit), self.kind, self.tells)

    def of(self, part: Callable[[U], T_contra]) -> Spec[U]:
        """Return the column over things that have its own as a part.

        >>> length = Spec("length", "Length", cell=lambda text: str(len(text)))
        >>> table("names", "Names", [length.of(lambda item: item[0])], [("SG-1", 5)]).rows[0][0].text
        '4'
        """
        cell, value = self.cell, self.value
        column: Spec[Any] = self
        return replace(
            column,
            cell=(lambda item: cell(part(item))) if cell else None,
            value=(lambda item: value(part(item))) if value else None,
        )

    @property
    def field(self) -> ExportField:
        """The column as a data file knows it."""
        return ExportField(self.key, self.type, worded(self.unit), worded(self.meaning), self.required, self.choices)


def table(name: str, caption: str, specs: Sequence[Spec[T]], items: Iterable[T], **options: Any) -> Table:  # noqa: ANN401
    """Return the table of a page: a row for each item, a column for each spec with a cell.

    ``options`` are those of :class:`Table`.

    >>> squares = [Spec("square", "Square", cell=lambda n: str(n * n))]
    >>> table("squares", "Squares", squares, (2, 3)).rows[1][0].text
    '9'
    """
    cells = [spec.cell for spec in specs if spec.cell]
    columns = tuple(spec.column for spec in specs if spec.cell)
    rows = tuple(tuple(_whole(cell(item)) for cell in cells) for item in items)
    return Table(name, caption, columns, rows, **options)


def _whole(cell: Cell | str) -> Cell:
    return Cell(cell) if isinstance(cell, str) else cell


def export(
    name: str,
    title: str,
    note: str,
    specs: Sequence[Spec[T]],
    items: Iterable[T],
    **options: Any,  # noqa: ANN401
) -> ExportTable:
    """Return a table to download: a row for each item, a field for each spec with a value.

    ``options`` are those of :class:`ExportTable`.

    >>> table = export("squares", "Squares", "", [Spec("n", type="integer", meaning="it", value=lambda n: n)], (2, 3))
    >>> table.fields[0].name, table.rows
    ('n', ((2,), (3,)))
    """
    every = tuple(items)
    columns = (map(spec.value, every) for spec in specs if spec.value)
    fields = tuple(spec.field for spec in specs if spec.value)
    return ExportTable(name, title, note, fields, tuple(zip(*columns, strict=True)), **options)
