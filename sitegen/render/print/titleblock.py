"""The title block of a map that is printed alone: whose map it is, how it was made, and what must be known of it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

from sitegen.figures.lonesheet import MARGIN_PT, Paper
from sitegen.figures.svg import text_width
from sitegen.render.print.markdown import Node
from sitegen.render.print.widths import soften
from sitegen.report.record.lone import LoneGround, LoneMap
from sitegen.report.record.pages import Meta
from sitegen.report.write.words import say
from sitegen.voice import worded

GUTTER_PT = 12.0
LABEL_EM = 8.6
"""The width of the labels of facts, in letters of the text."""

SHARES = {True: (0.31, 0.43, 0.26), False: (0.58, 0.42)}
"""The columns' shares of the width, by whether the sheet lies: where it stands, the notes are below both."""

_SMALL_PT, _LARGE_PT, _LARGE_FROM_PT = 7.2, 8.4, 1_000.0
_LINE, _GAP, _SERIF = 1.09, 0.17, 0.86  # of the size: a line, what is between paragraphs, a letter beside DejaVu's
_WIDEST_SCALE = "1 in = 1,000 ft (1:12,000)"
_MOST = 0.36  # of the sheet's height
_WORD_EM = 16.0


class _Column(NamedTuple):
    """A column: what must be read, other paragraphs, then facts below them."""

    cautions: tuple[str, ...]
    paragraphs: tuple[str, ...]
    facts: tuple[tuple[str, str], ...]

    def height_pt(self, width_pt: float, size_pt: float) -> float:
        """Return about how high it is, from the widths of a wider font; what has no room is set smaller."""
        texts = [(words, width_pt) for words in (*self.cautions, *self.paragraphs)]
        texts += [(words, width_pt - LABEL_EM * size_pt) for _, words in self.facts]
        lines = [math.ceil(_SERIF * text_width(words, size_pt) / width) for words, width in texts]
        return size_pt * (_LINE * sum(lines) + _GAP * len(lines))

    def node(self) -> Node:
        return {
            "cautions": [soften(words, _WORD_EM) for words in self.cautions],
            "paragraphs": [soften(words, _WORD_EM) for words in self.paragraphs],
            "facts": [[name, soften(words, _WORD_EM)] for name, words in self.facts],
        }


@dataclass(frozen=True, slots=True)
class TitleBlock:
    """What a title block is made of, on one paper."""

    map: LoneMap
    ground: LoneGround
    meta: Meta
    paper: Paper

    @property
    def size_pt(self) -> float:
        """The usual size of its text."""
        return _LARGE_PT if self.paper.long_pt > _LARGE_FROM_PT else _SMALL_PT

    def height_pt(self, *, lies: bool) -> float:
        """Return what it takes of the sheet's height with the gap above it, at most a share of that."""
        wide, high = (self.paper.long_pt, self.paper.short_pt)[:: 1 if lies else -1]
        inner = wide - 2 * MARGIN_PT
        widths = [share * inner - GUTTER_PT for share in SHARES[lies]]
        columns = self._columns(_WIDEST_SCALE, 100)
        size_pt = self.size_pt
        title = 2.2 * size_pt * math.ceil(text_width(self.map.title, 1.5 * size_pt) / widths[0])
        beside = columns if lies else columns[::2]
        heights = [column.height_pt(width, size_pt) for column, width in zip(beside, widths, strict=True)]
        below = 0 if lies else columns[1].height_pt(inner, size_pt) + size_pt
        return min(max(heights[0] + title, *heights[1:]) + below + GUTTER_PT, _MOST * high)

    def node(self, scale: str, left_out: int, *, lies: bool, height_pt: float) -> Node:
        """Return what the template sets: columns, notes in the middle, for a sheet that lies or stands."""
        return {
            "title": soften(self.map.title, _WORD_EM),
            "lies": lies,
            "text": self.size_pt,
            "band": height_pt - GUTTER_PT - 1,
            "gutter": GUTTER_PT,
            "label": LABEL_EM,
            "shares": list(SHARES[lies]),
            "columns": [column.node() for column in self._columns(scale, left_out)],
        }

    def _columns(self, scale: str, left_out: int) -> tuple[_Column, _Column, _Column]:
        meta, one = self.meta, self.map
        whose = (
            (worded("Project"), f"{meta.title} ({meta.project_id})"),
            (worded("Site"), meta.site),
            (worded("Client"), meta.client or "–"),
            (worded("Prepared by"), meta.prepared_by or "–"),
            *self.ground.facts,
        )
        made = (
            (worded("Scale"), say("lone.scale", scale=scale, paper=self.paper.name)),
            (worded("Coordinates"), self.ground.crs_text),
            (worded("Revision"), str(meta.revision)),
            (worded("Report date"), meta.day),
            (worded("Status"), meta.state),
            (worded("Content digest"), f"{meta.digest[:8]} …"),
            (worded("Made with"), meta.tool),
        )
        without = (say("lone.left_out", count=left_out),) if left_out else ()
        told = _Column((*meta.notices, *one.cautions), (*one.notes, *without), ())
        return _Column((), (one.subtitle,), whose), told, _Column((), (), made)
