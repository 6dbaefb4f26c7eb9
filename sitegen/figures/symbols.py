"""The point symbols in SVG: the same grammar as the web map's.

Shape is the surface, size and colour the mass class; hollow is a non-detect, an outer
ring a mark, a small dot a compound not analysed. What became of a mass from round to round has arrows
(``figures/changesigns.py``). A point without a retrieved sampler is drawn by
its state: crossed where it was lost, with one upright stroke while it is in place, one level stroke
where no retrieval is on record, a bare cross where none was installed, an upright one where it
is planned. An air point is a hexagon with a dot in it: its results are no masses in soil.
All shapes have the area of the circle with the same radius.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import NamedTuple

from sitegen.figures.inputs import PlacePoint, PlaceValue
from sitegen.figures.look import (
    AIR_SHAPE,
    CLASS_COLOURS,
    CLASS_RADII_PX,
    INK,
    MUTED,
    PAPER,
    SURFACE_SHAPES,
    WARN,
)
from sitegen.figures.svg import element, line, number

_CORNERS = {
    "triangle": (3, -90.0),
    "square": (4, 45.0),
    "diamond": (4, 0.0),
    "hexagon": (6, 0.0),
    "well": (3, 90.0),
}
"""Number of corners and the direction of the first, in degrees clockwise from east."""

_UP = ((0.0, -1.0), (0.85, 0.0), (0.38, 0.0), (0.38, 0.9), (-0.38, 0.9), (-0.38, 0.0), (-0.85, 0.0))
_ARROWS = {"arrow_up": _UP, "arrow_down": tuple((x, -y) for x, y in _UP)}
"""Corners of broad arrows, which say that a mass grew or shrank, as shares of their reach, y downwards."""

_STAR = tuple(
    (reach * math.cos(turn), reach * math.sin(turn))
    for reach, turn in ((1.0 if at % 2 == 0 else 0.45, math.radians(36 * at - 90)) for at in range(10))
)
"""Corners of a star, the mark of a suspected source, as shares of its reach, y downwards."""

_ARROW_AREA = 0.85 + 2 * 0.38 * 0.9

PRINT_SCALE = 0.5
"""Points of print for a pixel of the screen's radii."""


class Symbol(NamedTuple):
    """How a point is drawn. Kinds: class, nondetect, dot, dash, air, air_above, plan, the states without a result."""

    kind: str
    shape: str
    radius: float
    fill: str = ""
    ring: bool = False

    @property
    def reach(self) -> float:
        """Half the width of what is painted."""
        body = self.radius * (1 if self.kind in {"dot", "dash", "plan"} else stretch(self.shape))
        return body + (2.5 if self.ring else 0.6)


def stretch(shape: str) -> float:
    """Return corner distance over circle radius for equal area.

    A regular n-gon with corners at R has the area n/2 R² sin(2π/n), a broad arrow its head and its shaft.

    >>> round(stretch("square") ** 2 * 2, 4) == round(math.pi, 4)
    True
    """
    if shape in _ARROWS:
        return math.sqrt(math.pi / _ARROW_AREA)
    if shape == "star":
        return 1.5
    if shape not in _CORNERS:
        return 1.0
    corners, _ = _CORNERS[shape]
    return math.sqrt(math.pi / (corners / 2 * math.sin(2 * math.pi / corners)))


def shape_of(medium: str, surface: str) -> str:
    """Return the shape that stands for a surface, or for air.

    >>> shape_of("soil_gas", "asphalt"), shape_of("indoor_air", "")
    ('square', 'hexagon')
    """
    return AIR_SHAPE if medium in {"indoor_air", "outdoor_air"} else SURFACE_SHAPES.get(surface, "diamond")


STATES = ("lost", "in_place", "retrieval_not_recorded", "not_installed", "planned")
"""States of a point without a retrieved sampler: each has a symbol of its own."""

AIR_SYMBOL = Symbol("air", AIR_SHAPE, 6 * PRINT_SCALE)
"""A sampled air point on a map of soil results: no class and no ring, since it is apart from them."""


AIR_ABOVE = Symbol("air_above", AIR_SHAPE, 8 * PRINT_SCALE, WARN)
"""An air point with a result above a screening level: larger, filled, with a light cross in place of the dot."""


def symbol_of(point: PlacePoint, value: PlaceValue) -> Symbol:
    """Return the symbol of a compound at a point."""
    shape = shape_of(point.medium, point.surface)
    if point.state in STATES:
        return Symbol(point.state, shape, 6.5 * PRINT_SCALE, ring=value.marked)
    if shape == AIR_SHAPE:
        return AIR_ABOVE if point.above else AIR_SYMBOL
    if value.size_class is None:
        return Symbol("dot", shape, 2.5 * PRINT_SCALE, ring=value.marked)
    if value.size_class < 0:
        return Symbol("nondetect", shape, 5 * PRINT_SCALE, ring=value.marked)
    radius = CLASS_RADII_PX[value.size_class] * PRINT_SCALE
    return Symbol("class", shape, radius, CLASS_COLOURS[value.size_class], value.marked)


def outline(shape: str, x: float, y: float, radius: float, **attributes: str | float) -> str:
    """Write the outline of a shape around a point."""
    if shape not in _CORNERS and shape not in _ARROWS and shape != "star":
        return element("circle", cx=x, cy=y, r=radius, **attributes)
    path = " ".join(f"{number(x + dx)},{number(y + dy)}" for dx, dy in _corners(shape, radius))
    return element("polygon", points=path, **attributes)


_STROKES = {"in_place": (0, 1), "retrieval_not_recorded": (1, 0)}
"""The one stroke inside a symbol, as shares of its arm across and along."""


@lru_cache(maxsize=256)
def _corners(shape: str, radius: float) -> tuple[tuple[float, float], ...]:
    """Return the corners of a shape around (0, 0)."""
    reach = radius * stretch(shape)
    if shape in _ARROWS:
        return tuple((reach * x, reach * y) for x, y in _ARROWS[shape])
    return tuple((reach * x, reach * y) for x, y in unit_corners(shape))


def unit_corners(shape: str) -> tuple[tuple[float, float], ...]:
    """Return the corners of a shape at a reach of 1 from (0, 0), y downwards.

    >>> [round(y) for _, y in unit_corners("well")], len(unit_corners("star"))
    ([1, -1, -1], 10)
    """
    if shape == "star":
        return _STAR
    corners, first = _CORNERS[shape]
    turns = [math.radians(first + 360 * i / corners) for i in range(corners)]
    return tuple((math.cos(turn), math.sin(turn)) for turn in turns)


def cross(x: float, y: float, arm: float, *, upright: bool = False, **attributes: str | float) -> str:
    """Write a cross with arms of that length, leaning unless upright."""
    long, short = (arm, 0.0) if upright else (arm, arm)
    strokes = f"M{number(x - long)} {number(y - short)}L{number(x + long)} {number(y + short)}"
    strokes += f"M{number(x - short)} {number(y + long)}L{number(x + short)} {number(y - long)}"
    return element("path", d=strokes, fill="none", **attributes)


def draw(symbol: Symbol, x: float, y: float) -> str:
    """Write a symbol at a place of the drawing."""
    kind, shape, radius, fill, ring = symbol
    parts = []
    if ring:
        at = symbol.reach - 0.5
        parts.append(element("circle", cx=x, cy=y, r=at, fill=PAPER, stroke=WARN, stroke_width=1.1))
    if kind == "dot":
        parts.append(element("circle", cx=x, cy=y, r=radius, fill=MUTED))
    elif kind == "dash":
        parts.append(line(x - radius, y, x + radius, y, stroke=INK, stroke_width=1.4))
    elif kind == "plan":
        parts.append(cross(x, y, radius, upright=True, stroke=MUTED, stroke_width=0.7))
    elif kind in {"not_installed", "planned"}:
        parts.append(cross(x, y, radius * 0.8, upright=kind == "planned", stroke=INK, stroke_width=1.2))
    else:
        width = 0.6 if fill else 0.8 if kind == "nondetect" else 1.3
        parts.append(outline(shape, x, y, radius, fill=fill or PAPER, stroke=INK, stroke_width=width))
    if kind == "air":
        parts.append(element("circle", cx=x, cy=y, r=radius * 0.35, fill=INK))
    if kind == "air_above":
        parts.append(cross(x, y, radius * 0.6, upright=True, stroke=PAPER, stroke_width=1.0))
    if kind == "lost":
        parts.append(cross(x, y, radius * 0.6, stroke=INK, stroke_width=1.0))
    if kind in _STROKES:
        across, along = (radius * 0.6 * part for part in _STROKES[kind])
        path = f"M{number(x - across)} {number(y - along)}L{number(x + across)} {number(y + along)}"
        parts.append(element("path", d=path, fill="none", stroke=INK, stroke_width=1.0))
    return "".join(parts)
