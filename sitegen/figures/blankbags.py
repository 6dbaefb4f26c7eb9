"""Samples in order of time against the blanks that apply to them, a panel for each compound and bag, batch or day.

The shape at the left is the kind of blank, with a full line at its value and a dashed one at its action level.
An affected detection is a full diamond; a non-detect is an arrow below its reporting limit.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from sitegen.figures.axes import LogAxis
from sitegen.figures.keyline import below_down, diamond, key_line, polygon, warned
from sitegen.figures.look import ACCENT, INK, MUTED, PAPER, RULE, WARN
from sitegen.figures.svg import drawing, element, fit_text, line, text

WIDTH = 720.0
MOST_PANELS = 4
_FONT = 11.0
_LEFT, _RIGHT = 66.0, WIDTH - 128.0
_FIRST = _LEFT + 34.0
_HEAD, _PLOT, _FOOT = 26.0, 118.0, 70.0
_LABEL_ROOM = 9.0
BLANK_KINDS = ("trip_blank", "field_blank", "method_blank")


class BlankSample(NamedTuple):
    """A sample's result: its mass, or the reporting limit of a non-detect, above zero."""

    label: str
    mass: float
    detected: bool
    affected: bool


class BlankLevel(NamedTuple):
    """A blank's result and the highest result that its rule affects, both above zero, with their texts."""

    kind: str
    mass: float
    action: float
    text: str
    action_text: str


class BlankPanel(NamedTuple):
    """A compound in what a blank applies to; ``axis`` says what the order of the samples is."""

    title: str
    axis: str
    samples: tuple[BlankSample, ...]
    blanks: tuple[BlankLevel, ...]


def blank_bags(figure_id: str, panels: Sequence[BlankPanel], unit: str, words: Mapping[str, str]) -> str:
    """Draw the panels one below the other, each on its own decades.

    ``words`` are those of the key: of the kinds of blanks, and of detected, affected, below, value and action.

    Raises
    ------
    ValueError
        A mass, a limit or an action level is not above zero.
    """
    height = _HEAD + _PLOT + _FOOT
    body = [_panel(panel, unit, at * height, words) for at, panel in enumerate(panels)]
    samples = [sample for panel in panels for sample in panel.samples]
    kinds = {blank.kind for panel in panels for blank in panel.blanks}
    signs = [(_blank_sign(kind, 0, 0), words[kind]) for kind in BLANK_KINDS if kind in kinds]
    signs += [
        (line(-8, 0, 8, 0, stroke=WARN, stroke_width=1.3), words["value"]),
        (line(-8, 0, 8, 0, stroke=WARN, stroke_width=1.3, stroke_dasharray="5 3"), words["action"]),
    ]
    for sign, key, shown in (
        (_dot(0, 0), "detected", any(one.detected and not one.affected for one in samples)),
        (warned(0, 0), "affected", any(one.affected for one in samples)),
        (below_down(0, -5), "below", any(not one.detected for one in samples)),
    ):
        signs += [(sign, words[key])] if shown else []
    key, end = key_line(signs, height * len(panels) + 12, WIDTH)
    return drawing(figure_id, WIDTH, end, *body, key, font_size=_FONT)


def _panel(panel: BlankPanel, unit: str, top: float, words: Mapping[str, str]) -> str:
    masses = [sample.mass for sample in panel.samples]
    masses += [value for blank in panel.blanks for value in (blank.mass, blank.action)]
    up = LogAxis.over(masses, top + _HEAD + _PLOT, top + _HEAD)
    parts = [text(12, top + 18, fit_text(panel.title, _FONT + 1, WIDTH - 24), font_weight="bold", font_size=_FONT + 1)]
    for value, said in up.ticks:
        y = up.at(value)
        parts.append(line(_LEFT, y, _RIGHT, y, stroke=RULE, stroke_width=0.8))
        parts.append(text(_LEFT - 6, y + 4, said, text_anchor="end", fill=MUTED))
    middle = top + _HEAD + _PLOT / 2
    turn = f"rotate(-90 14 {middle:g})"
    parts.append(text(14, middle, unit, text_anchor="middle", transform=turn, font_size=_FONT - 1))
    parts += [_level_lines(panel.blanks, up, words), _samples(panel, up)]
    parts.append(text((_FIRST + _RIGHT) / 2, top + _HEAD + _PLOT + 63, panel.axis, text_anchor="middle", fill=MUTED))
    return "".join(parts)


def _level_lines(blanks: Sequence[BlankLevel], up: LogAxis, words: Mapping[str, str]) -> str:
    """Draw the lines of each blank with their numbers at the right end, kept from overlapping."""
    levels = sorted(
        [(up.at(one.mass), f"{words['value']} {one.text}", "") for one in blanks]
        + [(up.at(one.action), f"{words['action']} {one.action_text}", "5 3") for one in blanks]
    )
    parts, free = [], 0.0
    for y, said, dash in levels:
        look: dict[str, str | float] = {"stroke_dasharray": dash} if dash else {}
        parts.append(line(_LEFT, y, _RIGHT, y, stroke=WARN, stroke_width=1.3, **look))
        at = max(y + 4, free)
        words_there = fit_text(said, _FONT - 1, WIDTH - _RIGHT - 10)
        parts.append(text(_RIGHT + 6, at, words_there, fill=WARN, font_size=_FONT - 1))
        free = at + 12
    for at, one in enumerate(blanks):
        parts.append(_blank_sign(one.kind, _LEFT + 10 + 12 * (at % 2), up.at(one.mass)))
    return "".join(parts)


def _samples(panel: BlankPanel, up: LogAxis) -> str:
    step = (_RIGHT - _FIRST) / max(len(panel.samples), 1)
    parts = []
    for at, sample in enumerate(panel.samples):
        x, y = _FIRST + step * (at + 0.5), up.at(sample.mass)
        parts.append(below_down(x, y) if not sample.detected else warned(x, y) if sample.affected else _dot(x, y))
        if step >= _LABEL_ROOM:
            foot = up.start + 15
            said = fit_text(sample.label, 8.5, 38)
            turn = f"rotate(-90 {x + 3:.2f} {foot:.2f})"
            parts.append(text(x + 3, foot, said, text_anchor="end", font_size=8.5, fill=MUTED, transform=turn))
    return "".join(parts)


def _dot(x: float, y: float) -> str:
    return element("circle", cx=x, cy=y, r=3.8, fill=ACCENT, stroke=INK, stroke_width=0.6)


def _blank_sign(kind: str, x: float, y: float) -> str:
    look: dict[str, str | float] = {"fill": PAPER, "stroke": WARN, "stroke_width": 1.8}
    if kind == "trip_blank":
        return polygon(x, y, ((0, -6), (5.6, 4), (-5.6, 4)), **look)
    if kind == "field_blank":
        return polygon(x, y, ((-4.6, -4.6), (4.6, -4.6), (4.6, 4.6), (-4.6, 4.6)), **look)
    return diamond(x, y, 6, **look)
