"""Numbers outside the range of their column, told and left out of what is computed.

A number of another unit, or one that a slip made huge or tiny, is blank in what the rules see,
as a cell is that can't be read: it is told once, here.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from sitegen.findings.problems import Finding, Severity
from sitegen.project.limits import TOLD, Range
from sitegen.project.schema import Column, TableSpec
from sitegen.project.survey import SurveyTable, origins


def within_ranges(table: SurveyTable) -> tuple[SurveyTable, list[Finding]]:
    """Return a table without the numbers that lie outside the range of their column, and findings about these.

    Where the rows come from a laboratory's own file, its sheet and column are named.
    """
    findings: list[Finding] = []
    kept: dict[str, NDArray[np.float64]] = {}
    for column in table.spec.columns:
        if column.range is not None:
            values = table.frame[column.name].to_numpy(dtype=float)
            outside = (values < column.range.low) | (values > column.range.high)
            if outside.any():
                findings += _outside(table, column, column.range, np.flatnonzero(outside))
                kept[column.name] = np.where(outside, np.nan, values)
    return (replace(table, frame=table.frame.assign(**kept)) if kept else table), findings


def _outside(table: SurveyTable, column: Column, values: Range, at: NDArray[np.intp]) -> list[Finding]:
    """Tell the first numbers outside a range, and how many more there are."""
    rows = table.frame.iloc[at[: TOLD.value + 1]]
    unit = f" {column.unit}" if column.unit else ""
    expected = f"{values.text}{unit} ({values.reason})"
    findings: list[Finding] = []
    for origin, key, number in zip(origins(rows), _keys(table.spec, rows), rows[column.name].tolist(), strict=True):
        rest = len(at) - len(findings)
        last = len(findings) == TOLD.value
        others = tuple(table.frame["_row"].to_numpy()[at[TOLD.value :]].tolist()) if last else ()
        findings.append(
            Finding(
                "number-impossible",
                Severity.STOP,
                f"{table.spec.name}+{column.name}+{'more' if last else key}",
                origin.where((column.name == "value" and origin.column) or column.name),
                f"{rest} more numbers of this kind, starting here" if last else f"{number:g}",
                expected,
                values.do,
                table.spec.name,
                count=len(others) or 1,
                rows=others,
            )
        )
    return findings


def _keys(spec: TableSpec, rows: pd.DataFrame) -> list[str]:
    """Return the key of each row, or its number where its table has no key."""
    columns = [rows[name].map(str).tolist() for name in spec.key or ("_row",)]
    return ["+".join(parts) for parts in zip(*columns, strict=True)]
