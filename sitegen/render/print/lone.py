"""Maps to print alone, set through Typst: PDF/A-3a and PDF/UA-1 with a page for each, or one as a PNG picture.

What stands in the title block is text of the file; the drawing is a figure with its alternative text.
"""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from datetime import date
from typing import Literal, NamedTuple, TypeAlias

from sitegen import glyphs
from sitegen.figures.lone import MARGIN_PT, PAPERS, Drawn, Paper, Sheet, key_of, lay_out, lone_ground, lone_map
from sitegen.figures.svg import text_width
from sitegen.render.print.finish import finish
from sitegen.render.print.front import look_node
from sitegen.render.print.markdown import Node
from sitegen.render.print.pdf import PrintSources, compile_sources, printable_tree, print_templates
from sitegen.render.print.picture import with_texts
from sitegen.render.print.strings import strings
from sitegen.render.print.widths import soften
from sitegen.report.record.lone import Atlas, LoneGround, LoneMap
from sitegen.report.record.pages import Meta
from sitegen.report.write.words import say

Labels: TypeAlias = Literal["ids", "values", "both", "none"]

MAIN = "lone.typ"
DPI = 200
"""Dots to the inch of a map as a picture. Common practice, no source."""

PROJECT_PAPERS = {"a4": "a4", "us-letter": "letter"}
"""The paper of a project's maps by that of its report."""

_SIZES_PT = {"a4": 7.2, "letter": 7.2, "a3": 8.4, "11x17": 8.4}
_SHARES = {True: (0.31, 0.43, 0.26), False: (0.58, 0.42)}
_GUTTER_PT = 12.0
_LINE, _GAP, _SERIF = 1.09, 0.17, 0.86
_LABEL_EM = 8.6
_MOST_BAND = 0.36
_WORD_EM = 16.0


class _Column(NamedTuple):
    """A column of the title block: what must be read, other paragraphs, then facts below them."""

    cautions: tuple[str, ...]
    paragraphs: tuple[str, ...]
    facts: tuple[tuple[str, str], ...]

    def height_pt(self, width_pt: float, size_pt: float) -> float:
        """Return about how high it is, from the widths of a wider font; what has no room is set smaller."""
        texts = [(words, width_pt) for words in (*self.cautions, *self.paragraphs)]
        texts += [(words, width_pt - _LABEL_EM * size_pt) for _, words in self.facts]
        lines = [math.ceil(_SERIF * text_width(words, size_pt) / width) for words, width in texts]
        return size_pt * (_LINE * sum(lines) + _GAP * len(lines))


def lone_pdf(atlas: Atlas, meta: Meta, paper: str, labels: Labels = "ids") -> bytes:
    """Return a PDF with a page for each map, the same bytes each time.

    Parameters
    ----------
    atlas
        The maps; those of one ground have the same frame and legend, so that they can be compared.
    meta
        What the title block says of the report.
    paper
        One of `PAPERS`.
    labels
        What stands at the points: ids, results with their qualifiers, both, or nothing.

    Raises
    ------
    KeyError
        The paper is unknown.
    ValueError
        A ground has nothing to draw.
    typst.TypstError
        A drawing is not valid SVG.
    """
    sources = lone_sources(atlas, meta, paper, labels)
    return finish(compile_sources(sources.files, sources.day, MAIN), {}, sources.day)


def lone_png(atlas: Atlas, meta: Meta, paper: str, labels: Labels = "ids") -> bytes:
    """Return the one map of an atlas as a PNG of `DPI` dots to the inch, with its title and words in the file."""
    (only,) = atlas.maps
    sources = lone_sources(atlas, meta, paper, labels)
    made = compile_sources(sources.files, sources.day, MAIN, ppi=DPI)
    return with_texts(
        made, DPI, {"Title": f"{only.title}, {meta.site}", "Description": only.alt, "Software": meta.tool}
    )


def lone_sources(atlas: Atlas, meta: Meta, paper: str, labels: Labels = "ids") -> PrintSources:
    """Return what Typst reads for the maps of an atlas."""
    nodes = [
        node
        for at, ground in enumerate(atlas.grounds)
        if (maps := [one for one in atlas.maps if one.ground == at])
        for node in _nodes(ground, maps, meta, (paper, labels))
    ]
    tree: Node = {"meta": _meta_node(meta), "look": look_node(), "sheets": nodes, "margin": MARGIN_PT}
    tree = printable_tree(tree)
    tree["upright"] = "".join(sorted(glyphs.upright_only() & frozenset("".join(strings(tree)))))
    files = print_templates() | {"data.json": json.dumps(tree, ensure_ascii=False).encode()}
    return PrintSources(files, date.fromisoformat(meta.report_date))


def _meta_node(meta: Meta) -> Node:
    return {
        "title": say("lone.document", title=meta.title),
        "prepared_by": meta.prepared_by,
        "site": meta.site,
        "project_id": meta.project_id,
        "revision": meta.revision,
        "status_word": meta.state,
        "report_date": meta.report_date,
        "digest8": meta.digest[:8],
    }


def _nodes(ground: LoneGround, maps: Sequence[LoneMap], meta: Meta, how: tuple[str, Labels]) -> list[Node]:
    """Return the pages of the maps of one ground."""
    paper, labels = PAPERS[how[0]], how[1]
    size_pt = _SIZES_PT[how[0]]
    key = key_of(ground.points, ground.features, ground.class_labels, [one.values for one in maps], maps[0].unit)
    bands = [max(_band_pt(one, ground, meta, paper, size_pt, lies) for one in maps) for lies in (False, True)]
    sheet = lay_out(paper, ground.points, ground.features, key, (bands[0], bands[1]), feet=ground.feet)
    prepared = lone_ground(sheet, ground.points, ground.features, ground.crs_text)
    made = []
    for one in maps:
        drawn = lone_map(f"lone-{one.id}", sheet, prepared, one.values, key, _labels(one, ground, labels))
        made.append(_node(one, ground, meta, sheet, drawn, (bands[sheet.landscape], size_pt)))
    return made


def _labels(one: LoneMap, ground: LoneGround, labels: Labels) -> tuple[str, ...] | None:
    """Return what stands at each point; an id stands where a point has no result in soil."""
    ids = tuple(point.label for point in ground.points)
    if labels == "none":
        return None
    if labels == "ids":
        return ids
    if labels == "values":
        return one.texts
    return tuple(f"{name}: {words}" if words else name for name, words in zip(ids, one.texts, strict=True))


def _node(one: LoneMap, ground: LoneGround, meta: Meta, sheet: Sheet, drawn: Drawn, band: tuple[float, float]) -> Node:
    notes = (*one.notes, *([say("lone.left_out", count=drawn.left_out)] if drawn.left_out else ()))
    one_with_all = _columns(one, ground, meta, sheet.scale_text, sheet.paper, notes, lies=sheet.landscape)
    unit_pt = sheet.paper.unit_pt
    return {
        "id": one.id,
        "size": list(sheet.size_pt),
        "lies": sheet.landscape,
        "svg": drawn.svg,
        "alt": one.alt,
        "drawn": [sheet.width * unit_pt, sheet.height * unit_pt],
        "title": soften(one.title, _WORD_EM),
        "text": band[1],
        "band": band[0] - _GUTTER_PT - 1,
        "gutter": _GUTTER_PT,
        "label": _LABEL_EM,
        "shares": list(_SHARES[sheet.landscape]),
        "columns": [
            {
                "cautions": [soften(words, _WORD_EM) for words in column.cautions],
                "paragraphs": [soften(words, _WORD_EM) for words in column.paragraphs],
                "facts": [[name, soften(words, _WORD_EM)] for name, words in column.facts],
            }
            for column in one_with_all
        ],
    }


def _columns(
    one: LoneMap, ground: LoneGround, meta: Meta, scale: str, paper: Paper, notes: tuple[str, ...], *, lies: bool
) -> tuple[_Column, ...]:
    """Return the title block: whose map it is, how it was made, and what is to be known; the last below where it stands."""
    whose = (
        ("Project", f"{meta.title} ({meta.project_id})"),
        ("Site", meta.site),
        ("Client", meta.client or "–"),
        ("Prepared by", meta.prepared_by or "–"),
        *ground.facts,
    )
    made = (
        ("Scale", say("lone.scale", scale=scale, paper=paper.name)),
        ("Coordinates", ground.crs_text),
        ("Revision", str(meta.revision)),
        ("Report date", meta.report_date),
        ("Status", meta.state),
        ("Content digest", f"{meta.digest[:8]} …"),
        ("Made with", meta.tool),
    )
    told = _Column((*meta.notices, *one.cautions), notes, ())
    first, last = _Column((), (one.subtitle,), whose), _Column((), (), made)
    return (first, told, last) if lies else (first, last, told)


def _band_pt(one: LoneMap, ground: LoneGround, meta: Meta, paper: Paper, size_pt: float, lies: bool) -> float:  # noqa: FBT001, PLR0913
    """Return the height of the title block with its title and the gap above it, at most a share of the sheet's."""
    notes = (*one.notes, say("lone.left_out", count=100))
    columns = _columns(one, ground, meta, "1 in = 1,000 ft (1:12,000)", paper, notes, lies=lies)
    sides = (paper.long_pt, paper.short_pt) if lies else (paper.short_pt, paper.long_pt)
    inner = sides[0] - 2 * MARGIN_PT
    widths = [share * inner - _GUTTER_PT for share in _SHARES[lies]]
    title = 2.2 * size_pt * math.ceil(text_width(one.title, 1.5 * size_pt) / widths[0])
    heights = [column.height_pt(width, size_pt) for column, width in zip(columns, widths, strict=False)]
    whole = max(heights[0] + title, *heights[1:])
    if not lies:
        whole += columns[-1].height_pt(inner, size_pt) + size_pt
    return min(whole + _GUTTER_PT, _MOST_BAND * sides[1])
