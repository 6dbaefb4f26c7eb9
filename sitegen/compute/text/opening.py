"""Parts of a text in Markdown: its first paragraphs up to a length, and the items of its first list."""

from __future__ import annotations

import re
from typing import NamedTuple

from markdown_it import MarkdownIt
from markdown_it.token import Token

_PARSER = MarkdownIt("commonmark", {"html": False})
_DEFINITION = re.compile(r"^ {0,3}\[[^\]\n]+\]:[^\n]*$", re.MULTILINE)


class Parts(NamedTuple):
    """The beginning of a text, and what follows it; "" where there is nothing."""

    head: str
    rest: str


def opening_of(text: str, most_chars: int) -> Parts:
    r"""Return the paragraphs, lists and other blocks that fit in a length, and those after them; no block is divided.

    >>> opening_of("One.\n\nTwo.", 6)
    Parts(head='One.', rest='Two.')
    >>> opening_of("One.", 6), opening_of("One two three.", 6)
    (Parts(head='One.', rest=''), Parts(head='', rest='One two three.'))
    """
    lines = text.strip().split("\n")
    ends = [token.map[1] for token in _PARSER.parse("\n".join(lines)) if token.level == 0 and token.map]
    fitting = [end for end in ends if len("\n".join(lines[:end]).strip()) <= most_chars]
    at = len(lines) if len(fitting) == len(ends) else max(fitting, default=0)
    head, rest = "\n".join(lines[:at]).strip(), "\n".join(lines[at:]).strip()
    return Parts(_with_definitions(head, text), _with_definitions(rest, text))


def list_items(text: str) -> tuple[str, ...]:
    r"""Return the items of the first list of a text, each as it is written there; nothing where it has no list.

    >>> list_items("Words.\n\n* one\n  more\n* two\n\nEnd.")
    ('* one\n  more', '* two')
    """
    lines = text.split("\n")
    items: list[str] = []
    inside = False
    for token in _PARSER.parse(text):
        if token.level == 0 and _is_list(token):
            if token.nesting < 0:
                break
            inside = True
        if inside and token.type == "list_item_open" and token.level == 1 and token.map:
            items.append("\n".join(lines[slice(*token.map)]).strip())
    return tuple(_with_definitions(item, text) for item in items)


def _is_list(token: Token) -> bool:
    return token.type.startswith(("bullet_list", "ordered_list"))


def _with_definitions(part: str, text: str) -> str:
    """Return a part of a text with the addresses that its links are defined by elsewhere in it."""
    missing = [line for line in _DEFINITION.findall(text) if line not in part]
    return "\n\n".join([part, *missing]) if part and missing else part
