"""How long and how deep a text of the narrative may be: what is beyond is told with file and line, and nothing is lost.

Print sets words and headings whole, and the readers of Markdown leave out what is nested too deep.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from itertools import groupby, pairwise

from markdown_it import MarkdownIt
from markdown_it.token import Token

from sitegen.findings.problems import Finding, Severity, Where
from sitegen.project import limits

_LONG_WORD = re.compile(rf"\S{{{limits.WORD_CHARS.value + 1},}}")
_PARSER = MarkdownIt("commonmark", {"html": False, "maxNesting": 4 * limits.LEVELS.value})


def text_faults(path: str, text: str, earlier_bytes: int = 0) -> Iterator[Finding]:
    """Yield a stop for each way in which a text is beyond a bound; one too large is not looked into further."""
    size = len(text.encode("utf-8", "surrogatepass"))
    if size > limits.SECTION_BYTES.value:
        yield _too_much(path, None, f"{size:,} bytes", limits.SECTION_BYTES, "divide it, or keep a part in records/")
        return
    if earlier_bytes + size > limits.ALL_BYTES.value:
        yield _too_much(path, None, f"{earlier_bytes + size:,} bytes up to here", limits.ALL_BYTES, "shorten the texts")
        return
    faults = [*_long(path, text)]
    yield from faults or _nested(path, text)


def _long(path: str, text: str) -> Iterator[Finding]:
    for line, length in _blocks(text):
        if length > limits.BLOCK_CHARS.value:
            said = f"{length:,} characters without a blank line"
            yield _too_much(path, line, said, limits.BLOCK_CHARS, "divide the paragraph")
    for match in _LONG_WORD.finditer(text):
        said = f"a word of {len(match[0]):,} characters"
        yield _too_much(path, _line(text, match.start()), said, limits.WORD_CHARS, "divide or shorten it")


def _blocks(text: str) -> Iterator[tuple[int, int]]:
    """Yield where each run of lines without a blank one begins, and its length in characters."""
    lines = enumerate(text.split("\n"), start=1)
    for blank, run in groupby(lines, key=lambda line: not line[1].strip()):
        if not blank:
            (first, words), *rest = run
            yield first, len(words) + sum(len(words) + 1 for _, words in rest)


def _nested(path: str, text: str) -> Iterator[Finding]:
    """Yield what is too long or too deep as Markdown is read, each kind once."""
    tokens = _PARSER.parse(text)
    for opening, token in pairwise(tokens):
        if opening.type == "heading_open" and len(token.content) > limits.HEADING_CHARS.value:
            said = f"a heading of {len(token.content):,} characters"
            yield _too_much(path, _line_of(token), said, limits.HEADING_CHARS, "shorten the heading")
    deepest = next((token for token in tokens if _levels(token) > limits.LEVELS.value), None)
    if deepest is not None:
        said = f"text more than {limits.LEVELS.value} levels deep"
        yield _too_much(path, _line_of(deepest), said, limits.LEVELS, "write it with fewer levels")


def _levels(token: Token) -> int:
    children: Iterable[Token] = token.children or ()
    return token.level - (token.type == "inline") + max((child.level for child in children), default=0)


def _line_of(token: Token) -> int | None:
    return token.map[0] + 1 if token.map else None


def _line(text: str, at: int) -> int:
    return text.count("\n", 0, at) + 1


def _too_much(path: str, line: int | None, said: str, bound: limits.Bound, do: str) -> Finding:
    subject = f"{path}+{bound.name}" + (f"+{line}" if line else "")
    return Finding("text-too-long", Severity.STOP, subject, Where(path, line), said, bound.at_most, do, "file")
