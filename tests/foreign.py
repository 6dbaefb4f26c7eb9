"""What of a page is English: its sentences by their small words, without what the record itself says."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from html.parser import HTMLParser

SMALL = frozenset(
    [
        "the",
        "of",
        "and",
        "is",
        "are",
        "was",
        "were",
        "with",
        "not",
        "by",
        "from",
        "which",
        "that",
        "this",
        "have",
        "has",
        "been",
        "where",
        "for",
        "at",
        "on",
        "each",
        "or",
        "as",
        "to",
        "an",
        "its",
        "than",
        "per",
        "without",
        "found",
        "used",
    ]
)
"""English words that no other language here has, one of which is in almost every English phrase."""
_INLINE = frozenset(["a", "strong", "em", "span", "code", "b", "i", "wbr", "sup", "sub", "mark"])
_TOLD = ("aria-label", "title", "alt", "placeholder")
_WORD = re.compile(r"[^\W\d_’']+")
_KEY = re.compile(r"[\w./<>*-]*[_/][\w./<>*-]*|\w+(?:-\w+)+|`[^`]*`")
"""Names of files and columns, codes of checks: none is a word."""


class _Page(HTMLParser):
    """The texts of a page, a block at a time, and those that only a screen reader says."""

    def __init__(self) -> None:
        super().__init__()
        self.texts: list[str] = []
        self._open = ""
        self._code = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.texts += [text for name, text in attrs if name in _TOLD and text]
        self._code += tag in ("script", "style")
        self._end(tag)

    def handle_endtag(self, tag: str) -> None:
        self._code -= tag in ("script", "style")
        self._end(tag)

    def handle_data(self, data: str) -> None:
        if not self._code:
            self._open += data

    def _end(self, tag: str) -> None:
        if tag not in _INLINE and self._open.strip():
            self.texts.append(" ".join(self._open.split()))
        if tag not in _INLINE:
            self._open = ""


def texts_of_page(html: str) -> list[str]:
    """Return the texts of a page."""
    page = _Page()
    page.feed(html)
    page.close()
    return page.texts


def in_english(text: str) -> bool:
    """Tell whether a text has a word that only English has.

    >>> in_english("5 of 6 points"), in_english("5 de 6 puntos"), in_english("exposure-out-of-plan: SG-1")
    (True, False, False)
    """
    return any(word.lower() in SMALL for word in _WORD.findall(_KEY.sub(" ", text)))


def english_left(pages: Mapping[str, str], said_elsewhere: Iterable[str]) -> Iterator[tuple[str, str]]:
    """Yield each English text with its page; ``said_elsewhere`` are texts that are quoted as they are."""
    quoted = " ".join(" ".join(text.split()) for text in said_elsewhere).replace('""', '"')
    for name, html in pages.items():
        for text in dict.fromkeys(texts_of_page(html)):
            if in_english(text) and text not in quoted:
                yield name, text
