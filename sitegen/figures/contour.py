"""Contour areas on the ground of a map, and the variogram behind them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from sitegen.figures.axes import PlainAxis
from sitegen.figures.ground import Ground
from sitegen.figures.look import ACCENT, CLASS_COLOURS, INK, MUTED, RULE
from sitegen.figures.svg import drawing, element, identity, line, number, rect, text
from sitegen.voice import worded

WIDTH = 720.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 78.0, 690.0, 20.0, 270.0


class Area(NamedTuple):
    """The ground of one mass class: rings of (easting, northing) in m, by the even-odd rule."""

    size_class: int
    rings: tuple[tuple[tuple[float, float], ...], ...]


def contour_layer(figure_id: str, ground: Ground, areas: Sequence[Area]) -> str:
    """Draw class areas with their outlines, to lie between a map's ground and its points."""
    frame, clip = ground.frame, identity(f"{figure_id}.clip")
    window = rect(frame.left, frame.top, frame.width, frame.height)
    parts = [element("clipPath", window, id=clip)]
    for area in areas:
        strokes = "".join(_ring(ground, ring) for ring in area.rings)
        colour = CLASS_COLOURS[area.size_class]
        look: dict[str, str | float] = {"fill": colour, "fill_opacity": 0.42, "stroke": INK, "stroke_width": 0.5}
        parts.append(element("path", d=strokes, fill_rule="evenodd", stroke_opacity=0.7, **look))
    return element("g", *parts, clip_path=f"url(#{clip})") if areas else ""


def _ring(ground: Ground, ring: Sequence[tuple[float, float]]) -> str:
    spots = [ground.frame.place(*corner) for corner in ring]
    return "M" + "L".join(f"{number(x)} {number(y)}" for x, y in spots) + "Z"


class LagDot(NamedTuple):
    """A lag of a variogram: mean distance in m, semivariance, pairs."""

    distance_m: float
    semivariance: float
    pairs: int


def variogram(figure_id: str, lags: Sequence[LagDot], curve: Sequence[tuple[float, float]]) -> str:
    """Draw an empirical variogram with the fitted model as a curve of (distance, semivariance).

    A dot's size grows with its number of pairs, which stands above it.
    """
    high = max([1e-9, *(lag.semivariance for lag in lags), *(value for _, value in curve)]) * 1.12
    far = max([1e-9, *(lag.distance_m for lag in lags), *(away for away, _ in curve)])
    across, up = PlainAxis(_LEFT, _RIGHT, 0, far), PlainAxis(_BOTTOM, _TOP, 0, high)
    body = []
    for value, words in up.ticks:
        y = up.at(value)
        body.append(line(_LEFT, y, _RIGHT, y, stroke=RULE, stroke_width=0.8))
        body.append(text(_LEFT - 6, y + 4, words, text_anchor="end", fill=MUTED))
    for value, words in across.ticks:
        body.append(text(across.at(value), _BOTTOM + 17, words, text_anchor="middle", fill=MUTED))
    path = "M" + "L".join(f"{number(across.at(x))} {number(up.at(y))}" for x, y in curve)
    body.append(element("path", d=path, fill="none", stroke=ACCENT, stroke_width=2))
    most = max((lag.pairs for lag in lags), default=1)
    for lag in lags:
        x, y = across.at(lag.distance_m), up.at(lag.semivariance)
        radius = 2.5 + 4 * (lag.pairs / most) ** 0.5
        body.append(element("circle", cx=x, cy=y, r=radius, fill=INK, fill_opacity=0.75))
        body.append(text(x, y - radius - 3, str(lag.pairs), text_anchor="middle", font_size=8.5, fill=MUTED))
    middle = (_LEFT + _RIGHT) / 2
    body.append(text(middle, _BOTTOM + 36, worded("distance between points, m"), text_anchor="middle"))
    turned = f"rotate(-90 20 {number((_TOP + _BOTTOM) / 2)})"
    words = worded("semivariance of log10 mass")
    body.append(text(20, (_TOP + _BOTTOM) / 2, words, text_anchor="middle", transform=turned))
    return drawing(figure_id, WIDTH, _BOTTOM + 50, *body, font_size=11)
