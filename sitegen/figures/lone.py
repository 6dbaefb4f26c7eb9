"""A map to print alone, drawn at the scale of its sheet: grid, scale bars, north arrow, and a legend of every sign."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from sitegen.figures.features import drawing_rank
from sitegen.figures.ground import Frame, Ground, Room, framed_ground
from sitegen.figures.inputs import PlaceFeature, PlacePoint, PlaceValue
from sitegen.figures.legend import Row, draw_legend
from sitegen.figures.lonesheet import FOOT, KEY, KEY_GAP, RIGHT, Key, Sheet
from sitegen.figures.look import INK, MUTED, PAPER
from sitegen.figures.sitemap import (
    class_rows,
    feature_rows,
    highest_class,
    names_and_labels,
    plan_marks,
    plan_rows,
    point_symbol,
    round_length,
    shape_rows,
    state_rows,
)
from sitegen.figures.svg import FONT, element, identity, line, number, rect, text
from sitegen.figures.symbols import Symbol, draw, symbol_of
from sitegen.units import INTERNATIONAL_FOOT
from sitegen.voice import worded

_TICK = 4.0
_LABELS = 400
_BAR = 130.0
_GRID = 7


def key_of(
    points: Sequence[PlacePoint],
    features: Sequence[PlaceFeature],
    class_labels: Sequence[str],
    values: Sequence[Sequence[PlaceValue]],
    unit: str,
) -> Key:
    """Return the legend that explains every sign of some maps of the same points.

    A sign that any of the maps has stands in it, so that the maps can be laid beside each other. Without
    ``values`` it is that of the points themselves.
    """
    drawn = [symbol_of(*pair) for one in values for pair in zip(points, one, strict=True)]
    states = [_alone(row) for row in state_rows(drawn or map(point_symbol, points))]
    shown = class_labels[: highest_class(value for one in values for value in one) + 1]
    first = (
        (worded("Mass, {unit}", unit=unit), tuple(class_rows(shown)))
        if drawn
        else (worded("Points"), tuple(plan_rows()))
    )
    groups = (
        first,
        (worded("Other symbols"), tuple(states)),
        (worded("Shape: surface"), tuple(shape_rows(points))),
        (worded("Site features"), tuple(feature_rows(sorted(features, key=lambda one: drawing_rank(one.kind))))),
    )
    return Key(tuple(group for group in groups if group[1]))


def _alone(row: Row) -> Row:
    """Return a row of the legend without the pointer to a page that is not at hand."""
    air = row.symbol is not None and row.symbol.kind == "air"
    return row._replace(words=worded("air point: no mass in soil gas")) if air else row


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

    Without ``values`` it shows where each point was planned and where it came to lie. ``labels`` stand
    beside the points, "" for none; None asks for no label at any point, and for no count of those left out.

    Raises
    ------
    ValueError
        There are more or fewer values or labels than points.
    """
    points = ground.points
    plain = [point_symbol(point) for point in points]
    symbols = [symbol_of(*pair) for pair in zip(points, values, strict=True)] if values else plain
    spots = [
        (symbol, ground.frame.place(point.easting_m, point.northing_m))
        for symbol, point in zip(symbols, points, strict=True)
    ]
    order = sorted(range(len(spots)), key=lambda i: -spots[i][0].radius)
    written, left_out = _labelled(ground, spots, order, labels)
    body = (
        rect(0, 0, sheet.width, sheet.height, fill=PAPER),
        ground.svg(figure_id),
        "" if values else plan_marks(ground),
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
    words.append(_turned(frame.left - 17, frame.top + frame.height / 2, worded("northing, m")))
    words.append(text(frame.left + frame.width / 2, bottom + 20, worded("easting, m"), text_anchor="middle"))
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
        text(
            middle,
            top + 5,
            worded("Scale {scale_text}", scale_text=sheet.scale_text),
            font_weight="bold",
            font_size=8,
        ),
        text(middle, top + 15, worded("on {name}, printed at 100%", name=sheet.paper.name), fill=MUTED),
    )
    needle = ((right - 20, top - 5), (right - 15, top + 15), (right - 20, top + 11), (right - 25, top + 15))
    corners = " ".join(f"{number(x)},{number(y)}" for x, y in needle)
    north = element("polygon", points=corners, fill=INK) + text(
        right - 20, top + 24, worded("grid north"), text_anchor="middle"
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
        left = frame.left + frame.width + RIGHT + KEY_GAP
        places = [(left + i * (KEY + KEY_GAP), frame.top + 8, KEY) for i in range(len(columns))]
    else:
        wide = sheet.width / sheet.key_columns
        places = [(i * wide, frame.top + frame.height + FOOT + 8, wide) for i in range(len(columns))]
    drawn = [draw_legend(x, y, x + wide, column) for (x, y, wide), column in zip(places, columns, strict=True)]
    return "".join(svg for svg, _ in drawn)
