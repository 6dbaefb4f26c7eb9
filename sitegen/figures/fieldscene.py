"""What the crew's maps are drawn from: plain frozen records, in metres of the map's system."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from sitegen.figures.inputs import PlaceFeature


class Window(NamedTuple):
    """What of the site a sheet shows, in metres of the map's system."""

    west_m: float
    east_m: float
    south_m: float
    north_m: float


class CarriedPoint(NamedTuple):
    """A point of the plan: its id, place and ground, and whether a duplicate is placed beside it.

    ``too_near`` tells that its hole would lie within the margin of a utility.
    """

    label: str
    easting_m: float
    northing_m: float
    ground: str
    doubled: bool = False
    too_near: bool = False


@dataclass(frozen=True, slots=True)
class FieldScene:
    """All that the maps of a plan show; points in walking order, ``keep_off`` as rings around the utilities.

    ``sheets`` are the windows of the detail maps, which the small key shows; there may be none. ``other_crs_text``
    tells the system of the crew's coordinates where it is not the maps'. With ``feet`` the scale bar is in feet.
    """

    points: tuple[CarriedPoint, ...]
    features: tuple[PlaceFeature, ...]
    keep_off: tuple[tuple[tuple[float, float], ...], ...]
    keep_off_words: str
    crs_text: str
    sheets: tuple[Window, ...] = ()
    other_crs_text: str = ""
    feet: bool = False
