"""Say each qualification of a table once for all that it applies to.

The cells of a :class:`Table` hold every mark of their value; files to download take them from there. For a
reader, :func:`qualified` gives the same table with a mark that all values share said once for the table, one that
all values of a row share at the head of the row, and one of a bag or shipment under the name of that bag; what is
left is the cell's own. Nothing is dropped: :meth:`Qualified.of` puts the marks of a cell together again.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TypeAlias

from sitegen.report.record.pages import Cell, Column, Mark, Ref, Table
from sitegen.report.write.values import reach_text
from sitegen.report.write.words import lexicon

CUSTODY = "custody-of"
"""The key of the column that names the bags of a table."""

LEAST_ROWS = 4
"""Rows with a mark of custody from which on the bag is named in their place."""

_GIVERS = frozenset({"lab", "review", "proposed", "qualifiers"})
"""Columns of words that hold qualifiers."""

_IN_PARENTHESES = re.compile(r"\([^()]*\)")
_NAME = re.compile(r"(?<![A-Za-z])[A-Z]{1,2}[+-]?(?![A-Za-z0-9+-])")

_AND = "; "

Row: TypeAlias = tuple[Cell, ...]


@dataclass(frozen=True, slots=True)
class Qualified:
    """A table as it is read: ``table`` has in its cells what is their own, in its heads what is the row's.

    ``every`` are the marks of all values, or of all under the columns titled ``under`` where other columns have
    numbers too; with ``by_row`` the table has no such columns, and its marks are those of its rows. ``groups`` are
    marks that name a bag, a shipment or a sampler in place of its marks of custody, and what each stands for.
    """

    table: Table
    every: tuple[Mark, ...] = ()
    under: tuple[str, ...] = ()
    by_row: bool = False
    groups: tuple[tuple[Mark, tuple[Mark, ...]], ...] = ()

    def of(self, row: int, column: int) -> frozenset[Mark]:
        """Return all marks that a reader finds for a cell: its own, those of its row and those of the table."""
        cells, head = self.table.rows[row], self.table.row_header
        stands = dict(self.groups)
        named = _bags(self.table, cells)
        near = [*cells[column].marks, *(cells[head].marks if head >= 0 else ())]
        near += [mark for mark in stands if mark.word in named]
        return frozenset((*self.every, *(one for mark in near for one in stands.get(mark, (mark,)))))

    @property
    def heads(self) -> bool:
        """Whether a row's head has a mark that is that of the results in the row."""
        at = self.table.row_header
        return not self.by_row and at >= 0 and any(row[at].marks for row in self.table.rows)

    @property
    def opening(self) -> str:
        """What applies to all: ``All results``, or those of which columns."""
        return _said("every", "under", self.under) if not self.by_row else str(_words()["rows"])

    @property
    def heads_note(self) -> str:
        """What a mark at the head of a row applies to."""
        return _said("head", "head_under", self.under)


def _words() -> Mapping[str, str]:
    return lexicon("qualifications")


def _said(whole: str, some: str, columns: Sequence[str]) -> str:
    return _words()[some].format(columns=", ".join(columns)) if columns else _words()[whole]


def qualified(table: Table) -> Qualified:
    """Return a table as it is read.

    >>> wet, seal = Mark("water", "Wet."), Mark("seal", "Differs.")
    >>> rows = [(Cell(name), Cell("12", marks=(seal, *own))) for name, own in (("SG-1", (wet,)), ("SG-2", ()))]
    >>> columns = (Column("point", "Point"), Column("result", "Result", "ng", "number"))
    >>> made = qualified(Table("t", "Results", columns, tuple(rows)))
    >>> [mark.word for mark in made.every], [[m.word for m in row[1].marks] for row in made.table.rows]
    (['seal'], [['water'], []])
    """
    columns = [at for at in range(len(table.columns)) if any(row[at].marks for row in table.rows)]
    if not columns:
        return Qualified(table)
    head = table.row_header
    values = [at for at in columns if at != head]
    shared = [_shared(row, head, values) for row in table.rows]
    every = _of_all([marks for marks in shared if marks is not None])
    whole = [[mark for mark in marks or () if mark not in every] for marks in shared]
    groups = _groups(whole) if head >= 0 else {}
    rows = tuple(_row(row, head, values, every, marks, groups) for row, marks in zip(table.rows, whole, strict=True))
    under = _under(table, values)
    stands = tuple((_group(reach, marks), marks) for reach, marks in groups.items())
    return Qualified(replace(table, rows=rows), every, under, not values, stands)


def _is_value(cell: Cell) -> bool:
    return bool(cell.marks or cell.origin) or any(sign.isdigit() for sign in cell.text)


def _shared(row: Row, head: int, values: Sequence[int]) -> list[Mark] | None:
    """Return the marks of all that a row holds; None where it holds no value."""
    own = list(row[head].marks) if head >= 0 else []
    cells = [row[at] for at in values if _is_value(row[at])]
    if not cells:
        return own if own or not values else None
    first = (mark for mark in cells[0].marks if all(mark in cell.marks for cell in cells))
    return list(dict.fromkeys((*own, *first)))


def _of_all(rows: Sequence[Sequence[Mark]]) -> tuple[Mark, ...]:
    """Return the marks of all rows; of a single row they stay where they are."""
    if len(rows) < 2:
        return ()
    return tuple(mark for mark in rows[0] if all(mark in marks for marks in rows))


def _groups(rows: Iterable[Sequence[Mark]]) -> dict[str, tuple[Mark, ...]]:
    """Return the marks of custody that all rows of a bag, a shipment or a sampler share, under its name."""
    found: dict[str, list[Mark]] = {}
    holding = 0
    for marks in rows:
        by_reach: dict[str, list[Mark]] = {}
        for mark in marks:
            if mark.reach:
                by_reach.setdefault(mark.reach, []).append(mark)
        holding += bool(by_reach)
        for reach, own in by_reach.items():
            found[reach] = [mark for mark in found.get(reach, own) if mark in own]
    return {reach: tuple(marks) for reach, marks in found.items() if marks} if holding >= LEAST_ROWS else {}


def _group(reach: str, marks: Sequence[Mark]) -> Mark:
    return Mark(reach_text(reach), " ".join(f"{mark.word}: {mark.reason}" for mark in marks), reach=reach)


def _row(
    row: Row,
    head: int,
    values: Sequence[int],
    every: Sequence[Mark],
    whole: Sequence[Mark],
    groups: Mapping[str, tuple[Mark, ...]],
) -> Row:
    """Return a row with the marks that are its own at its head, and in each cell what is left."""
    named = [(_group(reach, marks), marks) for reach, marks in groups.items() if set(marks) <= set(whole)]
    of_bags = {mark for _, marks in named for mark in marks}
    several = sum(_is_value(row[at]) for at in values) > 1
    own = row[head].marks if head >= 0 else ()
    at_head = [m for m in whole if m not in of_bags and (m in own or (several and head >= 0))]
    said = {*every, *of_bags, *at_head}
    cells = [cell._replace(marks=tuple(m for m in cell.marks if m not in said)) if cell.marks else cell for cell in row]
    if head >= 0:
        cells[head] = row[head]._replace(marks=(*(mark for mark, _ in named), *at_head))
    return tuple(cells)


def _under(table: Table, values: Sequence[int]) -> tuple[str, ...]:
    """Return the titles of the columns whose values have marks, none where these are all columns of numbers."""
    numbers = [at for at, column in enumerate(table.columns) if column.kind == "number"]
    if numbers and set(numbers) <= set(values):
        return ()
    return tuple(dict.fromkeys(table.columns[at].title for at in values))


def with_custody(made: Qualified) -> Qualified:
    """Return a table whose bags stand in a column of their own in place of the rows' heads, for a screen."""
    if not made.groups:
        return made
    table, at, names = made.table, made.table.row_header, {mark for mark, _ in made.groups}
    keys = [column.key for column in table.columns]
    column = Column(CUSTODY, _words()["custody"])
    rows = tuple(_with_bags(row, at, names) for row in table.rows)
    filters = (*table.filters, CUSTODY) if table.filters and CUSTODY not in keys else table.filters
    columns = (*table.columns[: at + 1], column, *table.columns[at + 1 :])
    return replace(made, table=replace(table, columns=columns, rows=rows, filters=filters))


def _with_bags(row: Row, head: int, names: set[Mark]) -> Row:
    held = [mark for mark in row[head].marks if mark in names]
    own = row[head]._replace(marks=tuple(mark for mark in row[head].marks if mark not in names))
    kind, _, name = held[0].reach.partition(" ") if len(held) == 1 else ("", "", "")
    cell = Cell(_AND.join(mark.word for mark in held) or "–", Ref(kind, name) if name else None)
    return (*row[:head], own, cell, *row[head + 1 :])


def _bags(table: Table, row: Row) -> tuple[str, ...]:
    """Return the bags that the column of custody names in a row."""
    cells = (cell.text for column, cell in zip(table.columns, row, strict=True) if column.key == CUSTODY)
    return tuple(name for text in cells for name in text.split(_AND))


def every_text(made: Qualified) -> str:
    """Write what applies to all values, the marks of a bag together: ``All results: seal, unsigned (bag RB-1)``."""
    by_reach: dict[str, dict[str, None]] = {}
    for mark in made.every:
        by_reach.setdefault(mark.reach, {})[mark.word] = None
    parts = (
        f"{', '.join(words)} ({reach_text(reach)})" if reach else ", ".join(words) for reach, words in by_reach.items()
    )
    return f"{made.opening}: {'; '.join(parts)}." if made.every else ""


def key_title() -> str:
    """Return the title of the key under a table."""
    return _words()["key"]


def key_notes(made: Qualified) -> Iterator[str]:
    """Yield how the table says what is said once for several values."""
    if any(column.key == CUSTODY for column in made.table.columns):
        yield _words()["custody_key"]
    if made.heads:
        yield made.heads_note


def qualifiers_in(table: Table) -> tuple[tuple[str, str], ...]:
    """Return the qualifiers of results in a table, each with its meaning, in the order of the list of qualifiers.

    >>> columns = (Column("point", "Point"), Column("result", "Result", "ng", "number"))
    >>> rows = ((Cell("E"), Cell("1,270 J, B", origin=("lab/results.csv", 2, "result_text"))),)
    >>> [name for name, _ in qualifiers_in(Table("t", "Results", columns, rows))]
    ['J', 'B']
    """
    known: Mapping[str, str] = lexicon("qualifications")["qualifiers"]
    if not any(cell.origin or cell.marks for row in table.rows for cell in row):
        return ()
    found: set[str] = set()
    for at, column in enumerate(table.columns):
        if column.kind == "number" or column.key in _GIVERS:
            texts = {row[at].text for row in table.rows}
            found.update(name for text in texts for name in _NAME.findall(_IN_PARENTHESES.sub(" ", text)))
    return tuple((name, meaning) for name, meaning in known.items() if name in found)
