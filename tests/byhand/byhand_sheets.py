"""What a person wrote down of the small survey's report: the files in ``expected/``, read.

::

    == page:start                          a place, as in `byhand_places`
    -- table glance                        one of its blocks
    compound | analysed | detected         the columns of a table by key, then a line to each row
    Benzene | 5 | 3 (60 %)
    # 55, 26 and 140 of five               why: a line that nothing is read from
    -- numbers lead
    4 of 5 points, 140 at SG-3             words of one's own: those with a digit count, in order
    -- facts record                        a label and a value to each line
    Medium | soil gas
    -- as page:start: table glance         blocks that are the same as at another place
    -- all of page:quality but: numbers lead      every block of another place, some left out
    -- aside table checks: fixed words     a block that nobody writes down, and why

In a table ``aside: source, meaning`` names columns that are left aside, among facts labels; ``use NAME`` takes
in rows that stand once, under ``== rows NAME``. A table may be written in several blocks of columns, one below
the other, each with its own first column. What no person can work out is written ``*`` in a cell, and with a
``~`` behind a number word.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

from byhand_places import Grid, Numbers, numbers

EXPECTED = Path(__file__).parent / "expected"
_ASIDE = "aside: "


@dataclass
class Sheet:
    """What is written of one place: its blocks, what of them is left aside, and blocks left aside with the reason.

    ``same`` are blocks of other places: the place, their names, and whether all but these are meant.
    """

    blocks: dict[str, Grid | Numbers] = field(default_factory=dict)
    hidden: dict[str, set[str]] = field(default_factory=dict)
    aside: dict[str, str] = field(default_factory=dict)
    same: list[tuple[str, list[str], bool]] = field(default_factory=list)


@cache
def sheets() -> dict[str, Sheet]:
    """Return every place that is written down."""
    parts = [part for path in sorted(EXPECTED.glob("*.txt")) for part in _parts(path.read_text("utf-8"), "== ")]
    names = [name for name, _ in parts]
    assert len(set(names)) == len(names), f"written twice: {sorted({n for n in names if names.count(n) > 1})}"
    shared = {name.removeprefix("rows "): lines for name, lines in parts if name.startswith("rows ")}
    whole = {name: _sheet(lines, shared) for name, lines in parts if not name.startswith("rows ")}
    for sheet in whole.values():
        _complete(sheet, whole)
    return whole


def _complete(sheet: Sheet, whole: dict[str, Sheet]) -> None:
    """Take into a sheet what it says is the same at other places, once these are complete."""
    while sheet.same:
        other, names, rest = sheet.same.pop(0)
        _complete(whole[other], whole)
        _take(sheet, whole[other], names, rest=rest)


def _take(sheet: Sheet, other: Sheet, names: list[str], *, rest: bool) -> None:
    """Take blocks of another place: those named, or with ``rest`` all but those named."""
    assert other.blocks.keys() | other.aside.keys() >= set(names), names
    for name in [name for name in other.blocks if (name in names) is not rest]:
        sheet.blocks[name] = other.blocks[name]
        sheet.hidden[name] = other.hidden.get(name, set())
    sheet.aside |= {name: why for name, why in other.aside.items() if (name in names) is not rest}


def _parts(text: str, sign: str) -> Iterator[tuple[str, list[str]]]:
    """Yield the parts that begin with a sign: its words, and the lines below; remarks and blank lines left out."""
    name, below = "", list[str]()
    for line in text.splitlines():
        if line.startswith(sign):
            yield from ((name, below),) if name else ()
            name, below = line.removeprefix(sign).strip(), []
        elif line.strip() and not line.startswith("#"):
            assert name, f"a line before the first {sign}: {line}"
            below.append(line)
    yield from ((name, below),) if name else ()


def _sheet(lines: list[str], shared: dict[str, list[str]]) -> Sheet:
    sheet = Sheet()
    for head, below in _parts("\n".join(lines), "-- "):
        kind, _, rest = head.partition(" ")
        if kind in ("as", "all"):
            other, _, names = rest.removeprefix("of ").rpartition(": ")
            blocks = [name.strip() for name in names.split(",")]
            sheet.same.append((other.removesuffix(" but"), blocks, kind == "all"))
        elif kind == "aside":
            name, _, why = rest.partition(": ")
            assert why, f"no reason why {name} is left aside"
            sheet.aside[name] = why
        elif kind == "numbers":
            sheet.blocks[head] = numbers(*below)
        else:
            rows = [one for line in below for one in _rows(line, shared)]
            sheet.hidden.setdefault(head, set()).update(_left_aside(below))
            _add(sheet, head, Grid(["value"], _facts(rows)) if kind == "facts" else _table(rows))
    return sheet


def _rows(line: str, shared: dict[str, list[str]]) -> list[list[str]]:
    """Return the cells of the rows that a line stands for."""
    if line.startswith(_ASIDE):
        return []
    lines = shared[line.removeprefix("use ")] if line.startswith("use ") else [line]
    return [[part.strip() for part in f" {one} ".split(" | ")] for one in lines]


def _left_aside(lines: Iterable[str]) -> Iterator[str]:
    for line in lines:
        if line.startswith(_ASIDE):
            yield from (name.strip() for name in line.removeprefix(_ASIDE).split(","))


def _facts(rows: list[list[str]]) -> list[tuple[str, dict[str, str]]]:
    return [(label, {"value": value}) for label, value in rows]


def _table(rows: list[list[str]]) -> Grid:
    columns = rows[0]
    return Grid(columns, [(cells[0], dict(zip(columns, cells, strict=True))) for cells in rows[1:]])


def _add(sheet: Sheet, name: str, grid: Grid) -> None:
    """Add a block of a table: its columns beside those that were written above it, row by row."""
    before = sheet.blocks.setdefault(name, grid)
    assert isinstance(before, Grid)
    if before is not grid:
        before.columns += [column for column in grid.columns if column not in before.columns]
        for (_, row), (heading, more) in zip(before.rows, grid.rows, strict=True):
            assert all(row.get(column, text) == text for column, text in more.items()), f"{name}: rows of {heading}"
            row.update(more)
