"""Which rows below a header hold results, and how a mapping says which others are passed over."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from sitegen.project.limits import LIST
from sitegen.project.proposal.columns import is_compound
from sitegen.project.proposal.layouts import ANALYTES, LONG, SAMPLE_ROLES, Layout
from sitegen.project.proposal.table import Table
from sitegen.project.proposal.words import Known, neat, words

_LEADING = re.compile(r"[^\d:]{4,40}")


@dataclass(slots=True)
class Body:
    """Rows below a header: those read, and those passed over with how a mapping says it.

    ``headers`` are rows that repeat the header, ``footer`` those below the last row that is read.
    """

    read: list[int] = field(default_factory=list)
    headers: list[int] = field(default_factory=list)
    between: list[int] = field(default_factory=list)
    footer: list[int] = field(default_factory=list)
    end: str = ""
    containing: list[str] = field(default_factory=list)
    skipped: list[int] = field(default_factory=list)


def body_of(table: Table, layout: Layout, known: Known) -> Body:
    """Part the rows below a header into those that are read and the others."""
    found = Body()
    held = {*layout.rows.values()}
    heading = [_bare(table.rows[row]) for row in layout.head.rows]
    for row in range(layout.head.last + 1, len(table.rows)):
        if row in held:
            continue
        if _bare(table.rows[row]) in heading:
            found.headers.append(row)
        elif row not in layout.unread_rows and _fits(table, layout, row, known):
            found.read.append(row)
        else:
            found.between.append(row)
    last = max((*found.read, *found.headers), default=len(table.rows))
    found.footer = [row for row in found.between if row > last]
    found.between = [row for row in found.between if row < last]
    _say(table, found)
    return found


def _bare(cells: Sequence[str]) -> list[str]:
    kept = list(cells)
    while kept and not kept[-1]:
        kept.pop()
    return kept


def _fits(table: Table, layout: Layout, row: int, known: Known) -> bool:
    """Tell whether a row has what a row of the layout has."""
    cells = {role: table.cell(row, column.at) for role, column in layout.roles.items()}
    compound = cells.get("analyte_id", "") or cells.get("cas", "")
    sample = next((cells[role] for role in SAMPLE_ROLES if cells.get(role)), "")
    key = sample if layout.kind == ANALYTES else compound
    if layout.kind == LONG:
        value = cells.get("result_text", "") or cells.get("recovery", "")
        two = sum(map(bool, (compound, value, sample))) > 1
        return two and not _is_footer(sample or compound)
    filled = any(table.cell(row, column.at) for column in layout.across)
    named = bool(compound) and is_compound(compound, known)
    return bool((filled and not _is_footer(key)) or named)


def _is_footer(text: str) -> bool:
    first = neat(text).partition(" ")[0]
    return first in words()["footer"]["words"]


def _say(table: Table, found: Body) -> None:
    """Find how a mapping says which rows are passed over; a text that a row to be read holds serves for none."""
    read = ["\x00".join(table.rows[row]) for row in found.read]
    if found.footer:
        start = next(cell for cell in table.rows[found.footer[0]] if cell)
        before = [*read, *("\x00".join(table.rows[row]) for row in (*found.between, *found.headers))]
        text = start[:60]
        if not any(text in line for line in before):
            found.end = text
    left = found.between if found.end else [*found.between, *found.footer]
    groups: dict[str, list[int]] = {}
    for row in left:
        first = next(cell for cell in table.rows[row] if cell)
        match = _LEADING.match(first)
        groups.setdefault(match[0].strip() if match else "", []).append(row)
    for text, rows in groups.items():
        if len(rows) > 2 and len(text) > 3 and not any(text in line for line in read):
            found.containing.append(text)
        else:
            found.skipped += rows
    found.skipped.sort()
    found.containing = found.containing[: LIST.value]
