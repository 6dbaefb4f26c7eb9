"""How days, moments, durations and limits are written for people, in sentences and facts.

Tables keep ISO dates and local times, since they are sorted and copied; data files do as well.
The project's zone is named once where times are told; a moment brings its letters only where
the clock shows that time twice.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date

from sitegen.project.zones import local_text, read_time, zone_letters
from sitegen.voice import worded

MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip
_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")
_STAMP = re.compile(r"(\d{4}-\d{2}-\d{2})[T ](\d{2}:\d{2})(?::\d{2})?(Z|[+-]\d{2}:?\d{2})?")
_WHOLE_DAY_MIN = 1440
_UNITS = {"d": "day", "a": "year"}
_RATES = {"per location": "locations", "per primary": "primaries"}
_SAME = 1e-9
"""Binary fractions this near to one are one."""


def long_date(day: date) -> str:
    """Write a date in words.

    >>> long_date(date(2025, 12, 1))
    '1 December 2025'
    """
    return worded("{day} {month} {year}", day=day.day, month=worded(MONTHS[day.month - 1]), year=day.year)


def day_text(day: object) -> str:
    """Write a day, given as date or as the table has it; a text that is no date stays.

    >>> day_text("2025-10-23"), day_text(date(2025, 11, 6)), day_text("in autumn"), day_text("")
    ('23 October 2025', '6 November 2025', 'in autumn', '')
    """
    if isinstance(day, date):
        return long_date(day)
    text = str(day)
    try:
        return long_date(date.fromisoformat(text)) if _DAY.fullmatch(text) else text
    except ValueError:
        return text


def stamp_text(written: str) -> str:
    """Write a time as a table has it, with its offset where one is written.

    >>> stamp_text("2025-11-06T07:26"), stamp_text("2025-11-06T07:26-06:00"), stamp_text("2025-11-06"), stamp_text("NA")
    ('6 November 2025, 07:26', '6 November 2025, 07:26 (UTC-06:00)', '6 November 2025', 'NA')
    """
    found = _STAMP.fullmatch(written)
    if not found:
        return day_text(written)
    zone = "" if not found[3] else " UTC" if found[3] == "Z" else f" (UTC{found[3]})"
    return f"{day_text(found[1])}, {found[2]}{zone}"


def short_day(day: date) -> str:
    """Write a day without its year where there is little room, as on an axis.

    >>> short_day(date(2025, 11, 4))
    '4 Nov'
    """
    return f"{day.day} {worded(MONTHS[day.month - 1])[:3]}"


def moment_text(utc_min: float, zone_name: str) -> str:
    """Write UTC minutes as local time; with the zone's letters where the clock shows that time twice.

    >>> moment_text(29372544, "America/Chicago"), moment_text(29367750, "America/Chicago")
    ('5 November 2025, 08:24', '2 November 2025, 01:30 CDT')
    """
    local = local_text(utc_min, zone_name)
    twice = read_time(local.replace(" ", "T"), zone_name).state == "occurs twice"
    return stamp_text(local) + (f" {zone_letters(utc_min, zone_name)}" if twice else "")


def duration_text(minutes: float) -> str:
    """Write minutes as days, hours and minutes, exactly.

    >>> duration_text(18787), duration_text(130), duration_text(5), duration_text(0)
    ('13 d 1 h 7 min', '2 h 10 min', '5 min', '0 min')
    """
    days, rest = divmod(round(minutes), _WHOLE_DAY_MIN)
    hours, left = divmod(rest, 60)
    parts = [(days, "d"), (hours, "h"), (left, "min")]
    return " ".join(f"{amount} {unit}" for amount, unit in parts if amount) or "0 min"


def durations_text(minutes: Iterable[float]) -> str:
    """Write one duration, or the shortest and the longest of several.

    >>> durations_text([130]), durations_text([130, 190, 130])
    ('2 h 10 min', '2 h 10 min to 3 h 10 min')
    """
    every = sorted(set(minutes))
    return duration_text(every[0]) if len(every) == 1 else spanned(duration_text(every[0]), duration_text(every[-1]))


def spanned(least: str, most: str) -> str:
    """Write from what to what something ranges.

    >>> spanned("2 h", "3 h")
    '2 h to 3 h'
    """
    return worded("{least} to {most}", least=least, most=most)


def days_text(minutes: float) -> str:
    """Write minutes as days with one decimal.

    >>> days_text(18793)
    '13.1 days'
    """
    return worded("{days:.1f} days", days=minutes / _WHOLE_DAY_MIN)


def measure_text(value: float, unit: str) -> str:
    """Write a limit: days and years in words, a rate as one of how many, any other with its unit.

    >>> measure_text(3, "a"), measure_text(1, "d"), measure_text(0.5, "ft"), measure_text(30, "%")
    ('3 years', '1 day', '0.5 ft', '30 %')
    >>> measure_text(0.05, "per location"), measure_text(0.15, "per location"), measure_text(0, "per location")
    ('1 per 20 locations', '0.15 per location', '0 per location')
    """
    if unit in _RATES and value > 0 and abs(round(1 / value) * value - 1) < _SAME:
        many = round(1 / value)
        return f"1 {worded('per')} {many} {worded(_RATES[unit])}" if many > 1 else f"1 {worded(unit)}"
    word = _UNITS.get(unit)
    if word:
        return f"{value:g} {worded(word if value == 1 else f'{word}s')}"
    return f"{value:g} {worded(unit)}".strip()
