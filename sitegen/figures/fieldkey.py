"""What stands below the crew's maps: the key of signs and lines, and the small key of the detail sheets."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import NamedTuple

from sitegen.figures.fieldlook import (
    BLACK,
    FEATURE_LOOKS,
    GROUND_LOOKS,
    WHITE,
    LineLook,
    arrow_head,
    path_of,
    point_sign,
    single_place,
    stroke,
)
from sitegen.figures.fieldscene import CarriedPoint, FieldScene
from sitegen.figures.inputs import PlaceFeature
from sitegen.figures.svg import element, line, number, rect, text
from sitegen.voice import worded

SHEETS = ((510.0, 630.0), (706.0, 440.0))
"""Width and height of an upright and a lying sheet, which the print areas of A4 and Letter both hold."""

FURNITURE = 46.0
_ROW, _COLUMN = 13.0, 165.0
_SMALL = (118.0, 92.0)
"""Room of the small key map."""


_NUMBER: dict[str, str | float] = {
    "text_anchor": "middle",
    "font_weight": "bold",
    "stroke": WHITE,
    "stroke_width": 2,
    "paint_order": "stroke",
}


class Entry(NamedTuple):
    """A row of the key: what draws its sign at a place (left edge and middle), and its words."""

    sign: Callable[[float, float], str]
    words: str


def entries(points: Sequence[CarriedPoint], features: Sequence[PlaceFeature], keep_off: str) -> list[Entry]:
    """Return a row for each sign and line that occurs; ``keep_off`` are the words of the hatching, "" for none."""
    grounds = {point.ground for point in points}
    rows = [Entry(_sign(name), worded(look.word)) for name, look in GROUND_LOOKS.items() if name in grounds]
    if any(point.doubled for point in points):
        rows.append(Entry(_ringed, worded("ring: a duplicate at the point")))
    if len(points) > 1:
        rows.append(Entry(_way, worded("walking order")))
    if keep_off:
        rows.append(Entry(_hatched, keep_off))
    kinds = {_known(feature.kind) for feature in features}
    at_points = {_known(feature.kind) for feature in features if feature.geometry == "point"}
    for kind, look in FEATURE_LOOKS.items():
        if kind in kinds:
            rows.append(Entry(_place(kind) if kind in at_points else _line(look), worded(look.word)))
    return rows


def height(rows: int, width: float, *, keyed: bool) -> float:
    """Return how tall a key of that many rows is on a sheet of that width."""
    tall = math.ceil(rows / _columns(width, keyed=keyed)) * _ROW + 4
    return max(tall, _SMALL[1] + 14) if keyed else tall


def draw(scene: FieldScene, sheet: int | None, rows: Sequence[Entry], room: tuple[float, float, float]) -> str:
    """Draw the key from (left, top) as far as the right edge, with the small map of sheets where there are any."""
    left, top, right = room
    columns = _columns(right, keyed=bool(scene.sheets))
    deep = math.ceil(len(rows) / columns) if rows else 0
    drawn = []
    for i, row in enumerate(rows):
        x, y = left + _COLUMN * (i // deep), top + 6 + _ROW * (i % deep)
        drawn.append(row.sign(x, y) + text(x + 30, y + 2.6, row.words))
    if scene.sheets:
        drawn.append(_small_map(scene, sheet, right - _SMALL[0], top))
    return element("g", *drawn, font_size=7.4)


def _columns(width: float, *, keyed: bool) -> int:
    return max(1, int((width - (_SMALL[0] + 12 if keyed else 0)) // _COLUMN))


def _known(kind: str) -> str:
    return kind if kind in FEATURE_LOOKS else "other"


def _sign(ground: str) -> Callable[[float, float], str]:
    return lambda x, y: point_sign(ground, x + 12, y)


def _line(look: LineLook) -> Callable[[float, float], str]:
    def drawn(x: float, y: float) -> str:
        head = arrow_head((x, y), (x + 25, y), 8.0) if look.arrow else ""
        return stroke(path_of([[(x, y), (x + 24, y)]], closed=False), look) + head

    return drawn


def _ringed(x: float, y: float) -> str:
    return element("circle", cx=x + 12, cy=y, r=5.6, fill=WHITE, stroke=BLACK, stroke_width=1.2)


def _way(x: float, y: float) -> str:
    return line(x, y, x + 24, y, stroke=BLACK, stroke_width=0.7) + arrow_head((x, y), (x + 16, y), 7.0)


def _place(kind: str) -> Callable[[float, float], str]:
    return lambda x, y: single_place(kind, x + 12, y)


def _hatched(x: float, y: float) -> str:
    lines = "".join(
        f"M{number(x + 3.6 * i)} {number(y + 4)}L{number(x + 3.6 * i + 8)} {number(y - 4)}" for i in range(5)
    )
    edge = rect(x, y - 4, 24, 8, fill="none", stroke=BLACK, stroke_width=0.5)
    return element("path", d=lines, fill="none", stroke=BLACK, stroke_width=0.7) + edge


def _small_map(scene: FieldScene, sheet: int | None, x: float, y: float) -> str:
    """Draw the sheets' windows with their numbers over the site's boundary and points; this sheet's is filled."""
    outline = [part for one in scene.features if one.kind == "site_boundary" for part in one.parts]
    corners = [(one.west_m, one.south_m) for one in scene.sheets] + [(one.east_m, one.north_m) for one in scene.sheets]
    spots = [*corners, *(spot for part in outline for spot in part)]
    west, south = min(e for e, _ in spots), min(n for _, n in spots)
    east, north = max(e for e, _ in spots), max(n for _, n in spots)
    scale = min(_SMALL[0] / (east - west), (_SMALL[1] - 4) / (north - south))

    def place(easting: float, northing: float) -> tuple[float, float]:
        return x + (easting - west) * scale, y + 10 + (north - northing) * scale

    drawn = [
        text(
            x,
            y + 5,
            worded("Detail maps") if sheet is None else worded("This is detail map {sheet}", sheet=sheet + 1),
            font_weight="bold",
        )
    ]
    if outline:
        boundary = LineLook("", 1.0, (4, 1.5, 1, 1.5))
        drawn.append(stroke(path_of([[place(*spot) for spot in part] for part in outline], closed=True), boundary))
    for point in scene.points:
        at = place(point.easting_m, point.northing_m)
        drawn.append(element("circle", cx=at[0], cy=at[1], r=0.8, fill=BLACK))
    for i, one in sorted(enumerate(scene.sheets), key=lambda item: item[0] == sheet):
        left, top = place(one.west_m, one.north_m)
        right, bottom = place(one.east_m, one.south_m)
        width = 2.2 if i == sheet else 0.8
        drawn.append(rect(left, top, right - left, bottom - top, fill="none", stroke=BLACK, stroke_width=width))
        drawn.append(text((left + right) / 2, (top + bottom) / 2 + 2.6, str(i + 1), **_NUMBER))
    return "".join(drawn)
