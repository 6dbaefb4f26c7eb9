"""Masses along a line: one panel for each compound, distance along the line below all of them."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from typing import NamedTuple

from sitegen.figures.axes import LogAxis, PlainAxis
from sitegen.figures.look import ACCENT, INK, MUTED, RULE, WARN
from sitegen.figures.svg import drawing, element, line, number, text, text_width
from sitegen.units import NANOGRAM
from sitegen.voice import worded

WIDTH = 720.0
_FONT = 11.0
_LEFT, _RIGHT, _HIGH, _GAP = 78.0, 700.0, 92.0, 30.0
_PALE = "#9dbdc0"

JOINED_M = 3.0
"""Points no further than this from the line are joined (project default, no published source).

About the width of a trench with its backfill: two points further off may lie in other ground, so that a stroke
between them would show a rise or fall along the line that is one across it.
"""


class Station(NamedTuple):
    """A point along the line: how far along, its mass (None for a non-detect) or its limit, how far off the line.

    ``text`` is the value as shown, with its qualifiers.
    """

    label: str
    along_m: float
    mass_ng: float | None
    limit_ng: float
    marked: bool = False
    text: str = ""
    off_m: float = 0.0

    @property
    def joined(self) -> bool:
        """Whether it lies near enough to the line to be joined with others that do."""
        return self.off_m <= JOINED_M


class Profile(NamedTuple):
    """One compound along the line, its stations in any order."""

    title: str
    stations: Sequence[Station]


def transect(figure_id: str, profiles: Sequence[Profile], length_m: float, unit: str = NANOGRAM.text) -> str:
    """Draw profiles one below the other on one distance axis, all with the same decades.

    A line joins neighbouring detections near the line only (``JOINED_M``): nothing is drawn through a non-detect
    there, which stands as an open V below its limit. Points further off are paler and not joined.

    Raises
    ------
    ValueError
        A mass or a limit is not above zero.
    """
    stations = [station for profile in profiles for station in profile.stations]
    values = [station.mass_ng or station.limit_ng for station in stations]
    low_m = min([0.0, *(station.along_m for station in stations)])
    high_m = max([length_m, *(station.along_m for station in stations)])
    across = PlainAxis(_LEFT, _RIGHT, low_m, high_m if high_m > low_m else low_m + 1)
    span = LogAxis.over(values, 0, 1)
    body = []
    bottom = 0.0
    for i, profile in enumerate(profiles):
        top = 30.0 + i * (_HIGH + _GAP)
        bottom = top + _HIGH
        body.append(_panel(profile, across, LogAxis(bottom, top, span.low, span.high)))
    body += [_stations(profiles[0], across, bottom)] if profiles else []
    for value, words in across.ticks:
        body.append(text(across.at(value), bottom + 44, words, text_anchor="middle", fill=MUTED))
    body.append(text((_LEFT + _RIGHT) / 2, bottom + 60, worded("distance along the line, m"), text_anchor="middle"))
    signs = worded("open V: not detected, drawn below its limit (short line); ring: qualification given with the value")
    body.append(text(_LEFT, bottom + 80, signs, fill=MUTED))
    foot = bottom + 94
    if any(not station.joined for station in stations):
        far = worded("pale, not joined: more than {joined:g} m from the line", joined=JOINED_M)
        body += [_dot(_LEFT + 5, bottom + 94, joined=False), text(_LEFT + 16, bottom + 98, far, fill=MUTED)]
        foot += 18
    turned = f"rotate(-90 16 {number(bottom / 2)})"
    body.append(text(16, bottom / 2 + 10, unit, text_anchor="middle", transform=turned))
    return drawing(figure_id, WIDTH, foot, *body, font_size=_FONT)


def _panel(profile: Profile, across: PlainAxis, up: LogAxis) -> str:
    parts = [text(_LEFT, up.end - 9, profile.title, font_weight="bold")]
    for value, words in up.ticks:
        y = up.at(value)
        parts.append(line(_LEFT, y, _RIGHT, y, stroke=RULE, stroke_width=0.8))
        parts.append(text(_LEFT - 6, y + 4, words, text_anchor="end", fill=MUTED, font_size=9.5))
    ordered = sorted(profile.stations, key=lambda station: (station.along_m, station.label))
    for a, b in itertools.pairwise(station for station in ordered if station.joined):
        if a.mass_ng is not None and b.mass_ng is not None:
            ends = (across.at(a.along_m), up.at(a.mass_ng), across.at(b.along_m), up.at(b.mass_ng))
            parts.append(line(*ends, stroke=ACCENT, stroke_width=1.4))
    parts += [_station(station, across, up) for station in sorted(ordered, key=lambda station: station.joined)]
    return "".join(parts)


def _station(station: Station, across: PlainAxis, up: LogAxis) -> str:
    x = across.at(station.along_m)
    if station.mass_ng is None:
        y = up.at(station.limit_ng)
        path = f"M{number(x - 4)} {number(y + 2)}L{number(x)} {number(y + 9)}L{number(x + 4)} {number(y + 2)}"
        sign = element("path", d=path, fill="none", stroke=INK if station.joined else MUTED, stroke_width=1.4)
        sign += line(x - 5, y, x + 5, y, stroke=WARN, stroke_width=1.4)
    else:
        y = up.at(station.mass_ng)
        sign = _dot(x, y, joined=station.joined)
    ring = element("circle", cx=x, cy=y, r=7, fill="none", stroke=WARN, stroke_width=1.4)
    return sign + (ring if station.marked else "")


def _dot(x: float, y: float, *, joined: bool) -> str:
    fill, stroke = (ACCENT, INK) if joined else (_PALE, MUTED)
    return element("circle", cx=x, cy=y, r=4, fill=fill, stroke=stroke, stroke_width=0.8)


def _stations(profile: Profile, across: PlainAxis, y: float) -> str:
    """Name the points below the last panel, on two levels, where there is room."""
    parts, ends = [], [0.0, 0.0]
    for station in sorted(profile.stations, key=lambda s: (s.along_m, s.label)):
        x, half = across.at(station.along_m), text_width(station.label, 9) / 2 + 2
        parts.append(line(x, y, x, y + 4, stroke=MUTED, stroke_width=0.8))
        level = next((i for i, end in enumerate(ends) if x - half > end), None)
        if level is not None:
            ends[level] = x + half
            at = y + 13 + 11 * level
            parts.append(text(x, at, station.label, text_anchor="middle", font_size=9))
    return "".join(parts)
