"""Shares of a family of compounds as stacked bars, one point below the other along a line."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from sitegen.figures.look import CLASS_COLOURS, INK, MUTED, PAPER, RULE
from sitegen.figures.svg import drawing, element, fit_text, line, number, rect, text, text_width
from sitegen.voice import worded

WIDTH = 720.0
_FONT = 11.0
_TOP = 14.0
_ROW = 22.0
_LABEL = 120.0
_NOTE = 110.0


class ShareBar(NamedTuple):
    """One point: its label, a note at the right end (such as its distance), and shares in %.

    ``shares`` add up to 100 and run as the drawing's names; ``marked`` draws a ring.
    """

    label: str
    note: str
    shares: tuple[float, ...]
    marked: bool = False


def share_bars(figure_id: str, names: Sequence[str], bars: Sequence[ShareBar]) -> str:
    """Draw shares from 0 to 100 %, in the order given; the first name is darkest.

    Raises
    ------
    ValueError
        A bar has another number of shares than there are names.
    """
    if any(len(bar.shares) != len(names) for bar in bars):
        raise ValueError("each bar needs one share for each name")
    colours = _colours(len(names))
    bottom = _TOP + _ROW * len(bars)
    body = [_axis(bottom)]
    for at, bar in enumerate(bars):
        body.append(_row(bar, colours, _TOP + _ROW * (at + 0.5)))
    key, bottom = _legend(names, colours, bottom + 44, marked=any(bar.marked for bar in bars))
    return drawing(figure_id, WIDTH, bottom, *body, key, font_size=_FONT)


def _colours(count: int) -> tuple[str, ...]:
    """Pick colours from dark to light, spread over the ramp of mass classes."""
    last = len(CLASS_COLOURS) - 1
    return tuple(CLASS_COLOURS[last - round(at * last / max(count - 1, 1))] for at in range(count))


def _at(share: float) -> float:
    return _LABEL + (WIDTH - _LABEL - _NOTE) * share / 100.0


def _axis(bottom: float) -> str:
    parts = []
    for share in (0, 25, 50, 75, 100):
        x = _at(share)
        parts.append(line(x, _TOP - 4, x, bottom + 4, stroke=RULE, stroke_width=0.8))
        parts.append(text(x, bottom + 16, f"{share} %", text_anchor="middle", fill=MUTED))
    return "".join(parts)


def _row(bar: ShareBar, colours: Sequence[str], y: float) -> str:
    baseline = y + _FONT * 0.36
    parts = [text(_LABEL - 8, baseline, fit_text(bar.label, _FONT, _LABEL - 16), text_anchor="end")]
    start = 0.0
    for at, (share, colour) in enumerate(zip(bar.shares, colours, strict=True)):
        left, right = _at(start), _at(start + share)
        parts.append(rect(left, y - 7, right - left, 14, fill=colour, stroke=INK, stroke_width=0.5))
        said = f"{share:.0f}"
        if right - left > text_width(said, _FONT) + 6:
            ink = PAPER if at < len(colours) / 2 else INK
            parts.append(text((left + right) / 2, baseline, said, text_anchor="middle", fill=ink))
        start += share
    parts.append(text(_at(100) + 10, baseline, fit_text(bar.note, _FONT, _NOTE - 30), fill=MUTED))
    if bar.marked:
        parts.append(element("circle", cx=WIDTH - 12, cy=y, r=4, fill="none", stroke=INK, stroke_width=1.5))
    return "".join(parts)


def _legend(names: Sequence[str], colours: Sequence[str], y: float, *, marked: bool) -> tuple[str, float]:
    signs = [
        (rect(0, -5, 18, 10, fill=colour, stroke=INK, stroke_width=0.5), name)
        for name, colour in zip(names, colours, strict=True)
    ]
    if marked:
        ring = element("circle", cx=9, cy=0, r=4, fill="none", stroke=INK, stroke_width=1.5)
        signs.append((ring, worded("qualification given with a value at this point")))
    parts, x = [], 12.0
    for sign, said in signs:
        width = 24 + text_width(said, _FONT)
        if x + width > WIDTH - 8 and x > 12.0:
            x, y = 12.0, y + 18
        parts.append(element("g", sign, transform=f"translate({number(x)} {number(y)})"))
        parts.append(text(x + 24, y + 4, said))
        x += width + 22
    return "".join(parts), y + 14
