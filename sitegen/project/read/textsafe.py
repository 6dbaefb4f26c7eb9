"""What spreadsheets and word processors do to ids and CAS numbers, found and named.

A serial loses its leading zeros, a CAS number becomes a date, ``12E5`` becomes a power
of ten, a hyphen becomes a dash. Each reading here returns the cell as it is to be used
and, where something is wrong with it, a :data:`Problem` whose last part is the remedy.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from datetime import date, timedelta
from typing import TypeAlias

from sitegen.findings.problems import Severity
from sitegen.voice import worded

Problem: TypeAlias = tuple[str, Severity, str, str]
"""Code, severity, expected, do."""

_UNUSUAL = {
    "\u00a0": ("a no-break space", " "),
    "\u2007": ("a figure space", " "),
    "\u202f": ("a narrow no-break space", " "),
    "\u00ad": ("a soft hyphen", ""),
    "\u200b": ("a zero-width space", ""),
    "\u200c": ("a zero-width mark", ""),
    "\u200d": ("a zero-width mark", ""),
    "\u2060": ("a zero-width mark", ""),
    "\ufeff": ("a byte-order mark", ""),
    "\u2010": ("a different kind of hyphen", "-"),
    "\u2011": ("a no-break hyphen", "-"),
    "\u2012": ("a figure dash", "-"),
    "\u2013": ("an en dash", "-"),
    "\u2014": ("an em dash", "-"),
    "\u2212": ("a minus sign", "-"),
    "\u2018": ("a curly quote", "'"),
    "\u2019": ("a curly quote", "'"),
    "\u201c": ("a curly quote", '"'),
    "\u201d": ("a curly quote", '"'),
}
_PLAIN = str.maketrans({sign: plain for sign, (_, plain) in _UNUSUAL.items()})
_ANY_UNUSUAL = re.compile("[" + "".join(_UNUSUAL) + "]")

_CAS = re.compile(r"\d{2,7}-\d{2}-\d", re.ASCII)
_CAS_DIGITS = re.compile(r"\d{5,10}", re.ASCII)
_POWER = re.compile(r"\d(\.\d+)?E\+\d+", re.ASCII)
_READS_AS_NUMBER = re.compile(r"\d+[Ee]\d+|\d{3,}\.0", re.ASCII)
_MONTHS = "jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec"
_READS_AS_DATE = re.compile(
    rf"\d{{4}}-\d\d-\d\d([T ]00:00(:00)?)?|\d{{1,2}}-(?:{_MONTHS})(-\d{{2,4}})?", re.ASCII | re.IGNORECASE
)
_YEAR_FIRST = re.compile(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})([T ]00:00(:00)?)?", re.ASCII)
_YEAR_LAST = re.compile(r"(\d{1,2})[-/.](\d{1,2})[-/.](\d{4})", re.ASCII)
_SERIAL = re.compile(r"\d{4,6}(\.0)?", re.ASCII)
_SERIAL_ZERO = date(1899, 12, 30)  # day 0 of spreadsheet dates after February 1900


def worded_problem(problem: Problem) -> Problem:
    """Return a problem that was written beforehand in the voice that speaks."""
    code, severity, expected, do = problem
    return code, severity, worded(expected), worded(do)


def plain(text: str) -> str:
    """Write dashes, quotes and blanks of other kinds plainly, and drop unseen characters.

    >>> plain("SG\u201304\u200b")
    'SG-04'
    """
    return text.translate(_PLAIN).strip() if not text.isascii() else text


def unusual(text: str) -> str:
    """Name the characters that :func:`plain` would change, or return "".

    >>> unusual("SG\u201304\u200b")
    'an en dash and a zero-width space'
    """
    names = dict.fromkeys(_UNUSUAL[sign][0] for sign in _ANY_UNUSUAL.findall(text))
    return f" {worded('and')} ".join(map(worded, names))


_ZEROS = re.compile(r"(?<!\d)0+(?=\d)")
_SIGNS = re.compile(r"[\s_-]+")


def alike(name: str) -> str:
    """Return what is the same for ids that differ by case, leading zeros or signs alone.

    >>> alike("SG-05") == alike("sg_5"), alike("SG-50") == alike("SG-5")
    (True, False)
    """
    return _ZEROS.sub("", _SIGNS.sub("-", name.casefold()))


def read_id(text: str) -> tuple[str, Problem | None]:
    """Read one id: the id in plain characters, and what is wrong with it.

    >>> read_id("1.2E+05")[1][0]
    'id-turned-number'
    """
    if text.isalpha():
        return text, None
    if not text.isascii() and (names := unusual(text)):
        do = worded("write {text}: the cell contains {signs}", text=plain(text), signs=names)
        return plain(text), ("id-characters", Severity.NOTE, worded("plain hyphens, quotation marks and spaces"), do)
    if _POWER.fullmatch(text):
        do = "copy the id from its label or the original document, into a cell formatted as text"
        return text, ("id-turned-number", Severity.STOP, "an id with all its digits", do)
    if _READS_AS_NUMBER.fullmatch(text):
        do = worded("compare it with its label, and keep the column formatted as text")
        expected = worded("an id that spreadsheets do not read as a number")
        return text, ("id-reads-as-number", Severity.NOTE, expected, do)
    if _READS_AS_DATE.fullmatch(text):
        do = worded("compare it with its label: spreadsheets convert ids such as 3-2 to dates")
        return text, ("id-reads-as-date", Severity.FLAG, worded("an id that is not a date"), do)
    return text, None


def read_ids(text: str) -> tuple[str, Problem | None]:
    """Read a list of ids separated by ``;``, telling the worst problem of them."""
    pairs = [read_id(part.strip()) for part in text.split(";")]
    problems = sorted((problem for _, problem in pairs if problem), key=lambda problem: problem[1].rank)
    if not problems:
        return text, None
    return ";".join(read for read, _ in pairs), problems[0]


def lost_zeros(ids: Iterable[str]) -> Iterator[tuple[str, str]]:
    """Yield (id, id as it may have been) for ids that look shortened.

    Where all ids of digits that begin with 0 have one length, a shorter id of digits in
    the same column has probably lost its zeros.

    >>> list(lost_zeros(["0047102", "47103", "SG-04"]))
    [('47103', '0047103')]
    """
    digits = sorted({text for text in ids if text.isascii() and text.isdigit()})
    widths = {len(text) for text in digits if text[0] == "0" and len(text) > 1}
    if len(widths) == 1:
        width = widths.pop()
        yield from ((text, text.zfill(width)) for text in digits if len(text) < width)


def cas_digit(digits: str) -> int:
    """Return the check digit for the digits before it.

    The sum of each digit times its position from the right, modulo 10 (CAS).

    >>> cas_digit("773218")
    5
    """
    return sum(int(digit) * place for place, digit in enumerate(reversed(digits), start=1)) % 10


def cas_agrees(cas: str) -> bool:
    """Tell whether a text has the form of a CAS number and its check digit is right.

    >>> cas_agrees("127-18-4"), cas_agrees("127-18-5"), cas_agrees("water")
    (True, False, False)
    """
    digits = cas.replace("-", "")
    return bool(_CAS.fullmatch(cas)) and int(digits[-1]) == cas_digit(digits[:-1])


def read_cas(text: str) -> tuple[str, Problem | None]:
    """Read one CAS number, "" where it can't be read, and what is wrong with it.

    >>> read_cas("2005-01-04")[1][3]
    'check the original: a spreadsheet converted it to a date'
    """
    if not text or _CAS.fullmatch(text):
        return text, None
    simple = plain(text).replace(" ", "")
    if _CAS.fullmatch(simple):
        do = worded("write {text}: the cell contains {signs}", text=simple, signs=unusual(text) or worded("spaces"))
        return simple, ("cas-dashes", Severity.NOTE, worded("plain hyphens"), do)
    expected = "a CAS number such as 127-18-4"
    meant = sorted(set(_cas_meant(plain(text))))
    if _dates(plain(text)):
        do = f"write {' or '.join(meant)}" if meant else "check the original"
        return "", ("cas-turned-date", Severity.STOP, expected, f"{do}: a spreadsheet converted it to a date")
    do = f"write {' or '.join(meant)}" if meant else "restore it from the laboratory's list"
    do += ": spreadsheets drop hyphens and convert to dates"
    return "", ("cas-unreadable", Severity.STOP, expected, do)


def _cas_meant(text: str) -> Iterator[str]:
    """Yield the CAS numbers, by their check digit, that a spreadsheet may have turned into ``text``."""
    bare = text.removesuffix(".0")
    if _CAS_DIGITS.fullmatch(bare):
        yield from _agreeing(f"{bare[:-3]}-{bare[-3:-1]}-{bare[-1]}")
    days = _dates(text)
    if _SERIAL.fullmatch(text):
        days = [_SERIAL_ZERO + timedelta(days=int(bare))]
    for day in days:
        yield from _agreeing(f"{day.year}-{day.month:02}-{day.day}")


def _agreeing(cas: str) -> Iterator[str]:
    if cas_agrees(cas):
        yield cas


def _dates(text: str) -> list[date]:
    """Return the dates that a text can be read as: year first, or day and month in either order."""
    if match := _YEAR_FIRST.fullmatch(text):
        orders = [(match[1], match[2], match[3])]
    elif match := _YEAR_LAST.fullmatch(text):
        orders = [(match[3], match[1], match[2]), (match[3], match[2], match[1])]
    else:
        return []
    return [day for order in orders if (day := _date(*map(int, order)))]


def _date(year: int, month: int, day: int) -> date | None:
    try:
        return date(year, month, day)
    except ValueError:
        return None
