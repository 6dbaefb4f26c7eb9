"""What a project's own stylesheet may say: colours, type, lines and spacing, and nothing that loads or hides.

Everything is told apart by allow-list, since CSS has many ways to reach the network (``@import``, ``url()``,
``image-set()``, escapes that spell them) and to take a notice out of sight or to write words of its own.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import NamedTuple

PROPERTIES = (
    "color",
    "background",
    "background-color",
    "accent-color",
    "caret-color",
    "border",
    "border-*",
    "outline",
    "outline-*",
    "box-shadow",
    "font",
    "font-*",
    "letter-spacing",
    "word-spacing",
    "line-height",
    "text-align",
    "text-decoration",
    "text-decoration-*",
    "text-transform",
    "text-underline-offset",
    "hyphens",
    "padding",
    "padding-*",
    "margin",
    "margin-*",
    "gap",
    "max-width",
    "--*",
)
"""Properties that a stylesheet may set; a star stands for any ending."""

FUNCTIONS = (
    *("var", "calc", "min", "max", "clamp"),
    *(
        "rgb",
        "rgba",
        "hsl",
        "hsla",
        "hwb",
        "lab",
        "lch",
        "oklab",
        "oklch",
        "color-mix",
        "light-dark",
        "linear-gradient",
    ),
    *("not", "is", "where", "has", "nth-child", "nth-of-type", "nth-last-child"),
)
"""Functions of values and selectors that a stylesheet may call."""

BLOCKS = ("@media", "@supports", "@container")
"""Rules with a block of rules in it that a stylesheet may hold."""

_APART = re.compile(r"/\*.*?(?:\*/|\Z)|\"[^\"\n]*\"|'[^'\n]*'", re.DOTALL)
_PART = re.compile(r"([^{};]*)([{};]|\Z)")
_CALL = re.compile(r"(?<![-\w])([-\w]++)\(")
_SPELT = re.compile(r"\\|</|<!--")


class Fault(NamedTuple):
    """What a stylesheet may not say: the line (from 1) and the words."""

    line: int
    words: str


def style_faults(text: str) -> Iterator[Fault]:
    r"""Yield what a stylesheet says beyond :data:`PROPERTIES`, :data:`FUNCTIONS` and :data:`BLOCKS`, in order.

    >>> list(style_faults("h1 { color: #046; }\n.bar { background: url(https://example.test/a.png) }"))
    [Fault(line=2, words='url(')]
    >>> list(style_faults(".strip { display: none }"))
    [Fault(line=1, words='display')]
    """
    blank = _APART.sub(_spaces, text)
    depth, begun = 0, 1
    for match in _PART.finditer(blank):
        part, ending = match[1].strip(), match[2]
        line = begun + match[1][: len(match[1]) - len(match[1].lstrip())].count("\n")
        begun += match[1].count("\n")
        yield from (Fault(line, words) for words in _beyond(part, opens=ending == "{", inside=depth > 0))
        depth = max(0, depth + {"{": 1, "}": -1}.get(ending, 0))


def _spaces(match: re.Match[str]) -> str:
    """Blank a comment or a text, keeping its lines; a text with a backslash is kept, to be told."""
    return match[0] if "\\" in match[0] and match[0][0] != "/" else re.sub(r"[^\n]", " ", match[0])


def _beyond(part: str, *, opens: bool, inside: bool) -> Iterator[str]:
    yield from dict.fromkeys(match[0] for match in _SPELT.finditer(part))
    yield from dict.fromkeys(match[0] for match in _CALL.finditer(part) if match[1].lower() not in FUNCTIONS)
    if opens:
        if part.startswith("@") and not part.lower().startswith(BLOCKS):
            yield part.split(maxsplit=1)[0]
    elif part:
        name, colon, _ = part.partition(":")
        if not (inside and colon and _may_set(name.strip().lower())):
            yield name.split()[0] if name.split() else part[:20]


def _may_set(name: str) -> bool:
    return any(name.startswith(known[:-1]) if known.endswith("*") else name == known for known in PROPERTIES)
