"""Shares of a family of compounds as intervals, a panel for each compound and a row for each point."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from sitegen.figures.look import ACCENT, MUTED, PAPER, RULE, WARN
from sitegen.figures.svg import drawing, element, fit_text, line, rect, text

WIDTH = 640.0
_FONT, _HEAD = 11.0, 9.5
_LABEL, _END, _GAP, _TOP, _ROW = 84.0, 24.0, 12.0, 24.0, 15.0


class IntervalRow(NamedTuple):
    """A point: its label, and for each compound the least and largest share in % and whether it was detected."""

    label: str
    spans: tuple[tuple[float, float, bool], ...]
    marked: bool = False


class Words(NamedTuple):
    """What is written below: what the bars are, and the keys of a filled bar, an open one and a ring."""

    across: str
    detected: str
    nondetect: str
    marked: str


def share_intervals(figure_id: str, names: Sequence[str], rows: Sequence[IntervalRow], said: Words) -> str:
    """Draw for each point the interval of each share, from 0 to 100 %.

    Raises
    ------
    ValueError
        A row has another number of intervals than there are names.
    """
    if any(len(row.spans) != len(names) for row in rows):
        raise ValueError("each row needs one interval for each name")
    wide = (WIDTH - _LABEL - _END - _GAP * (len(names) - 1)) / len(names)
    lefts = [_LABEL + at * (wide + _GAP) for at in range(len(names))]
    bottom = _TOP + _ROW * len(rows)
    body = [_panel(name, left, wide, bottom) for name, left in zip(names, lefts, strict=True)]
    for at, row in enumerate(rows):
        y = _TOP + _ROW * (at + 0.5)
        body.append(text(_LABEL - 8, y + 4, fit_text(row.label, _FONT, _LABEL - 12), text_anchor="end"))
        body += [_bar(left, wide, y, span) for left, span in zip(lefts, row.spans, strict=True)]
        if row.marked:
            body.append(_ring(WIDTH - 10, y))
    body.append(text((_LABEL + WIDTH - _END) / 2, bottom + 34, said.across, text_anchor="middle"))
    y = bottom + 56
    keys = [
        (_bar(_LABEL, 20, 0, (0, 100, True)), said.detected),
        (_bar(_LABEL, 20, 0, (0, 100, False)), said.nondetect),
    ]
    if any(row.marked for row in rows):
        keys.append((_ring(_LABEL + 10, 0), said.marked))
    for at, (sign, words) in enumerate(keys):
        body.append(
            element("g", sign, text(_LABEL + 30, 4, words, fill=MUTED), transform=f"translate(0 {y + 17 * at:g})")
        )
    return drawing(figure_id, WIDTH, y + 17 * len(keys) - 4, *body, font_size=_FONT)


def _panel(name: str, left: float, wide: float, bottom: float) -> str:
    # Bold is a tenth wider.
    parts = [text(left, 12, fit_text(name, _HEAD * 1.1, wide), font_weight="bold", font_size=_HEAD)]
    for share in (0, 50, 100):
        x = left + wide * share / 100
        anchor = {0: "start", 50: "middle", 100: "end"}[share]
        parts.append(line(x, _TOP - 4, x, bottom + 3, stroke=RULE, stroke_width=0.8))
        parts.append(text(x, bottom + 15, f"{share}", text_anchor=anchor, fill=MUTED, font_size=10))
    return "".join(parts)


def _bar(left: float, wide: float, y: float, span: tuple[float, float, bool]) -> str:
    low, high, detected = span
    start, end = left + wide * low / 100, left + wide * high / 100
    fill = ACCENT if detected else PAPER
    return rect(start - 1.5, y - 3.5, end - start + 3, 7, fill=fill, stroke=ACCENT, stroke_width=1.1)


def _ring(x: float, y: float) -> str:
    return element("circle", cx=x, cy=y, r=4, fill="none", stroke=WARN, stroke_width=1.5)
