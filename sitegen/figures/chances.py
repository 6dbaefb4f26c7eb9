"""What a design could find: the chance that a point lies in an area, over the area's size."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from sitegen.figures.axes import PlainAxis
from sitegen.figures.look import ACCENT, INK, MUTED, PAPER, RULE, WARN
from sitegen.figures.svg import drawing, element, line, number, text
from sitegen.voice import worded

WIDTH, _HEIGHT = 720.0, 350.0
_FONT = 11.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 66.0, 560.0, 24.0, 290.0
_DASHES = ("", "6 4", "2 3")
_COLOURS = (ACCENT, WARN, MUTED)


class Rising(NamedTuple):
    """A curve: what it is of, its sizes in metres with their chances from 0 to 1, and the size at the level."""

    label: str
    sizes: Sequence[tuple[float, float]]
    found_m: float


def chance_curves(figure_id: str, curves: Sequence[Rising], level: float, sizes: str) -> str:
    """Draw the chance over the size for up to three curves, with the size at one chance; ``sizes`` heads their axis."""
    largest = max((size for one in curves for size, _ in one.sizes), default=1.0)
    across, up = PlainAxis(_LEFT, _RIGHT, 0, largest), PlainAxis(_BOTTOM, _TOP, 0, 100)
    body = [_frame(across, up, sizes), _level(up, level)]
    for at, one in enumerate(curves):
        body.append(_curve(one, across, up, at))
        body.append(_found(one, across, up, level, at))
        body.append(_key(one, at))
    return drawing(figure_id, WIDTH, _HEIGHT, *body, font_size=_FONT)


def _frame(across: PlainAxis, up: PlainAxis, sizes: str) -> str:
    parts = []
    for value, words in across.ticks:
        x = across.at(value)
        parts.append(line(x, _TOP, x, _BOTTOM + 4, stroke=RULE, stroke_width=0.8))
        parts.append(text(x, _BOTTOM + 17, words, text_anchor="middle", fill=MUTED))
    for value in range(0, 101, 20):
        y = up.at(value)
        parts.append(line(_LEFT - 4, y, _RIGHT, y, stroke=RULE, stroke_width=0.8))
        parts.append(text(_LEFT - 8, y + 4, str(value), text_anchor="end", fill=MUTED))
    middle = (_TOP + _BOTTOM) / 2
    parts.append(text((_LEFT + _RIGHT) / 2, _BOTTOM + 40, sizes, text_anchor="middle"))
    turned = f"rotate(-90 18 {number(middle)})"
    parts.append(text(18, middle, worded("chance, %"), text_anchor="middle", transform=turned))
    return "".join(parts)


def _level(up: PlainAxis, level: float) -> str:
    y = up.at(100 * level)
    drawn = line(_LEFT, y, _RIGHT, y, stroke=INK, stroke_width=1, stroke_dasharray="1 3")
    return drawn + text(_RIGHT + 8, y + 4, f"{100 * level:g} %")


def _curve(one: Rising, across: PlainAxis, up: PlainAxis, at: int) -> str:
    path = " ".join(f"{number(across.at(size))},{number(up.at(100 * chance))}" for size, chance in one.sizes)
    return element("polyline", points=path, fill="none", **_stroke(at))


def _stroke(at: int) -> dict[str, str | float]:
    look: dict[str, str | float] = {"stroke": _COLOURS[at], "stroke_width": 2.0}
    return {**look, "stroke_dasharray": _DASHES[at]} if _DASHES[at] else look


def _found(one: Rising, across: PlainAxis, up: PlainAxis, level: float, at: int) -> str:
    x, y = across.at(one.found_m), up.at(100 * level)
    down = line(x, y, x, _BOTTOM, stroke=_COLOURS[at], stroke_width=0.9, stroke_dasharray="1 3")
    return down + element("circle", cx=x, cy=y, r=4.5, fill=PAPER, stroke=_COLOURS[at], stroke_width=1.8)


def _key(one: Rising, at: int) -> str:
    x, y = _RIGHT + 14, 150.0 + 34 * at
    parts = [line(x, y, x + 26, y, **_stroke(at))]
    first, _, rest = one.label.partition(", ")
    parts.append(text(x + 34, y + 4, first))
    if rest:
        parts.append(text(x + 34, y + 18, rest, fill=MUTED, font_size=9.5))
    return "".join(parts)
