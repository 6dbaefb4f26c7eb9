"""Cells in the forms that a file declares, turned into those of the format."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import lru_cache
from typing import TypeAlias

from sitegen.project.read.cells import tidy
from sitegen.project.read.csvtext import RawTable
from sitegen.project.read.forms import as_iso
from sitegen.project.schema import Column, Kind, TableSpec
from sitegen.project.settings import FilePart

Typed: TypeAlias = Mapping[str, frozenset[int]]
"""The rows, by column, whose cell a workbook holds as a number or a date: its value is in no form."""

NUMBERS = (Kind.NUMBER, Kind.INTEGER)
DAYS = (Kind.TIME, Kind.DATE)
STATED = "result_text"
"""The column of text that may state a number in the file's form, as in ``<0,5 U``."""
_MISFIT = "not as declared: "
_BLANK = "[ \u00a0\u202f]"
_NOTHING: Typed = {}


def in_our_forms(spec: TableSpec, received: RawTable, how: FilePart, typed: Typed = _NOTHING) -> RawTable:
    """Return the rows of a file with dates, times and numbers in the forms of the format.

    What doesn't fit the declared form is left as it is, or, where it would read as another
    number, made into what is none.
    """
    turns = [(at, turn, typed.get(name, frozenset())) for at, name, turn in _turned_columns(spec, received, how)]
    if not turns:
        return received
    rows = list(received.rows)
    for at, turn, exempt in turns:
        known: dict[str, str] = {}
        for index, (cells, number) in enumerate(zip(rows, received.numbers, strict=True)):
            text = cells[at]
            if text not in known:
                known[text] = turn(text)
            if known[text] != text and number not in exempt:
                rows[index] = [*cells[:at], known[text], *cells[at + 1 :]]
    return replace(received, rows=tuple(rows))


def _turned_columns(spec: TableSpec, received: RawTable, how: FilePart) -> list[tuple[int, str, Callable[[str], str]]]:
    columns = {column.name: column for column in spec.columns}
    found = ((at, name, columns.get(name)) for at, name in enumerate(received.header))
    return [(at, name, turn) for at, name, column in found if column and (turn := _turn(column, how))]


def _turn(column: Column, how: FilePart) -> Callable[[str], str] | None:
    """Return what makes our form of a column's cells, None where the file has ours."""
    if column.kind in DAYS and how.dates:
        return lambda text: _day(tidy(text), how.dates, column.kind) or text
    if how.decimal == "." and not how.thousands:
        return None
    if column.kind in NUMBERS:
        return lambda text: _number(text, how)
    return (lambda text: _stated(text, how)) if column.name == STATED else None


def _day(text: str, form: str, kind: Kind) -> str | None:
    """Read a date or time; a date that a spreadsheet wrote with the time of midnight is that date."""
    read = as_iso(text, form) if text else None
    if read and kind is Kind.DATE and read[10:] in ("T00:00", "T00:00:00"):
        return read[:10]
    return read


def _number(text: str, how: FilePart) -> str:
    tidied = tidy(text)
    return (plain_number(tidied, how.decimal, how.thousands) or _MISFIT + text) if tidied else text


def plain_number(text: str, decimal: str, thousands: str = "") -> str | None:
    """Return a number with a point for decimals and nothing between thousands, None where it has another form.

    >>> plain_number("1.234,5", ",", "."), plain_number("1,5", ","), plain_number("1 234,5", ",", " ")
    ('1234.5', '1.5', '1234.5')
    >>> plain_number("1.5", ",") is None, plain_number("1.23,4", ",", ".") is None
    (True, True)
    """
    match = _pattern(decimal, thousands).fullmatch(text)
    return f"{re.sub('[^0-9+-]', '', match['whole'])}{_tail(match)}" if match else None


def _tail(match: re.Match[str]) -> str:
    return (f".{match['rest'][1:]}" if match["rest"] else "") + (match["power"] or "")


@lru_cache(maxsize=16)
def _pattern(decimal: str, thousands: str) -> re.Pattern[str]:
    between = _BLANK if thousands == " " else re.escape(thousands)
    grouped = rf"[0-9]{{1,3}}(?:{between}[0-9]{{3}})++|" if thousands else ""
    return re.compile(
        rf"(?P<whole>[+-]?(?:{grouped}[0-9]++|(?={re.escape(decimal)}[0-9])))"
        rf"(?P<rest>{re.escape(decimal)}[0-9]*+)?(?P<power>[eE][+-]?[0-9]{{1,3}})?"
    )


def _stated(text: str, how: FilePart) -> str:
    """Return a laboratory's text with its number in our form; what states no number in the file's stays.

    >>> _stated("<0,5 U", FilePart(decimal=",")), _stated("see note", FilePart(decimal=","))
    ('<0.5 U', 'see note')
    """
    match = re.fullmatch(r"([<>≤≥]?\s{0,3})([0-9+-][0-9.,' \u00a0\u202f]{0,30}(?:[eE][+-]?[0-9]{1,3})?)(.{0,60})", text)
    number = plain_number(match[2].strip(), how.decimal, how.thousands) if match else None
    if match is None or number is None:
        return text
    space = " " if match[2] != match[2].rstrip() else ""
    return f"{match[1]}{number}{space}{match[3]}"
