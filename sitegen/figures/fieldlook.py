"""How the crew's maps are drawn: black on white, read in sunlight and from a copy without tones.

Shape and filling tell a point's ground, width and dashes a line's kind; no colour and no tint carries anything.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from sitegen.figures.inputs import PlaceFeature
from sitegen.figures.svg import element, number
from sitegen.figures.symbols import cross, outline

BLACK, WHITE = "#000000", "#ffffff"

RADIUS = 4.4
"""Of a point's sign, in points of print."""

_SLOPE = 3.6
"""Distance of the hatching's lines along the edge, in points of print."""


class GroundLook(NamedTuple):
    """The sign of points on one kind of ground: words, shape, whether it is filled, and whether it has a dot."""

    word: str
    shape: str
    filled: bool
    dot: bool = False


GROUND_LOOKS: dict[str, GroundLook] = {
    "unpaved": GroundLook("soil, unpaved", "circle", filled=True),
    "paved": GroundLook("soil below paving", "square", filled=False),
    "slab": GroundLook("below a building's floor", "triangle", filled=True),
    "air": GroundLook("air", "hexagon", filled=False, dot=True),
}
"""By what a sampler is placed in."""


class LineLook(NamedTuple):
    """How a kind of feature is outlined: its word, width and dashes in points of print."""

    word: str
    width: float
    dash: tuple[float, ...] = ()
    arrow: bool = False


FEATURE_LOOKS: dict[str, LineLook] = {
    "surface_water": LineLook("surface water", 1.2, (4, 1.5, 1, 1.5, 1, 1.5)),
    "paved_area": LineLook("edge of paving", 0.9, (2.5, 2.5)),
    "other": LineLook("other feature", 0.9, (1, 3)),
    "building": LineLook("building", 2.0),
    "tank": LineLook("tank or pump", 1.5, (6, 1.5)),
    "suspected_source": LineLook("suspected source", 1.5, (3.5, 3)),
    "site_boundary": LineLook("site boundary", 2.4, (13, 4, 3, 4)),
    "utility": LineLook("utility line, as mapped", 2.8, (9, 3)),
    "flow_line": LineLook("groundwater flow, as given", 1.2, (), arrow=True),
    "well": LineLook("well", 1.4),
}
"""By the kinds of ``locations/features.geojson``, in drawing order."""


def look_of(kind: str) -> LineLook:
    """Return the look of a kind; an unknown kind is drawn as ``other``.

    >>> look_of("well").word, look_of("no such kind").word
    ('well', 'other feature')
    """
    return FEATURE_LOOKS.get(kind, FEATURE_LOOKS["other"])


def point_sign(ground: str, x: float, y: float, *, doubled: bool = False) -> str:
    """Write the sign of a point on a white foot, so that no line touches it; a ring where a duplicate is placed."""
    look = GROUND_LOOKS[ground]
    fill = BLACK if look.filled else WHITE
    foot = reach(doubled=doubled) + 0.6
    parts = [element("circle", cx=x, cy=y, r=foot, fill=WHITE)]
    if doubled:
        parts.append(element("circle", cx=x, cy=y, r=reach(doubled=True) - 0.6, fill=WHITE, stroke=BLACK,
                             stroke_width=1.2))  # fmt: skip
    parts.append(outline(look.shape, x, y, RADIUS - 0.8, fill=fill, stroke=BLACK, stroke_width=1.7))
    if look.dot:
        parts.append(element("circle", cx=x, cy=y, r=1.2, fill=BLACK))
    return "".join(parts)


def reach(*, doubled: bool) -> float:
    """Return how far the sign of a point reaches from its middle."""
    return RADIUS + (3.0 if doubled else 0.9)


def feature_shape(feature: PlaceFeature, parts: Sequence[Sequence[tuple[float, float]]]) -> str:
    """Write a feature whose parts are in drawing units already."""
    look = look_of(feature.kind)
    if feature.geometry == "point":
        return "".join(single_place(feature.kind, *part[0]) for part in parts)
    closed = feature.geometry == "area"
    drawn = stroke(path_of([part for part in parts if len(part) > 1], closed=closed), look)
    if look.arrow and not closed and len(parts[-1]) > 1:
        drawn += arrow_head(parts[-1][-2], parts[-1][-1], 9.0)
    return drawn


def single_place(kind: str, x: float, y: float) -> str:
    """Write the sign of a feature that is drawn as a place: a well, a source, a tank, or another."""
    if kind == "well":
        return outline("well", x, y, 4.0, fill=WHITE, stroke=BLACK, stroke_width=1.4)
    if kind == "suspected_source":
        return cross(x, y, 4.2, stroke=BLACK, stroke_width=2.2)
    ring = element("circle", cx=x, cy=y, r=4.4, fill=WHITE, stroke=BLACK, stroke_width=1.2)
    return ring + (cross(x, y, 3.0, stroke=BLACK, stroke_width=1.0) if kind == "tank" else "")


def stroke(path: str, look: LineLook) -> str:
    """Write the outline of a path in a look."""
    dash = {"stroke_dasharray": " ".join(map(number, look.dash))} if look.dash else {}
    return element("path", d=path, fill="none", stroke=BLACK, stroke_width=look.width, stroke_linejoin="round", **dash)


def path_of(parts: Sequence[Sequence[tuple[float, float]]], *, closed: bool) -> str:
    """Write lines or rings as the data of a path.

    >>> path_of([[(0, 0), (1, 0), (1, 1)]], closed=True)
    'M0 0L1 0L1 1Z'
    """
    end = "Z" if closed else ""
    return "".join("M" + "L".join(f"{number(x)} {number(y)}" for x, y in part) + end for part in parts)


def arrow_head(tail: tuple[float, float], tip: tuple[float, float], length: float) -> str:
    """Write a filled head at the end of a line."""
    angle = math.atan2(tip[1] - tail[1], tip[0] - tail[0])
    sides = [
        (tip[0] - length * math.cos(angle + side), tip[1] - length * math.sin(angle + side)) for side in (-0.38, 0.38)
    ]
    return element("path", d=path_of([[sides[0], tip, sides[1]]], closed=True), fill=BLACK)


def hatching(left: float, top: float, width: float, height: float, **attributes: str | float) -> str:
    """Write lines that lean to the right over a box, to be cut to the shape that they fill."""
    count = int((width + height) / _SLOPE) + 1
    starts = [left - height + _SLOPE * i for i in range(count)]
    path = "".join(f"M{number(x)} {number(top + height)}L{number(x + height)} {number(top)}" for x in starts)
    return element("path", d=path, fill="none", stroke=BLACK, stroke_width=0.7, **attributes)
