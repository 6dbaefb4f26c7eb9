"""Texts taken apart into sentences, as a reader sees them."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

_BULLET = re.compile(r"^[^\S\n]*+(?:[*+-]|\d+[.)])\s+", re.MULTILINE)
_HEADING = re.compile(r"^#+ .*$", re.MULTILINE)
_END = re.compile(r"(?<=[.!?])\s+(?=[^\s\d])")


def sentences(text: str) -> Iterator[str]:
    r"""Yield the sentences of a Markdown text, list items apart.

    >>> list(sentences("* One of\n  two. Three.\n* Four"))
    ['One of two.', 'Three.', 'Four']
    """
    body = _BULLET.sub("\n\n", _HEADING.sub("", text.replace("\r\n", "\n")))
    for paragraph in re.split(r"\n\s*\n", body):
        words = " ".join(paragraph.split())
        yield from (part for part in _END.split(words) if part)


def numbered_lines(text: str) -> Iterator[tuple[int, str]]:
    r"""Yield each sentence of a Markdown text with the line that it begins on.

    >>> list(numbered_lines("# Title\n\nOne of\ntwo. Three.\n\n* Four"))
    [(3, 'One of two.'), (4, 'Three.'), (6, 'Four')]
    """
    body, at = text.replace("\r\n", "\n"), 0
    for sentence in sentences(text):
        match = re.compile(r"\s+".join(map(re.escape, sentence.split()))).search(body, at)
        yield body.count("\n", 0, match.start() if match else at) + 1, sentence
        at = match.end() if match else at


def list_items(text: str) -> Iterator[tuple[int, str]]:
    r"""Yield the items of a Markdown text's lists, each as one line with the number of the line that it begins on.

    >>> list(list_items("To\n\n* find\n  sources;\n* look.\n\nNot more."))
    [(3, 'find sources;'), (5, 'look.')]
    """
    body = text.replace("\r\n", "\n")
    bullets = list(_BULLET.finditer(body))
    for at, bullet in enumerate(bullets):
        following = bullets[at + 1].start() if at + 1 < len(bullets) else len(body)
        item = re.split(r"\n\s*\n", body[bullet.end() : following])[0]
        yield body.count("\n", 0, bullet.end()) + 1, " ".join(item.split())


def any_of(words: Iterable[str]) -> str:
    r"""Return a pattern for any of some words, the longest first; where there are none, for nothing.

    >>> any_of(["SG-1", "SG-12"]), any_of([])
    ('SG\\-12|SG\\-1', '(?!)')
    """
    return "|".join(map(re.escape, sorted(words, key=len, reverse=True))) or "(?!)"
