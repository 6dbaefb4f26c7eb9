"""Recoveries of surrogates, controls and calibration checks in the order of analysis, with their acceptance limits.

Batches are divided by lines. What is outside its limits is a full diamond, whatever it measures.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from itertools import groupby
from typing import NamedTuple

from sitegen.figures.axes import PlainAxis
from sitegen.figures.keyline import key_line, polygon, warned
from sitegen.figures.look import ACCENT, INK, MUTED, PAPER, RULE, WARN
from sitegen.figures.svg import drawing, element, fit_text, line, rect, text, text_width

WIDTH = 720.0
MOST_PANELS = 4
SURROGATE, CONTROL, CONTROL_DUPLICATE, CHECK = "surrogate", "control", "control_duplicate", "calibration_check"
CHART_KINDS = (SURROGATE, CONTROL, CONTROL_DUPLICATE, CHECK)
_FONT = 11.0
_LEFT, _RIGHT, _TOP = 50.0, WIDTH - 16.0, 10.0
_HEAD, _PLOT, _GAP = 32.0, 110.0, 12.0
_MOST_NAMED = 6


class ControlDot(NamedTuple):
    """A recovery in % at the run ``at``, counted from 0; a limit is NaN where none applies."""

    kind: str
    at: int
    value: float
    lower: float
    upper: float
    outside: bool
    label: str


class ControlPanel(NamedTuple):
    """A surrogate, or controls and checks together; ``batches`` has the batch of each run, in order."""

    title: str
    dots: tuple[ControlDot, ...]
    batches: tuple[str, ...]


class _Runs(NamedTuple):
    """The places of a panel's runs across; the kinds that are in it divide the room of a run."""

    step: float
    kinds: tuple[str, ...]

    @classmethod
    def of(cls, panel: ControlPanel) -> _Runs:
        kinds = tuple(kind for kind in CHART_KINDS if any(dot.kind == kind for dot in panel.dots))
        return cls((_RIGHT - _LEFT) / max(len(panel.batches), 1), kinds)

    def span(self, dot: ControlDot) -> tuple[float, float]:
        """Return the start and the end of the room of a dot's kind in its run."""
        room = self.step / len(self.kinds)
        start = _LEFT + self.step * dot.at + room * self.kinds.index(dot.kind)
        return start, start + room

    def x(self, dot: ControlDot) -> float:
        """Return the middle of that room."""
        return sum(self.span(dot)) / 2


def control_charts(figure_id: str, panels: Sequence[ControlPanel], words: Mapping[str, str]) -> str:
    """Draw the panels one below the other, each over its own runs.

    ``words`` are those of the key: of the kinds, and of outside, limits, axis and percent.
    """
    height = _HEAD + _PLOT + _GAP
    bottom = _TOP + height * len(panels)
    body = [_panel(panel, _TOP + height * at) for at, panel in enumerate(panels)]
    body.append(text((_LEFT + _RIGHT) / 2, bottom + 14, words["axis"], text_anchor="middle"))
    middle = (_TOP + bottom) / 2
    body.append(text(13, middle, words["percent"], text_anchor="middle", transform=f"rotate(-90 13 {middle:g})"))
    dots = [dot for panel in panels for dot in panel.dots]
    signs = [
        (_sign(kind, 0, 0), words[kind])
        for kind in CHART_KINDS
        if any(dot.kind == kind and not dot.outside for dot in dots)
    ]
    signs += [(warned(0, 0), words["outside"])] if any(dot.outside for dot in dots) else []
    limits = rect(-8, -5, 16, 10, fill=ACCENT, fill_opacity=0.1) + line(-8, -5, 8, -5, stroke=ACCENT, stroke_width=1.2)
    signs.append((limits, words["limits"]))
    key, end = key_line(signs, bottom + 36, WIDTH)
    return drawing(figure_id, WIDTH, end, *body, key, font_size=_FONT)


def _batches(batches: Sequence[str], step: float, top: float) -> str:
    """Divide the runs by batch, each named above the plot where there is room."""
    parts, at = [], 0
    for name, runs in groupby(batches):
        count = len(list(runs))
        x, end = _LEFT + step * at, _LEFT + step * (at + count)
        if at:
            parts.append(line(x, top - 13, x, top + _PLOT, stroke=MUTED, stroke_width=1, stroke_dasharray="2 2"))
        if text_width(name, _FONT - 1) + 6 <= end - x:
            parts.append(text((x + end) / 2, top - 4, name, text_anchor="middle", fill=MUTED, font_size=_FONT - 1))
        at += count
    return "".join(parts)


def _panel(panel: ControlPanel, top: float) -> str:
    runs, plot = _Runs.of(panel), top + _HEAD
    numbers = [n for dot in panel.dots for n in (dot.value, dot.lower, dot.upper) if not math.isnan(n)]
    up = PlainAxis(plot + _PLOT, plot, min([0.0, *numbers]), max([1.0, *numbers]) * 1.06)
    title = fit_text(panel.title, _FONT, _RIGHT - _LEFT)
    parts = [text(_LEFT, top + 12, title, font_weight="bold"), _batches(panel.batches, runs.step, plot)]
    for value, said in up.ticks:
        y = up.at(value)
        parts.append(line(_LEFT, y, _RIGHT, y, stroke=RULE, stroke_width=0.6))
        parts.append(text(_LEFT - 6, y + 4, said, text_anchor="end", fill=MUTED, font_size=_FONT - 1))
    for x0, x1, lower, upper in _stretches(panel.dots, runs):
        if not math.isnan(lower + upper):
            parts.append(rect(x0, up.at(upper), x1 - x0, up.at(lower) - up.at(upper), fill=ACCENT, fill_opacity=0.1))
        for limit in (lower, upper):
            if not math.isnan(limit):
                parts.append(line(x0, up.at(limit), x1, up.at(limit), stroke=ACCENT, stroke_width=1.2))
    parts += [_dot(dot, runs.x(dot), up.at(dot.value)) for dot in panel.dots]
    parts += [_name(dot, runs.x(dot), up.at(dot.value)) for dot in [d for d in panel.dots if d.outside][:_MOST_NAMED]]
    return "".join(parts)


def _stretches(dots: Sequence[ControlDot], runs: _Runs) -> list[tuple[float, float, float, float]]:
    """Return start, end, lower and upper limit: equal limits of adjoining runs as one stretch."""
    found: list[tuple[float, float, float, float]] = []
    for dot in sorted(dots, key=lambda one: (runs.kinds.index(one.kind), one.at)):
        x0, x1 = runs.span(dot)
        same = found and str(found[-1][2:]) == str((dot.lower, dot.upper))
        if same and found[-1][0] <= x0 <= found[-1][1] + 0.01:
            found[-1] = (found[-1][0], x1, dot.lower, dot.upper)
        else:
            found.append((x0, x1, dot.lower, dot.upper))
    return found


def _name(dot: ControlDot, x: float, y: float) -> str:
    """Name a dot outside, to the side that has room."""
    right = x + 9 + text_width(dot.label, _FONT - 1.5) <= _RIGHT
    at, anchor = (x + 9, "start") if right else (x - 9, "end")
    return text(at, y + 4, dot.label, text_anchor=anchor, fill=WARN, font_size=_FONT - 1.5)


def _dot(dot: ControlDot, x: float, y: float) -> str:
    return warned(x, y, 5.4) if dot.outside else _sign(dot.kind, x, y)


def _sign(kind: str, x: float, y: float) -> str:
    if kind == CONTROL_DUPLICATE:
        return rect(x - 3.4, y - 3.4, 6.8, 6.8, fill=PAPER, stroke=INK, stroke_width=1.2)
    if kind == CHECK:
        return polygon(x, y, ((0, -4.4), (4.2, 3), (-4.2, 3)), fill=PAPER, stroke=INK, stroke_width=1.2)
    fill = ACCENT if kind == SURROGATE else INK
    return element("circle", cx=x, cy=y, r=3.2, fill=fill, stroke=PAPER, stroke_width=0.5)
