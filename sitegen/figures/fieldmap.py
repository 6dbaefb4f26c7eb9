"""The crew's maps: points with their ids, the way from one to the next, and where not to drill.

One sheet for each map, sized for A4 and Letter alike: 1 drawing unit is 1 point of print. A sheet shows a window of
the site; what lies beyond is cut off.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import NamedTuple

from sitegen.figures import fieldkey
from sitegen.figures.fieldlook import BLACK, WHITE, arrow_head, feature_shape, hatching, path_of, point_sign, reach
from sitegen.figures.fieldnames import name_spots
from sitegen.figures.fieldscene import CarriedPoint, FieldScene, Window
from sitegen.figures.ground import Frame
from sitegen.figures.labels import Box, Wanted, leader, place_labels
from sitegen.figures.sitemap import round_length
from sitegen.figures.svg import FONT, element, fit_text, identity, line, number, rect, text, text_width
from sitegen.units import LENGTHS
from sitegen.voice import worded

_LABEL_SIZE, _NAME_SIZE = 8.6, 7.2
_LEFT, _TOP, _RIGHT = 30.0, 4.0, 4.0
_AXIS = 24.0
_HALO: dict[str, str | float] = {
    "stroke": WHITE,
    "stroke_width": 2.6,
    "paint_order": "stroke",
    "stroke_linejoin": "round",
}
_SHORTEST_ARROWED = 26.0
"""A part of the way shorter than this, in points of print, has no arrow."""


class DrawnMap(NamedTuple):
    """A sheet, the ids that stand on it, those in its window that found no room, and the names that did not.

    ``led`` tells that an id stands away from its point, at the end of a line.
    """

    svg: str
    landscape: bool
    labelled: tuple[str, ...]
    left_out: tuple[str, ...]
    names_left_out: tuple[str, ...]
    led: bool


class _Written(NamedTuple):
    svg: str
    labelled: tuple[str, ...]
    left_out: tuple[str, ...]
    names_left_out: tuple[str, ...]
    led: bool


def field_map(
    figure_id: str, scene: FieldScene, window: Window, first: Sequence[str] = (), sheet: int | None = None
) -> DrawnMap:
    """Draw a window of the site.

    Parameters
    ----------
    figure_id
        Sets the drawing's ids apart from those of others in one page.
    scene
        What there is to show.
    window
        What of it is shown.
    first
        The ids that are given room before others.
    sheet
        The number of this detail map, from 0; None on the overview.
    """
    frame, landscape, (width, height) = _frame(window, len(_key(scene)), keyed=bool(scene.sheets))
    whole, scene = scene, _within(scene, frame)
    key = _key(scene)
    written = _labels(whole, frame, frozenset(first))
    prefix = identity(figure_id)
    below = frame.top + frame.height + _AXIS
    notes = _notes(scene, written)
    body = (
        rect(0, 0, width, height, fill=WHITE),
        _ground(prefix, scene, whole.points, frame),
        written.svg,
        rect(frame.left, frame.top, frame.width, frame.height, fill="none", stroke=BLACK, stroke_width=1.2),
        _axis(frame),
        _furniture(frame, below, notes, feet=scene.feet),
        fieldkey.draw(whole, sheet, key, (_LEFT, below + fieldkey.FURNITURE, width - _RIGHT)),
    )
    svg = element("svg", *body, xmlns="http://www.w3.org/2000/svg", id=prefix,
                  viewBox=f"0 0 {number(width)} {number(height)}", width="100%", font_family=FONT, font_size=7,
                  fill=BLACK)  # fmt: skip
    return DrawnMap(svg, landscape, *written[1:])


def _frame(window: Window, rows: int, *, keyed: bool) -> tuple[Frame, bool, tuple[float, float]]:
    """Return the frame on the sheet, upright or lying, that shows the window larger, and the sheet's size."""
    span_e, span_n = window.east_m - window.west_m, window.north_m - window.south_m
    found = []
    for landscape, (width, height) in enumerate(fieldkey.SHEETS):
        below = _AXIS + fieldkey.FURNITURE + fieldkey.height(rows, width, keyed=keyed)
        room_x, room_y = width - _LEFT - _RIGHT, height - _TOP - below
        tall = min(room_y, max(room_x * span_n / span_e, 0.45 * room_y))
        scale = min(room_x / span_e, tall / span_n)
        west_m = (window.west_m + window.east_m) / 2 - room_x / scale / 2
        north_m = (window.south_m + window.north_m) / 2 + tall / scale / 2
        frame = Frame(_LEFT, _TOP, room_x, tall, west_m, north_m, scale)
        found.append((scale, not landscape, frame, bool(landscape), (width, _TOP + tall + below)))
    *_, frame, lies, size = max(found, key=lambda one: one[:2])
    return frame, lies, size


def _key(scene: FieldScene) -> list[fieldkey.Entry]:
    return fieldkey.entries(scene.points, scene.features, scene.keep_off_words if scene.keep_off else "")


def _within(scene: FieldScene, frame: Frame) -> FieldScene:
    """Return what of a scene may show in a frame: what lies wholly beyond one of its edges is left out."""
    west, east, south, north = frame.limits_m
    sign_m = 8 / frame.scale  # half of the widest sign, which stands beyond its point

    def shows(parts: Sequence[Sequence[tuple[float, float]]]) -> bool:
        eastings = [spot[0] for part in parts for spot in part]
        northings = [spot[1] for part in parts for spot in part]
        across = max(eastings) >= west - sign_m and min(eastings) <= east + sign_m
        return across and max(northings) >= south - sign_m and min(northings) <= north + sign_m

    points = tuple(one for one in scene.points if shows([[(one.easting_m, one.northing_m)]]))
    features = tuple(one for one in scene.features if shows(one.parts))
    return replace(scene, points=points, features=features, keep_off=tuple(r for r in scene.keep_off if shows([r])))


def _ground(prefix: str, scene: FieldScene, way: Sequence[CarriedPoint], frame: Frame) -> str:
    """Draw what lies below the points, cut to the frame, and the points; the way leads to points beyond as well."""
    box = (frame.left, frame.top, frame.width, frame.height)
    edge, zone = f"{prefix}.frame", f"{prefix}.keep-off"
    rings = [[frame.place(*spot) for spot in ring] for ring in scene.keep_off]
    kept = path_of(rings, closed=True)
    cuts = element("clipPath", rect(*box), id=edge)
    cuts += element("clipPath", element("path", d=kept, clip_rule="evenodd"), id=zone) if kept else ""
    margin = (
        hatching(*box, clip_path=f"url(#{zone})") + element("path", d=kept, fill="none", stroke=BLACK, stroke_width=0.5)
        if kept
        else ""
    )
    shapes = "".join(
        feature_shape(one, [[frame.place(*spot) for spot in part] for part in one.parts]) for one in scene.features
    )
    signs = "".join(
        point_sign(one.ground, *frame.place(one.easting_m, one.northing_m), doubled=one.doubled) for one in scene.points
    )
    inside = _grid(frame) + margin + shapes + _way(way, frame) + signs
    return element("defs", cuts) + element("g", inside, clip_path=f"url(#{edge})")


def _way(points: Sequence[CarriedPoint], frame: Frame) -> str:
    """Draw the way from point to point, with an arrow on each longer part."""
    spots = [frame.place(one.easting_m, one.northing_m) for one in points]
    if len(spots) < 2:
        return ""
    drawn = element("path", d=path_of([spots], closed=False), fill="none", stroke=BLACK, stroke_width=0.7)
    for tail, tip in pairwise(spots):
        if math.dist(tail, tip) >= _SHORTEST_ARROWED:
            ahead = 0.5 + 3.5 / math.dist(tail, tip)
            at = (tail[0] + (tip[0] - tail[0]) * ahead, tail[1] + (tip[1] - tail[1]) * ahead)
            drawn += arrow_head(tail, at, 7.0)
    return drawn


def _labels(scene: FieldScene, frame: Frame, first: frozenset[str]) -> _Written:
    """Place the ids of the points in the frame, those asked for first, then the names of the features."""
    bounds = Box(frame.left + 2, frame.top + 2, frame.left + frame.width - 2, frame.top + frame.height - 2)
    spots = [(one, *frame.place(one.easting_m, one.northing_m)) for one in scene.points]
    inside = [
        spot for spot in spots if bounds.left <= spot[1] <= bounds.right and bounds.top <= spot[2] <= bounds.bottom
    ]
    inside.sort(key=lambda spot: spot[0].label not in first)
    boxes = [(x, y, reach(doubled=one.doubled)) for one, x, y in inside]
    obstacles = [Box(x - r, y - r, x + r, y + r) for x, y, r in boxes]
    words = [_words(scene, one) for one, _, _ in inside]
    wanted = [
        Wanted(x, y, text_width(word, _LABEL_SIZE, bold=True), _LABEL_SIZE, r + 0.8, i)
        for i, (word, (x, y, r)) in enumerate(zip(words, boxes, strict=True))
    ]
    names = list(_names(scene, frame, obstacles))
    placed = place_labels([*wanted, *(wish for _, wish in names)], obstacles, bounds)
    own, others = placed[: len(wanted)], placed[len(wanted) :]
    drawn = [_name(name, box) for (name, _), box in zip(names, others, strict=True) if box]
    drawn += [_label(*one) for one in zip(words, wanted, own, strict=True)]
    ids = [one.label for one, _, _ in inside]
    labelled = tuple(name for name, box in zip(ids, own, strict=True) if box)
    left = tuple(name for name, box in zip(ids, own, strict=True) if not box)
    lost = tuple(dict.fromkeys(name for (name, _), box in zip(names, others, strict=True) if not box))
    led = any(box and leader(wish, box) for wish, box in zip(wanted, own, strict=True))
    return _Written("".join(drawn), labelled, left, lost, bool(led))


def _words(scene: FieldScene, point: CarriedPoint) -> str:
    """Return a point's id, with the ends of the way told."""
    ends = {scene.points[-1].label: "end", scene.points[0].label: "start"} if len(scene.points) > 1 else {}
    return f"{point.label} ({ends[point.label]})" if point.label in ends else point.label


def _names(scene: FieldScene, frame: Frame, obstacles: list[Box]) -> Iterator[tuple[str, Wanted]]:
    """Yield the names of what the frame shows; signs of single places are added to what no label may touch."""
    for feature in scene.features:
        spots = [frame.place(*spot) for spot in name_spots(feature, frame.limits_m)]
        single = feature.geometry == "point"
        for x, y in spots if single else ():
            obstacles.append(Box(x - 5, y - 5, x + 5, y + 5))
        if spots and feature.name:
            width = text_width(feature.name, _NAME_SIZE) + 2
            own = len(obstacles) - len(spots) if single else -1
            height, gap = _NAME_SIZE * 1.1, 5.5 if single else 0.0
            yield feature.name, Wanted(*spots[0], width, height, gap, own, tuple(spots[1:]))


def _name(words: str, box: Box) -> str:
    """Write a feature's name on a white plate, so that no line strikes it through."""
    plate = rect(box.left, box.top, box.right - box.left, box.bottom - box.top, fill=WHITE)
    return plate + text(box.left + 1, box.bottom - 1.8, words, font_size=_NAME_SIZE, font_style="italic")


def _label(words: str, wish: Wanted, box: Box | None) -> str:
    if box is None:
        return ""
    ends = leader(wish, box)
    led = line(*ends, stroke=BLACK, stroke_width=0.6) if ends else ""
    return led + text(box.left, box.bottom - 1.6, words, font_size=_LABEL_SIZE, font_weight="bold", **_HALO)


def _ticks(low_m: float, high_m: float, step_m: float) -> list[float]:
    return [step_m * i for i in range(math.ceil(low_m / step_m), math.floor(high_m / step_m) + 1)]


def _crossings(frame: Frame) -> tuple[list[float], list[float]]:
    """Return eastings and northings of the coordinate grid."""
    west_m, east_m, south_m, north_m = frame.limits_m
    step_m = round_length(max(east_m - west_m, north_m - south_m) / 3.5)
    room_m = 14 / frame.scale
    return _ticks(west_m + room_m, east_m - room_m, step_m), _ticks(south_m + room_m, north_m - room_m, step_m)


def _grid(frame: Frame) -> str:
    """Draw small crosses where the lines of the coordinate grid meet."""
    eastings, northings = _crossings(frame)
    spots = [frame.place(e, n) for e in eastings for n in northings]
    strokes = [line for x, y in spots for line in (((x - 4, y), (x + 4, y)), ((x, y - 4), (x, y + 4)))]
    marks = path_of(strokes, closed=False)
    return element("path", d=marks, fill="none", stroke=BLACK, stroke_width=0.5) if marks else ""


def _axis(frame: Frame) -> str:
    """Write the coordinates of the grid along two edges."""
    eastings, northings = _crossings(frame)
    bottom = frame.top + frame.height
    drawn = []
    for easting_m in eastings:
        x, _ = frame.place(easting_m, frame.north_m)
        drawn.append(line(x, bottom, x, bottom + 4, stroke=BLACK, stroke_width=0.8))
        drawn.append(text(x, bottom + 12, number(easting_m), text_anchor="middle"))
    for northing_m in northings:
        _, y = frame.place(frame.west_m, northing_m)
        drawn.append(line(frame.left - 4, y, frame.left, y, stroke=BLACK, stroke_width=0.8))
        drawn.append(_turned(frame.left - 6, y, number(northing_m)))
    drawn.append(text(frame.left + frame.width / 2, bottom + 21, worded("easting, m"), text_anchor="middle"))
    drawn.append(_turned(frame.left - 18, frame.top + frame.height / 2, worded("northing, m")))
    return element("g", *drawn, font_size=6.8)


def _turned(x: float, y: float, words: str) -> str:
    return text(x, y, words, text_anchor="middle", transform=f"rotate(-90 {number(x)} {number(y)})")


def _furniture(frame: Frame, top: float, notes: Sequence[str], *, feet: bool) -> str:
    """Draw scale bar and north arrow at the right, and at the left what the sheet has to say."""
    right = frame.left + frame.width
    unit, unit_m = ("ft", LENGTHS["ft"].value) if feet else ("m", 1.0)
    length = round_length(110 / frame.scale / unit_m)
    width = length * unit_m * frame.scale
    x, y = right - width - 56, top + 8
    needle = f"{number(right - 20)},{number(top)} {number(right - 14)},{number(top + 20)} "
    needle += f"{number(right - 20)},{number(top + 15)} {number(right - 26)},{number(top + 20)}"
    parts = [
        rect(x, y, width, 5, fill=WHITE, stroke=BLACK, stroke_width=1),
        rect(x, y, width / 2, 5, fill=BLACK),
        text(x, y + 15, "0", text_anchor="middle"),
        text(x + width, y + 15, f"{number(length)} {unit}", text_anchor="middle"),
        element("polygon", points=needle, fill=BLACK),
        text(right - 20, top + 29, worded("grid north"), text_anchor="middle"),
    ]
    if feet:
        parts.append(text(x + width, y + 23, f"({length * unit_m:.1f} m)", text_anchor="middle"))
    room = x - 12 - frame.left
    step = min(9.0, 40 / max(len(notes) - 1, 1))
    parts += [text(frame.left, top + 6 + step * i, fit_text(words, 7, room)) for i, words in enumerate(notes)]
    return element("g", *parts, font_size=7)


def _notes(scene: FieldScene, written: _Written) -> list[str]:
    notes = [one for one in (scene.crs_text, scene.other_crs_text) if one]
    if scene.keep_off or any(one.kind == "utility" for one in scene.features):
        notes.append(worded("Utilities as mapped: utility clearance and markings on site take precedence."))
    told = (
        (
            worded("Within the keep-out margin, not to be drilled as planned"),
            [one.label for one in scene.points if one.too_near],
        ),
        (worded("Ids omitted for clarity"), written.left_out),
        (worded("Names omitted for clarity"), written.names_left_out),
    )
    for what, names in told:
        if names:
            more = f" and {len(names) - 4} more" if len(names) > 4 else ""
            notes.append(f"{what}: {', '.join(names[:4])}{more}")
    return notes
