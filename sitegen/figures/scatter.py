"""A chart of pairs: detections before and after the blank rule."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from sitegen.figures.axes import PlainAxis
from sitegen.figures.look import ACCENT, INK, MUTED, PAPER, RULE, WARN
from sitegen.figures.svg import drawing, element, fit_text, line, text, text_width
from sitegen.voice import worded

WIDTH = 720.0
_FONT = 11.0


class BlankPair(NamedTuple):
    """A compound's detections before the blank rule, and those that no blank touches."""

    label: str
    analysed: int
    before: int
    after: int


def before_after(figure_id: str, pairs: Sequence[BlankPair]) -> str:
    """Draw the number of detections before and after the blank rule, joined, a row per compound."""
    labels = max((text_width(pair.label, _FONT) for pair in pairs), default=0.0)
    left = 20 + min(labels, 220.0)
    high = max((pair.analysed for pair in pairs), default=1)
    axis = PlainAxis(left, WIDTH - 90, 0, max(high, 1))
    bottom = 16.0 + 20 * len(pairs)
    body = []
    for value, words in axis.ticks:
        if value == int(value):
            x = axis.at(value)
            body.append(line(x, 10, x, bottom + 4, stroke=RULE, stroke_width=0.8))
            body.append(text(x, bottom + 17, words, text_anchor="middle", fill=MUTED))
    for i, pair in enumerate(pairs):
        body.append(_pair_row(pair, axis, 22.0 + 20 * i, left))
    middle = (axis.start + axis.end) / 2
    body.append(text(middle, bottom + 34, worded("soil points with a detection"), text_anchor="middle"))
    y = bottom + 56
    body += [
        element("circle", cx=left + 6, cy=y, r=5, fill=PAPER, stroke=WARN, stroke_width=1.6),
        text(left + 18, y + 4, worded("detected")),
        element("circle", cx=left + 96, cy=y, r=5, fill=ACCENT, stroke=INK, stroke_width=0.8),
        text(left + 108, y + 4, worded("detected, not affected by a blank")),
    ]
    return drawing(figure_id, WIDTH, y + 16, *body, font_size=_FONT)


def _pair_row(pair: BlankPair, axis: PlainAxis, y: float, left: float) -> str:
    before, after = axis.at(pair.before), axis.at(pair.after)
    parts = [text(left - 10, y + 4, fit_text(pair.label, _FONT, 220), text_anchor="end")]
    if pair.before != pair.after:
        parts.append(line(after, y, before, y, stroke=WARN, stroke_width=1.4))
        parts.append(element("circle", cx=before, cy=y, r=5, fill=PAPER, stroke=WARN, stroke_width=1.6))
    parts.append(element("circle", cx=after, cy=y, r=5, fill=ACCENT, stroke=INK, stroke_width=0.8))
    words = (
        worded("{least} to {most}", least=pair.before, most=pair.after)
        if pair.before != pair.after
        else str(pair.after)
    )
    parts.append(text(WIDTH - 12, y + 4, words, text_anchor="end"))
    return "".join(parts)
