"""The report as the one tree of plain data that the print templates draw.

The tree holds text, numbers and labels only. Chapters become ``sheets``: runs of
blocks that begin on a new page and share its direction, so that a wide table takes
its heading and a short lead-in with it on to the landscape page.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from operator import itemgetter

from sitegen.figures import look
from sitegen.render import print_table
from sitegen.render.print_targets import Path, Targets, find_targets, label_at
from sitegen.render.print_widths import UPRIGHT_EM, soften
from sitegen.render.typst_tree import Node, markdown_nodes
from sitegen.report import records

MARGIN_PT = 62.0
"""Left and right margin of every page (22 mm)."""

PAPERS_PT: Mapping[str, tuple[float, float]] = {"a4": (595.28, 841.89), "us-letter": (612.0, 792.0)}
"""Width and height of the papers that print knows, in points."""

_PROSE_WORD_EM = 30.0
_HEADING_WORD_EM = 20.0
_TILE_WORD_EM = 7.0
_FIGURE_HEIGHT = 0.62  # the tallest drawing, as a part of the page's height
_LEAD_LIMIT = 1200  # characters that may move to a landscape page with the table after them
_TONE_WORDS = {"info": ("●", "for information"), "caution": ("▲", "caution")}
_VIEW_BOX = re.compile(r"""<svg\b[^>]*?\bviewBox\s*=\s*["']\s*\S+\s+\S+\s+([\d.]+)[\s,]+([\d.]+)""")
_SIDES = re.compile(r"""<svg\b(?=[^>]*?\bwidth\s*=\s*["']([\d.]+))(?=[^>]*?\bheight\s*=\s*["']([\d.]+))""")


@dataclass(frozen=True, slots=True)
class _Place:
    """Where a block stands: its path, its heading depth and what surrounds it."""

    path: Path
    depth: int
    targets: Targets
    paper_pt: tuple[float, float]
    photos: Mapping[str, str]

    @property
    def label(self) -> str:
        return label_at(self.path)

    def width_pt(self, *, wide: bool = False) -> float:
        return self.paper_pt[1 if wide else 0] - 2 * MARGIN_PT


def document_tree(report: records.Report, photos: Mapping[str, str] | None = None) -> Node:
    """Return the print tree of a report.

    Parameters
    ----------
    report
        Its meta data and chapters are printed; pages, map and exports are not.
    photos
        For each photograph that can be printed, the name that the template opens it by.

    Raises
    ------
    ValueError
        If the paper is not one that print knows.
    """
    meta = report.meta
    if meta.paper not in PAPERS_PT:
        raise ValueError(f"paper {meta.paper!r} is not known to print; it knows {', '.join(PAPERS_PT)}")
    place = _Place((), 1, find_targets(report.chapters), PAPERS_PT[meta.paper], photos or {})
    sheets = [
        sheet
        for number, chapter in enumerate(report.chapters)
        for sheet in _sheets(chapter, replace(place, path=(number,)))
    ]
    kinds = {node["kind"] for sheet in sheets for node in sheet["nodes"]}
    return {
        "meta": _meta_node(meta),
        "look": _look_node(),
        "sheets": sheets,
        "lists": {"table": "table" in kinds, "image": bool(kinds & {"figure", "photo"})},
        "missing": [],
    }


def _meta_node(meta: records.Meta) -> Node:
    return {
        "project_id": meta.project_id,
        "title": meta.title,
        "cover_title": soften(meta.title, _HEADING_WORD_EM),
        "short_title": _shorten(meta.title, 60),
        "site": meta.site,
        "client": meta.client,
        "prepared_by": meta.prepared_by,
        "revision": meta.revision,
        "status_word": meta.status_word,
        "report_date": meta.report_date,
        "digest": soften(meta.digest, 16.0),
        "digest8": meta.digest[:8],
        "publish_level": meta.publish_level,
        "tool": meta.tool,
        "notices": [soften(notice, _PROSE_WORD_EM) for notice in meta.notices],
        "paper": meta.paper,
    }


def _shorten(text: str, limit: int) -> str:
    return text if len(text) <= limit else text[: limit - 1].rstrip() + "…"


def _look_node() -> Node:
    return {
        "accent": look.ACCENT,
        "ink": look.INK,
        "muted": look.MUTED,
        "rule": look.RULE,
        "warn": look.WARN,
        "margin": MARGIN_PT,
        "mark_size": print_table.MARK_SIZE,
        "upright": UPRIGHT_EM,
        "classes": [[colour, _text_on(colour)] for colour in look.CLASS_COLOURS],
    }


def _text_on(colour: str) -> str:
    """Return ink or paper, whichever reads better on a colour (WCAG 2 contrast ratio)."""
    light, dark = (_luminance(text) for text in (look.PAPER, look.INK))
    ground = _luminance(colour)
    on_light = (light + 0.05) / (ground + 0.05)
    on_dark = (ground + 0.05) / (dark + 0.05)
    return look.PAPER if on_light > on_dark else look.INK


def _luminance(colour: str) -> float:
    """Return relative luminance, 0 to 1 (WCAG 2.2, definition of relative luminance)."""
    channels = (int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5))
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def _sheets(chapter: records.Chapter, place: _Place) -> list[Node]:
    nodes = [_heading(chapter.title, place), *_inside(chapter.blocks, replace(place, depth=2))]
    return [
        {"wide": wide, "appendix": chapter.appendix, "nodes": [node for _, run in runs for node in run]}
        for wide, runs in groupby(_runs(nodes), key=itemgetter(0))
    ]


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
    text = soften(title, _HEADING_WORD_EM)
    return {"kind": "heading", "level": min(place.depth, 6), "text": text, "label": place.label}


def _section(section: records.Section, place: _Place) -> list[Node]:
    return [_heading(section.title, place), *_inside(section.blocks, replace(place, depth=place.depth + 1))]


def _table(table: records.Table, place: _Place) -> list[Node]:
    width = place.width_pt(wide=table.landscape)
    nodes = print_table.table_nodes(table, place.targets, width, place.label)
    return [{**node, "wide": table.landscape} for node in nodes]


def _figure(figure: records.Figure, place: _Place) -> list[Node]:
    full = place.width_pt() * (0.5 if figure.width == "half" else 1.0)
    width = min(full, place.paper_pt[1] * _FIGURE_HEIGHT * _aspect(figure.svg))
    words = {
        "caption": figure.caption,
        "alt": figure.alt or figure.caption,
        "description": figure.description,
    }
    return [{"kind": "figure", "svg": figure.svg, "width": round(width, 1), "label": place.label, **words}]


def _aspect(svg: str) -> float:
    """Return width over height of a drawing; 1 where it doesn't say.

    >>> _aspect('<svg viewBox="0 0 200 50">')
    4.0
    """
    found = _VIEW_BOX.search(svg) or _SIDES.search(svg)
    width, height = map(float, found.groups()) if found else (1.0, 1.0)
    return width / height if width and height else 1.0


def _photo(photo: records.Photo, place: _Place) -> list[Node]:
    name = place.photos.get(photo.file, "")
    words = {"caption": photo.caption, "alt": photo.alt or photo.caption, "credit": photo.credit}
    return [{"kind": "photo", "file": soften(photo.file, 20), "opens": name, "label": place.label, **words}]


def _prose(prose: records.Prose, place: _Place) -> list[Node]:
    return [
        {"kind": "prose", "level": min(place.depth, 6), "body": _softened(markdown_nodes(prose.markdown))}
    ]


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
        [soften(label, 9.0), print_table.cell_node(cell, place.targets, _PROSE_WORD_EM)]
        for label, cell in facts.rows
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


def _callout(callout: records.Callout, place: _Place) -> list[Node]:
    known = _TONE_WORDS | print_table.LEADS
    shape, word = known.get(callout.tone, ("●", callout.tone))
    return [
        {
            "kind": "callout",
            "tone": callout.tone,
            "shape": shape,
            "word": word,
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
    records.Callout: _callout,
}
