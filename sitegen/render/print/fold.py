"""Maps on fold-out sheets: each with its heading and the words that belong to it, the rest on ordinary pages.

What has no room on the sheet follows on an ordinary page. Of two layouts, words below or beside the
map, the one that shows the site larger is taken. The summary keeps its map on its page.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from sitegen.figures.foldout import FOLDED_PT, GAP_PT, MARGINS_PT, UNIT_PT, WORDS_PT
from sitegen.render.print import sheets as print_sheets
from sitegen.render.print.markdown import Node

_LEADS = frozenset({"callout", "prose", "facts"})
_LEAD_LIMIT = 3000  # characters of nodes that may move to the fold-out with the map after them
_CAPTION_PT = 4.8  # a letter of a caption
_CAPTION_LINE_PT = 12.0
_NOT_ABOVE_PT = 18.0  # the space above a heading that is not there at the top of a page
_MOST_WORDS = 0.3  # of the height, where words stand below a map


def fold(node: Node, size: tuple[float, float]) -> Node:
    """Return a drawing's node marked for a fold-out; ``size`` is width and height in the drawing's units."""
    return {**node, "fold": [side * UNIT_PT for side in size]}


def sheets(nodes: Sequence[Node], *, paper: str, fresh: bool, appendix: bool) -> list[Node]:
    """Return a chapter's nodes as sheets, as `print_sheets.sheets` does; each drawing for a fold-out has its own."""
    made: list[Node] = []
    run: list[Node] = []
    for node in nodes:
        if "fold" not in node:
            run.append(node)
            continue
        start = _lead_start(run)
        made += _ordinary(run[:start], fresh=fresh, appendix=appendix, first=not made)
        sheet, run = _sheet(run[start:], dict(node), FOLDED_PT[paper])
        made.append({**sheet, "wide": False, "appendix": appendix, "start": "", "fold": list(FOLDED_PT[paper])})
    return made + _ordinary(run, fresh=fresh, appendix=appendix, first=not made)


def _ordinary(run: Sequence[Node], *, fresh: bool, appendix: bool, first: bool) -> list[Node]:
    made = print_sheets.sheets(run, fresh=fresh, appendix=appendix) if run else []
    if made and not first:
        made[0]["start"] = ""
    return made


def _lead_start(run: Sequence[Node]) -> int:
    """Return where the heading begins under which a drawing stands, with no more than short words between.

    Words that would have a page to themselves go with the drawing too.
    """
    start, length = len(run), 0
    if all(node["kind"] in _LEADS for node in run) and len(str(run)) <= _LEAD_LIMIT:
        return 0
    while start and run[start - 1]["kind"] in _LEADS:
        start -= 1
        length += len(str(run[start]))
    if not start or run[start - 1]["kind"] != "heading" or length > _LEAD_LIMIT:
        return len(run)
    while start and run[start - 1]["kind"] == "heading":
        start -= 1
    return start


def _sheet(lead: Sequence[Node], figure: Node, paper_pt: tuple[float, float]) -> tuple[Node, list[Node]]:
    """Return the sheet of a drawing, and the words for which it has no room."""
    width_pt, height_pt = (side - margin for side, margin in zip(paper_pt, MARGINS_PT, strict=True))
    drawn_pt = figure.pop("fold")
    heads = [node for node in lead if node["kind"] == "heading"]
    words = [*(node for node in lead if node["kind"] != "heading"), *_description(figure)]
    words = [{**node, "full": True} if node["kind"] == "prose" else node for node in words]
    heads_pt = max(0.0, print_sheets.height_pt(heads, width_pt) - _NOT_ABOVE_PT)
    left_pt = height_pt - heads_pt - _caption_pt(figure, min(drawn_pt[0], width_pt))
    place = _beside if width_pt - drawn_pt[0] >= WORDS_PT else _below
    nodes, rest = place(figure, words, drawn_pt, (width_pt, left_pt))
    return {"nodes": [*heads, *nodes]}, rest


def _description(figure: Node) -> Iterator[Node]:
    """Take the words below a drawing out of its node, as prose."""
    if figure["below"]:
        body = [{"kind": "par", "body": [{"kind": "text", "text": figure["below"]}]}]
        yield {"kind": "prose", "level": 6, "body": body}
    figure["below"] = ""


def _caption_pt(figure: Node, width_pt: float) -> float:
    return 14.0 + _CAPTION_LINE_PT * math.ceil(len(figure["caption"]) * _CAPTION_PT / width_pt)


def _beside(
    figure: Node, words: Sequence[Node], drawn_pt: Sequence[float], room_pt: tuple[float, float]
) -> tuple[list[Node], list[Node]]:
    figure["width"] = _width(drawn_pt, room_pt)
    kept = _fitting(words, room_pt[0] - figure["width"] - GAP_PT, room_pt[1])
    rest = list(words[len(kept) :])
    if not kept:
        return [figure], rest
    return [{"kind": "row", "cells": [[figure], kept], "widths": [figure["width"]]}], rest


def _below(
    figure: Node, words: Sequence[Node], drawn_pt: Sequence[float], room_pt: tuple[float, float]
) -> tuple[list[Node], list[Node]]:
    each_pt = (room_pt[0] - (len(words) - 1) * GAP_PT) / max(len(words), 1)
    tallest = max((print_sheets.height_pt([node], each_pt) for node in words), default=0.0)
    kept = list(words) if tallest <= _MOST_WORDS * room_pt[1] else []
    figure["width"] = _width(drawn_pt, (room_pt[0], room_pt[1] - (tallest if kept else 0.0)))
    if not kept:
        return [figure], list(words)
    row = {"kind": "row", "cells": [[node] for node in kept], "widths": [round(each_pt, 1)] * (len(kept) - 1)}
    return [figure, row], []


def _width(drawn_pt: Sequence[float], room_pt: tuple[float, float]) -> float:
    """Return the width of a drawing in a room: its own, unless it would be too wide or too tall."""
    return round(min(drawn_pt[0], room_pt[0], room_pt[1] * drawn_pt[0] / drawn_pt[1]), 1)


def _fitting(words: Sequence[Node], width_pt: float, height_pt: float) -> list[Node]:
    kept: list[Node] = []
    for node in words:
        if print_sheets.height_pt([*kept, node], width_pt) > height_pt:
            break
        kept.append(node)
    return kept
