"""Dates and times in another form than ISO 8601's, by a form that somebody declared.

A form is written with words for the parts and the signs between them, as in
``month/day/year hour12:minute ampm``. Which number is the month is never guessed.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from itertools import pairwise, product

_MONTHS = (
    "january", "february", "march", "april", "may", "june", "july", "august", "september", "october", "november",
    "december",
)  # fmt: skip
_CENTURY_TURN = 69
"""Years of two digits from here on are of the last century, the others of this one (POSIX.1-2017, strptime, %y)."""
_PATTERNS = {
    "year": r"(?P<year>[0-9]{4})",
    "year2": r"(?P<year2>[0-9]{2})",
    "month": r"(?P<month>[0-9]{1,2})",
    "monthname": r"(?P<monthname>[A-Za-z]{3,9})\.?",
    "day": r"(?P<day>[0-9]{1,2})",
    "hour": r"(?P<hour>[0-9]{1,2})",
    "hour12": r"(?P<hour12>[0-9]{1,2})",
    "minute": r"(?P<minute>[0-9]{2})",
    "second": r"(?P<second>[0-9]{2})",
    "ampm": r"(?P<half>[AaPp])(?:[Mm]|\.[Mm]\.)",
}
_WORD = re.compile(r"year2?|monthname|month|day|hour12|hour|minute|second|ampm")
_BETWEEN = re.compile(r"[-/., :T]{1,3}")
_BLANK = "[ \u00a0\u202f]"
_CLOCKS = (
    (), ("hour", "minute"), ("hour", "minute", "second"), ("hour12", "minute", "ampm"),
    ("hour12", "minute", "second", "ampm"),
)  # fmt: skip
FORM = (
    'a form such as "month/day/year hour12:minute ampm" or "day.month.year hour:minute", of the words year or year2, '
    "month or monthname, day, and hour, minute, second or hour12, minute, second, ampm, with signs between them"
)
"""What a form looks like, in words that follow "expected"."""


@dataclass(frozen=True, slots=True)
class _Form:
    """A form as patterns: that of the date alone, and that of the date with the clock's time, if it has one."""

    day: re.Pattern[str]
    time: re.Pattern[str] | None


def as_iso(text: str, form: str) -> str | None:
    """Read a date or a local time in a declared form; return it as ISO 8601 has it, None where it doesn't fit.

    The clock's time may be left out of the text, which then is a date. Raises ValueError where
    the form is none.

    >>> as_iso("11/3/2025 2:05 PM", "month/day/year hour12:minute ampm")
    '2025-11-03T14:05'
    >>> as_iso("03.11.2025", "day.month.year hour:minute"), as_iso("3 Nov 2025", "day monthname year")
    ('2025-11-03', '2025-11-03')
    >>> as_iso("2025-11-03 14:05", "year-month-day hour:minute")
    '2025-11-03T14:05'
    >>> as_iso("11/31/2025", "month/day/year") is None, as_iso("13/1/2025", "month/day/year") is None
    (True, True)
    """
    patterns = _patterns(form)
    text = text.strip()
    if match := patterns.day.fullmatch(text):
        moment = _moment(match.groupdict())
        return moment.date().isoformat() if moment else None
    match = patterns.time.fullmatch(text) if patterns.time else None
    if match is None:
        return None
    moment = _moment(match.groupdict())
    return moment.isoformat(timespec="seconds" if "second" in match.groupdict() else "minutes") if moment else None


def date_form(form: str) -> str:
    """Return a form that can be read by. Raises ValueError with what a form looks like.

    >>> date_form("day.month.year")
    'day.month.year'
    >>> date_form("dd.mm.yyyy")  # doctest: +ELLIPSIS
    Traceback (most recent call last):
    ValueError: a form such as ...
    """
    _patterns(form)
    return form


@lru_cache(maxsize=512)
def _patterns(form: str) -> _Form:
    words, between = _parts(form)
    date_words, clock = set(words[:3]), tuple(words[3:])
    if not _is_date(date_words) or clock not in _CLOCKS:
        raise ValueError(FORM)
    texts = [_fixed(word, at, between) for at, word in enumerate(words)]
    signs = [*(_sign(sign, word) for sign, word in zip(between, words[1:], strict=True)), ""]
    pieces = [text + sign for text, sign in zip(texts, signs, strict=True)]
    day = "".join(pieces[:2]) + texts[2]
    return _Form(re.compile(day), re.compile("".join(pieces)) if clock else None)


def _is_date(words: set[str]) -> bool:
    return "day" in words and len(words & {"year", "year2"}) == 1 and len(words & {"month", "monthname"}) == 1


def _parts(form: str) -> tuple[list[str], list[str]]:
    """Return the words of a form, and the signs between each two."""
    found = list(_WORD.finditer(form[:200]))
    words = [match[0] for match in found]
    between = [form[one.end() : other.start()] for one, other in pairwise(found)]
    whole = bool(found) and found[0].start() == 0 and found[-1].end() == len(form)
    if not whole or len(words) < 3 or not all(sign == "" or _BETWEEN.fullmatch(sign) for sign in between):
        raise ValueError(FORM)
    return words, between


def _fixed(word: str, at: int, between: list[str]) -> str:
    """Return the pattern of a word; a number that touches another has all its digits."""
    touches = (at > 0 and not between[at - 1]) or (at < len(between) and not between[at])
    return _PATTERNS[word].replace("{1,2}", "{2}") if touches and word != "hour12" else _PATTERNS[word]


def _sign(sign: str, before: str) -> str:
    """Return the pattern of the signs before a word; blanks may be wider, and be missing before am or pm."""
    pattern = re.sub("(?:\\\\ )+", f"{_BLANK}{{1,4}}", re.escape(sign))
    return f"{_BLANK}{{0,4}}" if before == "ampm" and not sign.strip() else pattern


def _moment(parts: dict[str, str]) -> datetime | None:
    """Put the parts of a date and time together; None where there is no such day, month or time."""
    try:
        return datetime(
            _year(parts), _month(parts), int(parts["day"]),
            _hour(parts), int(parts.get("minute", 0)), int(parts.get("second", 0)),
        )  # fmt: skip
    except ValueError:
        return None


def _year(parts: dict[str, str]) -> int:
    if "year" in parts:
        return int(parts["year"])
    year = int(parts["year2"])
    return year + (1900 if year >= _CENTURY_TURN else 2000)


def _month(parts: dict[str, str]) -> int:
    if "month" in parts:
        return int(parts["month"])
    name = parts["monthname"].lower()
    if name == "sept":
        return 9
    named = [number for number, month in enumerate(_MONTHS, start=1) if name in (month, month[:3])]
    return named[0] if named else 0


def _hour(parts: dict[str, str]) -> int:
    if "hour12" not in parts:
        return int(parts.get("hour", 0))
    hour = int(parts["hour12"])
    if not 1 <= hour <= 12:
        raise ValueError(hour)
    return hour % 12 + (12 if parts["half"] in "Pp" else 0)


_ORDERS = ("month{0}day{0}{1}", "day{0}month{0}{1}", "{1}{0}month{0}day")
_DATES = (
    *(order.format(sign, year) for order in _ORDERS for sign in "/.-" for year in ("year", "year2")),
    *("day monthname year", "day-monthname-year", "monthname day, year", "day-monthname-year2"),
    *("yearmonthday", "day. monthname year"),
)
_TIMES = ("", " hour:minute", " hour:minute:second", " hour12:minute ampm", " hour12:minute:second ampm")
_KNOWN = tuple(day + clock for day, clock in product(_DATES, (*_TIMES, "Thour:minute")))
"""Forms in common use, from which one is proposed."""


def forms_of(texts: Iterable[str]) -> tuple[str, ...]:
    """Return the forms in common use that every text fits.

    >>> forms_of(["11/3/2025", "11/28/2025"]), forms_of(["11/3/2025"])
    (('month/day/year',), ('month/day/year', 'day/month/year'))
    >>> forms_of(["11/28/2025 2:05 PM", "11/3/2025 9:00 AM"])
    ('month/day/year hour12:minute ampm',)
    """
    distinct = list(dict.fromkeys(texts))
    clocks = [form for form in _KNOWN if all(_in_full(text, form) for text in distinct)] if distinct else []
    return tuple(clocks)


def _in_full(text: str, form: str) -> bool:
    read = as_iso(text, form)
    return read is not None and ("T" in read) == ("hour" in form)
