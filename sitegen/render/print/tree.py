"""The report as the one tree of plain data that the print templates draw.

The tree holds text, numbers and labels only. Each kind of block has a maker that turns
it into nodes; `print_sheets` then puts the nodes of a chapter on to sheets.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import chain
from typing import NamedTuple

from sitegen import glyphs
from sitegen.figures.foldout import PLACING
from sitegen.render.print import fold as print_fold
from sitegen.render.print import sheets as print_sheets
from sitegen.render.print import table as print_table
from sitegen.render.print.front import MARGIN_PT, fixed_words, look_node, meta_node
from sitegen.render.print.markdown import Node, markdown_nodes
from sitegen.render.print.targets import Path, Targets, find_targets, label_at
from sitegen.render.print.widths import soften
from sitegen.report.record import pages as records
from sitegen.voice import worded

PAPERS_PT: Mapping[str, tuple[float, float]] = {"a4": (595.28, 841.89), "us-letter": (612.0, 792.0)}
"""Width and height of the papers that print knows, in points."""

_PROSE_WORD_EM = 30.0
_HEADING_WORD_EM = 20.0
_TILE_WORD_EM = 7.0
_DRAWING_PART = 0.66  # of the width, where something stands beside a drawing
_KEY_REASONS = 6  # of one mark
_LIST_LINE = 80  # characters of a caption that the lists show whole
_SHORT_CELLS = 150  # a table of numbers with no more cells keeps its links
_WHOLE = 0.6  # a table that takes no more than this part of a page is not split
_FIGURE_HEIGHT = 0.62  # the tallest drawing, as a part of the page's height
_PHOTO_HEIGHT = 0.3
_TONE_WORDS = {"info": ("●", "for information"), "caution": ("▲", "caution")}
_VIEW_BOX = re.compile(r"""<svg\b[^<>]*?\bviewBox\s*=\s*["']\s*\S+\s+\S+\s+([\d.]+)[\s,]+([\d.]+)""")
_CHARACTER_REFERENCE = re.compile(r"&#([xX][0-9a-fA-F]{1,6}|\d{1,7});")
_SIDES = re.compile(r"""<svg\b(?=[^<>]*?\bwidth\s*=\s*["']([\d.]+))(?=[^<>]*?\bheight\s*=\s*["']([\d.]+))""")


class Picture(NamedTuple):
    """A photograph ready for print: the name that the template opens it by, width over height."""

    name: str
    aspect: float


@dataclass(frozen=True, slots=True)
class _Place:
    """Where a block stands: its path, its heading depth and what surrounds it."""

    path: Path
    depth: int
    targets: Targets
    paper: str
    photos: Mapping[str, Picture]
    listed: bool = True
    indexed: bool = False
    annexed: bool = False
    keyed: bool = False

    @property
    def label(self) -> str:
        return label_at(self.path)

    @property
    def paper_pt(self) -> tuple[float, float]:
        return PAPERS_PT[self.paper]

    def height_pt(self, *, wide: bool = False) -> float:
        return self.paper_pt[0 if wide else 1] - print_sheets.ACROSS_PT

    def width_pt(self, *, wide: bool = False) -> float:
        return self.paper_pt[1 if wide else 0] - 2 * MARGIN_PT


def document_tree(
    report: records.Printable, photos: Mapping[str, Picture] | None = None, *, with_logo: bool = False
) -> Node:
    """Return the print tree of a report.

    Parameters
    ----------
    report
        Its meta data and chapters are printed; pages, map and exports are not.
    photos
        The photographs that can be printed, by their path in the project.
    with_logo
        Whether the logo can be printed.

    Raises
    ------
    ValueError
        If the paper is not one that print knows.
    """
    meta = report.meta
    if meta.paper not in PAPERS_PT:
        raise ValueError(f"paper {meta.paper!r} is not known to print; it knows {', '.join(PAPERS_PT)}")
    place = _Place((), 1, find_targets(report.chapters), meta.paper, photos or {})
    starts = [True, *(chapter.single_page for chapter in report.chapters)]
    sheets = [
        sheet
        for number, chapter in enumerate(report.chapters)
        for sheet in _sheets(chapter, replace(place, path=(number,)), fresh=starts[number])
    ]
    nodes = [node for sheet in sheets for node in print_sheets.flat(sheet["nodes"])]
    listed = [node for node in nodes if node.get("listed", True)]
    kinds = {node["kind"] for node in listed}
    return {
        "meta": meta_node(meta) | {"logo": meta.look.logo_alt if with_logo else ""},
        "look": look_node(),
        "words": fixed_words(),
        "history": _table(report.history, replace(place, path=(-1,))) if report.history else [],
        "sheets": sheets,
        "lists": {
            "table": meta.lists and "table" in kinds,
            "image": meta.lists and bool(kinds & {"figure", "photo"}),
            "short": {node["label"]: _short(node["caption"]) for node in listed if "caption" in node},
        },
    }


def _short(caption: str) -> str:
    """Return what the lists show of a caption: of a long one, what stands before a colon or full stop.

    >>> _short("Benzene, ng per sampler: size and shade by mass class, shape by surface, a ring for a mark")
    'Benzene, ng per sampler'
    """
    return re.split(r"[:.] ", caption, maxsplit=1)[0] if len(caption) > _LIST_LINE else caption


def _sheets(chapter: records.Chapter, place: _Place, *, fresh: bool) -> list[Node]:
    keyed = chapter.keyed and any(_marks(chapter))
    inner = replace(
        place, depth=2, listed=chapter.listed, indexed=chapter.indexed, annexed=chapter.appendix, keyed=keyed
    )
    heading = _heading(chapter.title, place)
    if chapter.single_page:
        nodes = _fitted([heading], chapter.blocks, inner)
    else:
        nodes = [heading, *_inside(chapter.blocks, inner)]
    if keyed:
        nodes.append({"kind": "key", "rows": _key(chapter), "wide": nodes[-1].get("wide", False)})
    starts = fresh or chapter.appendix or chapter.single_page
    sheets = print_fold.sheets(nodes, paper=place.paper, fresh=starts, appendix=chapter.appendix)
    return [sheet | {"fit": True} for sheet in sheets] if chapter.single_page else sheets


def _fitted(heading: list[Node], blocks: Sequence[records.Block], place: _Place) -> list[Node]:
    """Return the nodes of a chapter for one page: what follows its drawing stands beside the drawing."""
    parts = [_nodes(block, replace(place, path=(*place.path, i))) for i, block in enumerate(blocks)]
    at = next((i for i, part in enumerate(parts) if part and part[0]["kind"] == "figure"), len(parts))
    above = _over_full_width([*heading, *chain(*parts[:at])])
    beside = _over_full_width([*chain(*parts[at + 1 :])])
    if not beside:
        return [*above, *chain(*parts[at:])]
    for node in parts[at]:
        node["width"] = min(node["width"], round(_DRAWING_PART * place.width_pt(), 1))
    return [*above, {"kind": "row", "cells": [parts[at], beside], "widths": [parts[at][0]["width"]]}]


def _marks(block: records.Chapter | records.Block) -> Iterator[records.Mark]:
    if isinstance(block, records.Table):
        yield from (mark for row in block.rows for cell in row for mark in cell.marks)
    elif isinstance(block, records.Chapter | records.Section):
        for child in block.blocks:
            yield from _marks(child)


def _key(chapter: records.Chapter) -> list[tuple[str, str]]:
    """Return word and reasons of each mark of a chapter; of many reasons the first few, and how many more."""
    reasons: dict[str, dict[str, None]] = {}
    for mark in _marks(chapter):
        reasons.setdefault(mark.word, {})[mark.reason] = None
    return [(word, _several(list(told))) for word, told in reasons.items()]


def _several(reasons: Sequence[str]) -> str:
    more = len(reasons) - _KEY_REASONS
    shown = " ".join(reasons[:_KEY_REASONS])
    if more <= 0:
        return shown
    return worded("{shown} And {more} more, each said beside its number on the site.", shown=shown, more=more)


def _inside(blocks: Iterable[records.Block], place: _Place) -> list[Node]:
    return [
        node
        for number, block in enumerate(blocks)
        for node in _nodes(block, replace(place, path=(*place.path, number)))
    ]


def _nodes(block: records.Block, place: _Place) -> list[Node]:
    """Turn a block into nodes; what print doesn't show (a web map) gives none."""
    make = _MAKERS.get(type(block))
    return make(block, place) if make else []


def _heading(title: str, place: _Place) -> Node:
    text = soften(title.strip(), _HEADING_WORD_EM) or "(untitled)"
    level = min(place.depth, 6)
    return {
        "kind": "heading",
        "level": level,
        "text": text,
        "label": place.label,
        "listed": place.indexed or (place.listed and not place.annexed),
    }


def _section(section: records.Section, place: _Place) -> list[Node]:
    inside = _inside(section.blocks, replace(place, depth=place.depth + 1))
    nodes = [_heading(section.title, place), *inside]
    together = not place.listed and print_sheets.height_pt(nodes, place.width_pt()) <= place.height_pt()
    if together and not any(node.get("wide") for node in nodes):
        return [{"kind": "group", "nodes": _over_full_width(nodes)}]
    return nodes


def _over_full_width(nodes: list[Node]) -> list[Node]:
    """Let prose run over the full width of what holds it."""
    return [{**node, "full": True} if node["kind"] == "prose" else node for node in nodes]


def _table(table: records.Table, place: _Place) -> list[Node]:
    """Return a table. Cells lead on in tables of words, in short ones and in the annex of every point.

    Typst lays a table that holds a link out anew in each of its passes, so longer tables of
    numbers hold none: their points and compounds stand in the annex and in the contents.
    """
    wide = table.landscape
    short = len(table.rows) * len(table.columns) <= _SHORT_CELLS
    leads = short or place.keyed or any(column.kind == "wide" for column in table.columns)
    targets = place.targets if leads else Targets({}, frozenset())
    compact = place.keyed or not place.listed
    width = place.width_pt(wide=wide)
    nodes = print_table.table_nodes(table, targets, width, place.label, compact=compact, keyed=place.keyed)
    limit = _WHOLE * place.height_pt(wide=wide)
    common = {"wide": wide, "listed": place.listed, "room": place.width_pt(wide=wide)}
    return [{**node, **common, "whole": node["height"] <= limit} for node in nodes]


def _figure(figure: records.Figure, place: _Place) -> list[Node]:
    full = place.width_pt() * (0.5 if figure.width == "half" else 1.0)
    width = min(full, place.paper_pt[1] * _FIGURE_HEIGHT * _aspect(figure.svg))
    node = {
        "kind": "figure",
        "svg": glyphs.bare(_CHARACTER_REFERENCE.sub(_referenced, figure.svg)),
        "width": round(width, 1),
        "label": place.label,
        "caption": figure.caption,
        "alt": figure.alt or figure.caption or "drawing",
        "below": soften(_below(figure), _PROSE_WORD_EM),
        "listed": place.listed,
    }
    made = print_fold.fold(node, _size(figure.svg)) if figure.width == PLACING else node
    return [made, *_data_of(figure, place)]


def _below(figure: records.Figure) -> str:
    """Return the words below a drawing; where its data are too long for print they say where they are."""
    if figure.table is None or len(figure.table.rows) <= records.SHORT_DATA:
        return figure.description
    return f"{figure.description} {worded('The site has the data of this figure as a table.')}".strip()


def _data_of(figure: records.Figure, place: _Place) -> list[Node]:
    if figure.table is None or len(figure.table.rows) > records.SHORT_DATA:
        return []
    nodes = _table(figure.table, place)
    return [{**node, "label": f"{node['label']}-data"} for node in nodes]


def _aspect(svg: str) -> float:
    """Return width over height of a drawing; 1 where it doesn't say.

    >>> _aspect('<svg viewBox="0 0 200 50">')
    4.0
    """
    width, height = _size(svg)
    return width / height


def _size(svg: str) -> tuple[float, float]:
    """Return width and height of a drawing in its own units; 1 and 1 where it doesn't say."""
    found = _VIEW_BOX.search(svg) or _SIDES.search(svg)
    width, height = map(float, found.groups()) if found else (1.0, 1.0)
    return (width, height) if width and height else (1.0, 1.0)


def _referenced(match: re.Match[str]) -> str:
    """Return the character that a numeric reference names, so that its glyph is checked too."""
    digits = match[1]
    code = int(digits[1:], 16) if digits[0] in "xX" else int(digits)
    return chr(code) if 0xA0 <= code <= sys.maxunicode else match[0]


def _photo(photo: records.Photo, place: _Place) -> list[Node]:
    picture = place.photos.get(photo.file, Picture("", 1.0))
    width = min(place.width_pt(), place.paper_pt[1] * _PHOTO_HEIGHT * picture.aspect)
    return [
        {
            "kind": "photo",
            "file": soften(photo.file, 20),
            "opens": picture.name,
            "width": round(width, 1),
            "label": place.label,
            "caption": photo.caption,
            "alt": photo.alt or photo.caption or "photograph",
            "below": soften(photo.credit, _PROSE_WORD_EM),
            "listed": place.listed,
        }
    ]


def _prose(prose: records.Prose, place: _Place) -> list[Node]:
    return [{"kind": "prose", "level": min(place.depth, 6), "body": _softened(markdown_nodes(prose.markdown))}]


def _softened(nodes: list[Node]) -> list[Node]:
    """Give long words in prose places to break at."""
    for node in nodes:
        if "text" in node:
            node["text"] = soften(node["text"], _PROSE_WORD_EM)
        if "lines" in node:
            node["lines"] = [soften(line, _PROSE_WORD_EM) for line in node["lines"]]
        _softened(node.get("body", []))
        for item in node.get("items", []):
            _softened(item)
    return nodes


def _quote(quote: records.Quote, place: _Place) -> list[Node]:  # noqa: ARG001 - one shape for every maker
    lines = [soften(line, _PROSE_WORD_EM) for line in quote.text.splitlines()]
    return [{"kind": "verbatim", "lines": lines, "source": quote.source}]


def _facts(facts: records.Facts, place: _Place) -> list[Node]:
    rows = [
        [soften(label, 9.0), print_table.cell_node(cell, place.targets, _PROSE_WORD_EM)] for label, cell in facts.rows
    ]
    legend = list(dict.fromkeys((m.word, m.reason) for _, cell in facts.rows for m in cell.marks))
    return [{"kind": "facts", "rows": rows, "legend": legend}]


def _tiles(tiles: records.Tiles, place: _Place) -> list[Node]:
    items = [
        {
            "value": soften(tile.value, _TILE_WORD_EM),
            "label": soften(tile.label, 2 * _TILE_WORD_EM),
            "note": soften(tile.note, 2 * _TILE_WORD_EM),
            "to": place.targets.resolve(tile.ref),
        }
        for tile in tiles.tiles
    ]
    return [{"kind": "tiles", "tiles": items}]


def _buttons(block: records.Buttons, place: _Place) -> list[Node]:
    """Return files to fetch as facts: paper has no button."""
    return _facts(records.Facts(tuple((one.words, records.Cell(one.format, one.ref)) for one in block.buttons)), place)


def _callout(callout: records.Callout, place: _Place) -> list[Node]:
    known = _TONE_WORDS | print_table.LEADS
    shape, english = known.get(callout.tone, ("●", callout.tone))
    word = worded(english)
    return [
        {
            "kind": "callout",
            "tone": callout.tone,
            "shape": shape,
            "word": word[:1].upper() + word[1:],
            "title": soften(callout.title, _PROSE_WORD_EM),
            "level": min(place.depth, 6),
            "body": _softened(markdown_nodes(callout.markdown)),
            "refs": [print_table.cell_node(cell, place.targets, _PROSE_WORD_EM) for cell in callout.refs],
        }
    ]


_MAKERS: dict[type, Callable[..., list[Node]]] = {
    records.Section: _section,
    records.Table: _table,
    records.Figure: _figure,
    records.Photo: _photo,
    records.Prose: _prose,
    records.Quote: _quote,
    records.Facts: _facts,
    records.Tiles: _tiles,
    records.Buttons: _buttons,
    records.Callout: _callout,
}
