"""Candidates for the header of a laboratory's table: one row or several, with merged cells filled."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product

from sitegen.project.delivery.header import joined
from sitegen.project.proposal.shapes import BELOW, CAS, DATE, NUMBER, TOKEN, shape
from sitegen.project.proposal.table import Table
from sitegen.project.proposal.words import Known, common_cas, role_of, sampler_of, unit_of, without_unit

FIRST_ROWS = 60
"""A header is sought in so many filled rows from the top: project default, no published source."""
LINES = 3
"""A header has at most so many lines: project default, no published source."""
TRIED = 12
"""So many of the likeliest headers are tried with what stands below: project default, no published source."""
WIDEST = 2_000
"""Columns that are looked at to find the header: project default, no published source."""
FILLS = ("merged", "right")


@dataclass(frozen=True, slots=True)
class Head:
    """A header: its rows, how its blank cells are filled, and the names that this gives."""

    rows: tuple[int, ...]
    fill: str
    names: tuple[str, ...]

    @property
    def last(self) -> int:
        """The last row of it; the table begins below."""
        return self.rows[-1]


def heads(table: Table, known: Known) -> list[Head]:
    """Return the likeliest headers of a table, best first."""
    scored = [(likeness(head, table, known), head) for head in _candidates(table, known)]
    best = sorted((pair for pair in scored if pair[0] > 0), key=lambda pair: -pair[0])
    return [head for _, head in best[:TRIED]]


def _candidates(table: Table, known: Known) -> Iterator[Head]:
    for first in range(min(FIRST_ROWS, len(table.rows))):
        for count in range(1, LINES + 1):
            rows = tuple(range(first, first + count))
            if rows[-1] >= len(table.rows) or table.numbers[rows[-1]] != table.numbers[first] + count - 1:
                break
            if _holds_data(table, rows[-1], alone=count == 1):
                break
            seen: set[tuple[str, ...]] = set()
            kept = tuple(row for row in rows if count < LINES or not names_samplers(table.across(row), known))
            for lines, fill in product(dict.fromkeys((rows, kept)), FILLS if count > 1 else FILLS[:1]):
                names = names_of(table, lines, fill)
                if lines and lines[-1] == rows[-1] and names not in seen:
                    seen.add(names)
                    yield Head(lines, fill, names)


def names_samplers(cells: Sequence[str], known: Known) -> bool:
    """Tell whether most of the filled cells of a row are samplers of the folder: it names no columns then.

    >>> names_samplers(["", "47102", "47103", "Blank"], Known(serials=frozenset({"0047102", "0047103"})))
    True
    """
    filled = [cell for cell in cells[:WIDEST] if cell]
    return 2 * sum(bool(sampler_of(cell, known)) for cell in filled) > len(filled)


def names_of(table: Table, rows: tuple[int, ...], fill: str) -> tuple[str, ...]:
    """Join the cells of a header's rows as the reader of mapped files does."""
    above = [table.across(row) if fill == "merged" else _continued(table, row) for row in rows[:-1]]
    last = [table.cell(rows[-1], at) for at in range(table.width)]
    return tuple(joined(parts) for parts in zip(*above, last, strict=True))


def _continued(table: Table, row: int) -> list[str]:
    cells = [table.cell(row, at) for at in range(table.width)]
    for at in range(1, len(cells)):
        cells[at] = cells[at] or cells[at - 1]
    return cells


def likeness(head: Head, table: Table, known: Known) -> float:
    """Score how much words alone look like a header: words of the trade for it, doubled names and data against it."""
    names = [name for name in head.names[:WIDEST] if name]
    roles: dict[str, int] = {}
    compounds = 0
    for name in names:
        role, weak = role_of(name)
        roles[role] = max(roles.get(role, 0), 0 if not role else 1 if weak else 3)
        compounds += bool(common_cas(without_unit(name)))
    doubled = sum(count - 1 for count in Counter(names).values())
    data = sum(_is_data(table.cell(head.last, at), known) for at in range(min(WIDEST, table.width)))
    words = sum(roles.values()) + min(compounds, 10) + _tells_units(head, table)
    return words - 2 * min(doubled, 20) - min(data, 20) / 2 - (len(head.rows) - 1) / 2 if words else 0


def _tells_units(head: Head, table: Table) -> int:
    """Prefer a header whose last line has units alone, below blank cells where a heading has none."""
    cells = [cell for cell in table.rows[head.last][:WIDEST] if cell]
    begins = table.cell(head.last, 0)
    return int(len(head.rows) > 1 and not begins and bool(cells) and all(map(unit_of, cells)))


def _holds_data(table: Table, row: int, *, alone: bool) -> bool:
    """Tell whether a row is one of the table, no header: it has a result, a date, a CAS number or one compound.

    A header of one row may have such cells as well, but no CAS number, and beside a compound a word of the trade.
    """
    cells = table.rows[row][:WIDEST]
    if alone:
        return any(shape(cell) == CAS for cell in cells) or not any(role_of(cell)[0] for cell in cells if cell)
    kinds = {shape(cell) for cell in cells if not cell.isdigit()}
    return bool(kinds & {BELOW, TOKEN, DATE, NUMBER, CAS}) or sum(bool(common_cas(cell)) for cell in cells) == 1


def _is_data(text: str, known: Known) -> bool:
    if text in known.serials:
        return False
    kind = shape(text)
    return kind in (BELOW, TOKEN, DATE) or (kind == NUMBER and not text.isdigit())
