"""What makes a table unfit to be read although its layout is known, with the cell that shows it."""

from __future__ import annotations

from sitegen.project.proposal.columns import Column
from sitegen.project.proposal.layouts import LONG, SAMPLE_ROLES, SAMPLES, results_above
from sitegen.project.proposal.mapped import ignored
from sitegen.project.proposal.seen import Seen
from sitegen.project.proposal.shapes import RESULT_SHAPES, shape
from sitegen.project.proposal.words import nondetect, our_qualifiers, role_of, unit_in_heading
from sitegen.project.schema import QUALIFIERS

Stop = tuple[str, str]
"""The cell, and what is wrong there."""
_NAMED = 3
"""A row that names so many purposes of columns, and no result, is a header: project default, no published source."""
_SOME = 5
"""One row of so many without an id is a slip; more is a layout that is not read: no published source."""


def stop_of(seen: Seen) -> Stop | None:
    """Return what stops a table from being mapped, None where nothing does."""
    tests = (rows_above, second_header, units_differ, suffix_lacks, ids_blank, marks_loose)
    return next((stop for test in tests if (stop := test(seen))), None)


def _place(seen: Seen, column: Column) -> str:
    return seen.table.ref(seen.layout.head.last, column.at)


def rows_above(seen: Seen) -> Stop | None:
    """Return the first row of results above the header of a long table: it would not be read."""
    if seen.layout.kind != LONG or not (rows := results_above(seen.table, seen.layout.head, seen.layout.roles)):
        return None
    value = seen.layout.roles.get("result_text") or seen.layout.roles["recovery"]
    below = seen.table.numbers[seen.layout.head.last]
    return seen.table.ref(rows[0], value.at), f"a result above the only readable header, in row {below}"


def second_header(seen: Seen) -> Stop | None:
    """Return the first cell of a header below the first results: the columns below it are those of another table."""
    layout, keys = seen.layout, ("analyte_id",) if seen.layout.kind == SAMPLES else SAMPLE_ROLES
    held = [row for role, row in layout.rows.items() if role in keys and row > layout.head.last]
    for row in sorted((*held, *seen.body.read)):
        if row in held or _is_header(seen, row):
            place = seen.table.ref(row, next(at for at, cell in enumerate(seen.table.rows[row]) if cell))
            told = f"a second header below that in row {seen.table.numbers[layout.head.last]}, and only one is read"
            return place, f"{told}: save each table as a separate file or sheet"
    return None


def _is_header(seen: Seen, row: int) -> bool:
    """Tell whether a row among results names columns: no result stands below that of the results, or no compound."""
    table, layout = seen.table, seen.layout
    if layout.kind == LONG:
        value = seen.role("recovery", "result_text") if seen.holds_qc else seen.role("result_text")
        if value and shape(table.cell(row, value.at)) in RESULT_SHAPES:
            return False
        named = [role for cell in table.rows[row] if cell and (role := role_of(cell)[0])]
        return len(set(named)) >= _NAMED
    key = seen.role("analyte_id", "cas") if layout.kind == SAMPLES else seen.role(*SAMPLE_ROLES)
    return bool(key and role_of(table.cell(row, key.at).rstrip(": "))[0])


def units_differ(seen: Seen) -> Stop | None:
    """Return the heading across whose unit is another than that of the first."""
    units: dict[str, Column] = {}
    for column in seen.layout.across:
        found = unit_in_heading(column.name)
        units.setdefault(found[1] if found else "", column)
    if len(units) < 2:
        return None
    _, column = list(units.items())[1]
    return _place(
        seen, column
    ), f"the heading {column.name!r} has a different unit from those before it: only one is read"


def suffix_lacks(seen: Seen) -> Stop | None:
    """Return the heading across that lacks a column that the others have beside them."""
    for ours, column in seen.layout.suffixes.incomplete(seen.layout.across):
        return _place(seen, column), f"{column.name!r} has no adjacent column for {ours}, as others have"
    return None


def ids_blank(seen: Seen) -> Stop | None:
    """Return the first result without a sample where many have none: the id stands in the first row alone."""
    column = seen.role(*SAMPLE_ROLES)
    if seen.layout.kind != LONG or column is None or seen.holds_qc:
        return None
    blank = [row for row in seen.rows if not seen.table.cell(row, column.at)]
    if _SOME * len(blank) < len(seen.rows):
        return None
    told = "no sample id in this row, nor in many others: enter it in each row of a copy"
    return seen.table.ref(blank[0], column.at), told


def marks_loose(seen: Seen) -> Stop | None:
    """Return the column of a cross-tab that holds qualifiers or signs of non-detects, and belongs to none."""
    if seen.layout.kind == LONG:
        return _unnamed(seen)
    for column in ignored(seen):
        if mark := next(filter(_is_mark, column.cells), ""):
            told = f"the column {column.name!r} contains {mark!r}, and its heading does not show what that qualifies"
            return _place(seen, column), told
    return None


def _unnamed(seen: Seen) -> Stop | None:
    """Return the cell of a long table that holds a mark below a blank heading."""
    for at, name in enumerate(seen.layout.head.names):
        for row in seen.rows if not name else ():
            if _is_mark(text := seen.table.cell(row, at)):
                return seen.table.ref(row, at), f"{text!r} is below a blank heading: name the column in a copy"
    return None


def _is_mark(text: str) -> bool:
    return text in QUALIFIERS or our_qualifiers(text) is not None or nondetect(text) == "sure"


def mark_columns(seen: Seen) -> list[tuple[Column, str]]:
    """Return the columns of a long table without a purpose that hold signs of non-detects or yes and no."""
    found = []
    for column in seen.layout.left if seen.layout.kind == LONG else ():
        mark = next((text for text in column.cells if _is_mark(text) or text.lower() in _YES_NO), "")
        if mark and len(column.cells) <= _DISTINCT:
            found.append((column, mark))
    return found


_YES_NO = ("yes", "no", "y", "n", "true", "false")
_DISTINCT = 12
"""A column of more distinct words is no column of marks: project default, no published source."""
