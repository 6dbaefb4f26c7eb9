"""What a single cell looks like: a number, a limit, a token, a CAS number, a date, a range, or text."""

from __future__ import annotations

import re
from functools import lru_cache

from sitegen.project.proposal.words import LONGEST, nondetect, prefixes
from sitegen.project.read.textsafe import cas_agrees, plain

NUMBER, BELOW, JOINED, TOKEN = "number", "below", "joined", "token"
CAS, DATE, RANGE, PERCENT, TEXT, BLANK = "cas", "date", "range", "percent", "text", "blank"
RESULT_SHAPES = (NUMBER, BELOW, JOINED, TOKEN)

_NUMBER = re.compile(r"[+-]?(?:\d[\d.,' ]*+|[.,]\d++)(?:[eE][+-]?\d{1,3})?", re.ASCII)
_JOINED = re.compile(
    r"(?P<number>[+-]?(?:\d[\d.,' ]*+|[.,]\d++)(?:[eE][+-]\d{1,3})?)(?P<rest>[A-Za-z*][A-Za-z*+,;/ -]{0,9})"
)
_RANGE = re.compile(r"\d{1,3}(?:\.\d{1,2})?\s?%?\s?(?:-|to)\s?\d{1,3}(?:\.\d{1,2})?\s?%?", re.ASCII)
_DAY = re.compile(
    r"(?:\d{1,2}[/.-]\d{1,2}[/.-](?:\d{4}|\d{2})|\d{4}[/.-]\d{1,2}[/.-]\d{1,2}"
    r"|\d{1,2}[ -][A-Za-z]{3,9}[ -](?:\d{4}|\d{2}))"
    r"(?:[ T]\d{1,2}:\d{2}(?::\d{2})?(?: ?[AaPp][Mm])?)?",
    re.ASCII,
)


@lru_cache(maxsize=100_000)
def shape(text: str) -> str:
    """Return what a cell looks like.

    >>> [shape(text) for text in ("12", "<0.5", "<0.5 U", "ND", "127-18-4")]
    ['number', 'below', 'joined', 'token', 'cas']
    >>> [shape(text) for text in ("11/03/2025 2:05 PM", "70-130", "98%", "SG-1")]
    ['date', 'range', 'percent', 'text']
    """
    text = plain(text.strip())
    if not text:
        return BLANK
    if len(text) > LONGEST:
        return TEXT
    if nondetect(text):
        return TOKEN
    return _other_shape(text)


def _other_shape(text: str) -> str:
    if cas_agrees(text):
        return CAS
    for pattern, kind in ((_DAY, DATE), (_RANGE, RANGE), (_NUMBER, NUMBER)):
        if pattern.fullmatch(text):
            return kind
    if text.endswith("%") and _NUMBER.fullmatch(text[:-1].strip()):
        return PERCENT
    below, bare = parts(text)
    if below and _NUMBER.fullmatch(bare):
        return BELOW
    return JOINED if _JOINED.fullmatch(bare) else TEXT


def parts(text: str) -> tuple[str, str]:
    """Return the sign before a limit, "" where there is none, and the rest.

    >>> parts("ND<0.5"), parts("0.5")
    (('ND<', '0.5'), ('', '0.5'))
    """
    below = next((sign for sign in prefixes() if text.startswith(sign)), "")
    return below, text[len(below) :]


def joined_qualifier(text: str) -> str:
    """Return the qualifier that stands behind a number, "" where there is none.

    >>> joined_qualifier("<0.5 U"), joined_qualifier("12J"), joined_qualifier("1.2E+03")
    ('U', 'J', '')
    """
    if shape(text) != JOINED:
        return ""
    found = _JOINED.fullmatch(parts(plain(text.strip()))[1])
    return found["rest"].strip() if found else ""


def number_part(text: str) -> str:
    """Return the digits and signs of the number in a result cell, "" where it holds none.

    >>> number_part("<1.234,5 U"), number_part("ND")
    ('1.234,5', '')
    """
    kind = shape(text)
    bare = parts(plain(text.strip()))[1].strip()
    if kind in (NUMBER, BELOW):
        return bare
    found = _JOINED.fullmatch(bare) if kind == JOINED else None
    return found["number"].strip() if found else ""
