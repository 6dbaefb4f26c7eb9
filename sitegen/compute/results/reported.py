"""What the laboratory wrote of a result, as tables print it.

A table prints the laboratory's own text, with the qualifier in force where the text has it
not. Where that text does not read as the number on file (another unit, another decimal
sign, a remark), the number stands first, with all its figures, and the text follows in
parentheses. Rounding is for what is computed and for headlines (:mod:`rounding`).

Such a number is not left to its text alone, for a number under a heading with a unit must be in
that unit.
"""

from __future__ import annotations

import re
from functools import lru_cache
from math import isnan

from sitegen.compute.results.store import NONDETECT_QUALIFIERS, StoredResult
from sitegen.compute.statistics.rounding import as_reported
from sitegen.project.read.cells import number, tidy

MOST_CHARACTERS = 24
"""The most characters of a laboratory's text that a cell prints; the row as received has all of it."""

_TEXT = re.compile(r"(?P<less><|≤)?\s*(?P<number>[+-]?[\d.]+(?:[eE][+-]?\d+)?)\s*(?P<marks>[A-Z][A-Z+-]*)?")
_NONDETECT = re.compile(r"(?:n\.?d\.?|u|not detected|non-?detect|<\s*(?:rl|mdl|lod))", re.IGNORECASE)
_GROUPED = re.compile(r"(?<![\d.,])\d{1,3}(?:,\d{3})+(?![\d,])")
_FIGURE = re.compile(r"(?<![\d.,])[+-]?(?:[.,]?\d++)+(?:[eE][+-]?\d+)?")
_SPLIT = re.compile(r"[,;/\s]+")


def read_text(text: str) -> tuple[str, float | None]:
    """Return what a laboratory's text says: ``value``, ``nondetect`` or "", and its number.

    >>> read_text("1.2E+03"), read_text("<10"), read_text("ND"), read_text("10 U"), read_text("see note")
    (('value', 1200.0), ('nondetect', 10.0), ('nondetect', None), ('nondetect', 10.0), ('', None))
    """
    if _NONDETECT.fullmatch(text):
        return "nondetect", None
    match = _TEXT.fullmatch(text)
    value = number(match["number"]) if match else None
    if match is None or value is None:
        return "", None
    below = match["less"] or (match["marks"] or "") in NONDETECT_QUALIFIERS
    return ("nondetect" if below else "value"), value


def split_qualifiers(text: str) -> list[str]:
    """Return the qualifiers of a cell.

    >>> split_qualifiers("J, B"), split_qualifiers("")
    (['J', 'B'], [])
    """
    return [part for part in _SPLIT.split(text) if part]


def qualifier(row: StoredResult) -> str:
    """Return the qualifier that prints: a person's before the laboratory's; ``<`` stands for U."""
    stated = row.validation_qualifier or row.lab_qualifier
    return "" if stated == "U" and not row.by_person else stated


def limit_of(row: StoredResult, display: str) -> float:
    """Return the limit that a non-detect is shown at, as the project chose."""
    return row.mdl if display == "mdl" and row.mdl == row.mdl and not row.by_person else row.rl


def reported_text(row: StoredResult, display: str = "rl") -> str:
    """Return the laboratory's text of a result with the qualifier in force.

    ``row`` is a row of the store. ``display`` (``rl`` or ``mdl``) names the limit of a
    non-detect of which the laboratory gave no text, or one that can't be read: ``1.27E+03 J``,
    ``1,270 (1.270,0)``, ``rejected (1.27E+03)``.
    """
    text = _cell_text(row.result_text)
    if text and not row.rejected and _says_the_same(text, row):
        return _with_qualifier(text, row)
    own = "rejected" if row.rejected else f"{_number_text(row, display)} {qualifier(row)}".strip()
    return f"{own} ({text})" if text else own


def printed_text(row: StoredResult, display: str = "rl") -> str:
    """Return :func:`reported_text`, and the limit of a non-detect whose text has none: ``ND (<10)``.

    For tables without a column of limits: no non-detect is printed without its limit.
    """
    text = reported_text(row, display)
    bare = not row.detected and not row.rejected and not any(sign.isdigit() for sign in text)
    return f"{text} (<{as_reported(limit_of(row, display))})" if bare else text


def figure_text(row: StoredResult, display: str = "rl") -> str:
    """Return the number alone that :func:`reported_text` prints, in the laboratory's own digits where it prints those.

    ``<`` and its limit for a non-detect; nothing for a rejected result, and for a non-detect without any limit.
    """
    if row.rejected:
        return ""
    text = _cell_text(row.result_text)
    found = _FIGURE.search(text) if text and _says_the_same(text, row) else None
    if found:
        return found[0] if row.detected else f"<{found[0]}"
    return "" if not row.detected and isnan(limit_of(row, display)) else _number_text(row, display)


def _number_text(row: StoredResult, display: str) -> str:
    return as_reported(row.value) if row.detected else f"<{as_reported(limit_of(row, display))}"


@lru_cache(maxsize=1 << 14)
def _cell_text(text: str) -> str:
    """Return a text on one line, cut where it is too long for a cell."""
    line = " ".join(tidy(text).split())
    return line if len(line) <= MOST_CHARACTERS else line[: MOST_CHARACTERS - 1].rstrip() + "…"


@lru_cache(maxsize=1 << 14)
def _read(text: str) -> tuple[str, float | None]:
    """Read a text as :func:`read_text` does, with commas between thousands as well."""
    return read_text(_GROUPED.sub(lambda match: match[0].replace(",", ""), text))


def _says_the_same(text: str, row: StoredResult) -> bool:
    """Tell whether a text, with the qualifier in force, reads as what is on file."""
    kind, figure = _read(text)
    if row.detected:
        return kind == "value" and figure == row.value
    below = kind == "nondetect" or (kind == "value" and _makes_nondetect(row))
    return below and (figure is None or figure in (row.rl, row.mdl))


def _makes_nondetect(row: StoredResult) -> bool:
    stated = row.validation_qualifier or row.lab_qualifier
    return any(mark in NONDETECT_QUALIFIERS for mark in split_qualifiers(stated))


def _with_qualifier(text: str, row: StoredResult) -> str:
    """Add the qualifier in force to a text that has another or none; a U is not added to what says it."""
    stated = row.validation_qualifier or row.lab_qualifier
    marks = _marks(text)
    if not stated or marks == stated or (stated == "U" and _read(text)[0] == "nondetect"):
        return text
    return f"{text}; {stated}" if marks else f"{text} {stated}"


@lru_cache(maxsize=1 << 14)
def _marks(text: str) -> str:
    match = _TEXT.fullmatch(text)
    return (match["marks"] or "") if match else ""
