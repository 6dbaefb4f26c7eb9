"""The ground of a site drawing: frame, grid and site features, drawn once per survey.

matplotlib draws it, without any text; symbols, labels and legends go on top of it as
SVG. So sixty compound maps share one prepared ground.
"""

from __future__ import annotations

import io
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import matplotlib as mpl
from matplotlib import style
from matplotlib.figure import Figure
from matplotlib.patches import PathPatch
from matplotlib.path import Path
from matplotlib.ticker import MaxNLocator

from sitegen.figures.features import FeatureStyle, drawing_rank, style_of
from sitegen.figures.inputs import PlaceFeature, PlacePoint
from sitegen.figures.look import MUTED, RULE
from sitegen.figures.svg import identity, number
from sitegen.figures.symbols import unit_corners

SIDE_WIDTH = 356.0
"""Width of the map where its legend stands beside it: on sites that are taller than wide."""

FULL_WIDTH = 494.0
"""Width of the map where its legend stands below it."""

_TALL = 1.05
_LEFT, _TOP = 30.0, 10.0
_LEGEND_GAP = 14.0
_TIGHTEST = 0.6  # of the room's width, where a map gives way to the words beside it
_MARGIN = 1.08
_TICK_ROOM = 16.0
_POINTS_PER_INCH = 72.0
_TAG = re.compile(r"<[^<>]+>")
_ID = re.compile(r'(\bid="|"#|\(#)')
_LONG_NUMBER = re.compile(r"(?<!\d)\d++\.\d{3,}")
_OWN_ID = re.compile(r'\sid="(?:figure|patch|axes|line2d|LineCollection|matplotlib)[\w.]*"')


class Room(NamedTuple):
    """How large the drawings of a site may be, in drawing units.

    ``placing`` is the word by which a writer knows where they belong. A map is ``side`` wide
    where its legend stands beside it and ``below`` where the legend stands below it; with
    ``below`` 0 it never does, and a map of a tall site gives way to what stands beside it.
    ``least`` and ``most`` bound a map's height, ``labels`` the labels tried on it.
    """

    placing: str
    width: float
    side: float
    below: float
    least: float
    most: float
    labels: int


PAGE = Room("full", 534.0, SIDE_WIDTH, FULL_WIDTH, 150.0, 500.0, 100)
"""The room on an ordinary page; more labels would neither fit there nor be looked for."""


@dataclass(frozen=True, slots=True)
class Frame:
    """Where metres land on the drawing: the map's box, and its scale.

    ``left`` and ``top`` are drawing units, ``west_m`` and ``north_m`` the coordinates
    of that corner, ``scale`` drawing units per metre.
    """

    left: float
    top: float
    width: float
    height: float
    west_m: float
    north_m: float
    scale: float

    def place(self, easting_m: float, northing_m: float) -> tuple[float, float]:
        """Turn project metres into drawing units, y downwards."""
        return (
            self.left + (easting_m - self.west_m) * self.scale,
            self.top + (self.north_m - northing_m) * self.scale,
        )

    @property
    def limits_m(self) -> tuple[float, float, float, float]:
        """West, east, south and north edge in metres."""
        east_m = self.west_m + self.width / self.scale
        return self.west_m, east_m, self.north_m - self.height / self.scale, self.north_m


@dataclass(frozen=True, slots=True)
class Ground:
    """A prepared ground: its frame, its SVG, and what stands on it.

    ``step_m`` says to how many metres shapes of many vertices are drawn, 0 for as they are.
    """

    frame: Frame
    body: str
    points: tuple[PlacePoint, ...]
    features: tuple[PlaceFeature, ...]
    crs_text: str
    ticks_m: tuple[tuple[float, ...], tuple[float, ...]]
    room: Room = PAGE
    step_m: float = 0.0

    @property
    def keyed_beside(self) -> bool:
        """Whether a legend stands beside the map."""
        return self.frame.width != self.room.below

    @property
    def key_left(self) -> float:
        """Where a legend beside the map begins."""
        return self.frame.left + self.frame.width + _LEGEND_GAP

    @property
    def width(self) -> float:
        """The width of a whole drawing; a map that gave way takes less than there is."""
        return self.room.width - (0 if self.room.below else self.room.side - self.frame.width)

    def svg(self, figure_id: str) -> str:
        """Return the ground's SVG with the ids of one figure."""
        prefix = identity(figure_id)
        return _TAG.sub(lambda tag: _ID.sub(rf"\g<1>{prefix}.", tag[0]), self.body)


def prepare_ground(
    points: tuple[PlacePoint, ...],
    features: tuple[PlaceFeature, ...],
    crs_text: str,
    rooms: Sequence[Room] = (PAGE,),
) -> Ground:
    """Draw the ground under the points, once for all drawings of a survey.

    Parameters
    ----------
    points
        Locations in project metres; they and the site boundary set the extent.
    features
        Site features in project metres; what reaches beyond the extent is cut off.
    crs_text
        The name of the coordinate system, printed on every drawing.
    rooms
        How large the drawings may be; of several the one that shows the site largest.

    Raises
    ------
    ValueError
        There is neither a point nor a site boundary to draw.
    """
    frames = [(_frame(points, features, room), room) for room in rooms]
    frame, room = max(frames, key=lambda found: found[0].scale)
    return framed_ground(frame, points, features, crs_text, room)


def framed_ground(
    frame: Frame,
    points: tuple[PlacePoint, ...],
    features: tuple[PlaceFeature, ...],
    crs_text: str,
    room: Room,
    bins: int = 4,
) -> Ground:
    """Draw the ground in a frame that is chosen already, with some ``bins`` between the lines of its grid."""
    west_m, east_m, south_m, north_m = frame.limits_m
    room_m = _TICK_ROOM / frame.scale
    ticks = (_ticks(west_m + room_m, east_m - room_m, bins), _ticks(south_m + room_m, north_m - room_m, bins))
    ordered = tuple(sorted(features, key=lambda feature: drawing_rank(feature.kind)))
    return Ground(frame, _draw(frame, ordered, ticks), points, ordered, crs_text, ticks, room)


def _frame(points: tuple[PlacePoint, ...], features: tuple[PlaceFeature, ...], room: Room) -> Frame:
    spots = [(point.easting_m, point.northing_m) for point in points]
    for feature in features:
        if feature.kind == "site_boundary":
            spots += [corner for part in feature.parts for corner in part]
    if not spots:
        raise ValueError("neither a point nor a site boundary to draw")
    eastings, northings = zip(*spots, strict=True)
    span_e = max(max(eastings) - min(eastings), 10.0) * _MARGIN
    span_n = max(max(northings) - min(northings), 10.0) * _MARGIN
    width = room.below if room.below and span_n <= _TALL * span_e else room.side
    if not room.below:
        width = min(max(room.most * span_e / span_n, _TIGHTEST * width), width)
    height = min(max(width * span_n / span_e, room.least), room.most)
    scale = min(width / span_e, height / span_n)
    middle_e = (max(eastings) + min(eastings)) / 2
    middle_n = (max(northings) + min(northings)) / 2
    west_m, north_m = middle_e - width / scale / 2, middle_n + height / scale / 2
    return Frame(_LEFT, _TOP, width, height, west_m, north_m, scale)


def _ticks(low_m: float, high_m: float, bins: int) -> tuple[float, ...]:
    values = MaxNLocator(nbins=bins, steps=[1, 2, 2.5, 5, 10], integer=True).tick_values(low_m, high_m)
    return tuple(float(value) for value in values if low_m < value < high_m)


def _draw(frame: Frame, features: tuple[PlaceFeature, ...], ticks: tuple[tuple[float, ...], tuple[float, ...]]) -> str:
    """Draw frame, grid and features with matplotlib and return the SVG inside."""
    with style.context("default"), mpl.rc_context({"svg.hashsalt": "ground", "path.simplify": False}):
        width, height = frame.left + frame.width + 10, frame.top + frame.height + 10
        figure = Figure(figsize=(width / _POINTS_PER_INCH, height / _POINTS_PER_INCH), dpi=72)
        figure.patch.set_visible(False)
        box = (frame.left / width, 10 / height, frame.width / width, frame.height / height)
        axes = figure.add_axes(box, facecolor="none")
        west_m, east_m, south_m, north_m = frame.limits_m
        axes.set(xlim=(west_m, east_m), ylim=(south_m, north_m), xticks=[], yticks=[])
        axes.vlines(ticks[0], south_m, north_m, colors=RULE, linewidths=0.4, zorder=0.1)
        axes.hlines(ticks[1], west_m, east_m, colors=RULE, linewidths=0.4, zorder=0.1)
        for spine in axes.spines.values():
            spine.set(edgecolor=MUTED, linewidth=0.6)
        for rank, feature in enumerate(features):
            for patch in _patches(feature, frame.scale):
                patch.set_zorder(1 + rank / 1000)
                axes.add_patch(patch)
        return _inside(figure)


def _patches(feature: PlaceFeature, scale: float) -> list[PathPatch]:
    look = style_of(feature.kind)
    if feature.geometry == "point":
        solid = look._replace(dash=(), fill_opacity=1.0)
        return [_patch(_mark(look.sign, *part[0], 3.4 / scale), solid, filled=True) for part in feature.parts]
    closed = feature.geometry == "area"
    paths = [Path(part, closed=False) for part in feature.parts if len(part) > 1]
    if not paths:
        return []
    patches = [_patch(Path.make_compound_path(*paths), look, filled=closed)]
    if look.arrow and not closed:
        patches.append(_patch(_head(feature.parts[-1], 7 / scale), look, filled=True, fill=look.stroke))
    return patches


def _patch(path: Path, look: FeatureStyle, *, filled: bool, fill: str = "") -> PathPatch:
    colour = fill or look.fill
    return PathPatch(
        path,
        facecolor=mpl.colors.to_rgba(colour, look.fill_opacity) if filled and colour else "none",
        edgecolor=look.stroke,
        linewidth=look.width * 0.7,
        linestyle=(0, tuple(0.7 * length for length in look.dash)) if look.dash else "solid",
        capstyle="butt",
        joinstyle="round",
    )


def _mark(shape: str, easting_m: float, northing_m: float, reach_m: float) -> Path:
    """Return the mark of a single place: a star for a suspected source, else a triangle on its tip."""
    reach = reach_m * (1.5 if shape == "star" else 1.0)
    corners = [(easting_m + reach * x, northing_m - reach * y) for x, y in unit_corners(shape)]
    return Path([*corners, corners[0]], closed=False)


def _head(part: tuple[tuple[float, float], ...], length_m: float) -> Path:
    (tail_e, tail_n), (tip_e, tip_n) = part[-2:]
    angle = math.atan2(tip_n - tail_n, tip_e - tail_e)
    sides = [
        (tip_e - length_m * math.cos(angle + side), tip_n - length_m * math.sin(angle + side)) for side in (-0.4, 0.4)
    ]
    return Path([sides[0], (tip_e, tip_n), sides[1], sides[0]], closed=False)


def _inside(figure: Figure) -> str:
    """Return what matplotlib draws, without its wrapper, style sheet and spare ids."""
    written = io.StringIO()
    nothing = dict.fromkeys(("Creator", "Date", "Format", "Type"))
    figure.savefig(written, format="svg", metadata=nothing)
    whole = written.getvalue()
    body = whole[whole.index('<g id="figure_1"') : whole.rindex("</svg>")]
    body = _LONG_NUMBER.sub(lambda found: number(float(found[0])), _OWN_ID.sub("", body))
    lines = "".join(part.strip() + " " * (not part.endswith(">")) for part in body.splitlines())
    return f'<g stroke-linejoin="round" stroke-linecap="butt" fill-rule="evenodd">{lines}</g>'
