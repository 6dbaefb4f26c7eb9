"""Hostile values for every column of the format: one row holds one value in every column of a kind."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial

from builders import Change, Row
from builders import table as table_changed
from hostile_case import Answer, Hostile, Maker, Place, edited

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


def inputs() -> Iterator[Hostile]:
    """Yield the inputs of this class."""
    for spec in TABLES:
        for kind, values in REFUSED.items():
            if columns := _of_kind(spec, kind):
                places = _places(spec, columns, values)
                yield Hostile("values", f"{spec.path}: {kind.value}", _set(spec, columns, values), places=places)
        for kind, values in BOUNDED.items():
            if columns := _of_kind(spec, kind):
                make, aimed = _set(spec, columns, values), len(columns) * len(values)
                yield Hostile("values", f"{spec.path}: odd {kind.value}", make, Answer.BOUNDED, aimed=aimed)
        make = _set(spec, spec.columns, (MEGABYTE,))
        places = (Place(spec.path, 2),)
        yield Hostile("values", f"{spec.path}: 1 MB in every cell", make, places=places, aimed=len(spec.columns))
        for what, planted in BYTES.items():
            change = Change(spec.path, partial(_planted, spec, planted))
            yield Hostile("values", f"{spec.path}: {what}", edited(change), places=places)


def _of_kind(spec: TableSpec, kind: Kind) -> list[Column]:
    return [column for column in spec.columns if column.kind is kind]


def _places(spec: TableSpec, columns: Sequence[Column], values: Sequence[str]) -> tuple[Place, ...]:
    return tuple(Place(spec.path, row, column.name) for row in range(2, 2 + len(values)) for column in columns)


def _set(spec: TableSpec, columns: Sequence[Column], values: Sequence[str]) -> Maker:
    """Put a value into each of the columns, in row after row; a short table gets more rows."""

    def edit(rows: list[Row]) -> list[Row]:
        last = rows[-1] if rows else dict.fromkeys(spec.column_names, "")
        first_key = spec.key[0] if spec.key else spec.column_names[0]
        rows += [last | {first_key: f"{last[first_key]}-{at}"} for at in range(len(values) - len(rows))]
        for row, value in zip(rows, values, strict=False):
            row.update({column.name: value for column in columns})
        return rows

    there = Change(spec.path, lambda old: old or ",".join(spec.column_names).encode() + b"\n")
    return edited(there, table_changed(spec.path, edit, *spec.column_names))


def _planted(spec: TableSpec, planted: bytes, old: bytes) -> bytes:
    """Put bytes into the first row of a table; one without rows gets one."""
    header = old.split(b"\n", 1)[0] if old else ",".join(spec.column_names).encode()
    rest = old.split(b"\n", 1)[1] if old else b""
    cells = b",".join([planted] * len(header.split(b",")))
    return header + b"\n" + cells + b"\n" + rest


def columns_aimed_at() -> set[tuple[str, str]]:
    """Return every column of the format that an input of this class aims at, by table and name."""
    return {(spec.path, column.name) for spec in TABLES for column in spec.columns if column.kind in REFUSED}
