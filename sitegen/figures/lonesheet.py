"""A sheet for a map to print alone: its paper, a round scale that is true on it, and where its parts stand.

Drawings are made in units of ``unit_pt`` points, so that their words are 7 to 9 points high, and are set
at that size: a metre of the project's grid is the same length on paper wherever it lies.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple, TypeAlias

from sitegen.figures.ground import Frame
from sitegen.figures.inputs import PlaceFeature, PlacePoint
from sitegen.figures.legend import Row, draw_legend
from sitegen.units import INCH, INTERNATIONAL_FOOT
from sitegen.voice import thousands, worded

POINTS_PER_METRE = 72 / INCH.value
"""Points of print in a metre of paper: 72 to the inch, as PDF counts them (ISO 32000-1, 8.3.2.3)."""

MARGIN_PT = 28.35
"""The margin of a sheet: 10 mm, which office printers leave. Common practice, no source."""


class Paper(NamedTuple):
    """A size of paper: its name, its sides upright in points, and the points to a unit of a drawing on it."""

    name: str
    short_pt: float
    long_pt: float
    unit_pt: float


PAPERS: Mapping[str, Paper] = {
    "a4": Paper("A4", 595.28, 841.89, 1.1),
    "a3": Paper("A3", 841.89, 1190.55, 1.3),
    "letter": Paper("US Letter", 612.0, 792.0, 1.1),
    "11x17": Paper("11 × 17 in", 792.0, 1224.0, 1.3),
}
"""Papers by what a person writes: A4 and A3 (ISO 216), 8.5 × 11 and 11 × 17 inches (ASME Y14.1, sizes A and B)."""

LEFT, TOP, RIGHT, FOOT = 30.0, 8.0, 8.0, 58.0
"""What a frame leaves free around it, in units: for coordinates, ticks, and what stands below it."""

KEY, KEY_GAP = 124.0, 12.0
"""The width of a column of the legend beside the map, and the gap before it, in units."""

_EDGE = 12.0  # what a point keeps from the frame, for the largest symbol with its ring
_LEAST_M = 10.0


class Sheet(NamedTuple):
    """A sheet laid out: its size in points, the drawing's size and frame in units, and its scale 1:``ratio``.

    ``key_columns`` stand beside the map where the sheet lies, below it where it stands. ``feet_per_inch`` is 0
    where the scale is a ratio.
    """

    paper: Paper
    landscape: bool
    width: float
    height: float
    frame: Frame
    ratio: int
    feet_per_inch: int
    key_columns: int

    @property
    def size_pt(self) -> tuple[float, float]:
        """Width and height of the paper as it is used."""
        sides = (self.paper.short_pt, self.paper.long_pt)
        return (sides[1], sides[0]) if self.landscape else sides

    @property
    def scale_text(self) -> str:
        """The scale in words: a ratio, before it the feet to an inch where it is made of them."""
        ratio = "1:" + thousands(f"{self.ratio:,}")
        return (
            worded("1 in = {feet_per_inch:,} ft ({ratio})", feet_per_inch=self.feet_per_inch, ratio=ratio)
            if self.feet_per_inch
            else ratio
        )


Group: TypeAlias = tuple[str, tuple[Row, ...]]


class Key(NamedTuple):
    """A legend in groups, and what it takes."""

    groups: tuple[Group, ...]

    def columns(self, count: int) -> list[list[Group]]:
        """Return the groups in that many columns, each going on where the one before is full."""
        heights = [_key_height([group], KEY) for group in self.groups]
        columns: list[list[Group]] = [[]]
        goal, filled = sum(heights) / count, 0.0
        for group, height in zip(self.groups, heights, strict=True):
            if filled and filled + height / 2 > goal and len(columns) < count:
                columns, filled = [*columns, []], 0.0
            columns[-1].append(group)
            filled += height
        return columns

    def height(self, count: int, width: float) -> float:
        """Return the height of the tallest of that many columns."""
        return max(_key_height(column, width) for column in self.columns(count))


def _key_height(groups: Sequence[tuple[str, Sequence[Row]]], width: float) -> float:
    return draw_legend(0, 0, width, groups)[1]


def ratios(*, feet: bool) -> Iterator[tuple[int, int]]:
    """Yield scales from 1:100 or 10 feet to the inch on, the finest there are: (ratio, feet to the inch or 0).

    Ratios are 1, 1.25, 2, 2.5 and 5 times a power of ten, feet those of engineers' scale rules. Common
    practice, no source.

    >>> from itertools import islice
    >>> [ratio for ratio, _ in islice(ratios(feet=False), 9)]
    [100, 125, 200, 250, 500, 1000, 1250, 2000, 2500]
    >>> [feet for _, feet in islice(ratios(feet=True), 9)]
    [10, 20, 30, 40, 50, 60, 100, 200, 300]
    """
    steps = (10, 20, 30, 40, 50, 60) if feet else (100, 125, 200, 250, 500)
    per_inch = round(INTERNATIONAL_FOOT.value / INCH.value)
    power = 1
    while True:
        for step in steps:
            yield (step * power * per_inch, step * power) if feet else (step * power, 0)
        power *= 10


def lay_out(
    paper: Paper,
    points: Sequence[PlacePoint],
    features: Sequence[PlaceFeature],
    key: Key,
    band_pt: Mapping[bool, float],
    *,
    feet: bool,
) -> Sheet:
    """Lay out a sheet so that it shows the site as large as a round scale lets it.

    Where that is the same upright and lying, the sheet lies if the site is wider than tall.

    Parameters
    ----------
    paper
        The paper; whether it stands or lies is found here.
    points, features
        What is drawn: all points and the site boundary are in the frame.
    key
        The legend.
    band_pt
        The height in points of what stands below the drawing, by whether the sheet lies.
    feet
        Whether the scale is in feet to the inch.

    Raises
    ------
    ValueError
        There is neither a point nor a site boundary to draw.
    """
    extent = _extent(points, features)
    west, east, south, north = extent
    wide = east - west > north - south
    sheets = [_sheet(paper, extent, key, band_pt[lies], landscape=lies, feet=feet) for lies in (False, True)]
    return min(sheets, key=lambda found: (found.ratio, found.landscape != wide))


def _extent(points: Sequence[PlacePoint], features: Sequence[PlaceFeature]) -> tuple[float, float, float, float]:
    """Return west, east, south and north of what must be seen, in metres."""
    spots = [(point.easting_m, point.northing_m) for point in points]
    spots += [
        spot for feature in features if feature.kind == "site_boundary" for part in feature.parts for spot in part
    ]
    if not spots:
        raise ValueError("neither a point nor a site boundary to draw")
    eastings, northings = zip(*spots, strict=True)
    return min(eastings), max(eastings), min(northings), max(northings)


def _sheet(
    paper: Paper,
    extent: tuple[float, float, float, float],
    key: Key,
    band_pt: float,
    *,
    landscape: bool,
    feet: bool,
) -> Sheet:
    sides = (paper.long_pt, paper.short_pt) if landscape else (paper.short_pt, paper.long_pt)
    width = round((sides[0] - 2 * MARGIN_PT) / paper.unit_pt, 2)
    height = round((sides[1] - 2 * MARGIN_PT - band_pt) / paper.unit_pt, 2)
    columns = len(key.groups)
    if landscape:
        columns = next((n for n in range(1, columns) if key.height(n, KEY) <= height), columns)
        room = (width - LEFT - RIGHT - columns * (KEY + KEY_GAP), height - TOP - FOOT)
    else:
        tall = key.height(columns, width / columns)
        room = (width - LEFT - RIGHT, height - TOP - FOOT - tall)
    west, east, south, north = extent
    spans = (max(east - west, _LEAST_M), max(north - south, _LEAST_M))
    least_m = max(span / (side - 2 * _EDGE) for span, side in zip(spans, room, strict=True))
    units_m = POINTS_PER_METRE / paper.unit_pt
    ratio, per_inch = next(one for one in ratios(feet=feet) if one[0] >= least_m * units_m)
    scale = units_m / ratio
    at_west = (west + east) / 2 - room[0] / scale / 2
    frame = Frame(LEFT, TOP, room[0], room[1], at_west, (south + north) / 2 + room[1] / scale / 2, scale)
    return Sheet(paper, landscape, width, height, frame, ratio, per_inch, columns)
