"""Maps to print alone, set through Typst: PDF/A-3a and PDF/UA-1 with a page for each, or one as a PNG picture.

What stands in the title block is text of the file; the drawing is a figure with its alternative text.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import asdict, replace
from datetime import date
from io import BytesIO
from typing import Literal, TypeAlias

import pikepdf

from sitegen import glyphs
from sitegen.figures.lone import key_of, lone_ground, lone_map
from sitegen.figures.lonesheet import MARGIN_PT, PAPERS, lay_out
from sitegen.render.print.finish import finish
from sitegen.render.print.front import look_node
from sitegen.render.print.markdown import Node
from sitegen.render.print.pdf import PrintSources, compile_sources, print_templates, printable_tree
from sitegen.render.print.picture import text_of, with_texts
from sitegen.render.print.strings import strings
from sitegen.render.print.titleblock import TitleBlock
from sitegen.report.record.lone import MAPS, Atlas, LoneGround, LoneMap
from sitegen.report.record.pages import Meta, Report
from sitegen.report.write.words import say
from sitegen.voice import voice

Labels: TypeAlias = Literal["ids", "values", "both", "none"]

MAIN = "lone.typ"
MARK = "map to print alone"
"""A keyword by which a PDF of these is known again."""

DPI = 200
"""Dots to the inch of a map as a picture. Common practice, no source."""

PROJECT_PAPERS = {"a4": "a4", "us-letter": "letter"}
"""The paper of a project's maps by that of its report."""


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


def set_maps(report: Report) -> dict[str, bytes]:
    """Return the maps of a report to print alone on the project's paper, by their path; nothing where there is none."""
    atlas, meta = report.atlas, report.meta
    return {MAPS: lone_pdf(atlas, meta, PROJECT_PAPERS[meta.paper])} if atlas.maps else {}


def lone_png(atlas: Atlas, meta: Meta, paper: str, labels: Labels = "ids") -> bytes:
    """Return the one map of an atlas as a PNG of `DPI` dots to the inch, with its title and words in the file."""
    (only,) = atlas.maps
    sources = lone_sources(atlas, meta, paper, labels)
    made = compile_sources(sources.files, sources.day, MAIN, ppi=DPI)
    words = {"Title": f"{only.title}, {meta.site}", "Description": only.alt, "Software": meta.tool, "Comment": MARK}
    return with_texts(made, DPI, words)


def lone_texts(atlas: Atlas, meta: Meta) -> Iterator[str]:
    """Yield every text that the maps of an atlas hold, whatever paper they are set on."""
    yield from strings(asdict(meta))
    for ground in atlas.grounds:
        yield from strings((ground.crs_text, ground.facts, ground.points, ground.features))
    for one in atlas.maps:
        yield from strings(asdict(one))


def is_lone_map(data: bytes) -> bool:
    """Tell whether a file is one that this module made."""
    if data.startswith(b"%PDF"):
        try:
            with pikepdf.open(BytesIO(data)) as document:
                return MARK in str(document.docinfo.get("/Keywords", ""))
        except pikepdf.PdfError:
            return False
    return text_of(data, "Comment") == MARK


def lone_sources(atlas: Atlas, meta: Meta, paper: str, labels: Labels = "ids") -> PrintSources:
    """Return what Typst reads for the maps of an atlas."""
    nodes = [
        node
        for at, ground in enumerate(atlas.grounds)
        for with_values in (True, False)
        if (maps := [one for one in atlas.maps if one.ground == at and bool(one.values) == with_values])
        for node in _nodes(ground, maps, meta, (paper, labels))
    ]
    words = {"language": voice().language}
    tree: Node = {"meta": _meta_node(meta), "look": look_node(), "sheets": nodes, "margin": MARGIN_PT, "words": words}
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
        "mark": MARK,
    }


def _nodes(ground: LoneGround, maps: Sequence[LoneMap], meta: Meta, how: tuple[str, Labels]) -> Iterator[Node]:
    """Yield the pages of the maps of one ground, all of masses or all of the points themselves."""
    paper = PAPERS[how[0]]
    values = [one.values for one in maps if one.values]
    key = key_of(ground.points, ground.features, ground.class_labels, values, maps[0].unit)
    blocks = [TitleBlock(_explained(one, how[1]), ground, meta, paper) for one in maps]
    bands = {lies: max(block.height_pt(lies=lies) for block in blocks) for lies in (False, True)}
    sheet = lay_out(paper, ground.points, ground.features, key, bands, feet=ground.feet)
    prepared = lone_ground(sheet, ground.points, ground.features, ground.crs_text)
    lies = sheet.landscape
    for one, block in zip(maps, blocks, strict=True):
        drawn = lone_map(f"lone-{one.id}", sheet, prepared, one.values, key, _labels(one, ground, how[1]))
        yield block.node(sheet.scale_text, drawn.left_out, lies=lies, height_pt=bands[lies]) | {
            "id": one.id,
            "size": list(sheet.size_pt),
            "svg": drawn.svg,
            "alt": one.alt,
            "drawn": [side * paper.unit_pt for side in (sheet.width, sheet.height)],
        }


def _explained(one: LoneMap, labels: Labels) -> LoneMap:
    """Return a map whose notes explain the results beside its points, where they are written."""
    return replace(one, notes=(one.valued, *one.notes)) if labels in ("values", "both") else one


def _labels(one: LoneMap, ground: LoneGround, labels: Labels) -> tuple[str, ...] | None:
    """Return what stands at each point, "" for nothing; None where nothing is asked for."""
    ids = tuple(point.label for point in ground.points)
    if labels == "ids":
        return ids
    if labels == "values":
        return one.texts
    both = (f"{name}: {words}" if words else name for name, words in zip(ids, one.texts, strict=True))
    return tuple(both) if labels == "both" else None
