"""A map to print alone: paper, a round scale that is true on it, and the drawing at that scale.

Drawings are made in units of ``unit_pt`` points, so that their words are 7 to 9 points high, and are set
at that size: a metre of the project's grid is the same length on paper wherever it lies.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple, TypeAlias

from sitegen.figures.features import drawing_rank
from sitegen.figures.ground import Frame, Ground, Room, framed_ground
from sitegen.figures.inputs import PlaceFeature, PlacePoint, PlaceValue
from sitegen.figures.legend import Row, draw_legend
from sitegen.figures.look import INK, MUTED, PAPER
from sitegen.figures.sitemap import (
    class_rows,
    feature_rows,
    names_and_labels,
    round_length,
    shape_rows,
    state_rows,
)
from sitegen.figures.svg import FONT, element, identity, line, number, rect, text
from sitegen.figures.symbols import Symbol, draw, symbol_of
from sitegen.units import INCH, INTERNATIONAL_FOOT

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

_LEFT, _TOP, _RIGHT, _FOOT = 30.0, 8.0, 8.0, 58.0
_TICK = 4.0
_EDGE = 12.0  # what a point keeps from the frame, for the largest symbol with its ring
_KEY, _KEY_GAP = 124.0, 12.0
_LEAST_M = 10.0
_LABELS = 400
_BAR = 130.0
_GRID = 7


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
        ratio = f"1:{self.ratio:,}"
        return f"1 in = {self.feet_per_inch:,} ft ({ratio})" if self.feet_per_inch else ratio


Group: TypeAlias = tuple[str, tuple[Row, ...]]


class Key(NamedTuple):
    """A legend in groups, and what it takes."""

    groups: tuple[Group, ...]

    def columns(self, count: int) -> list[list[Group]]:
        """Return the groups in that many columns, each going on where the one before is full."""
        heights = [_key_height([group], _KEY) for group in self.groups]
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


def key_of(
    points: Sequence[PlacePoint],
    features: Sequence[PlaceFeature],
    class_labels: Sequence[str],
    values: Sequence[Sequence[PlaceValue]],
    unit: str,
) -> Key:
    """Return the legend that explains every sign of some maps of the same points.

    A sign that any of the maps has stands in it, so that the maps can be laid beside each other.
    """
    drawn = [symbol_of(*pair) for one in values for pair in zip(points, one, strict=True)]
    states = [_alone(row) for row in state_rows(drawn)]
    groups = (
        (f"Mass, {unit}", tuple(class_rows(class_labels))),
        ("Other signs", tuple(states)),
        ("Shape: surface", tuple(shape_rows(points))),
        ("Site features", tuple(feature_rows(sorted(features, key=lambda one: drawing_rank(one.kind))))),
    )
    return Key(tuple(group for group in groups if group[1]))


def _alone(row: Row) -> Row:
    """Return a row of the legend without the pointer to a page that is not at hand."""
    air = row.symbol is not None and row.symbol.kind == "air"
    return row._replace(words="air point: no mass in soil gas") if air else row


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
        columns = next((n for n in range(1, columns) if key.height(n, _KEY) <= height), columns)
        room = (width - _LEFT - _RIGHT - columns * (_KEY + _KEY_GAP), height - _TOP - _FOOT)
    else:
        tall = key.height(columns, width / columns)
        room = (width - _LEFT - _RIGHT, height - _TOP - _FOOT - tall)
    west, east, south, north = extent
    spans = (max(east - west, _LEAST_M), max(north - south, _LEAST_M))
    least_m = max(span / (side - 2 * _EDGE) for span, side in zip(spans, room, strict=True))
    units_m = POINTS_PER_METRE / paper.unit_pt
    ratio, per_inch = next(one for one in ratios(feet=feet) if one[0] >= least_m * units_m)
    scale = units_m / ratio
    at_west = (west + east) / 2 - room[0] / scale / 2
    frame = Frame(_LEFT, _TOP, room[0], room[1], at_west, (south + north) / 2 + room[1] / scale / 2, scale)
    return Sheet(paper, landscape, width, height, frame, ratio, per_inch, columns)


def lone_ground(
    sheet: Sheet, points: tuple[PlacePoint, ...], features: tuple[PlaceFeature, ...], crs_text: str
) -> Ground:
    """Prepare the ground of a sheet, once for all maps on it."""
    room = Room("lone", sheet.width, sheet.frame.width, 0.0, 0.0, sheet.frame.height, _LABELS)
    return framed_ground(sheet.frame, points, features, crs_text, room, bins=_GRID)


class Drawn(NamedTuple):
    """A map drawn, and how many labels found no room."""

    svg: str
    left_out: int


def lone_map(
    figure_id: str, sheet: Sheet, ground: Ground, values: Sequence[PlaceValue], key: Key, labels: Sequence[str] | None
) -> Drawn:
    """Draw a map at the scale of its sheet, with grid, scale bars, north arrow and legend.

    ``labels`` stand beside the points, "" for none; None asks for no label at any point, and for no
    count of those left out.

    Raises
    ------
    ValueError
        There are more or fewer values or labels than points.
    """
    points = ground.points
    symbols = [symbol_of(*pair) for pair in zip(points, values, strict=True)]
    spots = [
        (symbol, ground.frame.place(point.easting_m, point.northing_m))
        for symbol, point in zip(symbols, points, strict=True)
    ]
    order = sorted(range(len(spots)), key=lambda i: -spots[i][0].radius)
    written, left_out = _labelled(ground, spots, order, labels)
    body = (
        rect(0, 0, sheet.width, sheet.height, fill=PAPER),
        ground.svg(figure_id),
        "".join(draw(spots[i][0], *spots[i][1]) for i in order),
        written,
        _axis(ground),
        _furniture(sheet),
        _key(sheet, key),
    )
    view = f"0 0 {number(sheet.width)} {number(sheet.height)}"
    svg = element("svg", *body, xmlns="http://www.w3.org/2000/svg", id=identity(figure_id), viewBox=view, width="100%",
                  font_family=FONT, font_size=7, fill=INK)  # fmt: skip
    return Drawn(svg, left_out)


def _labelled(
    ground: Ground,
    spots: Sequence[tuple[Symbol, tuple[float, float]]],
    order: Sequence[int],
    labels: Sequence[str] | None,
) -> tuple[str, int]:
    """Write labels and the names of features; a point without a label asks for none."""
    wanted = [i for i in order if labels is not None and labels[i]]
    words = labels or [point.label for point in ground.points]
    named = tuple(point._replace(label=word) for point, word in zip(ground.points, words, strict=True))
    lettered = Ground(ground.frame, "", named, ground.features, ground.crs_text, ground.ticks_m, ground.room)
    return names_and_labels(lettered, spots, wanted)


def _axis(ground: Ground) -> str:
    """Draw ticks of the coordinate grid at all four edges, with coordinates at two of them."""
    frame = ground.frame
    right, bottom = frame.left + frame.width, frame.top + frame.height
    ticks, words = [], []
    for easting_m in ground.ticks_m[0]:
        x, _ = frame.place(easting_m, frame.north_m)
        ticks += [line(x, bottom, x, bottom + _TICK), line(x, frame.top - _TICK, x, frame.top)]
        words.append(text(x, bottom + 11, number(easting_m), text_anchor="middle"))
    for northing_m in ground.ticks_m[1]:
        _, y = frame.place(frame.west_m, northing_m)
        ticks += [line(frame.left - _TICK, y, frame.left, y), line(right, y, right + _TICK, y)]
        words.append(_turned(frame.left - 6, y, number(northing_m)))
    words.append(_turned(frame.left - 17, frame.top + frame.height / 2, "northing, m"))
    words.append(text(frame.left + frame.width / 2, bottom + 20, "easting, m", text_anchor="middle"))
    return element("g", *ticks, stroke=INK, stroke_width=0.6) + element("g", *words, fill=MUTED, font_size=6.4)


def _turned(x: float, y: float, words: str) -> str:
    return text(x, y, words, text_anchor="middle", transform=f"rotate(-90 {number(x)} {number(y)})")


def _furniture(sheet: Sheet) -> str:
    """Draw the scale in words and as bars in metres and feet, and the north arrow, below the frame."""
    frame = sheet.frame
    top = frame.top + frame.height + 27
    right = frame.left + frame.width
    first, second = (1.0, INTERNATIONAL_FOOT.value), ("m", "ft")
    bars = [_bar(frame, frame.left, top + 15 * i, *one) for i, one in enumerate(zip(first, second, strict=True))]
    middle = frame.left + _BAR + 34
    words = (
        text(middle, top + 5, f"Scale {sheet.scale_text}", font_weight="bold", font_size=8),
        text(middle, top + 15, f"on {sheet.paper.name}, printed at 100%", fill=MUTED),
    )
    needle = ((right - 20, top - 5), (right - 15, top + 15), (right - 20, top + 11), (right - 25, top + 15))
    corners = " ".join(f"{number(x)},{number(y)}" for x, y in needle)
    north = element("polygon", points=corners, fill=INK) + text(
        right - 20, top + 24, "grid north", text_anchor="middle"
    )
    return element("g", *bars, *words, north, font_size=6.8)


def _bar(frame: Frame, x: float, y: float, unit_m: float, unit: str) -> str:
    """Draw a bar of four parts, as long as a round number of a unit may be."""
    length = round_length(_BAR / frame.scale / unit_m)
    part = length * unit_m * frame.scale / 4
    parts = [rect(x + part * i, y, part, 3.5, fill=INK if i % 2 == 0 else PAPER) for i in range(4)]
    edge = rect(x, y, 4 * part, 3.5, fill="none", stroke=INK, stroke_width=0.6)
    words = [text(x + part * i, y + 10, number(length * i / 4), text_anchor="middle") for i in (0, 2)]
    words.append(text(x + 4 * part, y + 10, f"{number(length)} {unit}", text_anchor="middle"))
    return "".join((*parts, edge, *words))


def _key(sheet: Sheet, key: Key) -> str:
    """Draw the legend beside the map, or in columns below it."""
    frame = sheet.frame
    columns = key.columns(sheet.key_columns)
    if sheet.landscape:
        left = frame.left + frame.width + _RIGHT + _KEY_GAP
        places = [(left + i * (_KEY + _KEY_GAP), frame.top + 8, _KEY) for i in range(len(columns))]
    else:
        wide = sheet.width / sheet.key_columns
        places = [(i * wide, frame.top + frame.height + _FOOT + 8, wide) for i in range(len(columns))]
    drawn = [draw_legend(x, y, x + wide, column) for (x, y, wide), column in zip(places, columns, strict=True)]
    return "".join(svg for svg, _ in drawn)
