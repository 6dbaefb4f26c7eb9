"""Rows of samplers.csv that stand for a range of serials: ``0047102-0047131``, both ends with it.

A range is read as one only where project.toml says so (``[derive] serial_ranges = true``), for a
serial may hold a hyphen of its own. Each sampler of a range becomes a row as the range's row has
it, and stands where that stands. A serial that has a row of its own is left out of the range.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import NamedTuple, TypeVar

from sitegen.findings.problems import Finding, Severity
from sitegen.project.intake.text import TableText
from sitegen.project.limits import ID, SERIALS
from sitegen.project.read.cells import tidy
from sitegen.project.read.csvtext import RawTable
from sitegen.project.read.textsafe import plain
from sitegen.project.survey import Rule

T = TypeVar("T")

COLUMN = "sampler_id"
_NUMBERED = re.compile(r"(.*?)(?<!\d)(\d++)", re.ASCII)
_TWO_NUMBERS = re.compile(r"\d++-\d++", re.ASCII)


class SerialRange(NamedTuple):
    """Serials that count up by one: the words before the figures, how many figures, the first and last number."""

    head: str
    width: int
    first: int
    last: int

    @property
    def size(self) -> int:
        """How many serials the range has; less than one where it runs backwards."""
        return self.last - self.first + 1

    def serials(self) -> Iterator[str]:
        """Yield each serial of the range, in order."""
        return (f"{self.head}{number:0{self.width}d}" for number in range(self.first, self.last + 1))


def serial_range(cell: str) -> SerialRange | None:
    """Return the range that a cell names; None where it is a serial, or its ends differ in form.

    >>> list(serial_range("0047109-0047111").serials())
    ['0047109', '0047110', '0047111']
    >>> list(serial_range("T1-09-T1-10").serials())
    ['T1-09', 'T1-10']
    >>> serial_range("0047-109"), serial_range("A-12")
    (None, None)
    """
    bare = "".join(plain(cell).split())
    middle = len(bare) // 2
    if len(bare) % 2 == 0 or bare[middle] != "-" or middle > ID.value:
        return None
    first, last = _NUMBERED.fullmatch(bare[:middle]), _NUMBERED.fullmatch(bare[middle + 1 :])
    if not first or not last or (first[1], len(first[2])) != (last[1], len(last[2])):
        return None
    return SerialRange(first[1], len(first[2]), int(first[2]), int(last[2]))


def with_serials(text: TableText) -> tuple[TableText, list[Finding]]:
    """Return samplers.csv with a row for each serial of its ranges, and findings about ranges that can't be read."""
    if COLUMN not in text.read.header:
        return text, []
    at = text.read.header.index(COLUMN)
    findings: list[Finding] = []
    ranges: dict[int, SerialRange] = {}
    left = SERIALS.value
    for row, cells in enumerate(text.read.rows):
        found = serial_range(tidy(cells[at]))
        problem = _problem(text, row, tidy(cells[at]), found, left)
        if problem:
            findings.append(problem)
        elif found:
            ranges[row] = found
            left -= found.size
    return (_expanded(text, at, ranges) if ranges else text), findings


def _expanded(text: TableText, at: int, ranges: dict[int, SerialRange]) -> TableText:
    own = {tidy(cells[at]) for row, cells in enumerate(text.read.rows) if row not in ranges}
    taken: list[int] = []
    rows: list[list[str]] = []
    derived: dict[tuple[int, str], Rule] = {}
    before: dict[int, dict[str, Rule]] = {}
    for (row, name), rule in text.derived.items():
        before.setdefault(row, {})[name] = rule
    for row, cells in enumerate(text.read.rows):
        serials = [serial for serial in ranges[row].serials() if serial not in own] if row in ranges else [cells[at]]
        for serial in serials:
            derived |= {(len(rows), name): rule for name, rule in before.get(row, {}).items()}
            if row in ranges:
                words = f"one of the serials {tidy(cells[at])}"
                derived[len(rows), COLUMN] = Rule(words, words)
            rows.append([*cells[:at], serial, *cells[at + 1 :]])
            taken.append(row)
    read = RawTable(text.read.header, tuple(rows), _each(text.read.numbers, taken))
    received = RawTable(text.received.header, _each(text.received.rows, taken), _each(text.received.numbers, taken))
    return replace(text, received=received, read=read, derived=derived)


def _each(values: Sequence[T], taken: Sequence[int]) -> tuple[T, ...]:
    return tuple(values[row] for row in taken)


def _problem(text: TableText, row: int, cell: str, found: SerialRange | None, left: int) -> Finding | None:
    """Return what is wrong with a range, None where nothing is, or where a cell names none."""
    if found is None:
        if not _TWO_NUMBERS.fullmatch(plain(cell)):
            return None
        return _told(
            text,
            row,
            cell,
            "a first and a last serial with the same number of digits",
            "write both with all their zeros",
        )
    if found.size < 1:
        return _told(text, row, cell, "the lower serial first", "exchange the two, or correct them")
    if found.size > left:
        words = f"{found.size:,} serials in {cell}" if found.size < 10**15 else f"the range {cell}"
        return _told(text, row, words, SERIALS.at_most, "correct the ends of the range")
    label = text.read.header.index("label") if "label" in text.read.header else None
    if label is not None and tidy(text.read.rows[row][label]):
        words = f"one label for {found.size:,} samplers"
        return _told(
            text,
            row,
            words,
            "a label for one sampler only",
            "leave the label blank, or enter its sampler in a separate row",
            "label",
        )
    return None


def _told(text: TableText, row: int, found: str, expected: str, do: str, column: str = COLUMN) -> Finding:
    number = text.read.numbers[row]
    shown = found if len(found) <= 60 else found[:57] + "…"
    subject, where = f"{text.file}+{number}", text.where(number, column)
    return Finding("serial-range-invalid", Severity.STOP, subject, where, shown, expected, do, "samplers")
