"""A column of legend rows: a swatch and its words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple, TypeAlias

from sitegen.figures.svg import element, line, rect, text, text_width
from sitegen.figures.symbols import Symbol, draw
from sitegen.voice import blank_split

LineLook: TypeAlias = tuple[str, float, tuple[float, ...]]
AreaLook: TypeAlias = tuple[str, float, tuple[float, ...], str, float]
_SIZE = 7.0
_ROW = 12.0
_SWATCH = 22.0


class Row(NamedTuple):
    """A legend row with one swatch: a symbol, a line or an area.

    A line is (stroke, width, dash); an area adds (fill, opacity).
    """

    words: str
    symbol: Symbol | None = None
    line: LineLook | None = None
    area: AreaLook | None = None


def draw_legend(x: float, y: float, right: float, groups: Sequence[tuple[str, Sequence[Row]]]) -> tuple[str, float]:
    """Draw groups of rows from (x, y) down; return the SVG and its lower edge.

    Words that are wider than the column up to ``right`` go on to further lines.
    """
    parts = []
    for title, rows in groups:
        if not rows:
            continue
        if title:
            parts.append(text(x, y + 2, title, font_weight="bold"))
            y += _ROW
        for row in rows:
            lines = wrap(row.words, right - 8 - x - _SWATCH)
            tall = max(_ROW, 2 * row.symbol.reach + 2 if row.symbol else 0)
            parts.append(_swatch(row, x, y + tall / 2 - 4))
            first = y + tall / 2 - 1.5
            parts += [text(x + _SWATCH, first + 8 * i, words) for i, words in enumerate(lines)]
            y += tall + 8 * (len(lines) - 1)
        y += 5
    return element("g", *parts, font_size=_SIZE), y


def wrap(words: str, room: float, font_size: float = _SIZE) -> list[str]:
    """Break words into lines no wider than the room, at spaces.

    >>> wrap("interior slab, concrete", 60)
    ['interior slab,', 'concrete']
    """
    lines = [""]
    for word in blank_split(words):
        longer = f"{lines[-1]} {word}".strip()
        if lines[-1] and text_width(longer, font_size) > room:
            lines.append(word)
        else:
            lines[-1] = longer
    return lines


def _swatch(row: Row, x: float, y: float) -> str:
    if row.symbol:
        return draw(row.symbol, x + 8, y)
    if row.line:
        stroke, width, dash = row.line
        return line(x, y, x + 17, y, stroke=stroke, stroke_width=width, stroke_dasharray=_dash(dash))
    if row.area:
        stroke, width, dash, fill, opacity = row.area
        look: dict[str, str | float] = {"stroke": stroke, "stroke_width": width, "fill": fill}
        return rect(x, y - 3.5, 17, 7, **look, stroke_dasharray=_dash(dash), fill_opacity=opacity)
    return ""


def _dash(lengths: Sequence[float]) -> str:
    return " ".join(f"{length:g}" for length in lengths) or "none"
