"""Text cells to typed columns; whatever can't be read is told with its row."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from difflib import get_close_matches

from sitegen.findings.problems import Finding, Severity, Where
from sitegen.project.limits import TOLD
from sitegen.project.read.textsafe import Problem, lost_zeros, plain, read_cas, read_id, read_ids
from sitegen.project.schema import Column, Kind, Origin, TableSpec
from sitegen.project.zones import YEARS, read_time, zone
from sitegen.voice import worded

MAX_TOLD = TOLD.value
"""At most this many findings of one code in one column are listed; the rest are counted."""

NOT_RECORDED = ("", "NA")
_NUMBER = re.compile(r"[+-]?(\d++\.?\d*+|\.\d++)([eE][+-]?\d{1,3})?", re.ASCII)
_INTEGER = re.compile(r"[+-]?\d{1,12}", re.ASCII)
_DATE = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)


@dataclass(frozen=True, slots=True)
class Stand:
    """Where the rows of a table stand: their file, and the sheet of a workbook.

    Findings about them are known by ``named``; ``received`` has the cells, by row number and column,
    whose file has another text than the one to be read.
    """

    file: str = ""
    sheet: str = ""
    named: str = ""
    received: Mapping[tuple[int, str], str] = field(default_factory=dict)


class Told:
    """Gather findings of a table, capping how often one code is told in one column.

    ``path`` is the file that the rows come from, where it is not the table's own; what findings
    about its rows are known by is ``named``, the same whatever kind of file has the table.
    """

    def __init__(self, spec: TableSpec, stand: Stand = Stand()) -> None:
        self.spec = spec
        self.path = stand.file or spec.path
        self.named = stand.named or self.path
        self._sheet = stand.sheet
        self._received = stand.received
        self.findings: list[Finding] = []
        self._rows: dict[tuple[str, str], list[int]] = {}

    def add(self, problem: Problem, row: int, column: str, found: str, subject: str) -> None:
        """Keep a finding about one cell."""
        code, severity, expected, do = problem
        rows = self._rows.setdefault((code, column), [])
        rows.append(row)
        if len(rows) <= MAX_TOLD:
            shown = found if len(found) <= 60 else found[:57] + "…"
            where = self.where(row, column)
            self.findings.append(Finding(code, severity, subject, where, shown, expected, do, self.spec.name))

    def where(self, row: int | None, column: str) -> Where:
        """Return the place of a cell, or of a column."""
        place = Origin(self.path, row or 0, self._sheet).where(column)
        return place if row else Where(place.file, None, place.column)

    def quote(self, text: str, row: int, column: str) -> str:
        """Return a cell as its file has it, in quotes."""
        return repr(self._received.get((row, column), text))

    def close(self) -> list[Finding]:
        """Return the findings, with one more for each code that was cut short."""
        for (code, column), every in self._rows.items():
            rows = tuple(every[MAX_TOLD:])
            if rows:
                where = self.where(None, column)
                first = next(f for f in self.findings if f.code == code and f.where.column == where.column)
                self.findings.append(
                    Finding(
                        code,
                        first.severity,
                        f"{self.named}+{column}",
                        where,
                        worded("{count} more cells of this kind", count=len(rows)),
                        first.expected,
                        first.do,
                        self.spec.name,
                        count=len(rows),
                        rows=rows,
                    )
                )
        return self.findings


def tidy(text: str) -> str:
    """Strip blanks and unseen characters at both ends; ``NA`` becomes ""."""
    text = text.strip().strip("\u00a0\u200b\ufeff").strip()
    return "" if text in NOT_RECORDED else text


def tidy_all(texts: Sequence[str]) -> list[str]:
    """Tidy many cells, each distinct text once."""
    changed = {text: neat for text in set(texts) if (neat := tidy(text)) != text}
    return [changed.get(text, text) for text in texts] if changed else list(texts)


def number(text: str) -> float | None:
    """Read a plain decimal number, or return None.

    >>> number("1.2E+03"), number("1,200"), number("nan")
    (1200.0, None, None)
    """
    if not _NUMBER.fullmatch(text):
        return None
    value = float(text)
    return value if math.isfinite(value) else None


def read_column(
    column: Column, cells: list[str], rows: Iterable[int], zones: list[str], told: Told
) -> dict[str, list[object]]:
    """Turn one column's text into typed values; a time adds a ``…_utc`` column of minutes.

    Blank cells become "" for text, None for numbers and minutes. ``zones`` holds each row's zone.
    """
    if column.kind is Kind.TIME:
        return _times(column, cells, list(rows), zones, told)
    read = _READERS.get(column.kind)
    if column.kind is Kind.CHOICE or column.kind is Kind.FLAG:
        read = _choice_reader(column)
    if read is None:
        return {column.name: list(cells)}
    readings = {text: read(text) for text in dict.fromkeys(cells)}
    if any(problem for _, problem in readings.values()):
        _tell(column, cells, rows, readings, told)
    if column.kind is Kind.ID and (full := dict(lost_zeros(readings))):
        _tell_lost_zeros(column, cells, rows, full, told)
    values = {text: value for text, (value, _) in readings.items()}
    return {column.name: [values[text] for text in cells]}


def _tell(
    column: Column,
    cells: list[str],
    rows: Iterable[int],
    readings: Mapping[str, tuple[object, Problem | None]],
    told: Told,
) -> None:
    for text, row in zip(cells, rows, strict=True):
        problem = readings[text][1]
        if problem is not None:
            told.add(problem, row, column.name, told.quote(text, row, column.name), f"{told.named}+{row}")


def _tell_lost_zeros(
    column: Column, cells: list[str], rows: Iterable[int], full: Mapping[str, str], told: Told
) -> None:
    for text, row in zip(cells, rows, strict=True):
        if text in full:
            expected = worded("ids of {count} digits, as in other rows", count=len(full[text]))
            do = worded("write {text} if its label reads so: leading zeros count", text=full[text])
            problem = ("id-zeros-lost", Severity.FLAG, expected, do)
            told.add(problem, row, column.name, repr(text), f"{column.name}+{text}")


def _times(column: Column, cells: list[str], rows: list[int], zones: list[str], told: Told) -> dict[str, list[object]]:
    minutes: list[object] = []
    for text, row, place in zip(cells, rows, zones, strict=True):
        if not text:
            minutes.append(None)
            continue
        instant = read_time(text, place)
        minutes.append(instant.utc_min)
        if instant.state != "fine" and zone(place) is not None:
            problem = _time_problem(instant.state, place)
            told.add(problem, row, column.name, told.quote(text, row, column.name), f"{told.named}+{row}")
    return {column.name: list(cells), f"{column.name}_utc": minutes}


def tell_zones(zones: Sequence[str], rows: Iterable[int], told: Told) -> None:
    """Tell of the rows whose column ``tz`` names no zone, each once; their times can't be read."""
    do = "write a name such as America/Chicago, or leave tz blank for the project's zone"
    problem = ("zone-unknown", Severity.STOP, "the name of an IANA time zone", do)
    for name, row in zip(zones, rows, strict=True):
        if name and zone(name) is None:
            told.add(problem, row, "tz", repr(name), f"{told.named}+{row}")


def _time_problem(state: str, place: str) -> Problem:
    return {
        "unreadable": (
            "time-unreadable",
            Severity.STOP,
            f"a local time as YYYY-MM-DDThh:mm, in the years {YEARS[0]} to {YEARS[-1]}",
            "write the time in that form",
        ),
        "does not exist": (
            "time-does-not-exist",
            Severity.STOP,
            f"a time that exists in {place}",
            "check the time in the field notes: clocks went forward over it",
        ),
        "occurs twice": (
            "time-occurs-twice",
            Severity.FLAG,
            worded("an offset, because clocks went back and this hour occurred twice"),
            worded("add the offset, as in 2025-11-02T01:30-06:00"),
        ),
        "offset disagrees": (
            "offset-disagrees",
            Severity.STOP,
            f"an offset that {place} had at that time",
            "correct the offset or the zone",
        ),
    }[state]


def _read_number(text: str) -> tuple[object, Problem | None]:
    if not text:
        return None, None
    value = number(text)
    if value is not None:
        return value, None
    return None, ("number-unreadable", Severity.STOP, "a plain decimal number", number_hint(text))


def number_hint(text: str) -> str:
    """Say what to do about a text that is no plain number.

    >>> number_hint("1,2")
    'use a decimal point and no thousands separator'
    """
    simple = plain(text).replace(" ", "")
    if number(simple) is not None:
        return f"write {simple}: the cell contains a different kind of dash or blank"
    if number(simple.replace(",", ".")) is not None and simple.count(",") == 1:
        return "use a decimal point and no thousands separator"
    if simple[:1] in ("<", ">"):
        return "enter the sign in result_text and the limit in rl, and leave value blank"
    return "write digits with a decimal point; units belong in the column's name"


def _read_integer(text: str) -> tuple[object, Problem | None]:
    if not text:
        return None, None
    if _INTEGER.fullmatch(text):
        return float(text), None
    return None, ("number-unreadable", Severity.STOP, "a whole number", "write digits only")


def _read_date(text: str) -> tuple[object, Problem | None]:
    if not text:
        return "", None
    try:
        if _DATE.fullmatch(text) and int(text[:4]) in YEARS:
            return date.fromisoformat(text).isoformat(), None
    except ValueError:
        pass
    expected = f"a date as YYYY-MM-DD, in the years {YEARS[0]} to {YEARS[-1]}"
    return "", ("date-unreadable", Severity.STOP, expected, "write the date in that form")


def _choice_reader(column: Column) -> Callable[[str], tuple[object, Problem | None]]:
    choices = column.choices or ("yes", "no")

    def read(text: str) -> tuple[object, Problem | None]:
        if not text or text in choices:
            return text, None
        return "", ("word-unknown", Severity.STOP, "one of " + ", ".join(choices), _word_hint(text, choices))

    return read


def _word_hint(text: str, choices: Sequence[str]) -> str:
    """Name the word that was surely meant; of words that only look alike, another may be right.

    >>> _word_hint("Trip blank", ("sample", "trip_blank"))
    'write trip_blank'
    >>> _word_hint("returned", ("used", "returned_unused"))
    'use the one that applies; returned_unused is the nearest in spelling'
    """
    spelt = re.sub(r"[\s-]+", "_", _TRUTH.get(text, text).lower())
    abbreviated = [choice for choice in choices if choice[0] == spelt]
    if spelt in choices or len(abbreviated) == 1:
        return f"write {spelt if spelt in choices else abbreviated[0]}"
    nearest = get_close_matches(spelt, choices, n=1, cutoff=0.6)
    return f"use the one that applies; {nearest[0]} is the nearest in spelling" if nearest else "use one of these words"


_TRUTH = {"TRUE": "yes", "FALSE": "no"}
"""How a spreadsheet writes truth."""

_READERS: dict[Kind, Callable[[str], tuple[object, Problem | None]]] = {
    Kind.NUMBER: _read_number,
    Kind.INTEGER: _read_integer,
    Kind.DATE: _read_date,
    Kind.CAS: read_cas,
    Kind.ID: read_id,
    Kind.IDS: read_ids,
}
