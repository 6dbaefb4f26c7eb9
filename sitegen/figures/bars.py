"""Bars of mass on a decade axis: a location's compounds, a compound's locations.

A bar is a detection; a tick its reporting limit; an open angle at the limit a
non-detect, which lies somewhere below it and is never drawn as a length.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from sitegen.figures.inputs import ResultBar
from sitegen.figures.look import ACCENT, CLASS_COLOURS, INK, MUTED, RULE, WARN
from sitegen.figures.svg import drawing, element, fit_text, line, number, rect, text, text_width
from sitegen.units import NANOGRAM
from sitegen.voice import thousands, worded

WIDTH = 720.0
_FONT = 11.0
_TOP = 14.0
_ROW_HEIGHT = 16.0
_MOST_LABEL = 250.0


class _Decades(NamedTuple):
    """A logarithmic axis between two powers of ten."""

    left: float
    right: float
    low: int
    high: int

    def at(self, mass_ng: float) -> float:
        """Place a mass on the axis, held within it."""
        share = (math.log10(mass_ng) - self.low) / (self.high - self.low)
        return self.left + (self.right - self.left) * min(max(share, 0.0), 1.0)


def ranked_bars(figure_id: str, items: Sequence[ResultBar], unit: str = NANOGRAM.text, most: int = 40) -> str:
    """Draw a compound's locations or a location's compounds: detections by falling mass, then non-detects.

    ``unit`` stands at the axis. Masses and limits are above zero. Where all limits
    are the same, one line says so across the drawing. At most ``most`` rows are drawn; the
    foot counts the rest.

    Raises
    ------
    ValueError
        A mass or a limit is not above zero.
    """
    ranked = sorted(items, key=_rank)
    rest = ranked[most:]
    note = ""
    if rest:
        hidden = sum(item.mass_ng is not None for item in rest)
        note = _not_drawn(len(rest), hidden)
    return _bars(figure_id, ranked[:most], unit, note)


def _not_drawn(rest: int, hidden: int) -> str:
    """Say how many results are not drawn, and how many of them are detections."""
    if hidden:
        return worded("{rest} more not drawn ({hidden} detected): see the table.", rest=rest, hidden=hidden)
    if rest == 1:
        return worded("1 non-detect not drawn: see the table.")
    return worded("{rest} non-detects not drawn: see the table.", rest=rest)


def _rank(item: ResultBar) -> tuple[bool, float, str]:
    value = item.mass_ng if item.mass_ng is not None else item.limit_ng or 0.0
    return item.mass_ng is None, -value, item.label


def _bars(figure_id: str, items: Sequence[ResultBar], unit: str, note: str) -> str:
    decades = _decades(items)
    bottom = _TOP + _ROW_HEIGHT * len(items)
    limits = {item.limit_ng for item in items}
    body = [_grid(decades, bottom, unit)]
    if len(limits) == 1 and len(items) > 1 and None not in limits:
        x = decades.at(limits.pop() or 1.0)
        body.append(line(x, _TOP - 4, x, bottom, stroke=WARN, stroke_width=1, stroke_dasharray="4 3"))
    for i, item in enumerate(items):
        body.append(_row(item, decades, _TOP + _ROW_HEIGHT * (i + 0.5)))
    key, bottom = _legend(items, bottom + 46, note)
    return drawing(figure_id, WIDTH, bottom, *body, key, font_size=_FONT)


def _decades(items: Sequence[ResultBar]) -> _Decades:
    values = [value for item in items for value in (item.mass_ng, item.limit_ng) if value is not None]
    if any(value <= 0 for value in values):
        raise ValueError("a mass or limit on a decade axis must be above zero")
    low = math.floor(math.log10(min(values, default=1.0)) - 0.05)
    high = max(math.ceil(math.log10(max(values, default=10.0)) + 0.02), low + 1)
    labels = max((text_width(item.label, _FONT) for item in items), default=0.0)
    texts = max((text_width(item.text, _FONT) for item in items), default=0.0)
    return _Decades(16 + min(labels, _MOST_LABEL), WIDTH - 38 - min(texts, 140.0), low, high)


def _grid(decades: _Decades, bottom: float, unit: str) -> str:
    parts = [line(decades.left, bottom, decades.right, bottom, stroke=MUTED, stroke_width=0.8)]
    for power in range(decades.low, decades.high + 1):
        x = decades.at(10.0**power)
        label = thousands(f"{10**power:,}") if power >= 0 else f"{10.0**power:.{-power}f}"
        parts.append(line(x, _TOP - 4, x, bottom + 4, stroke=RULE, stroke_width=0.8))
        parts.append(text(x, bottom + 15, label, text_anchor="middle", fill=MUTED))
    middle = (decades.left + decades.right) / 2
    parts.append(text(middle, bottom + 30, worded("{unit}, logarithmic scale", unit=unit), text_anchor="middle"))
    return "".join(parts)


def _row(item: ResultBar, decades: _Decades, y: float) -> str:
    baseline = y + _FONT * 0.36
    label = fit_text(item.label, _FONT, _MOST_LABEL)
    parts = [text(decades.left - 8, baseline, label, text_anchor="end")]
    if item.mass_ng is not None:
        half = _ROW_HEIGHT * 0.32
        fill = ACCENT if item.size_class is None else CLASS_COLOURS[max(item.size_class, 0)]
        width = max(decades.at(item.mass_ng) - decades.left, 1.5)
        parts.append(rect(decades.left, y - half, width, 2 * half, fill=fill, stroke=INK, stroke_width=0.6))
    elif item.limit_ng is not None:
        parts.append(_angle(decades.at(item.limit_ng), y))
    if item.limit_ng is not None:
        parts.append(_limit(decades.at(item.limit_ng), y, _ROW_HEIGHT * 0.42))
    tone = MUTED if item.mass_ng is None else INK
    parts.append(text(WIDTH - 24, baseline, fit_text(item.text, _FONT, 140), text_anchor="end", fill=tone))
    if item.marked:
        parts.append(_ring(WIDTH - 13, y))
    return "".join(parts)


def _angle(x: float, y: float) -> str:
    """Write the open angle of a non-detect, its arms ending at the limit."""
    path = f"M{number(x - 1.5)} {number(y - 4)}L{number(x - 9)} {number(y)}L{number(x - 1.5)} {number(y + 4)}"
    return element("path", d=path, fill="none", stroke=INK, stroke_width=1.3)


def _limit(x: float, y: float, half: float) -> str:
    return line(x, y - half, x, y + half, stroke=WARN, stroke_width=1.6)


def _ring(x: float, y: float) -> str:
    return element("circle", cx=x, cy=y, r=4, fill="none", stroke=WARN, stroke_width=1.5)


def _legend(items: Sequence[ResultBar], y: float, note: str) -> tuple[str, float]:
    """Explain the signs that occur, in one line that wraps."""
    detected = any(item.mass_ng is not None for item in items)
    open_marks = any(item.mass_ng is None for item in items)
    signs = [
        (detected, rect(0, -4, 18, 8, fill=RULE, stroke=INK, stroke_width=0.6), worded("detected")),
        (open_marks, _angle(15, 0), worded("not detected, below its limit")),
        (any(item.limit_ng for item in items), _limit(9, 0, 6), worded("reporting limit")),
        (any(item.marked for item in items), _ring(9, 0), worded("qualification given with the value")),
    ]
    parts, x = [], 12.0
    for shown, sign, said in signs:
        width = 24 + text_width(said, _FONT)
        if not shown:
            continue
        if x + width > WIDTH - 8:
            x, y = 12.0, y + 18
        parts.append(element("g", sign, transform=f"translate({number(x)} {number(y)})"))
        parts.append(text(x + 24, y + 4, said))
        x += width + 22
    if note:
        y += 18
        parts.append(text(12, y + 4, note, fill=MUTED))
    return "".join(parts), y + 14
