"""Duplicate pairs against the duplicate rule: relative percent difference by the mean as a multiple of the limit.

Where the lower result of a pair is at least ``multiple`` reporting limits, the RPD decides; below that the absolute
difference does. A mean of m limits and an RPD of r % have a lower result of m (1 − r/200) limits and a difference of
m r/100 limits, so that both parts of the rule are areas of one chart. A detection beside a non-detect has no RPD: it
is in the strip below, against the same number of limits as a difference.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

from sitegen.figures.axes import LogAxis, PlainAxis
from sitegen.figures.keyline import diamond, key_line
from sitegen.figures.look import ACCENT, INK, MUTED, PAPER, RULE, WARN
from sitegen.figures.svg import drawing, element, fit_text, line, number, rect, text, text_width

WIDTH = 720.0
_FONT = 11.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 62.0, WIDTH - 20.0, 18.0, 268.0
_STRIP = 34.0
_STEPS = 400
_MOST_NAMED = 10


class PairDot(NamedTuple):
    """A compound of a pair. ``limits`` is its mean, or the one detection, as a multiple of the reporting limit.

    ``rpd_pct`` is None where one of the two was not detected.
    """

    label: str
    limits: float
    rpd_pct: float | None
    differs: bool


class PairRule(NamedTuple):
    """The duplicate rule: RPD in %, the multiple of the limit that it begins at, and the difference in limits."""

    rpd_pct: float
    multiple: float
    difference: float


def pair_limits(figure_id: str, dots: Sequence[PairDot], rule: PairRule, words: Mapping[str, str]) -> str:
    """Draw pairs of detections in the chart and those with one non-detect in the strip below.

    ``words`` are those of the axes (``across``, ``up``, ``strip``) and of the key (``rpd``, ``difference``, ``agrees``,
    ``differs``).

    Raises
    ------
    ValueError
        A multiple of the limit is not above zero, or a part of the rule is not.
    """
    if min(rule) <= 0:
        raise ValueError("the parts of the duplicate rule must be above zero")
    both = [dot for dot in dots if dot.rpd_pct is not None]
    across = LogAxis.over([*(dot.limits for dot in dots), rule.multiple, rule.difference], _LEFT, _RIGHT)
    most = max([2 * rule.rpd_pct, *(dot.rpd_pct or 0.0 for dot in both)])
    up = PlainAxis(_BOTTOM, _TOP, 0.0, min(most * 1.1, 200.0))
    body = [*_areas(across, up, rule), _frame(across, up)]
    y = up.at(rule.rpd_pct)
    body.append(line(_LEFT, y, _RIGHT, y, stroke=ACCENT, stroke_width=1.3, stroke_dasharray="6 3"))
    single = [dot for dot in dots if dot.rpd_pct is None]
    bottom = _BOTTOM
    if single:
        bottom += _STRIP + 8
        body.append(_strip(single, across, rule, words["strip"]))
    body += [_dot(dot, across.at(dot.limits), up.at(dot.rpd_pct or 0.0)) for dot in both]
    body += _names([dot for dot in both if dot.differs], across, up)
    for value, said in across.ticks:
        body.append(text(across.at(value), bottom + 16, said, text_anchor="middle", fill=MUTED))
    body.append(text((_LEFT + _RIGHT) / 2, bottom + 32, words["across"], text_anchor="middle"))
    turn = f"rotate(-90 16 {(_TOP + _BOTTOM) / 2:g})"
    body.append(text(16, (_TOP + _BOTTOM) / 2, words["up"], text_anchor="middle", transform=turn))
    key, end = key_line(_key(dots, words), bottom + 54, WIDTH)
    return drawing(figure_id, WIDTH, end, *body, key, font_size=_FONT)


def _key(dots: Sequence[PairDot], words: Mapping[str, str]) -> list[tuple[str, str]]:
    shown = PairDot("", 1, 1, differs=False)
    box = {"stroke": "none"}
    signs = [
        (rect(-8, -5, 16, 10, fill=ACCENT, fill_opacity=0.2, **box), words["rpd"]),
        (rect(-8, -5, 16, 10, fill=MUTED, fill_opacity=0.2, **box), words["difference"]),
    ]
    if any(not dot.differs for dot in dots):
        signs.append((_dot(shown, 0, 0), words["agrees"]))
    if any(dot.differs for dot in dots):
        signs.append((_dot(shown._replace(differs=True), 0, 0), words["differs"]))
    return signs


def _areas(across: LogAxis, up: PlainAxis, rule: PairRule) -> list[str]:
    """Shade where a pair agrees: by RPD, and, with a lower result below the multiple, by the difference."""

    def edge(limits: float) -> float:
        """Return the RPD above which the lower result of a pair is below the multiple."""
        return max(0.0, 200.0 * (1 - rule.multiple / limits))

    def by_rpd(limits: float) -> tuple[float, float]:
        return 0.0, min(edge(limits), rule.rpd_pct)

    def by_difference(limits: float) -> tuple[float, float]:
        return edge(limits), 100.0 * rule.difference / limits

    return [
        _area(by_rpd, across, up, fill=ACCENT, fill_opacity=0.2),
        _area(by_difference, across, up, fill=MUTED, fill_opacity=0.2),
    ]


def _area(between: Callable[[float], tuple[float, float]], across: LogAxis, up: PlainAxis, **look: str | float) -> str:
    """Shade from the lower to the upper of two heights over the axis, where there is anything between them."""
    decades = across.high - across.low
    places = [10 ** (across.low + decades * at / _STEPS) for at in range(_STEPS + 1)]
    rims = [(across.at(x), *between(x)) for x in places]
    shown = [(x, low, min(high, up.high)) for x, low, high in rims if high >= low and low <= up.high]
    corners = [(x, up.at(high)) for x, _, high in shown] + [(x, up.at(low)) for x, low, _ in reversed(shown)]
    path = " ".join(f"{number(x)},{number(y)}" for x, y in corners)
    return element("polygon", points=path, **look) if shown else ""


def _frame(across: LogAxis, up: PlainAxis) -> str:
    parts = [line(_LEFT, _BOTTOM, _RIGHT, _BOTTOM, stroke=MUTED, stroke_width=0.8)]
    for value, _ in across.ticks:
        x = across.at(value)
        parts.append(line(x, _TOP, x, _BOTTOM, stroke=RULE, stroke_width=0.8))
    for value, said in up.ticks:
        parts.append(line(_LEFT - 4, up.at(value), _RIGHT, up.at(value), stroke=RULE, stroke_width=0.6))
        parts.append(text(_LEFT - 8, up.at(value) + 4, said, text_anchor="end", fill=MUTED))
    return "".join(parts)


def _strip(dots: Sequence[PairDot], across: LogAxis, rule: PairRule, said: str) -> str:
    top = _BOTTOM + 8
    limit = across.at(rule.difference)
    parts = [
        rect(_LEFT, top, limit - _LEFT, _STRIP, fill=MUTED, fill_opacity=0.2),
        rect(_LEFT, top, _RIGHT - _LEFT, _STRIP, fill="none", stroke=RULE),
        line(limit, top, limit, top + _STRIP, stroke=MUTED, stroke_width=1.4),
        text(_RIGHT - 6, top + 12, fit_text(said, _FONT - 1, _RIGHT - _LEFT), text_anchor="end", font_size=_FONT - 1),
    ]
    parts += [_dot(dot, across.at(dot.limits), top + _STRIP / 2) for dot in dots]
    return "".join(parts)


def _dot(dot: PairDot, x: float, y: float) -> str:
    fill = PAPER if dot.rpd_pct is None else WARN if dot.differs else INK
    if dot.differs:
        return diamond(x, y, 5.6, fill=fill, stroke=WARN, stroke_width=1.4)
    return element("circle", cx=x, cy=y, r=3.6, fill=fill, stroke=INK, stroke_width=1.2, fill_opacity=0.8)


def _names(dots: Sequence[PairDot], across: LogAxis, up: PlainAxis) -> list[str]:
    """Name the pairs that differ, those furthest apart first, each where no other name is."""
    taken: list[tuple[float, float, float]] = []
    parts = []
    for dot in sorted(dots, key=lambda one: -(one.rpd_pct or 0.0))[:_MOST_NAMED]:
        said = fit_text(dot.label, _FONT - 1, 220)
        room = text_width(said, _FONT - 1)
        x, y = across.at(dot.limits), up.at(dot.rpd_pct or 0.0) + 4
        start = x + 9 if x + 9 + room <= _RIGHT else x - 9 - room
        if all(abs(y - other) >= 12 or start > end or start + room < begin for begin, end, other in taken):
            taken.append((start, start + room, y))
            parts.append(text(start, y, said, fill=WARN, font_size=_FONT - 1))
    return parts
