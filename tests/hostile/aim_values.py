"""Hostile values for every column of the format; the cells of a table share an input, for each is told by its place."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import partial

from builders import Change, Row, table
from hostile_case import Answer, Hostile, Place, edited

from sitegen.project.schema import Column, Kind, TableSpec
from sitegen.project.tables import TABLES

NINES = "9" * 400
MEGABYTE = "m" * 1_000_000
LONG = "w" * 32_000
"""As much as a cell may hold anywhere; no column may."""
BIDI = "\u202e\u2066"
NO_NUMBERS = (
    *("1e308", "-1e308", "nan", "inf", "-inf", "1e400", NINES, "1_000", "0x10", "\uff11\uff12", "\u0663", "1,5"),
    *("--1", "\u00bd", "1e5e5", "=1+1", "<5"),
)
"""No column of numbers may take these."""
ODD_NUMBERS = ("1e-308", "-1e-308", "-0", "+0", "-0.0", "0e0", "1e-400", "5e-324", "1.", ".5", "007", "1E+02")
"""Numbers, though odd: a column that may hold zero takes them."""
NO_COUNTS = (*NO_NUMBERS, "1.5", "1e3")
_DAYS = ("0001-01-01", "0000-00-00", "9999-12-31", "2108-02-30", "-2025-01-01", "12025-01-01", "2025-13-01")
NO_DATES = (
    *_DAYS,
    *("2025-02-30", "2025-W01-1", "20250101", "\uff12\uff10\uff12\uff15-01-01", "1/4/2005", "38266", NINES, "today"),
)
NO_TIMES = (
    *(f"{day}T10:00" for day in _DAYS),
    *("2025-11-05T24:00", "2025-11-05T10:60", "2025-11-05T10:00+99:00", "2025-11-05T1e1:00", "2025-11-05"),
    *("\uff12\uff10\uff12\uff15-11-05T10:00", "T", NINES, "9999-12-31T23:59-23:59"),
)
NO_CHOICES = ("ZZ", "SAMPLE ", "\u0443es", "=yes", "<b>yes</b>", "yes\u200bno", "0", NINES, "null", "../../yes", BIDI)
NO_CAS = ("127-18-5", "1-1-1", "\uff11\uff12\uff17-18-4", "127184", "=127-18-4", NINES, "<b>", "0-0-0")
ODD_TEXTS = ("../../etc/passwd", "=1+1", "<b>x</b>", "CON", "a\u0301", "#x", "{{ 7*7 }}", "C:\\x", "-", ".", "..", "/")

REFUSED: dict[Kind, tuple[str, ...]] = {
    Kind.NUMBER: NO_NUMBERS,
    Kind.INTEGER: NO_COUNTS,
    Kind.DATE: NO_DATES,
    Kind.TIME: NO_TIMES,
    Kind.CHOICE: NO_CHOICES,
    Kind.FLAG: NO_CHOICES,
    Kind.CAS: NO_CAS,
    Kind.ID: (LONG,),
    Kind.IDS: (LONG,),
    Kind.TEXT: (LONG,),
    Kind.PATH: (LONG,),
}
BOUNDED: dict[Kind, tuple[str, ...]] = {
    Kind.NUMBER: ODD_NUMBERS,
    Kind.INTEGER: ("-0", "+0", "-1", "999999999999"),
    Kind.ID: (*ODD_TEXTS, BIDI),
    Kind.IDS: (*ODD_TEXTS, ";;;", "a;" * 2000, BIDI),
    Kind.PATH: (*ODD_TEXTS, "file:///etc/passwd", "records/../../../etc/passwd", "records/nothing.txt"),
}
BYTES = {
    "control characters": b"\x1b[2J",
    "NUL": b"a\x00b",
    "a lone surrogate": b"\xed\xa0\x80",
    "a code that is no character": b"\xef\xbf\xbe",
    "bytes that are not UTF-8": b"\xff\xfe\xc0\xaf",
}


TEXT_KINDS = (Kind.ID, Kind.IDS, Kind.TEXT, Kind.PATH)
COUNTED = (Kind.NUMBER, Kind.INTEGER)
BELOW = max(map(len, REFUSED.values()))
"""Rows that the other kinds fill: a text too long stands below, for its column may say how a time is read."""


def inputs() -> Iterator[Hostile]:
    """Yield the inputs of this class."""
    for spec in TABLES:
        aimed = [(column, _rows_of(column.kind)) for column in spec.columns]
        places = tuple(Place(spec.path, row, column.name) for column, rows in aimed for row in rows)
        yield Hostile("values", f"{spec.path}: what no cell may hold", edited(_set(spec, aimed)), places=places)
        for kinds in (COUNTED, TEXT_KINDS):
            odd = [
                (column, dict(enumerate(BOUNDED[column.kind], start=2)))
                for column in spec.columns
                if _odd(column, kinds)
            ]
            if odd:
                count = sum(len(rows) for _, rows in odd)
                name = f"{spec.path}: what is odd, {'numbers' if kinds is COUNTED else 'texts'}"
                yield Hostile("values", name, edited(_set(spec, odd)), Answer.BOUNDED, aimed=count)
    whole = [_set(spec, [(column, {2: MEGABYTE}) for column in spec.columns]) for spec in TABLES]
    everywhere = tuple(Place(spec.path, 2) for spec in TABLES)
    yield Hostile("values", "1 MB in every cell of a row", edited(*whole), places=everywhere)
    for what, planted in BYTES.items():
        changes = [Change(spec.path, partial(_planted, spec, planted)) for spec in TABLES]
        yield Hostile("values", f"{what} in every table", edited(*changes), places=everywhere)


def _odd(column: Column, kinds: tuple[Kind, ...]) -> bool:
    """Tell whether a column may take odd values of these kinds; a number that may not be zero is refused anyway."""
    return column.kind in kinds and column.kind in BOUNDED and not (column.range and column.range.low > 0)


def _rows_of(kind: Kind) -> dict[int, str]:
    """Return the values that no cell of a kind may hold, by the row that each is put into."""
    return dict(enumerate(REFUSED[kind], start=2 + (BELOW if kind in TEXT_KINDS else 0)))


def _set(spec: TableSpec, aimed: Sequence[tuple[Column, Mapping[int, str]]]) -> Change:
    """Put values into columns, by row; a short table gets more rows, and one that is absent is there."""

    def edit(rows: list[Row]) -> list[Row]:
        last = rows[-1] if rows else dict.fromkeys(spec.column_names, "")
        first_key = spec.key[0] if spec.key else spec.column_names[0]
        count = max(max(values) for _, values in aimed) - 1
        rows += [last | {first_key: f"{last[first_key]}-{at}"} for at in range(count - len(rows))]
        for column, values in aimed:
            for row, value in values.items():
                rows[row - 2][column.name] = value
        return rows

    return Change(spec.path, lambda old: _edited(spec, edit, old))


def _edited(spec: TableSpec, edit: Callable[[list[Row]], list[Row]], old: bytes) -> bytes | None:
    whole = old or ",".join(spec.column_names).encode() + b"\n"
    return table(spec.path, edit, *spec.column_names).edit(whole)


def _planted(spec: TableSpec, planted: bytes, old: bytes) -> bytes:
    """Put bytes into the first row of a table; one without rows gets one."""
    header, _, rest = (old or ",".join(spec.column_names).encode() + b"\n").partition(b"\n")
    cells = b",".join([planted] * len(header.split(b",")))
    return header + b"\n" + cells + b"\n" + rest
