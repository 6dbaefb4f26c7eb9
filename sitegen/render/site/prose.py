"""Markdown of the report to HTML: CommonMark, raw HTML off, no picture, no outside link."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import lru_cache

from markdown_it import MarkdownIt
from markdown_it.token import Token
from markupsafe import Markup

LinkCheck = Callable[[str], str]
"""Takes a link as written (relative to the output folder), gives one that works here or ``""``."""


@lru_cache(maxsize=1)
def _parser() -> MarkdownIt:
    return MarkdownIt("commonmark", {"html": False})


def to_html(markdown: str, level: int, link: LinkCheck) -> Markup:
    r"""Return the HTML of a Markdown text.

    All headings in it come out at heading level ``level``, so that the order of the
    page's headings never breaks. A link that ``link`` knows stays one; for any other
    the address is printed in words after the linked text. Of a picture its description stays.

    >>> print(to_html("# A\n\n<b> [x](https://example.org)", 3, lambda _: ""), end="")
    <h3>A</h3>
    <p>&lt;b&gt; x (https://example.org)</p>
    """
    parser = _parser()
    tokens = parser.parse(markdown)
    for token in tokens:
        if token.type in {"heading_open", "heading_close"}:
            token.tag = f"h{level}"
        if token.children:
            token.children = _checked_links(token.children, link)
    return Markup(parser.renderer.render(tokens, parser.options, {}))  # noqa: S704 - raw HTML is off


def _checked_links(tokens: Sequence[Token], link: LinkCheck) -> list[Token]:
    kept: list[Token] = []
    closing: list[Token | None] = []
    for token in tokens:
        if token.type == "link_open":
            address = str(token.attrGet("href") or "")
            target = link(address)
            closing.append(None if target else Token("text", "", 0, content=_in_words(address, token)))
            if target:
                token.attrSet("href", target)
                kept.append(token)
        elif token.type == "link_close":
            instead = closing.pop()
            kept.append(token if instead is None else instead)
        elif token.type == "image":
            words = token.content + _in_words(str(token.attrGet("src") or ""), token)
            kept.append(Token("text", "", 0, content=words))
        else:
            kept.append(token)
    return kept


def _in_words(address: str, token: Token) -> str:
    """Return the address to print after the text of a link that is not kept as one."""
    is_outside = address.startswith(("http:", "https:", "mailto:"))
    return f" ({address})" if is_outside and token.info != "auto" else ""
