"""Small multiples: mapped compounds, or the rounds of one, on one sheet, without labels, for comparing patterns."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple, TypeAlias

from sitegen.figures.ground import Ground
from sitegen.figures.inputs import PlacePoint, PlaceValue
from sitegen.figures.legend import Row, draw_legend, wrap
from sitegen.figures.look import MUTED, RULE
from sitegen.figures.sitemap import class_rows, highest_class, shape_rows, state_rows
from sitegen.figures.svg import drawing, element, fit_text, identity, number, rect, text
from sitegen.figures.symbols import Symbol, draw, symbol_of
from sitegen.units import NANOGRAM
from sitegen.voice import worded

COLUMNS = 3
_MARGIN, _GAP, _TITLE = 12.0, 10.0, 22.0
_KEY, _KEY_GAP = 150.0, 4.0
_BELOW = 10.0  # a line of words below a map
_FOOT = 56.0  # what a large map needs below its frame, and small ones do not
_MOST_COLUMNS = 6
_SHRINK = 0.62
_NOTE = "Symbols are smaller here than in the legend."


class Panel(NamedTuple):
    """One map: its name, a short note such as ``41 of 51 detected``, a value per point.

    ``points`` are its own where they are not the ground's, as in another round; ``below`` is a line under it.
    """

    title: str
    note: str
    values: Sequence[PlaceValue]
    points: tuple[PlacePoint, ...] | None = None
    below: str = ""

    def on(self, ground: Ground) -> tuple[PlacePoint, ...]:
        """Return the points that it shows."""
        return ground.points if self.points is None else self.points


def small_multiples(
    figure_id: str,
    ground: Ground,
    panels: Sequence[Panel],
    class_labels: Sequence[str],
    unit: str = NANOGRAM.text,
    columns: int = COLUMNS,
) -> str:
    """Draw one small map for each panel, with one legend and one scale of signs for all.

    On an ordinary page ``columns`` stand in a row and the legend below; on a ground made for a larger
    sheet as many as make them largest, the legend beside.

    Raises
    ------
    ValueError
        A panel has more or fewer values than it has points.
    """
    wide, count = _grid(ground, len(panels), columns)
    scale = wide / ground.frame.width
    high = ground.frame.height * scale + (_BELOW if any(panel.below for panel in panels) else 0)
    base = identity(f"{figure_id}.ground")
    parts = [element("defs", element("g", ground.svg(figure_id), id=base))]
    drawn: list[Symbol] = []
    for i, panel in enumerate(panels):
        row, column = divmod(i, count)
        x = _MARGIN + column * (wide + _GAP)
        y = _MARGIN + row * (high + _TITLE + _GAP)
        symbols = [symbol_of(point, value) for point, value in zip(panel.on(ground), panel.values, strict=True)]
        drawn += symbols
        parts += [_panel(panel, ground, symbols, base, (x, y, wide, scale))]
    bottom = _MARGIN + -(-len(panels) // count) * (high + _TITLE + _GAP)
    highest = highest_class(value for panel in panels for value in panel.values)
    legend = (
        (worded("Mass, {unit}", unit=unit), class_rows(class_labels[: highest + 1])),
        (worded("Other symbols"), state_rows(drawn)),
        (worded("Shape: surface"), shape_rows(point for panel in panels for point in panel.on(ground))),
    )
    if ground.room.below:
        width, (keys, end) = ground.room.width, _keys_below(ground.room.width, bottom, legend)
    else:
        left = _MARGIN + count * (wide + _GAP) + _KEY_GAP
        width, (keys, end) = left + _KEY, _keys_beside(left, left + _KEY, legend)
    return drawing(figure_id, width, max(end, 0 if ground.room.below else bottom), *parts, keys, font_size=7)


Legend: TypeAlias = Sequence[tuple[str, Sequence[Row]]]


def _grid(ground: Ground, panels: int, columns: int) -> tuple[float, int]:
    """Return the width of a small map and how many stand in a row."""
    if ground.room.below:
        return (ground.room.width - 2 * _MARGIN - (columns - 1) * _GAP) / columns, columns
    region, most = ground.room.width - _MARGIN - _KEY_GAP - _KEY, ground.room.most + _FOOT
    aspect = ground.frame.width / ground.frame.height
    sizes = []
    for count in range(1, min(_MOST_COLUMNS, max(panels, 1)) + 1):
        high = (most - _MARGIN) / -(-max(panels, 1) // count) - _TITLE - _GAP
        sizes.append((min(region / count - _GAP, high * aspect), count))
    return max(sizes)


def _keys_below(width: float, bottom: float, legend: Legend) -> tuple[str, float]:
    keys = [
        draw_legend(_MARGIN + i * width / 3, bottom + 14, _MARGIN + (i + 1) * width / 3, [column])
        for i, column in enumerate(legend)
    ]
    end = keys[-1][1] + 8
    note = text(_MARGIN + (len(legend) - 1) * width / 3, end, worded(_NOTE), fill=MUTED, font_size=6.4)
    return "".join([*(svg for svg, _ in keys), note]), max(end + 6, *(end for _, end in keys))


def _keys_beside(left: float, right: float, legend: Legend) -> tuple[str, float]:
    keys, end = draw_legend(left, _MARGIN + _TITLE + 6, right, legend)
    lines = [text(left, end + 8 + 9 * i, words) for i, words in enumerate(wrap(worded(_NOTE), right - left - 8))]
    return keys + element("g", *lines, fill=MUTED, font_size=6.4), end + 9 * len(lines) + 8


def _panel(
    panel: Panel, ground: Ground, symbols: Sequence[Symbol], base: str, at: tuple[float, float, float, float]
) -> str:
    x, y, wide, scale = at
    frame = ground.frame
    left, top = x - frame.left * scale, y + _TITLE - frame.top * scale
    bottom = y + _TITLE + frame.height * scale
    moved = f"translate({number(left)} {number(top)}) scale({scale:.4f})"
    marks = []
    for i in sorted(range(len(symbols)), key=lambda i: -symbols[i].radius):
        point, symbol = panel.on(ground)[i], symbols[i]
        px, py = frame.place(point.easting_m, point.northing_m)
        small = symbol._replace(radius=symbol.radius * _SHRINK)
        marks.append(draw(small, left + px * scale, top + py * scale))
    return "".join(
        (
            text(x, y + 8, fit_text(panel.title, 7.5, wide), font_weight="bold", font_size=7.5),
            text(x, y + 17, panel.note, fill=MUTED, font_size=6.4),
            element("use", href=f"#{base}", transform=moved),
            rect(x, y + _TITLE, wide, frame.height * scale, fill="none", stroke=RULE, stroke_width=0.6),
            *((text(x, bottom + 8, fit_text(panel.below, 6.4, wide), font_size=6.4),) if panel.below else ()),
            *marks,
        )
    )
