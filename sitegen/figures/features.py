"""How each kind of site feature is drawn, the same on the web map and in print.

Dash patterns are lengths of line and gap, in pixels on screen and in points in
print. The order of the table is the order
of drawing, lowest first.
"""

from __future__ import annotations

from typing import NamedTuple

from sitegen.figures.look import INK, WARN


class FeatureStyle(NamedTuple):
    """Strokes and fill of a kind of feature.

    ``word`` heads it in a legend; ``fill`` is "" for an open outline; ``dash`` is ()
    for a solid line; ``arrow`` puts a head on the end of a line;
    ``sign`` is the shape of a feature that is drawn as a place.
    """

    word: str
    stroke: str
    width: float
    dash: tuple[float, ...] = ()
    fill: str = ""
    fill_opacity: float = 1.0
    arrow: bool = False
    sign: str = "well"


FEATURE_STYLES: dict[str, FeatureStyle] = {
    "surface_water": FeatureStyle("surface water", "#8fb0c2", 1.0, (), "#cfe0ea"),
    "paved_area": FeatureStyle("paved area", "#c4c0b6", 0.8, (2, 3), "#e6e4de"),
    "other": FeatureStyle("other feature", "#7d8588", 1.0, (1, 3), "#ecedec"),
    "building": FeatureStyle("building", "#857f73", 1.0, (), "#cdc8bd"),
    "tank": FeatureStyle("tank or pump", "#80602f", 1.2, (), "#e3d3b8"),
    "suspected_source": FeatureStyle("suspected source", WARN, 1.4, (3, 3), WARN, 0.1, sign="star"),
    "site_boundary": FeatureStyle("site boundary", INK, 1.6, (12, 4, 2, 4)),
    "utility": FeatureStyle("utility line", "#5b6a2f", 1.5, (7, 3)),
    "flow_line": FeatureStyle("groundwater flow, as given", "#2f6690", 1.6, (), arrow=True),
    "well": FeatureStyle("well", "#1f4f74", 1.2, (), "#2f6690"),
}
"""Feature kinds of ``locations/features.geojson``, in drawing order."""


def style_of(kind: str) -> FeatureStyle:
    """Return the style of a kind; an unknown kind is drawn as ``other``.

    >>> style_of("well").word
    'well'
    >>> style_of("no such kind").word
    'other feature'
    """
    return FEATURE_STYLES.get(kind, FEATURE_STYLES["other"])


def drawing_rank(kind: str) -> int:
    """Return the place of a kind in the drawing order, 0 at the bottom.

    >>> drawing_rank("paved_area") < drawing_rank("building")
    True
    """
    known = list(FEATURE_STYLES)
    return known.index(kind if kind in FEATURE_STYLES else "other")
