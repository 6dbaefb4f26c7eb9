"""Colours and shapes shared by every drawing, map and page.

One accent, and one ramp for mass classes that is pale for low, strong and dark for high, so that
the highest class is seen first, and that stays in order in greyscale and for colour-blind readers:
``RdPu`` (Brewer 2003, Cartography and Geographic Information Science 30(1), 5-32), sampled from
matplotlib's table.
Shape carries the surface at the point, fill carries detection, a ring carries a mark.
"""

from __future__ import annotations

ACCENT = "#1d5c63"
INK = "#1b2426"
MUTED = "#5a676b"
RULE = "#c9d1d3"
PAPER = "#ffffff"
WARN = "#9a3b12"

CLASS_COLOURS: tuple[str, ...] = ("#fcc5c0", "#fa9eb5", "#f87ca8", "#ee579e", "#c71d8c", "#870179", "#49006a")
"""Seven mass classes, lowest first: the lowest is dark enough that no small symbol of it looks hollow on paper."""

CLASS_RADII_PX: tuple[float, ...] = (5.0, 6.5, 8.0, 9.5, 11.0, 12.5, 14.0)
"""Symbol radius of each mass class on screen; print scales them."""

SURFACE_SHAPES: dict[str, str] = {
    "soil": "circle",
    "vegetation": "circle",
    "gravel": "diamond",
    "asphalt": "square",
    "concrete": "square",
    "interior_slab": "triangle",
    "other": "diamond",
}
"""Shape by the surface the sampler was set through; air points are drawn as hexagons."""

AIR_SHAPE = "hexagon"

CUSTODY_STYLES: dict[str, tuple[str, str]] = {
    "held": ("#1d5c63", "solid"),
    "stored": ("#7fa9ad", "solid"),
    "in place, unattended": ("#e3dcc4", "dots"),
    "with a carrier": ("#4a5a8a", "stripes"),
    "in transit, custody not recorded": ("#ffffff", "open"),
    "custody not recorded": ("#ffffff", "bars"),
    "overlap": ("#9a3b12", "cross"),
}
"""Fill colour and pattern of each custody state; the pattern alone tells them apart in print."""
