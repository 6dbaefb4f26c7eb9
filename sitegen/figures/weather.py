"""Exposure windows over the rain and the air pressure of the same days."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import groupby, pairwise
from typing import NamedTuple

from sitegen.figures.inputs import ExposureWindow, Tick, WeatherRow
from sitegen.figures.legend import wrap
from sitegen.figures.look import ACCENT, INK, MUTED, RULE, WARN
from sitegen.figures.svg import drawing, element, fit_text, line, number, rect, text, text_width
from sitegen.voice import worded

WIDTH = 900.0
_FONT = 11.0
_LEFT, _RIGHT, _TOP = 104.0, WIDTH - 104.0, 30.0
_PANEL = 76.0
_GAP = 18.0
_MOST_LABELLED = 30
_RAIN = "#4f7fa3"


class _Panel(NamedTuple):
    """A strip of the drawing: times across, one quantity up."""

    start_min: int
    end_min: int
    top: float
    height: float
    low: float
    high: float

    def x(self, minute: int) -> float:
        """Place a minute, held within the strip."""
        share = (minute - self.start_min) / (self.end_min - self.start_min)
        return _LEFT + (_RIGHT - _LEFT) * min(max(share, 0.0), 1.0)

    def y(self, value: float) -> float:
        """Place a value, upwards."""
        return self.top + self.height * (1 - (value - self.low) / (self.high - self.low))


def exposure_weather(
    figure_id: str,
    windows: Sequence[ExposureWindow],
    weather: Sequence[WeatherRow],
    start_min: int,
    end_min: int,
    ticks: Sequence[Tick],
) -> str:
    """Draw each sampler's stay above rain bars and a pressure line.

    Windows are drawn in the order given; those marked (duration outside its limits) stand out and
    are always named. A rain bar reaches from the previous row's time to its own; of the
    rows before the axis the last is where the first bar begins, and nothing else is drawn of them.

    Raises
    ------
    ValueError
        The axis is empty.
    """
    if end_min <= start_min:
        raise ValueError("the drawing ends before it starts")
    step = 12.0 if len(windows) <= _MOST_LABELLED else 5.0
    stay = _Panel(start_min, end_min, _TOP, max(step * len(windows), step) + 6, 0, 1)
    earlier = [row for row in weather if row.at_min < start_min][-1:]
    rows = [row for row in weather if start_min <= row.at_min <= end_min]
    rain = stay._replace(top=stay.top + stay.height + _GAP, height=_PANEL)
    air = rain._replace(top=rain.top + rain.height + _GAP)
    body = [
        _strip(panel, ticks, name)
        for panel, name in ((stay, worded("in place")), (rain, worded("rain, mm")), (air, worded("pressure, hPa")))
    ]
    body += [_ticks(stay, ticks), _stays(windows, stay, step), _rain(earlier, rows, rain), _pressure(rows, air)]
    return drawing(figure_id, WIDTH, air.top + air.height + 14, *body, font_size=_FONT)


def _strip(panel: _Panel, ticks: Sequence[Tick], name: str) -> str:
    bottom = panel.top + panel.height
    parts = [rect(_LEFT, panel.top, _RIGHT - _LEFT, panel.height, fill="#fafaf8", stroke=RULE)]
    for tick in ticks:
        if panel.start_min <= tick.at_min <= panel.end_min:
            x = panel.x(tick.at_min)
            parts.append(line(x, panel.top, x, bottom, stroke=RULE, stroke_width=0.8))
    parts.append(text(_RIGHT + 8, panel.top + 12, name, font_weight="bold", font_size=_FONT))
    return "".join(parts)


def _ticks(panel: _Panel, ticks: Sequence[Tick]) -> str:
    parts, free_from = [], 0.0
    for tick in ticks:
        half = text_width(tick.label, _FONT) / 2
        x = panel.x(tick.at_min)
        if panel.start_min <= tick.at_min <= panel.end_min and x - half >= free_from:
            parts.append(text(x, _TOP - 10, tick.label, text_anchor="middle", fill=MUTED))
            free_from = x + half + 8
    return "".join(parts)


def _stays(windows: Sequence[ExposureWindow], panel: _Panel, step: float) -> str:
    parts, free_from = [], 0.0
    for i, window in enumerate(windows):
        y = panel.top + 3 + step * (i + 0.5)
        x0, x1 = panel.x(window.start_min), panel.x(window.end_min)
        colour = WARN if window.marked else ACCENT
        look: dict[str, str | float] = {"stroke_dasharray": "6 2"} if window.marked else {}
        parts.append(line(x0, y, x1, y, stroke=colour, stroke_width=step * 0.55, **look))
        if step > 10 or (window.marked and y - 5 >= free_from):
            label = fit_text(window.label, _FONT - 1.5, _LEFT - 16)
            parts.append(text(_LEFT - 8, y + 3.5, label, text_anchor="end", font_size=_FONT - 1.5))
            free_from = y + 6
    if any(window.marked for window in windows):
        lines = wrap(worded("dashed: duration outside its limits"), WIDTH - _RIGHT - 16, 9)
        parts += [
            text(_RIGHT + 8, panel.top + 27 + 10 * i, words, fill=WARN, font_size=9) for i, words in enumerate(lines)
        ]
    return "".join(parts)


def _rain(earlier: Sequence[WeatherRow], rows: Sequence[WeatherRow], panel: _Panel) -> str:
    amounts = [row.rain_mm for row in rows if row.rain_mm is not None]
    if not amounts:
        return _nothing(panel, worded("no rain gauge on record"))
    scaled = panel._replace(high=_round_up(max(amounts)))
    parts = [_side(scaled, (0.0, scaled.high))]
    for before, row in pairwise([*earlier, *rows]):
        if row.rain_mm:
            x0, y = scaled.x(before.at_min), scaled.y(row.rain_mm)
            width = max(scaled.x(row.at_min) - x0, 1.0)
            parts.append(rect(x0, y, width, panel.top + panel.height - y, fill=_RAIN))
    total = round(math.fsum(amounts), 1)
    parts.append(
        text(_RIGHT + 8, panel.top + 27, worded("{total:g} mm in total", total=total), fill=MUTED, font_size=9)
    )
    return "".join(parts)


def _pressure(rows: Sequence[WeatherRow], panel: _Panel) -> str:
    values = [row.pressure_hpa for row in rows if row.pressure_hpa is not None]
    if not values:
        return _nothing(panel, worded("no pressure on record"))
    low, high = math.floor(min(values) / 5) * 5.0, math.ceil(max(values) / 5) * 5.0
    scaled = panel._replace(low=low, high=max(high, low + 5))
    parts = [_side(scaled, (scaled.low, scaled.high))]
    for (known, _), run in groupby(rows, key=lambda row: (row.pressure_hpa is not None, row.series)):
        if known:
            parts.append(_line_through(list(run), scaled))
    return "".join(parts)


def _line_through(rows: Sequence[WeatherRow], panel: _Panel) -> str:
    places = [(panel.x(row.at_min), panel.y(row.pressure_hpa or 0.0)) for row in rows]
    if len(places) == 1:
        return element("circle", cx=places[0][0], cy=places[0][1], r=1.4, fill=INK)
    path = " ".join(f"{number(x)},{number(y)}" for x, y in places)
    return element("polyline", points=path, fill="none", stroke=INK, stroke_width=1.4, stroke_linejoin="round")


def _side(panel: _Panel, values: Sequence[float]) -> str:
    return "".join(
        text(_LEFT - 8, panel.y(value) + 4, number(value), text_anchor="end", fill=MUTED, font_size=_FONT - 1)
        for value in values
    )


def _nothing(panel: _Panel, said: str) -> str:
    return text((_LEFT + _RIGHT) / 2, panel.top + panel.height / 2 + 4, said, text_anchor="middle", fill=MUTED)


def _round_up(value: float) -> float:
    """Return the least of 1, 2 or 5 times a power of ten that is not smaller.

    >>> _round_up(3.2), _round_up(12.0), _round_up(0.0)
    (5.0, 20.0, 1.0)
    """
    if value <= 0:
        return 1.0
    power = 10.0 ** math.floor(math.log10(value))
    return min(step * power for step in (1, 2, 5, 10) if step * power >= value * (1 - 1e-12))
