"""Local wall-clock times to UTC minutes, with the time-zone data of the ``tzdata`` package.

The zone data never come from the machine: the same folder gives the same minutes
everywhere, and the version of the data can be named in the record.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from importlib.resources import files
from typing import Literal
from zoneinfo import ZoneInfo

import tzdata

from sitegen.project.limits import ID

ZONE_DATA_VERSION: str = tzdata.IANA_VERSION
_TIME = re.compile(r"(\d{4}-\d{2}-\d{2})T(\d{2}:\d{2})(:\d{2})?(Z|[+-]\d{2}:\d{2})?")
_ZONE_NAME = re.compile(r"[A-Za-z]+(?:[/_+-][A-Za-z0-9]+)*")
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)

TimeState = Literal["fine", "unreadable", "does not exist", "occurs twice", "offset disagrees"]


@dataclass(frozen=True, slots=True)
class Instant:
    """A reading of a local time: minutes since 1970-01-01T00:00Z, and its state.

    ``utc_min`` is None where the text can't be read or the time does not exist. For
    an hour that occurs twice it is the first occurrence, and the state says so.
    """

    utc_min: int | None
    state: TimeState


@lru_cache(maxsize=64)
def zone(name: str) -> ZoneInfo | None:
    """Return the IANA zone called ``name``, or None if there is no such zone."""
    if len(name) > ID.value or not _ZONE_NAME.fullmatch(name):
        return None
    source = files("tzdata").joinpath("zoneinfo", *name.split("/"))
    if not source.is_file():
        return None
    with source.open("rb") as handle:
        return ZoneInfo.from_file(handle, key=name)


YEARS = range(1900, 2200)
"""Years that a time is read in: others are slips, and the calendar's ends can't be shown in every zone."""


@lru_cache(maxsize=1 << 17)
def read_time(text: str, zone_name: str) -> Instant:
    """Read ``YYYY-MM-DDThh:mm`` in a zone; an explicit offset settles a doubled hour.

    >>> read_time("2025-11-02T00:30", "America/Chicago").utc_min
    29367690
    >>> read_time("2025-11-02T01:30", "America/Chicago").state
    'occurs twice'
    >>> read_time("2025-03-09T02:30", "America/Chicago").state
    'does not exist'
    """
    match = _TIME.fullmatch(text)
    place = zone(zone_name)
    if match is None or place is None:
        return Instant(None, "unreadable")
    try:
        naive = datetime.fromisoformat(f"{match[1]}T{match[2]}")
        offset = _offset(match[4])
    except ValueError:
        return Instant(None, "unreadable")
    return _settle(naive, offset, place) if naive.year in YEARS else Instant(None, "unreadable")


def _offset(text: str | None) -> timedelta | None:
    if text is None:
        return None
    if text == "Z":
        return timedelta(0)
    hours, minutes = int(text[1:3]), int(text[4:6])
    if hours > 15 or minutes > 59:
        raise ValueError(text)
    size = timedelta(hours=hours, minutes=minutes)
    return -size if text[0] == "-" else size


def _settle(naive: datetime, offset: timedelta | None, place: ZoneInfo) -> Instant:
    """Find the moment that a wall clock showed; its two readings differ where clocks were changed (PEP 495)."""
    first, second = (place.utcoffset(naive.replace(tzinfo=place, fold=fold)) for fold in (0, 1))
    if first is None or second is None or first < second:
        return Instant(None, "does not exist")
    distinct = sorted({_minutes(naive.replace(tzinfo=UTC) - shift) for shift in (first, second)})
    if offset is not None:
        stated = _minutes(naive.replace(tzinfo=UTC) - offset)
        return Instant(stated, "fine" if stated in distinct else "offset disagrees")
    return Instant(distinct[0], "fine" if len(distinct) == 1 else "occurs twice")


def _minutes(moment: datetime) -> int:
    return int((moment - _EPOCH) // timedelta(minutes=1))


def local_text(utc_min: float, zone_name: str) -> str:
    """Write UTC minutes as local wall-clock time, ``YYYY-MM-DD hh:mm``.

    >>> local_text(29367690, "America/Chicago")
    '2025-11-02 00:30'
    """
    place = zone(zone_name)
    moment = _EPOCH + timedelta(minutes=utc_min)
    return moment.astimezone(place or UTC).strftime("%Y-%m-%d %H:%M")


def wall_minutes(utc_min: float, zone_name: str) -> int:
    """Return the minutes that a wall clock has gone since 1970, changes of the clocks left in.

    >>> wall_minutes(29367690, "America/Chicago") - wall_minutes(29367690 - 60, "America/Chicago")
    60
    >>> wall_minutes(29367810, "America/Chicago") - wall_minutes(29367690, "America/Chicago")
    60
    """
    moment = _EPOCH + timedelta(minutes=utc_min)
    shift = moment.astimezone(zone(zone_name) or UTC).utcoffset() or timedelta(0)
    return _minutes(moment + shift)


def zone_letters(utc_min: float, zone_name: str) -> str:
    """Return the zone's abbreviation at that moment, such as ``CDT``."""
    place = zone(zone_name)
    return (_EPOCH + timedelta(minutes=utc_min)).astimezone(place or UTC).tzname() or "UTC"


_DAY = timedelta(days=1)
_MINUTE = timedelta(minutes=1)
_MOST_DAYS = 3660
"""Days that are gone through one by one: ten years, far more than any exposure."""


@dataclass(frozen=True, slots=True)
class ClockChange:
    """A change of the clocks: the wall-clock times before and after it, and both abbreviations.

    ``minutes`` are those by which clocks are put forward, negative where they go back.
    """

    before: str
    after: str
    minutes: int
    letters_before: str
    letters_after: str

    @property
    def day(self) -> date:
        """The day on which it happens, by the clock before it."""
        return date.fromisoformat(self.before[:10])


def clock_changes(zone_name: str, first: date, last: date) -> tuple[ClockChange, ...]:
    """Return the changes of the clocks from the first to the last day, both included.

    Nothing is said of days beyond the years that a time is read in, and of no more than ten years.

    >>> clock_changes("America/Chicago", date(2025, 10, 23), date(2025, 11, 6))[0].before
    '2025-11-02T02:00'
    >>> [(str(one.day), one.minutes) for one in clock_changes("Europe/Berlin", date(2025, 3, 30), date(2025, 3, 30))]
    [('2025-03-30', 60)]
    """
    if not 0 <= (last - first).days <= _MOST_DAYS or not {first.year, last.year} <= set(YEARS):
        return ()
    return tuple(_changes(zone_name, first, last))


def _changes(zone_name: str, first: date, last: date) -> Iterator[ClockChange]:
    place = zone(zone_name)
    start, end = (datetime.combine(day, time(0), UTC) for day in (first - _DAY, last + 2 * _DAY))
    at = start
    while place is not None and at < end:
        if at.astimezone(place).utcoffset() != (at + _DAY).astimezone(place).utcoffset():
            low, high = at, at + _DAY
            while high - low > _MINUTE:
                middle = low + (high - low) // 2 // _MINUTE * _MINUTE
                same = middle.astimezone(place).utcoffset() == at.astimezone(place).utcoffset()
                low, high = (middle, high) if same else (low, middle)
            old, new = low.astimezone(place), high.astimezone(place)
            before = old.replace(tzinfo=None) + _MINUTE
            if first <= before.date() <= last:
                minutes = (new.replace(tzinfo=None) - before) // _MINUTE
                yield ClockChange(_wall(before), _wall(new), minutes, old.tzname() or "", new.tzname() or "")
        at += _DAY


def _wall(moment: datetime) -> str:
    return moment.strftime("%Y-%m-%dT%H:%M")
