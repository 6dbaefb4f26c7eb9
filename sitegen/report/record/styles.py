"""How a map layer of points is drawn, as records: which row gets which sign."""

from __future__ import annotations

from typing import Literal, NamedTuple

Relation = Literal["equal", "differs", "known", "unknown"]


class Condition(NamedTuple):
    """What a column of a row must be: equal to ``value`` or different, known (with a value), or unknown."""

    column: str
    relation: Relation
    value: str | int = ""


class Drawn(NamedTuple):
    """One figure of a sign: its shape, the radius in pixels of the circle of equal area, and its colours.

    Shapes: ``circle``, ``square``, ``diamond``, ``triangle``, ``star``, ``cross`` (upright) and ``x`` (leaning).
    ``fill`` is "" for an outline alone.
    """

    shape: str
    radius_px: float
    fill: str
    stroke: str
    width_px: float


class Sign(NamedTuple):
    """What is drawn for the rows that pass all ``conditions``, lowest figure first; ``words`` say it in a legend."""

    words: str
    conditions: tuple[Condition, ...]
    figures: tuple[Drawn, ...]


class Style(NamedTuple):
    """One way to draw a layer: its name, what it shows, and its signs, lowest first."""

    name: str
    words: str
    signs: tuple[Sign, ...]
