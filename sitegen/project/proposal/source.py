"""Entries of [source]: file, sheet, header, layout, and the rows that are passed over."""

from __future__ import annotations

from collections.abc import Iterator

from sitegen.project.proposal.layouts import LONG, SAMPLES
from sitegen.project.proposal.results import blank_entries, number_entries
from sitegen.project.proposal.seen import Seen
from sitegen.project.proposal.shapes import RESULT_SHAPES, shape
from sitegen.project.proposal.sure import CERTAIN, GUESS, LIKELY, Entry, Sure

_TOLD = 8


def source_entries(seen: Seen, file: str, sha256: str) -> Iterator[Entry]:
    """Yield where the table stands and how it is laid out."""
    table, layout = seen.table, seen.layout
    yield Entry("source", "file", file, CERTAIN, "")
    yield Entry("source", "sha256", sha256, CERTAIN, "")
    if table.sheet.name:
        yield Entry("source", "sheet", table.sheet.name, CERTAIN, "")
    yield from _header(seen)
    sure: Sure = CERTAIN if layout.score >= 12 else LIKELY
    if layout.kind == LONG:
        named = [column for role in ("analyte_id", "cas", "result_text", "recovery") if (column := seen.role(role))]
        told = ", ".join(f"{table.ref(layout.head.last, column.at)} {column.name!r}" for column in named)
        yield Entry("source", "layout", "long", sure, f"a row for each result: {told}")
    else:
        first = layout.across[0]
        what = "samples" if layout.kind == SAMPLES else "compounds"
        told = f"{len(layout.across)} {what} across, from {table.ref(layout.head.last, first.at)} {first.name!r} on"
        yield Entry("source", "layout", "crosstab", sure, told)
    if seen.holds_qc:
        yield Entry("source", "holds", "qc", LIKELY, "no row of the table contains a result of a sample")
    yield from _passed_over(seen)


def _header(seen: Seen) -> Iterator[Entry]:
    head, table = seen.layout.head, seen.table
    numbers = [table.numbers[row] for row in head.rows]
    strong = sum(column.sure == CERTAIN for column in seen.layout.roles.values())
    told = ", ".join(repr(name[:40]) for name in head.names if name)
    shown = told if len(told) < 160 else told[:160] + "…"
    value = numbers[0] if len(numbers) == 1 else numbers
    yield Entry("source", "header_row", value, CERTAIN if strong > 1 else LIKELY, f"it reads {shown}")
    if head.fill != "merged":
        yield Entry(
            "source", "header_fill", head.fill, LIKELY, "blank cells of the upper row continue the one to their left"
        )


def _passed_over(seen: Seen) -> Iterator[Entry]:
    body, table = seen.body, seen.table
    if body.headers:
        told = f"row {table.numbers[body.headers[0]]} equals the header, as do {len(body.headers) - 1} more"
        yield Entry("source", "repeated_header", True, CERTAIN, told)
    if body.end:
        yield _over(seen, "end_containing", [body.end], body.footer)
    if body.containing:
        yield _over(seen, "skip_containing", body.containing, body.between)
    skipped = sorted({*body.skipped, *seen.kinds.over})
    if skipped:
        numbers = [table.numbers[row] for row in skipped]
        if not (control := seen.kinds.over):
            yield _over(seen, "skip_rows", numbers, body.skipped)
            return
        told = f"{_rows(seen, skipped)}; {len(control)} of them are control samples, which no column of kinds can tell "
        yield Entry("source", "skip_rows", numbers, GUESS, f"{told}from others: enter lab/lab_qc.csv by hand")


def _over(seen: Seen, key: str, value: list[str] | list[int], rows: list[int]) -> Entry:
    """Return what passes over some rows: a guess where one of them holds a number where results stand."""
    layout, table = seen.layout, seen.table
    column = seen.role("result_text", "recovery")
    places = [one.at for one in layout.across] if layout.kind != LONG else [column.at] if column else []
    held = [row for row in rows if any(shape(table.cell(row, at)) in RESULT_SHAPES for at in places)]
    if key == "skip_rows" and layout.kind != LONG:
        held = [row for row in held if row not in layout.unread_rows]
    if held:
        number = table.numbers[held[0]]
        return Entry(
            "source", key, value, GUESS, f"{_rows(seen, rows)}; row {number} has a number: a sum, or a result?"
        )
    return Entry("source", key, value, LIKELY, f"{_rows(seen, rows)}: no sample, compound and result")


def _rows(seen: Seen, rows: list[int]) -> str:
    """Name some rows by their first cell."""
    table = seen.table
    told = [f"row {table.numbers[row]} {next(filter(None, table.rows[row]))[:30]!r}" for row in rows[:_TOLD]]
    return ", ".join(told) + (f" and {len(rows) - _TOLD} more" if len(rows) > _TOLD else "")


def reading_entries(seen: Seen) -> Iterator[Entry]:
    """Yield how numbers are written, and what must be said of blank cells."""
    yield from number_entries(seen.results, seen.limits, point_only=_typed(seen))
    yield from blank_entries(seen.results)


def _typed(seen: Seen) -> bool:
    """Tell whether every number of a result that could be read in two ways is stored as a number."""
    layout, sheet = seen.layout, seen.table.sheet
    value = seen.role("result_text", "recovery")
    places = [column.at for column in layout.across] if layout.kind != LONG else [value.at] if value else []
    typed = {(at, number) for at in places for number in sheet.rows_in("number", at + 1)}
    numbers = {seen.table.numbers[row]: row for row in seen.rows}
    return bool(typed) and all(
        (at, number) in typed or seen.table.cell(row, at).count(".") == 0
        for number, row in numbers.items()
        for at in places
    )
