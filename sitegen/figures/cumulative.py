"""The cumulative distribution of masses: steps at detections, and the limits of non-detects as ticks below."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

from sitegen.figures.axes import LogAxis, PlainAxis
from sitegen.figures.look import ACCENT, INK, MUTED, RULE, WARN
from sitegen.figures.svg import drawing, element, line, text, text_width

WIDTH = 480.0
_FONT = 11.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 62.0, 442.0, 14.0, 226.0
_LIMITS = 16.0  # the strip of limits below the steps
_SHARES = (0, 25, 50, 75, 100)


class Words(NamedTuple):
    """What is written on the drawing: both axes, and the key of a step, of the unknown part, of a limit."""

    across: str
    up: str
    step: str
    below: str
    limit: str


def cumulative_steps(
    figure_id: str, steps: Sequence[tuple[float, float]], below: float, limits: Sequence[tuple[float, int]], said: Words
) -> str:
    """Draw the share of results at or below each mass.

    ``steps`` are (mass, share at or below) in order, ``below`` the share under the first of them; ``limits`` are
    (limit, number of non-detects). Below the lowest detection the line is broken: the masses there are not known.

    Raises
    ------
    ValueError
        There is no step, or a mass or limit is not above zero.
    """
    if not steps:
        raise ValueError("a distribution has a step at least")
    across = LogAxis.over([*(mass for mass, _ in steps), *(limit for limit, _ in limits)], _LEFT, _RIGHT)
    up = PlainAxis(_BOTTOM, _TOP, 0, 1)
    body = [_frame(across, up), _line(across, up, steps, below)]
    body += [element("circle", cx=across.at(mass), cy=up.at(share), r=3.2, fill=ACCENT) for mass, share in steps]
    body += _ticks([(across.at(limit), count) for limit, count in limits])
    middle = (_LEFT + _RIGHT) / 2
    body.append(text(middle, _BOTTOM + _LIMITS + 36, said.across, text_anchor="middle"))
    turn = f"rotate(-90 16 {(_TOP + _BOTTOM) / 2:g})"
    body.append(text(16, (_TOP + _BOTTOM) / 2, said.up, text_anchor="middle", transform=turn))
    key, end = _key(said, _BOTTOM + _LIMITS + 56, broken=below > 0, limits=bool(limits))
    return drawing(figure_id, WIDTH, end, *body, key, font_size=_FONT)


def _frame(across: LogAxis, up: PlainAxis) -> str:
    parts = []
    foot = _BOTTOM + _LIMITS
    for percent in _SHARES:
        y = up.at(percent / 100)
        parts.append(line(_LEFT, y, _RIGHT, y, stroke=RULE, stroke_width=0.8))
        parts.append(text(_LEFT - 6, y + 4, f"{percent} %", text_anchor="end", fill=MUTED))
    for value, words in across.ticks:
        x = across.at(value)
        parts.append(line(x, _TOP, x, foot + 4, stroke=RULE, stroke_width=0.8))
        parts.append(text(x, foot + 17, words, text_anchor="middle", fill=MUTED))
    return "".join(parts)


def _line(across: LogAxis, up: PlainAxis, steps: Sequence[tuple[float, float]], below: float) -> str:
    look: dict[str, str | float] = {"stroke": ACCENT, "stroke_width": 1.6}
    first, y = across.at(steps[0][0]), up.at(below)
    parts = [line(_LEFT, y, first, y, **look, stroke_dasharray="5 3")] if below > 0 else []
    parts.append(line(first, y, first, up.at(steps[0][1]), **look))
    for (mass, share), (following, higher) in pairwise(steps):
        x, y = across.at(following), up.at(share)
        parts += [line(across.at(mass), y, x, y, **look), line(x, y, x, up.at(higher), **look)]
    last = up.at(steps[-1][1])
    parts.append(line(across.at(steps[-1][0]), last, _RIGHT, last, **look))
    return "".join(parts)


def _ticks(limits: Sequence[tuple[float, int]]) -> list[str]:
    """Draw limits as ticks below the steps, with how many non-detects have each where there is room."""
    parts = [line(x, _BOTTOM + 2, x, _BOTTOM + _LIMITS - 2, stroke=WARN, stroke_width=1.6) for x, _ in limits]
    for at, (x, count) in enumerate(limits, start=1):
        end = limits[at][0] if at < len(limits) else WIDTH
        words = f"{count}×"
        if count > 1 and x + 4 + text_width(words, 9) < end:
            parts.append(text(x + 3, _BOTTOM + _LIMITS - 4, words, fill=INK, font_size=9))
    return parts


def _key(said: Words, y: float, *, broken: bool, limits: bool) -> tuple[str, float]:
    dash: dict[str, str | float] = {"stroke": ACCENT, "stroke_width": 1.6}
    rows = [
        (
            line(_LEFT, -4, _LEFT + 18, -4, **dash) + element("circle", cx=_LEFT + 9, cy=-4, r=3.2, fill=ACCENT),
            said.step,
        )
    ]
    if broken:
        rows.append((line(_LEFT, -4, _LEFT + 18, -4, **dash, stroke_dasharray="5 3"), said.below))
    if limits:
        rows.append((line(_LEFT + 9, -10, _LEFT + 9, 1, stroke=WARN, stroke_width=1.6), said.limit))
    parts = [
        element("g", mark, text(_LEFT + 26, 0, words, fill=MUTED), transform=f"translate(0 {y + 16 * at:g})")
        for at, (mark, words) in enumerate(rows)
    ]
    return "".join(parts), y + 16 * len(rows) - 6
