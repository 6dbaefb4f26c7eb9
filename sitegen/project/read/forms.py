"""Dates and times in another form than ISO 8601's, read by a form that somebody declared."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from itertools import product

from sitegen.project.dateforms import filled_form, patterns

_MONTHS = (
    "january", "february", "march", "april", "may", "june", "july", "august", "september", "october", "november",
    "december",
)  # fmt: skip
_NO_HOUR = 99
_CENTURY_TURN = 69
"""Years of two digits from here on are of the last century, the others of this one (POSIX.1-2017, strptime, %y)."""


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
    by = patterns(form)
    text = text.strip()
    if match := by.day.fullmatch(text):
        moment = _moment(match.groupdict())
        return moment.date().isoformat() if moment else None
    match = by.time.fullmatch(text) if by.time else None
    if match is None:
        return None
    moment = _moment(match.groupdict())
    return moment.isoformat(timespec="seconds" if "second" in match.groupdict() else "minutes") if moment else None


def in_form(iso: str, form: str) -> str | None:
    """Write a date or a local time as ISO 8601 has it in a declared form; None where that does not say all of it.

    >>> in_form("2025-11-03T14:05", "month/day/year hour12:minute ampm"), in_form("2025-11-03", "day.month.year")
    ('11/03/2025 2:05 PM', '03.11.2025')
    >>> in_form("2025-11-03T14:05", "day.month.year") is None
    True
    """
    try:
        moment = datetime.fromisoformat(iso)
    except ValueError:
        return None
    parts = {
        "year": f"{moment.year:04}",
        "year2": f"{moment.year % 100:02}",
        "month": f"{moment.month:02}",
        "monthname": _MONTHS[moment.month - 1][:3].title(),
        "day": f"{moment.day:02}",
        "hour": f"{moment.hour:02}",
        "hour12": f"{(moment.hour + 11) % 12 + 1}",
        "minute": f"{moment.minute:02}",
        "second": f"{moment.second:02}",
        "ampm": "PM" if moment.hour > 11 else "AM",
    }
    by = patterns(form)
    written = filled_form(form, parts)
    if "T" not in iso and by.time and (day := by.day.match(written)):
        written = day[0]
    return written if as_iso(written, form) == iso else None


def _moment(parts: dict[str, str]) -> datetime | None:
    """Put the parts of a date and time together; None where there is no such day, month or time."""
    clock = f"{_hour(parts):02}:{parts.get('minute', '00')}:{parts.get('second', '00')}"
    try:
        return datetime.fromisoformat(f"{_year(parts)}-{_month(parts):02}-{int(parts['day']):02}T{clock}")
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
    return hour % 12 + (12 if parts["half"] in "Pp" else 0) if 1 <= hour <= 12 else _NO_HOUR


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
    return tuple(form for form in _KNOWN if distinct and all(_in_full(text, form) for text in distinct))


def _in_full(text: str, form: str) -> bool:
    read = as_iso(text, form)
    return read is not None and ("T" in read) == ("hour" in form)
