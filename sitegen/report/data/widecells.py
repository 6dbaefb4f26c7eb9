"""What a cell of a points-by-compounds sheet shows of a result, and what stands beside it.

A detection is a number in the laboratory's own digits; everything else is a text, so that no program
can take a non-detect for a number.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace
from functools import lru_cache
from math import isnan
from typing import NamedTuple

from sitegen.compute.marks import MarkFact, Marks
from sitegen.compute.results.concentration import Concentration
from sitegen.compute.results.reported import figure_text, qualifier
from sitegen.compute.results.store import StoredResult
from sitegen.compute.statistics.rounding import all_digits, as_reported
from sitegen.project.reads import reading
from sitegen.report.record.sheets import SheetCell, Shown
from sitegen.report.results.aircells import concentration_text
from sitegen.report.write.context import Context
from sitegen.report.write.values import mark_words
from sitegen.report.write.words import say

_PLAIN = re.compile(r"[+-]?(?P<whole>\d{1,3}(?:,\d{3})+|\d*)(?:\.(?P<part>\d*))?(?P<power>[eE][+-]?\d+)?")
_MOST_DECIMALS = 20


class WideFigure(NamedTuple):
    """A result as a sheet shows it: its cell, its reporting limit as text, its qualifier, the words of its own marks.

    ``limit`` is empty where none is on record; ``tells_limit`` says that the cell itself names it.
    """

    cell: SheetCell
    limit: str
    tells_limit: bool
    qualifier: str
    marks: tuple[str, ...]

    def beside(self, head_limit: str) -> str:
        """Return what stands beside the number; its limit only where it is not that of the head."""
        told = self.tells_limit or (self.limit != "" and self.limit == head_limit)
        limit = "" if told else say("sheets.limit", limit=self.limit)
        return "; ".join(part for part in (self.qualifier, *self.marks, limit) if part)


def reported_figure(row: StoredResult, marks: Marks, display: str) -> WideFigure:
    """Return a result as the laboratory reported it; ``display`` names the limit of a non-detect without a text."""
    text = figure_text(row, display)
    cell: SheetCell = shown(text, row.value) if row.detected else text or _without_figure(row)
    limit = "" if isnan(row.rl) else as_reported(row.rl)
    tells = row.rejected or (not row.detected and _number(text[1:]) == row.rl)
    return WideFigure(cell, limit, tells, qualifier(row), _own_marks(row, marks))


def computed_figure(row: StoredResult, found: Concentration, marks: Marks) -> WideFigure:
    """Return the concentration that was computed from a result, in the digits in which the report shows it."""
    text = concentration_text(found, "")
    limit = "" if isnan(found.rl_ug_m3) else concentration_text(replace(found, detected=False), "")[1:]
    number = _number(text) if found.detected else None
    cell: SheetCell = text if number is None else shown(text, number)
    return WideFigure(cell, limit, not found.detected, qualifier(row), _own_marks(row, marks))


def marks_of(context: Context) -> Marks:
    """Return every mark; no number rests on them."""
    with reading():
        return context.evaluation.marks


def row_marks(context: Context, sampler_id: str) -> tuple[str, ...]:
    """Return the words of the marks that hold for every result of a sampler, each once."""
    return _words(marks_of(context).by_sampler.get(sampler_id, ()))


def _own_marks(row: StoredResult, marks: Marks) -> tuple[str, ...]:
    found = marks.by_result.get(row.key)
    return _words(found) if found else ()


def _words(facts: Iterable[MarkFact]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(mark.word for mark in mark_words(facts)))


def _without_figure(row: StoredResult) -> str:
    return say("sheets.rejected") if row.rejected else say("sheets.no_limit")


@lru_cache(maxsize=1 << 14)
def shown(text: str, value: float) -> Shown:
    """Return a number with the digits of a text; with all of its own where the text writes another number, or none.

    >>> shown("1.20E+03", 1200.0).text, shown("1,270", 1270.0).text, shown("12.50", 12.5).text
    ('1.20E+03', '1,270', '12.50')
    >>> shown("12.5e2", 1250.0).text, shown("1.270,0", 1270.0).text, shown("", 1e-25).text
    ('1.25E+03', '1,270', '1E-25')
    """
    if _number(text) != value:
        text = all_digits(value)
    match = _PLAIN.fullmatch(text)
    whole, part, power = match.group("whole", "part", "power") if match else ("", None, None)
    part = part or ""
    if power or len(part) > _MOST_DECIMALS:
        figures = len(f"{whole}{part}".lstrip("0"))
        return Shown(value, min(max(figures - 1, 0), _MOST_DECIMALS), scientific=True)
    return Shown(value, len(part), grouped="," in whole)


@lru_cache(maxsize=1 << 14)
def _number(text: str) -> float | None:
    """Return the number that a text writes, None where it writes none."""
    match = _PLAIN.fullmatch(text)
    if not match or not any(sign.isdigit() for sign in text):
        return None
    return float(text.replace(",", ""))
