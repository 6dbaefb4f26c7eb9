"""Sentences of the report: as they are read, and whether they tell a number."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from importlib.resources import files

from sitegen.compute.formats import MONTHS
from sitegen.compute.text.sentences import sentences
from sitegen.voice import Voice, voice, worded

_EMPHASIS = re.compile(r"(?<!\\)(?:\*\*|\*|`)")
_LINK = re.compile(r"(?<!\\)\[((?:\\.|[^\[\]\\])*)\]\([^()\s]*\)")
_ESCAPED = re.compile(r"\\([^\w\s])")
_NUMBER = re.compile(r"(?<![\w\-–/:.,])\d[\d,.]*+(?![\w\-/:])")


@cache
def _day(_: Voice) -> re.Pattern[str]:
    """Return what finds a date in words, with its time, in the language that speaks."""
    months = "|".join(re.escape(worded(month)) for month in MONTHS)
    day = worded("{day} {month} {year}", day=r"\d{1,2}", month=f"(?:{months})", year=r"\d{4}")
    return re.compile(rf"(?<![\w.,]){day}(?:, \d\d:\d\d)?(?![\d:])")


def plain(markdown: str) -> str:
    r"""Return Markdown of one line as it is read: no emphasis, no escapes, of a link its text.

    >>> plain(r"*No* mean of 13\.0 \*"), plain("`values.csv`"), plain(r"[9 \(SG-1\)](ref:0) and more")
    ('No mean of 13.0 *', 'values.csv', '9 (SG-1) and more')
    """
    return _ESCAPED.sub(r"\1", _EMPHASIS.sub("", _LINK.sub(r"\1", markdown)))


def tells_number(text: str) -> bool:
    """Say whether a number stands on its own in a text, ids and dates aside.

    >>> tells_number("41 of 51"), tells_number("<10 J"), tells_number("(SS-01; 5.3)")
    (True, True, True)
    >>> tells_number("SG-35 on 2025-10-23 at 14:07"), tells_number("cis-1,2-Dichloroethene")
    (False, False)
    >>> tells_number("installed 23 October 2025, 14:07"), tells_number("23 October 2025: 2 points")
    (False, True)
    """
    return _NUMBER.search(_day(voice()).sub("", text)) is not None


def numbered_sentences(markdown: str) -> Iterator[str]:
    """Yield the sentences that tell a number of the survey; a fixed sentence of the program tells none."""
    if any(sign.isdigit() for sign in markdown):
        for sentence in map(plain, sentences(markdown)):
            if tells_number(sentence) and sentence not in _fixed(voice().folder):
                yield sentence


@cache
def _fixed(words: str) -> str:
    """Return all word templates of a folder as one line: what stands there word for word was filled with nothing."""
    folder = files("sitegen") / words
    found = sorted(item.name for item in folder.iterdir() if item.name.endswith((".j2", ".toml")))
    return " ".join(plain(" ".join((folder / name).read_text("utf-8").split())) for name in found)
