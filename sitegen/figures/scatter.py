"""Two charts of pairs: duplicates against each other, and detections before and after the blank rule."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from sitegen.figures.axes import LogAxis, PlainAxis
from sitegen.figures.look import ACCENT, INK, MUTED, PAPER, RULE, WARN
from sitegen.figures.svg import drawing, element, fit_text, line, number, rect, text, text_width
from sitegen.units import NANOGRAM

WIDTH = 720.0
_FONT = 11.0


class DuplicateDot(NamedTuple):
    """A compound of a duplicate pair: both masses, None for a non-detect, which has its limit.

    ``differs`` is the verdict of the duplicate rule, whatever it compared.
    """

    label: str
    primary_ng: float | None
    duplicate_ng: float | None
    limit_ng: float
    differs: bool


def duplicate_scatter(figure_id: str, dots: Sequence[DuplicateDot], rpd_pct: float, unit: str = NANOGRAM.text) -> str:
    """Draw duplicates against primaries on decade axes, with the band of the RPD limit.

    Pairs with one non-detect stand hollow at its limit; pairs with none detected are left
    out. An RPD of L % or less means a ratio up to (200 + L)/(200 − L).

    Raises
    ------
    ValueError
        A mass or limit is not above zero, or the RPD limit does not lie between 0 and 200 %.
    """
    if not 0 < rpd_pct < 200:
        raise ValueError("an RPD limit lies between 0 and 200 %")
    drawn = [dot for dot in dots if dot.primary_ng is not None or dot.duplicate_ng is not None]
    spots = [(d.primary_ng or d.limit_ng, d.duplicate_ng or d.limit_ng) for d in drawn]
    across = LogAxis.over((value for spot in spots for value in spot), 90.0, 490.0)
    up = LogAxis(430.0, 30.0, across.low, across.high)
    ratio = (200 + rpd_pct) / (200 - rpd_pct)
    body = [_band(across, up, ratio), _frame(across, up)]
    for dot, (x, y) in zip(drawn, spots, strict=True):
        body.append(_dot(dot, across.at(x), up.at(y)))
    body += [
        text(290, 470, f"primary, {unit}", text_anchor="middle"),
        text(30, 230, f"duplicate, {unit}", text_anchor="middle", transform="rotate(-90 30 230)"),
    ]
    key = _scatter_key(rpd_pct, [dot for dot in drawn if dot.differs])
    return drawing(figure_id, WIDTH, 486.0, *body, key, font_size=_FONT)


def _band(across: LogAxis, up: LogAxis, ratio: float) -> str:
    """Shade the band between y = x / ratio and y = x × ratio, cut off at the frame."""
    step = math.log10(ratio) / (across.high - across.low) * (across.end - across.start)
    left, right, bottom, top = across.start, across.end, up.start, up.end
    corners = (
        (left, bottom), (left, bottom - step), (right - step, top),
        (right, top), (right, top + step), (left + step, bottom),
    )  # fmt: skip
    path = " ".join(f"{number(x)},{number(y)}" for x, y in corners)
    shade = element("polygon", points=path, fill=ACCENT, fill_opacity=0.14)
    return shade + line(left, bottom, right, top, stroke=ACCENT, stroke_width=1, stroke_dasharray="5 3")


def _frame(across: LogAxis, up: LogAxis) -> str:
    parts = []
    for value, words in across.ticks:
        x, y = across.at(value), up.at(value)
        parts.append(line(x, up.end, x, up.start + 4, stroke=RULE, stroke_width=0.8))
        parts.append(line(across.start - 4, y, across.end, y, stroke=RULE, stroke_width=0.8))
        parts.append(text(x, up.start + 17, words, text_anchor="middle", fill=MUTED))
        parts.append(text(across.start - 8, y + 4, words, text_anchor="end", fill=MUTED))
    return "".join(parts)


def _dot(dot: DuplicateDot, x: float, y: float) -> str:
    both = dot.primary_ng is not None and dot.duplicate_ng is not None
    colour = WARN if dot.differs else INK
    if dot.differs:
        path = " ".join(f"{number(x + dx)},{number(y + dy)}" for dx, dy in ((0, -6), (6, 0), (0, 6), (-6, 0)))
        return element("polygon", points=path, fill=colour if both else PAPER, stroke=colour, stroke_width=1.4)
    fill = colour if both else PAPER
    return element("circle", cx=x, cy=y, r=3.6, fill=fill, stroke=colour, stroke_width=1.3, fill_opacity=0.75)


def _scatter_key(rpd_pct: float, differing: Sequence[DuplicateDot]) -> str:
    x, y = 520.0, 44.0
    shown = DuplicateDot("", 1, 1, 1, differs=False)
    rows = [
        (rect(x - 8, y - 6, 16, 12, fill=ACCENT, fill_opacity=0.14), f"RPD up to {rpd_pct:g} %"),
        (_dot(shown, x, y + 20), "both detected"),
        (_dot(shown._replace(duplicate_ng=None), x, y + 40), "one not detected, at its limit"),
        (_dot(shown._replace(differs=True), x, y + 60), "differs by the duplicate rule"),
    ]
    parts = [mark + text(x + 16, y + 20 * i + 4, words) for i, (mark, words) in enumerate(rows)]
    for i, dot in enumerate(differing[:12]):
        parts.append(text(x - 8, y + 92 + 15 * i, fit_text(dot.label, 10, WIDTH - x), fill=WARN, font_size=10))
    if len(differing) > 12:
        parts.append(text(x - 8, y + 92 + 15 * 12, f"and {len(differing) - 12} more: see the table"))
    return "".join(parts)


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
    body.append(text(middle, bottom + 34, "soil points with a detection", text_anchor="middle"))
    y = bottom + 56
    body += [
        element("circle", cx=left + 6, cy=y, r=5, fill=PAPER, stroke=WARN, stroke_width=1.6),
        text(left + 18, y + 4, "detected"),
        element("circle", cx=left + 96, cy=y, r=5, fill=ACCENT, stroke=INK, stroke_width=0.8),
        text(left + 108, y + 4, "detected, not affected by a blank"),
    ]
    return drawing(figure_id, WIDTH, y + 16, *body, font_size=_FONT)


def _pair_row(pair: BlankPair, axis: PlainAxis, y: float, left: float) -> str:
    before, after = axis.at(pair.before), axis.at(pair.after)
    parts = [text(left - 10, y + 4, fit_text(pair.label, _FONT, 220), text_anchor="end")]
    if pair.before != pair.after:
        parts.append(line(after, y, before, y, stroke=WARN, stroke_width=1.4))
        parts.append(element("circle", cx=before, cy=y, r=5, fill=PAPER, stroke=WARN, stroke_width=1.6))
    parts.append(element("circle", cx=after, cy=y, r=5, fill=ACCENT, stroke=INK, stroke_width=0.8))
    words = f"{pair.before} to {pair.after}" if pair.before != pair.after else str(pair.after)
    parts.append(text(WIDTH - 12, y + 4, words, text_anchor="end"))
    return "".join(parts)
