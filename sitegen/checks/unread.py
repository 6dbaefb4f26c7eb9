"""What follows from a cell that could not be read is no slip of its own, and is left for the next check.

A cell that can't be read is blank in what the rules see. A rule that finds it missing there, or
that counts, sums or looks for something over a column with such a cell, says nothing that is
known: the cell holds something. The catalogue names such columns with each check (``needs``).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import TypeAlias

from sitegen.checks.catalogue import catalogue
from sitegen.findings.problems import Finding, Severity, Where
from sitegen.project.places import sheet_at, table_at
from sitegen.project.schema import TableSpec
from sitegen.project.tables import TABLE

ROW_LENGTH = "row-length"
CODES = frozenset(
    (
        "cell-blank", "number-unreadable", "date-unreadable", "time-unreadable", "time-does-not-exist",
        "offset-disagrees", "zone-unknown", "word-unknown", "id-turned-number", "cas-unreadable", "cas-turned-date",
        "number-impossible", "cell-too-long", "cell-without-value", "cell-format-speaks", "id-typed-as-date",
        ROW_LENGTH,
    )
)  # fmt: skip
"""Findings of reading after which what a cell of our own tables holds is not known."""

_DELIVERED = ("results", "lab_qc")
"""Tables that a laboratory's own file may give."""

Place: TypeAlias = tuple[str, int | None, str]


@dataclass(frozen=True, slots=True)
class _Unread:
    """Cells by file, row and column ("" for all of a row), and columns as ``table.column``."""

    cells: frozenset[Place]
    columns: frozenset[str]

    def is_about(self, where: Where) -> bool:
        """Tell whether a place is such a cell."""
        file, row, column = _place(where)
        return not self.cells.isdisjoint(((file, row, ""), (file, row, column), (file, None, column)))

    def is_needed(self, finding: Finding) -> bool:
        """Tell whether a finding rests on a column with such a cell."""
        return not self.columns.isdisjoint(_needs(finding))


def independent(read: Sequence[Finding], found: Iterable[Finding]) -> Iterator[Finding]:
    """Yield the findings that don't follow from those of reading, which may be among them."""
    unread, own = _unread(read), frozenset(read)
    short = {_place(finding.where)[:2] for finding in read if finding.code == ROW_LENGTH}
    for finding in found:
        where = finding.where
        if finding in own:
            follows = finding.code != ROW_LENGTH and _place(where)[:2] in short
        else:
            follows = unread.is_about(where)
        if not follows and not unread.is_needed(finding):
            yield finding


def _unread(read: Iterable[Finding]) -> _Unread:
    """Gather what findings of reading leave unknown; each of them stops the build."""
    cells: set[Place] = set()
    columns: set[str] = set()
    for finding in (finding for finding in read if finding.severity is Severity.STOP):
        spec, (file, row, _) = _own_table(finding.where), _place(finding.where)
        if spec is not None and finding.code in CODES:
            names = _columns(finding, spec)
            cells |= {(file, row, name) for name in names}
            columns |= {f"{spec.name}.{name}" for name in names}
        elif spec is None and file.startswith("lab/"):
            cells |= {(file, row, "")} if row else set()
            columns |= {f"{name}.{column}" for name in _DELIVERED for column in TABLE[name].column_names}
    return _Unread(frozenset(cells), frozenset(columns))


def _place(where: Where) -> Place:
    """Return file, row and column of a place; of the workbook of all tables the sheet goes with the file."""
    sheet = sheet_at(where)
    column = table_at(where)[1] if _own_table(where) else where.column or ""
    return f"{where.file}!{sheet}" if sheet else where.file, where.row, column


def _own_table(where: Where) -> TableSpec | None:
    """Return the table of the format that a place is in; a laboratory's own file may have the name of one."""
    spec, column = table_at(where)
    own = spec is not None and (where.file != spec.book_path or column in ("", *spec.column_names))
    return spec if own else None


def _columns(finding: Finding, spec: TableSpec) -> tuple[str, ...]:
    """Return the columns whose cells are not known: the finding's own, a zone's times, or a row's."""
    if finding.code == ROW_LENGTH:
        return spec.column_names
    times = tuple(c.name for c in spec.columns if c.zone) if finding.code == "zone-unknown" else ()
    return (_place(finding.where)[2], *times)


def _needs(finding: Finding) -> tuple[str, ...]:
    """Return the columns that a finding rests on beyond its own cell: an id that is not listed rests on the list."""
    spec, column = table_at(finding.where)
    needs = catalogue()[finding.code].needs
    if finding.code != "unknown-id" or spec is None or not column:
        return needs
    target = TABLE[spec.column(column).refers]
    return (*needs, f"{target.name}.{target.key[0]}")
