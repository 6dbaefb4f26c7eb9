"""Markdown to a tree of plain records that the print templates draw.

Typst markup is never written from text. Markdown is parsed here (CommonMark, raw
HTML off) into dictionaries, which travel as JSON; the template turns each kind into
a Typst element, and every string in it stays a string.
"""

from __future__ import annotations

from typing import Any, TypeAlias

from markdown_it import MarkdownIt
from markdown_it.tree import SyntaxTreeNode

from sitegen import glyphs

Node: TypeAlias = dict[str, Any]
"""A node of the print tree: ``kind`` and what that kind needs."""

_SAFE_SCHEMES = ("https://", "http://", "mailto:")
_PARSER = MarkdownIt("commonmark", {"html": False})


def markdown_nodes(markdown: str) -> list[Node]:
    """Parse Markdown into block nodes for print.

    Block kinds: ``par``, ``list`` (``ordered``, ``start``, ``items``), ``quote``,
    ``subheading``, ``code`` and ``rule``. Inline kinds: ``text``, ``strong``,
    ``emph``, ``mono``, ``link`` and ``break``. A link to anything but a web or mail
    address keeps its text and loses its target; a picture is shown as its text.

    >>> markdown_nodes("Rain *fell*.")
    [{'kind': 'par', 'body': [{'kind': 'text', 'text': 'Rain '}, \
{'kind': 'emph', 'body': [{'kind': 'text', 'text': 'fell'}]}, {'kind': 'text', 'text': '.'}]}]
    """
    return _blocks(SyntaxTreeNode(_PARSER.parse(markdown)))


def _blocks(parent: SyntaxTreeNode) -> list[Node]:
    nodes = [_block(child) for child in parent.children]
    return [node for node in nodes if node["kind"] != "subheading" or _words(node).strip()]


def _words(node: Node) -> str:
    return str(node.get("text", "")) + "".join(map(_words, node.get("body", [])))


def _block(node: SyntaxTreeNode) -> Node:
    match node.type:
        case "bullet_list" | "ordered_list":
            items = [_blocks(item) for item in node.children]
            start = int(node.attrs.get("start", 1))
            return {"kind": "list", "ordered": node.type == "ordered_list", "start": start, "items": items}
        case "blockquote":
            return {"kind": "quote", "body": _blocks(node)}
        case "heading":
            return {"kind": "subheading", "body": _inline_of(node)}
        case "fence" | "code_block":
            return {"kind": "code", "lines": node.content.rstrip("\n").split("\n")}
        case "hr":
            return {"kind": "rule"}
        case _:
            return {"kind": "par", "body": _inline_of(node)}


def _inline_of(node: SyntaxTreeNode) -> list[Node]:
    return [part for inline in node.children for part in _inlines(inline)]


def _inlines(parent: SyntaxTreeNode) -> list[Node]:
    return [_inline(child) for child in parent.children]


def _inline(node: SyntaxTreeNode) -> Node:
    match node.type:
        case "strong" | "em":
            return _emphasis(node)
        case "code_inline":
            return {"kind": "mono", "text": node.content}
        case "link":
            return _link(node)
        case "softbreak":
            return {"kind": "text", "text": " "}
        case "hardbreak":
            return {"kind": "break"}
        case _:
            return {"kind": "text", "text": node.content}


def _emphasis(node: SyntaxTreeNode) -> Node:
    """Return bold or slanted text; a script without slanted glyphs stays upright."""
    body = _inlines(node)
    if node.type == "strong":
        return {"kind": "strong", "body": body}
    stays = glyphs.upright_only().intersection("".join(map(_words, body)))
    return {"kind": "span" if stays else "emph", "body": body}


def _link(node: SyntaxTreeNode) -> Node:
    url = str(node.attrs.get("href", ""))
    kind = "link" if url.lower().startswith(_SAFE_SCHEMES) else "span"
    return {"kind": kind, "url": url, "body": _inlines(node)}
