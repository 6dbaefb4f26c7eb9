"""Places: projected coordinates to WGS 84 and back, distances, bearings, neighbours."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from sitegen.project.place.coordinates import WGS84, transform
from sitegen.project.positions import Supplied
from sitegen.project.schema import Origin
from sitegen.project.survey import Survey
from sitegen.project.tables import Location


class StatedPosition(NamedTuple):
    """A position as the folder gives it, in the project's own system, with its text as received.

    ``columns`` says which it is: surveyed (easting and northing, or longitude and latitude
    where the system is geographic) or only planned.
    """

    columns: tuple[str, str]
    x: float
    y: float
    x_text: str
    y_text: str


@dataclass(frozen=True, slots=True)
class Point:
    """A point of the survey, in the map CRS (m) and in WGS 84 degrees.

    ``as_planned`` is True where only the planned position is known. ``planned`` is the
    planned position in the map CRS, None where the folder gives none. ``accuracy_m`` is the
    stated accuracy of the surveyed position, None where none is stated. ``given`` is the
    position that all was computed from, ``supplied`` where it comes from if its row has none.
    """

    location_id: str
    medium: str
    surface: str
    x: float
    y: float
    lon: float
    lat: float
    planned: tuple[float, float] | None
    as_planned: bool
    origin: Origin
    accuracy_m: float | None = None
    given: StatedPosition | None = None
    supplied: Supplied | None = None

    @property
    def moved_m(self) -> float | None:
        """Distance from the planned to the surveyed position in map units."""
        if self.planned is None or self.as_planned:
            return None
        return math.hypot(self.x - self.planned[0], self.y - self.planned[1])

    def may_move_m(self, limit_m: float) -> float:
        """Return the distance from the plan that is no move: the limit, or a larger stated accuracy."""
        return max(limit_m, self.accuracy_m or 0.0)

    def is_off_plan(self, limit_m: float) -> bool:
        """Tell whether the point lies further from its plan than the limit and its stated accuracy allow."""
        return self.moved_m is not None and self.moved_m > self.may_move_m(limit_m)

    def fits_move(self, told_m: float, limit_m: float) -> bool:
        """Tell whether a move by the field notes fits the coordinates; True where these can't tell."""
        return self.moved_m is None or abs(self.moved_m - told_m) <= self.may_move_m(limit_m)


def map_crs(survey: Survey) -> str:
    """Return the projected CRS that distances are measured in."""
    return survey.settings.space.map_crs or survey.settings.space.crs


def points(survey: Survey) -> tuple[Point, ...]:
    """Return every point that has coordinates, in file order."""
    source = survey.settings.space.crs
    kept = [(row, place) for row, place in zip(survey.rows(Location), _positions(survey), strict=True) if place]
    if not kept:
        return ()
    xs = np.array([place.x for _, place in kept])
    ys = np.array([place.y for _, place in kept])
    map_x, map_y = transform(source, map_crs(survey), xs, ys)
    lon, lat = transform(source, WGS84, xs, ys)
    planned = _plan_positions([row for row, _ in kept], source, map_crs(survey))
    return tuple(
        _point(row, place, (map_x[i], map_y[i], lon[i], lat[i]), planned[i], _supplied(survey, row, place.columns))
        for i, (row, place) in enumerate(kept)
    )


_SURVEYED, _PLANNED, _DEGREES = ("easting", "northing"), ("plan_easting", "plan_northing"), ("longitude", "latitude")


def _positions(survey: Survey) -> Iterator[StatedPosition | None]:
    """Yield the best position of each row in the project's system: surveyed, else planned, else None."""
    in_degrees = survey.settings.space.crs == WGS84
    for at, row in enumerate(survey.rows(Location)):
        positions = (
            *(((_DEGREES, row.longitude, row.latitude),) if in_degrees else ()),
            (_SURVEYED, row.easting, row.northing),
            (_PLANNED, row.plan_easting, row.plan_northing),
        )
        known = ((names, x, y) for names, x, y in positions if not (math.isnan(x) or math.isnan(y)))
        yield next((_stated(survey, row, at, *one) for one in known), None)


def _stated(survey: Survey, row: Location, at: int, names: tuple[str, str], x: float, y: float) -> StatedPosition:
    """Return a position with its text: the row's own as received, or that of the file that supplied it."""
    if supplied := _supplied(survey, row, names):
        return StatedPosition(names, x, y, *supplied.texts)
    received = survey.tables["locations"].received
    return StatedPosition(names, x, y, received[names[0]][at], received[names[1]][at])


def _supplied(survey: Survey, row: Location, names: tuple[str, str]) -> Supplied | None:
    """Return the measured position that filled in a row's coordinates of these columns, None where they are its own."""
    supplied = survey.measured.get(row.origin.row)
    return supplied if supplied and supplied.fills and supplied.columns == names else None


def _plan_positions(rows: Sequence[Location], source: str, target: str) -> list[tuple[float, float] | None]:
    x = np.array([row.plan_easting for row in rows], dtype=float)
    y = np.array([row.plan_northing for row in rows], dtype=float)
    known = ~(np.isnan(x) | np.isnan(y))
    x[known], y[known] = transform(source, target, x[known], y[known])
    return [(float(x[i]), float(y[i])) if known[i] else None for i in range(len(rows))]


def _point(
    row: Location,
    given: StatedPosition,
    at: tuple[float, ...],
    planned: tuple[float, float] | None,
    supplied: Supplied | None,
) -> Point:
    return Point(
        row.location_id, row.medium, row.surface,
        float(at[0]), float(at[1]), round(float(at[2]), 7), round(float(at[3]), 7),
        planned, given.columns == _PLANNED, row.origin,
        None if math.isnan(row.accuracy_m) else row.accuracy_m, given, supplied,
    )  # fmt: skip


def on_map(geometry: BaseGeometry, target: str) -> BaseGeometry:
    """Transform a WGS 84 geometry to the map CRS."""

    def move(xy: NDArray[np.float64]) -> NDArray[np.float64]:
        x, y = transform(WGS84, target, xy[:, 0], xy[:, 1])
        return np.column_stack([x, y])

    return shapely.transform(geometry, move)


def bearing_deg(from_x: float, from_y: float, to_x: float, to_y: float) -> float:
    """Return the grid bearing in degrees, 0 north, 90 east.

    >>> bearing_deg(0, 0, 1, 1), bearing_deg(0, 0, -1, 0)
    (45.0, 270.0)
    """
    return math.degrees(math.atan2(to_x - from_x, to_y - from_y)) % 360.0


_WORDS = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")


def direction_word(bearing: float) -> str:
    """Return the nearest of eight directions in words.

    >>> direction_word(112.4), direction_word(350)
    ('east', 'north')
    """
    return _WORDS[int((bearing + 22.5) % 360 // 45)]
