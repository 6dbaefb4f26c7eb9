"""A table of text into a table of typed columns, telling what does not fit the format.

Each distinct text of a column is read once.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import repeat
from typing import Any

import numpy as np
import pandas as pd

from sitegen.findings.problems import Finding, Severity
from sitegen.project.limits import NAME, TEXT
from sitegen.project.read import cells
from sitegen.project.read.csvtext import RawTable
from sitegen.project.schema import Column, Kind, TableSpec
from sitegen.project.survey import SurveyTable

_SHORTEN = "shorten it, or keep the full text as a file in records/"


def type_table(
    spec: TableSpec, raw: RawTable, place: str, path: str = "", received: RawTable | None = None, sheet: str = ""
) -> tuple[SurveyTable, list[Finding]]:
    """Turn a table of text into typed columns, and tell what does not fit the format.

    ``path`` is the file that the rows come from, where it is not the table's own; ``received``
    are the same rows as that file has them, where ``raw`` differs from it. A workbook's ``sheet``
    stands beside the rows, in ``_sheet``.
    """
    stand = cells.Stand(path, sheet, spec.path if received else path, _differing(raw, received) if received else {})
    told = cells.Told(spec, stand)
    text = {name: cells.tidy_all(values) for name, values in _turned(raw).items()}
    blank = [""] * len(raw.rows)
    fitting = {name: _fitting(name, values, raw, told) for name, values in text.items()}
    columns: dict[str, list[Any]] = {}
    for column in spec.columns:
        values = fitting.get(column.name, blank)
        zones: list[str] = []
        if column.kind is Kind.TIME:
            zones = [tz or place for tz in fitting.get("tz", blank)] if column.zone else [place] * len(blank)
        columns |= cells.read_column(column, values, raw.numbers, zones, told)
        _blank_cells(column, text.get(column.name, blank), raw, told)
    cells.tell_zones(fitting.get("tz", blank), raw.numbers, told)
    columns |= {name: fitting[name] for name in raw.header if name.startswith("x_")}
    ids = {column.name: columns[column.name] for column in spec.columns if column.kind is Kind.ID}
    _duplicate_keys(spec, text | ids, raw, told)
    present = all(name in raw.header for name in spec.key)
    frame = _frame(spec, columns, raw, stand)
    table = SurveyTable(spec, frame, _turned(received or raw), present, path or spec.path, sheet)
    return table, told.close()


def _differing(raw: RawTable, received: RawTable) -> dict[tuple[int, str], str]:
    """Return the cells whose file has another text than the one to be read, by row number and column."""
    if received is raw:
        return {}
    return {
        (number, name): was
        for number, cells_now, cells_then in zip(raw.numbers, raw.rows, received.rows, strict=True)
        if cells_now is not cells_then
        for name, now, was in zip(raw.header, cells_now, cells_then, strict=False)
        if now != was
    }


def _turned(raw: RawTable) -> dict[str, tuple[str, ...]]:
    """Return a table's cells by column."""
    turned = zip(*raw.rows, strict=True) if raw.rows else repeat(())
    return dict(zip(raw.header, turned, strict=False))


def empty_table(spec: TableSpec) -> SurveyTable:
    """Return the table of a file that is absent or can't be used: every column, no row."""
    raw = RawTable(spec.column_names, (), ())
    table, _ = type_table(spec, raw, "UTC")
    return SurveyTable(spec, table.frame, table.received, present=False)


def _fitting(name: str, values: list[str], raw: RawTable, told: cells.Told) -> list[str]:
    """Return a column's cells without those that are longer than it holds, which are told."""
    column = next((column for column in told.spec.columns if column.name == name), None)
    longest = TEXT if column is None else column.longest or NAME
    if max(map(len, values), default=0) <= longest.value:
        return values
    problem = ("cell-too-long", Severity.STOP, f"at most {longest.text} ({longest.reason})", _SHORTEN)
    for value, row in zip(values, raw.numbers, strict=True):
        if len(value) > longest.value:
            told.add(problem, row, name, f"{len(value):,} characters", f"{told.named}+{row}")
    return ["" if len(value) > longest.value else value for value in values]


def _frame(spec: TableSpec, columns: Mapping[str, list[Any]], raw: RawTable, stand: cells.Stand) -> pd.DataFrame:
    numeric = {c.name for c in spec.columns if c.kind in (Kind.NUMBER, Kind.INTEGER)}
    numeric |= {f"{c.name}_utc" for c in spec.columns if c.kind is Kind.TIME}
    series = {
        name: pd.Series(values, dtype="float64" if name in numeric else object) for name, values in columns.items()
    }
    series["_file"] = pd.Series([stand.file or spec.path] * len(raw.rows), dtype=object)
    if stand.sheet:
        series["_sheet"] = pd.Series([stand.sheet] * len(raw.rows), dtype=object)
    series["_row"] = pd.Series(list(raw.numbers), dtype="int64")
    return pd.DataFrame(series)


def _blank_cells(column: Column, values: list[str], raw: RawTable, told: cells.Told) -> None:
    if not column.required or column.name not in raw.header or all(values):
        return
    problem = ("cell-blank", Severity.STOP, f"{column.meaning}", f"fill in {column.name}")
    for value, row in zip(values, raw.numbers, strict=True):
        if not value:
            told.add(problem, row, column.name, "a blank cell", f"{told.named}+{row}")


def _distinct(columns: list[list[str]]) -> bool:
    """Tell whether no two rows are the same: each column as small numbers, put together column by column."""
    rows = np.zeros(len(columns[0]), dtype=np.int64)
    for column in columns:
        codes, known = pd.factorize(np.array(column, dtype=object))
        rows = pd.factorize(rows * max(len(known), 1) + codes)[0]
    return len(rows) == 0 or int(rows.max()) + 1 == len(rows)


def _duplicate_keys(spec: TableSpec, columns: Mapping[str, list[str]], raw: RawTable, told: cells.Told) -> None:
    if not spec.key or any(name not in raw.header for name in spec.key):
        return
    if _distinct([columns[name] for name in spec.key]):
        return
    keys = zip(*(columns[name] for name in spec.key), strict=True)
    expected = f"each {' + '.join(spec.key)} once"
    problem = ("duplicate-key", Severity.STOP, expected, "remove one of the two rows")
    filled = [at for at, name in enumerate(spec.key) if spec.column(name).required]
    seen: dict[tuple[str, ...], int] = {}
    for key, row in zip(keys, raw.numbers, strict=True):
        if key in seen and all(key[at] for at in filled):
            told.add(problem, row, spec.key[-1], f"{' + '.join(key)}, as in row {seen[key]}", "+".join(key))
        seen.setdefault(key, row)
