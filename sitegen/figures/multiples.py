"""Small multiples: all mapped compounds on one sheet, without labels, for comparing patterns."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from sitegen.figures.ground import Ground
from sitegen.figures.inputs import PlaceValue
from sitegen.figures.legend import draw_legend
from sitegen.figures.look import MUTED, RULE
from sitegen.figures.sitemap import WIDTH, class_rows, state_rows
from sitegen.figures.svg import drawing, element, fitted, identity, number, rect, text
from sitegen.figures.symbols import Symbol, draw, symbol_of

COLUMNS = 3
_MARGIN, _GAP, _TITLE = 12.0, 10.0, 22.0
_SHRINK = 0.62


class Panel(NamedTuple):
    """One compound: its name, a short note such as ``41 of 51 detected``, a value per point."""

    title: str
    note: str
    values: Sequence[PlaceValue]


def small_multiples(
    figure_id: str,
    ground: Ground,
    panels: Sequence[Panel],
    class_labels: Sequence[str],
    unit: str = "ng per sampler",
) -> str:
    """Draw one small map for each panel, three to a row, with one legend for all.

    Raises
    ------
    ValueError
        A panel has more or fewer values than there are points.
    """
    wide = (WIDTH - 2 * _MARGIN - (COLUMNS - 1) * _GAP) / COLUMNS
    scale = wide / ground.frame.width
    high = ground.frame.height * scale
    base = identity(f"{figure_id}.ground")
    parts = [element("defs", element("g", ground.svg(figure_id), id=base))]
    drawn: list[Symbol] = []
    for i, panel in enumerate(panels):
        row, column = divmod(i, COLUMNS)
        x = _MARGIN + column * (wide + _GAP)
        y = _MARGIN + row * (high + _TITLE + _GAP)
        symbols = [symbol_of(point, value) for point, value in zip(ground.points, panel.values, strict=True)]
        drawn += symbols
        parts += [_panel(panel, ground, symbols, base, (x, y, wide, scale))]
    rows = -(-len(panels) // COLUMNS)
    bottom = _MARGIN + rows * (high + _TITLE + _GAP)
    columns = (("Mass, " + unit, class_rows(class_labels)), ("Other signs", state_rows(drawn)))
    keys = [
        draw_legend(_MARGIN + i * WIDTH / 3, bottom + 14, _MARGIN + (i + 1) * WIDTH / 3, [column])
        for i, column in enumerate(columns)
    ]
    parts += [svg for svg, _ in keys]
    note = "Symbols are smaller here than in the legend."
    parts.append(text(_MARGIN + 2 * WIDTH / 3 - 8, bottom + 16, note, fill=MUTED, font_size=6.4))
    return drawing(figure_id, WIDTH, max(end for _, end in keys), *parts, font_size=7)


def _panel(
    panel: Panel, ground: Ground, symbols: Sequence[Symbol], base: str, at: tuple[float, float, float, float]
) -> str:
    x, y, wide, scale = at
    frame = ground.frame
    left, top = x - frame.left * scale, y + _TITLE - frame.top * scale
    moved = f"translate({number(left)} {number(top)}) scale({scale:.4f})"
    marks = []
    for i in sorted(range(len(symbols)), key=lambda i: -symbols[i].radius):
        point, symbol = ground.points[i], symbols[i]
        px, py = frame.place(point.easting_m, point.northing_m)
        small = symbol._replace(radius=symbol.radius * _SHRINK)
        marks.append(draw(small, left + px * scale, top + py * scale))
    return "".join(
        (
            text(x, y + 8, fitted(panel.title, 7.5, wide), font_weight="bold", font_size=7.5),
            text(x, y + 17, panel.note, fill=MUTED, font_size=6.4),
            element("use", href=f"#{base}", transform=moved),
            rect(x, y + _TITLE, wide, frame.height * scale, fill="none", stroke=RULE, stroke_width=0.6),
            *marks,
        )
    )
