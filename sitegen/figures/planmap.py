"""Drawing of a plan: where points are planned, why, and the strips that they keep off.

Shape is the surface, as on every map; fill is the design: hollow on the grid, dark where targeted, light for
background. A ring tells that a sampler was placed there.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from sitegen.figures.ground import Ground
from sitegen.figures.inputs import PlacePoint
from sitegen.figures.legend import Row
from sitegen.figures.look import ACCENT, WARN
from sitegen.figures.sitemap import feature_rows, shape_rows, sheet
from sitegen.figures.svg import element, identity, number, rect
from sitegen.figures.symbols import Symbol, shape_of
from sitegen.voice import worded

_RADIUS = 3.4
_FILLS = {"grid": "", "targeted": ACCENT, "background": "#c9dadb", "added": "#c9dadb", "": ""}
_WORDS = {
    "grid": "on the grid",
    "targeted": "targeted",
    "background": "background",
    "added": "added in the field",
    "": "design not recorded",
}
_RINGED = frozenset({"in_place", "retrieved", "lost", "retrieval_not_recorded"})


class Strip(NamedTuple):
    """A strip that points keep off: rings of (easting, northing) in metres, told apart by the even-odd rule."""

    words: str
    rings: tuple[tuple[tuple[float, float], ...], ...]


def plan_map(figure_id: str, ground: Ground, designs: Mapping[str, str], strips: Sequence[Strip]) -> str:
    """Draw the planned points over the strips that they keep off; ``designs`` are the points' by label."""
    placed = [(_symbol(point, designs.get(point.label, "")), (point.easting_m, point.northing_m))
              for point in ground.points]  # fmt: skip
    there = {designs.get(point.label, "") for point in ground.points}
    rows = [Row(worded(words), symbol=Symbol("class", "circle", _RADIUS, _FILLS[name] or "#ffffff"))
            for name, words in _WORDS.items() if name in there]  # fmt: skip
    states = {point.state for point in ground.points}
    if states & _RINGED:
        rows.append(Row(worded("sampler deployed (ring)"), symbol=Symbol("nondetect", "circle", 2.5, ring=True)))
    legend = [
        (worded("Points"), rows),
        (worded("Shape: surface"), shape_rows(ground.points)),
        (worded("Site features"), [*feature_rows(ground.features), *map(_strip_row, strips)]),
    ]
    return sheet(figure_id, ground, placed, legend, under=_strips(figure_id, ground, strips))


def _symbol(point: PlacePoint, design: str) -> Symbol:
    fill = _FILLS[design] or "#ffffff"
    return Symbol("class", shape_of(point.medium, point.surface), _RADIUS, fill, ring=point.state in _RINGED)


def _strip_row(strip: Strip) -> Row:
    return Row(strip.words, area=(WARN, 0.5, (2, 2), WARN, 0.1))


def _strips(figure_id: str, ground: Ground, strips: Sequence[Strip]) -> str:
    """Draw strips under the points, cut off at the edge of the map."""
    if not strips:
        return ""
    frame, clip = ground.frame, f"{identity(figure_id)}.edge"
    box = element("clipPath", rect(frame.left, frame.top, frame.width, frame.height), id=clip)
    paths = [
        element("path", d="".join(_ring(ground, ring) for ring in strip.rings), fill=WARN, fill_opacity=0.1,
                fill_rule="evenodd", stroke=WARN, stroke_width=0.5, stroke_dasharray="2 2")
        for strip in strips
    ]  # fmt: skip
    return element("defs", box) + element("g", *paths, clip_path=f"url(#{clip})")


def _ring(ground: Ground, ring: Sequence[tuple[float, float]]) -> str:
    spots = (ground.frame.place(*corner) for corner in ring)
    return "M" + "L".join(f"{number(x)} {number(y)}" for x, y in spots) + "Z"
