"""The invented row of a template, where it was left in a table."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from sitegen.findings.problems import Finding, Severity
from sitegen.project.examples import marked_cells
from sitegen.project.limits import TOLD
from sitegen.project.read.csvtext import RawTable
from sitegen.project.schema import Origin, TableSpec


def without_examples(spec: TableSpec, raw: RawTable, file: str, sheet: str) -> tuple[RawTable, list[Finding]]:
    """Return a table without the rows that still have a cell of the template's invented row, and tell of each."""
    left = dict(_left(spec, raw))
    if not left:
        return raw, []
    kept = [at for at in range(len(raw.rows)) if at not in left]
    rows, numbers = tuple(raw.rows[at] for at in kept), tuple(raw.numbers[at] for at in kept)
    findings = [
        Finding(
            "example-row-left",
            Severity.STOP,
            f"{spec.path}+{raw.numbers[at]}",
            Origin(file, raw.numbers[at], sheet).where(column),
            f"{marked_cells(spec)[column]!r}, from the example row of the template",
            "a record, or no row",
            "overwrite the whole row, or delete it",
            spec.name,
        )
        for at, column in sorted(left.items())[: TOLD.value]
    ]
    return replace(raw, rows=rows, numbers=numbers), findings


def _left(spec: TableSpec, raw: RawTable) -> Iterator[tuple[int, str]]:
    """Yield the place of each row with such a cell, and the column; of a row with several, the first column last."""
    marks = marked_cells(spec)
    for at, name in reversed(list(enumerate(raw.header))):
        mark = marks.get(name)
        if mark is not None:
            yield from ((place, name) for place, row in enumerate(raw.rows) if row[at] == mark)
