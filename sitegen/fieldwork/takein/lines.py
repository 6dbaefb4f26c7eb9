"""What a take-in has to say, line by line."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from sitegen.checking import Checked
from sitegen.fieldwork.takein.decisions import FILE
from sitegen.fieldwork.takein.edits import TO_TYPE
from sitegen.fieldwork.takein.exports import Export
from sitegen.fieldwork.takein.held import Held
from sitegen.fieldwork.takein.merge import Merged, Told
from sitegen.findings.problems import Severity
from sitegen.project.tables import TABLE

_LONGEST = 120
_HOW_TO_DECIDE = (
    "to decide a conflict: enter the correct value in the table; where the table is correct, enter your role "
    f"code under decided_by in {FILE}; then take in the exports again"
)


def merge_lines(tables: Mapping[str, Held], merged: Merged) -> Iterator[str]:
    """Yield what was done with each table, and every cell on which records differ."""
    for told in merged.updated:
        why = "; ".join(told.reasons) or "none given"
        device, text = told.said[0]
        corrected = f"device {device} corrected {_value(told.folder)} to {_value(text)}"
        yield f"updated: {_place(told)}: {corrected} (reason: {why})"
    yield from (
        f"decided: {_place(told)}: the table has {_value(told.folder)}; {_values(told)}" for told in merged.decided
    )
    for told in merged.conflicts:
        yield f"conflict: {_place(told)}: the table has {_value(told.folder)}; {_values(told)}"
    if merged.conflicts:
        yield _HOW_TO_DECIDE
    for name, held in tables.items():
        yield _counts(name, held, merged)


def _counts(name: str, held: Held, merged: Merged) -> str:
    """Return the line about one table."""
    updated = sum(told.cell.table == name for told in merged.updated)
    rows, fills = len(merged.rows.get(name, ())), len(merged.fills.get(name, ())) - updated
    conflicts = sum(told.cell.table == name for told in merged.conflicts)
    counts = ((rows, "row"), (fills, "cell"), (updated, "cell"), (conflicts, "conflict"))
    verbs = ("added", "filled", "updated", "open")
    said = [f"{_number(count, noun)} {verb}" for (count, noun), verb in zip(counts, verbs, strict=True) if count]
    if held.is_book and (rows or fills or updated):
        return f"{held.called}: a workbook is not edited; to type into it, {TO_TYPE}{name}.csv ({', '.join(said)})"
    return f"{held.called}: {', '.join(said) or 'nothing new'}"


def kit_lines(exports: Iterable[Export]) -> Iterator[str]:
    """Yield a line where exports were made with kits of different plans."""
    kits = sorted({export.kit for export in exports})
    if len(kits) > 1:
        yield f"note: these exports come from {len(kits)} kits ({', '.join(kits)}), made from different plans"


def check_line(checked: Checked) -> str:
    """Say how many findings would stop a build of the folder as it is now."""
    stops = sum(finding.count for finding in checked.findings if finding.severity is Severity.STOP)
    if not stops:
        return "check: no finding stops a build"
    return f"check: {_number(stops, 'finding')} would stop a build; sitegen check lists them"


def _place(told: Told) -> str:
    table, key, column = told.cell
    row = f", row {told.row}" if told.row else ", new row"
    return f"{table}, {' + '.join(key)}, {column} ({told.file}{row})"


def _values(told: Told) -> str:
    if told.cell.column in TABLE[told.cell.table].key:
        devices = ", ".join(device for device, _ in told.said)
        why = "; ".join(told.reasons) or "none given"
        return f"device {devices} withdrew the row (reason: {why}); delete it from the table if that is correct"
    return "; ".join(f"device {device} has {_value(text)}" for device, text in told.said)


def _value(text: str) -> str:
    short = text if len(text) <= _LONGEST else f"{text[: _LONGEST - 1]}…"
    return repr(short) if short else "nothing"


def _number(count: int, noun: str) -> str:
    """Write a count with its noun.

    >>> _number(1, "row"), _number(2, "conflict")
    ('1 row', '2 conflicts')
    """
    return f"{count:,} {noun}{'' if count == 1 else 's'}"
