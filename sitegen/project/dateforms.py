"""The forms that dates and times may be declared in: words for the parts, and the signs between them.

A form such as ``month/day/year hour12:minute ampm`` says which number is the month; it is never guessed.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

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
class FormPatterns:
    """A form as patterns: that of the date alone, and that of the date with the clock's time, if it has one."""

    day: re.Pattern[str]
    time: re.Pattern[str] | None


def date_form(form: str) -> str:
    """Return a form that can be read by. Raises ValueError with what a form looks like.

    >>> date_form("day.month.year")
    'day.month.year'
    >>> date_form("dd.mm.yyyy")  # doctest: +ELLIPSIS
    Traceback (most recent call last):
    ValueError: a form such as ...
    """
    patterns(form)
    return form


@lru_cache(maxsize=512)
def patterns(form: str) -> FormPatterns:
    """Return the patterns of a form. Raises ValueError with what a form looks like."""
    words, between = _parts(form)
    date_words, clock = set(words[:3]), tuple(words[3:])
    if not _is_date(date_words) or clock not in _CLOCKS:
        raise ValueError(FORM)
    texts = [_fixed(word, at, between) for at, word in enumerate(words)]
    signs = [*(_sign(sign, word) for sign, word in zip(between, words[1:], strict=True)), ""]
    pieces = [text + sign for text, sign in zip(texts, signs, strict=True)]
    day = "".join(pieces[:2]) + texts[2]
    return FormPatterns(re.compile(day), re.compile("".join(pieces)) if clock else None)


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
    return _PATTERNS[word].replace("{1,2}", "{2}") if touches else _PATTERNS[word]


def _sign(sign: str, before: str) -> str:
    """Return the pattern of the signs before a word; blanks may be wider, and be missing before am or pm."""
    pattern = re.sub("(?:\\\\ )+", f"{_BLANK}{{1,4}}", re.escape(sign))
    return f"{_BLANK}{{0,4}}" if before == "ampm" and not sign.strip() else pattern


def filled_form(form: str, parts: Mapping[str, str]) -> str:
    """Write a form with its words replaced.

    >>> filled_form("day.month.year hour:minute", dict(day="3", month="11", year="2025", hour="8", minute="05"))
    '3.11.2025 8:05'
    """
    return _WORD.sub(lambda word: parts[word[0]], form)
