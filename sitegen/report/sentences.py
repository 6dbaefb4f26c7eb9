"""Sentences of the report: taken apart, as a reader sees them, and whether they tell a number."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from functools import cache
from importlib.resources import files

_BULLET = re.compile(r"^\s*(?:[*+-]|\d+[.)])\s+", re.MULTILINE)
_HEADING = re.compile(r"^#+ .*$", re.MULTILINE)
_END = re.compile(r"(?<=[.!?])\s+(?=[^\s\d])")
_EMPHASIS = re.compile(r"(?<!\\)(?:\*\*|\*|`)")
_LINK = re.compile(r"(?<!\\)\[((?:\\.|[^\[\]\\])*)\]\([^()\s]*\)")
_ESCAPED = re.compile(r"\\([^\w\s])")
_NUMBER = re.compile(r"(?<![\w\-–/:.,])\d[\d,.]*+(?![\w\-/:])")


def sentences(text: str) -> Iterator[str]:
    r"""Yield the sentences of a Markdown text, list items apart.

    >>> list(sentences("* One of\n  two. Three.\n* Four"))
    ['One of two.', 'Three.', 'Four']
    """
    body = _BULLET.sub("\n\n", _HEADING.sub("", text.replace("\r\n", "\n")))
    for paragraph in re.split(r"\n\s*\n", body):
        words = " ".join(paragraph.split())
        yield from (part for part in _END.split(words) if part)


def plain(markdown: str) -> str:
    r"""Return Markdown of one line as it is read: no emphasis, no escapes, of a link its text.

    >>> plain(r"*No* mean of 13\.0 \*"), plain("`values.csv`"), plain(r"[9 \(SG-1\)](ref:0) and more")
    ('No mean of 13.0 *', 'values.csv', '9 (SG-1) and more')
    """
    return _ESCAPED.sub(r"\1", _EMPHASIS.sub("", _LINK.sub(r"\1", markdown)))


def any_of(words: Iterable[str]) -> str:
    r"""Return a pattern for any of some words, the longest first; where there are none, for nothing.

    >>> any_of(["SG-1", "SG-12"]), any_of([])
    ('SG\\-12|SG\\-1', '(?!)')
    """
    return "|".join(map(re.escape, sorted(words, key=len, reverse=True))) or "(?!)"


def tells_number(text: str) -> bool:
    """Say whether a number stands on its own in a text, ids and dates aside.

    >>> tells_number("41 of 51"), tells_number("<10 J"), tells_number("(SS-01; 5.3)")
    (True, True, True)
    >>> tells_number("SG-35 on 2025-10-23 at 14:07"), tells_number("cis-1,2-Dichloroethene")
    (False, False)
    """
    return _NUMBER.search(text) is not None


def numbered_sentences(markdown: str) -> Iterator[str]:
    """Yield the sentences that tell a number of the survey; a fixed sentence of the program tells none."""
    if any(sign.isdigit() for sign in markdown):
        for sentence in map(plain, sentences(markdown)):
            if tells_number(sentence) and sentence not in _fixed():
                yield sentence


@cache
def _fixed() -> str:
    """Return all word templates as one line: what stands there word for word was filled with nothing."""
    folder = files("sitegen") / "templates/words"
    found = sorted(item.name for item in folder.iterdir() if item.name.endswith((".j2", ".toml")))
    return " ".join(plain(" ".join((folder / name).read_text("utf-8").split())) for name in found)
