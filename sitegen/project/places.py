"""Places in the folder's own tables: which table and column a file, a row and a column name."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from sitegen.findings.problems import Finding, Where
from sitegen.project.schema import BOOK_FILE, Origin, TableSpec
from sitegen.project.tables import TABLE

_BY_FILE = {path: spec for spec in TABLE.values() for path in (spec.path, spec.book_path)}


def table_at(where: Where) -> tuple[TableSpec | None, str]:
    """Return the table of the format whose file, or sheet, a place is in, and the column; None where it is in none.

    A laboratory's own file may have the name of a table's workbook; its columns are then others.

    >>> [(spec.name, column) for spec, column in map(table_at, (Where("field/samplers.csv", 12, "lot"),
    ...     Where("field/samplers.xlsx", 12, "Sheet1!lot"), Where("survey.xlsx", 12, "samplers!"))) if spec]
    [('samplers', 'lot'), ('samplers', 'lot'), ('samplers', '')]
    """
    column = where.column or ""
    if where.file == BOOK_FILE:
        return TABLE.get(sheet_at(where).strip().casefold()), column.rpartition("!")[2]
    spec = _BY_FILE.get(where.file)
    return spec, column.rpartition("!")[2] if spec and where.file != spec.path else column


def row_order(origin: Origin) -> tuple[str, int, str, str]:
    """Return what sorts rows of several tables: the same whatever kind of file has each.

    >>> row_order(Origin("survey.xlsx", 5, "samplers"))[:2] == row_order(Origin("field/samplers.csv", 5))[:2]
    True
    """
    spec, _ = table_at(origin.where())
    return (spec.path if spec else origin.file, origin.row, origin.sheet, origin.column)


def in_order(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return the findings, each once, worst first in a stable order: the same whatever kind of file has each table."""
    return tuple(sorted(dict.fromkeys(findings), key=_sort_key))


def _sort_key(finding: Finding) -> tuple[int, int, str, str, int, str, str]:
    spec, column = table_at(finding.where)
    if spec is None or finding.where.file != BOOK_FILE:
        return finding.sort_key
    return replace(finding, where=Where(spec.path, finding.where.row, column)).sort_key


def sheet_at(where: Where) -> str:
    """Return the sheet of a place in the workbook of all tables, "" elsewhere: a file has its rows once.

    >>> sheet_at(Where("survey.xlsx", 12, "samplers!lot")), sheet_at(Where("field/samplers.csv", 12, "lot"))
    ('samplers', '')
    """
    return (where.column or "").rpartition("!")[0] if where.file == BOOK_FILE else ""
