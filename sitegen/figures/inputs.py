"""What the drawings are made from: plain frozen records, no survey, no arithmetic left.

Coordinates are metres in the project's own system; times are whole minutes from any
one starting point; masses are nanograms per sampler.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

MOVED_M = 0.5
"""A point that lies further from its plan than this is joined with it by a line."""


class PlacePoint(NamedTuple):
    """A location. ``state`` is what became of it (``completeness.states``); a plan position may be missing.

    ``medium`` and ``surface`` are the words of the folder format; they give the shape. ``above`` says that a
    concentration there is above a screening level.
    """

    label: str
    easting_m: float
    northing_m: float
    plan_easting_m: float | None
    plan_northing_m: float | None
    medium: str
    surface: str
    state: str
    above: bool = False


class PlaceFeature(NamedTuple):
    """A site feature. ``geometry`` is area, line or point.

    ``parts`` are rings or lines of (easting, northing) in metres; each part of an
    ``area`` is an outer ring or a hole, told apart by the even-odd rule.
    """

    kind: str
    name: str
    geometry: str
    parts: tuple[tuple[tuple[float, float], ...], ...]


class PlaceValue(NamedTuple):
    """A compound at a point: class (-1 non-detect, None not analysed) and mark."""

    size_class: int | None
    marked: bool = False


class PlaceChange(NamedTuple):
    """What became of a compound's mass at a point from one round to a later one.

    ``kind`` is grew, shrank, within, appeared, vanished, neither, not_comparable, or ``one_round`` where one of the
    rounds alone had a sampler there. ``factor_class`` is the class of the factor that a mass grew or shrank by;
    ``below_limit`` says of a detection in one round alone that the other round could not have told it.
    """

    kind: str
    factor_class: int = 0
    marked: bool = False
    below_limit: bool = False


class CustodySegment(NamedTuple):
    """A stretch of a sampler's way: from and to (minutes), state, and who holds it."""

    start_min: int
    end_min: int
    state: str
    holder: str = ""


class Tick(NamedTuple):
    """A moment with a word: an event on a row, or a day on the axis."""

    at_min: int
    label: str


@dataclass(frozen=True, slots=True)
class CustodyRow:
    """One sampler's (or bag's) line of the timeline, with its events.

    ``changes_min`` are the moments at which another was first seen to have it, no transfer being on record.
    """

    label: str
    segments: tuple[CustodySegment, ...]
    events: tuple[Tick, ...] = ()
    changes_min: tuple[int, ...] = ()


class ResultBar(NamedTuple):
    """One result. ``text`` is the value as shown, with its qualifiers (``1,250 J``).

    ``mass_ng`` is None for a non-detect, whose ``limit_ng`` says where it is drawn; a
    non-detect without a limit is written but not drawn.
    """

    label: str
    text: str
    mass_ng: float | None
    limit_ng: float | None
    size_class: int | None = None
    marked: bool = False


class ExposureWindow(NamedTuple):
    """A sampler's stay in the ground (or air), in minutes; ``marked`` where out of plan."""

    label: str
    start_min: int
    end_min: int
    marked: bool = False


class WeatherRow(NamedTuple):
    """Weather at a time; rain is what fell since the previous row.

    Pressures of different kinds or stations are of different ``series``: no line joins them.
    """

    at_min: int
    rain_mm: float | None
    pressure_hpa: float | None
    series: int = 0
