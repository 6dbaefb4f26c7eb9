"""Nodes of the print tree put on to sheets: which page they turn to, what stays together.

A chapter becomes ``sheets``: runs of nodes that share the direction of their page, so
that a wide table takes its heading and a short lead-in with it on to the landscape
page. Heights are estimates on the safe side: whatever is kept whole fits on a page.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby, pairwise
from operator import itemgetter

from sitegen.render.print.markdown import Node

ACROSS_PT = 146.0
"""Top and bottom margins of every page together (27 mm and 24 mm, rounded up)."""

_LEAD_LIMIT = 1200  # characters that may move to a landscape page with the table after them
_STICKY_LIMIT = 900  # characters of a remark that may stick to the drawing or table after it
_LETTER_PT = 4.5  # a letter of prose with its share of the line's empty end
_SMALL_PT = 4.8
_HEADING_PT = 7.5
_INDENT_PT = 14.0
_LABEL_PT = 130.0  # the column of labels in a list of facts, with the space after it
_LINE_PT = 13.0
_LEADS_IN = frozenset({"callout", "prose"})
_SHOWS = frozenset({"figure", "table", "photo"})


def sheets(nodes: Sequence[Node], *, fresh: bool, appendix: bool) -> list[Node]:
    """Return a chapter's nodes as sheets.

    The first begins on a new page where it is ``fresh``, otherwise where there is little
    room; a sheet after one of the other direction needs no such care (``start`` is empty).
    """
    _stick(nodes)
    made: list[Node] = [
        {
            "wide": wide,
            "appendix": appendix,
            "start": "",
            "nodes": part,
        }
        for wide, runs in groupby(_runs(nodes), key=itemgetter(0))
        for part in _parts([node for _, run in runs for node in run], wide=wide)
    ]
    made[0]["start"] = "page" if fresh else "room"
    return made


def flat(nodes: Iterable[Node]) -> Iterator[Node]:
    """Yield nodes and those inside groups and rows, in reading order.

    >>> [node["kind"] for node in flat([{"kind": "group", "nodes": [{"kind": "prose"}]}])]
    ['prose']
    """
    for node in nodes:
        if node["kind"] == "group":
            yield from flat(node["nodes"])
        elif node["kind"] == "row":
            for cell in node["cells"]:
                yield from flat(cell)
        else:
            yield node


def height_pt(nodes: Iterable[Node], width_pt: float) -> float:
    """Return the height that nodes take at most in a column, in points; infinite where it isn't known."""
    return math.fsum(_node_height(node, width_pt) for node in nodes)


def _node_height(node: Node, width_pt: float) -> float:
    match node["kind"]:
        case "heading":
            lines = math.ceil(len(node["text"]) * _HEADING_PT / width_pt)
            return (32.0 if node["level"] == 1 else 22.0) + 18.0 * lines
        case "prose":
            return 10.0 + _LINE_PT * _text_lines(node["body"], width_pt)
        case "callout":
            lines = bool(node["refs"]) + math.ceil(len(node["title"]) * _HEADING_PT / width_pt)
            return 55.0 + _LINE_PT * (lines + _text_lines(node["body"], width_pt))
        case "facts" if not node["legend"]:
            return 20.0 + math.fsum(_fact_height(cell, width_pt) for _, cell in node["rows"])
        case "table":
            tail = [f"{word}: {reason}" for word, reason in node.get("legend", ())]
            tail += [node["caption"], f"{node.get('every', '')} {node.get('key', '')}".strip()]
            tail += [node.get("note", ""), node.get("source", "")]
            lines = sum(math.ceil(len(text) * _SMALL_PT / width_pt) for text in tail)
            return 40.0 + 12.0 * lines + float(node["height"])
        case _:
            return math.inf


def _fact_height(cell: Node | str, width_pt: float) -> float:
    text = cell if isinstance(cell, str) else str(cell["text"])
    return 6.0 + _LINE_PT * max(1, math.ceil(len(text) * _SMALL_PT / (width_pt - _LABEL_PT)))


def _text_lines(body: Sequence[Node], width_pt: float) -> float:
    """Return how many lines Markdown nodes fill, with the space between paragraphs."""
    lines = 0.0
    for node in body:
        if "items" in node:
            lines += math.fsum(_text_lines(item, width_pt - _INDENT_PT) for item in node["items"])
        elif "lines" in node:
            lines += sum(1 + len(line) * _LETTER_PT // width_pt for line in node["lines"])
        else:
            lines += 0.5 + math.ceil(_length(node) * _LETTER_PT / width_pt)
    return lines


def _length(node: Node) -> int:
    return len(node.get("text", "")) + sum(map(_length, node.get("body", ())))


def _stick(nodes: Sequence[Node]) -> None:
    """Keep short remarks with the drawing or table that they lead in."""
    for node, after in reversed(list(pairwise(nodes))):
        leads = after["kind"] in _SHOWS or after.get("sticky", False)
        if node["kind"] in _LEADS_IN and leads and len(str(node)) <= _STICKY_LIMIT:
            node["sticky"] = True


def _runs(nodes: Sequence[Node]) -> Iterator[tuple[bool, list[Node]]]:
    """Split nodes into runs of one page direction; yields (is landscape, nodes)."""
    run: list[Node] = []
    wide = False
    for node in nodes:
        if node.pop("wide", False) == wide:
            run.append(node)
            continue
        keep = _lead_start(run) if not wide else len(run)
        if run[:keep]:
            yield wide, run[:keep]
        run, wide = [*run[keep:], node], not wide
    if run:
        yield wide, run


def _parts(run: list[Node], *, wide: bool) -> Iterator[list[Node]]:
    """Give each panel of a table too wide for its landscape page a sheet: sheets are typeset side by side."""
    start = 0
    for at, (before, node) in enumerate(pairwise(run), 1):
        if wide and before["kind"] == node["kind"] == "table" and not (before["whole"] or node["whole"]):
            yield run[start:at]
            start = at
    yield run[start:]


def _lead_start(run: Sequence[Node]) -> int:
    """Return where the headings and short prose begin that introduce what follows a run."""
    start, length = len(run), 0
    while start and run[start - 1]["kind"] in {"heading", "prose", "facts"}:
        length += len(str(run[start - 1]))
        if length > _LEAD_LIMIT:
            break
        start -= 1
    while start < len(run) and run[start]["kind"] != "heading":
        start += 1
    return start
