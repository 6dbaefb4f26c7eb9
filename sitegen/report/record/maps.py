"""What the maps of the site draw, as records."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple


class MapMark(NamedTuple):
    """A mark on the map: its word and why. ``ring`` says whether it draws one; marks of a whole bag don't."""

    word: str
    reason: str = ""
    ring: bool = True


class MapPoint(NamedTuple):
    """A point on the maps. ``state`` is that of the point, as in ``completeness.states``.

    ``marks`` are the sampler's, those that it shares with its bag included; ``detected``
    says how many compounds were detected of how many.
    """

    location_id: str
    label: str
    lon: float
    lat: float
    easting: float
    northing: float
    medium: str
    surface: str
    state: str
    marks: tuple[MapMark, ...]
    detected: str


class MapValue(NamedTuple):
    """One compound at one point, with the marks of the result itself.

    ``size_class``: -1 non-detect, None not analysed.
    """

    text: str
    size_class: int | None
    marks: tuple[MapMark, ...]


@dataclass(frozen=True, slots=True)
class MapLayer:
    """A compound's (or group sum's) layer; ``values`` runs parallel to the points.

    ``group`` heads it in the chooser, "" for none. ``whole_words`` says that the values'
    texts hold their unit already, as the sums of a group do. ``page`` is that of the same map among those
    to print alone, 0 for none.
    """

    id: str
    title: str
    unit: str
    values: tuple[MapValue, ...]
    group: str = ""
    whole_words: bool = False
    page: int = 0


class MapBackground(NamedTuple):
    """A picture of the project folder under the map: its edges in WGS 84 degrees, its licence."""

    file: str
    west: float
    south: float
    east: float
    north: float
    licence: str


class MapTiles(NamedTuple):
    """A service of map tiles that the project asked for; opening the map asks it over the network."""

    url: str
    attribution: str


@dataclass(frozen=True, slots=True)
class MapData:
    """Everything the maps draw. ``class_labels`` says each size class in words.

    Where it is the map of a ``plan``, its one layer says of each point why it is there, and no mass.
    """

    points: tuple[MapPoint, ...]
    layers: tuple[MapLayer, ...]
    features: tuple[Mapping[str, Any], ...]
    class_labels: tuple[str, ...]
    first_layer: str
    crs_text: str
    background: MapBackground | None = None
    tiles: MapTiles | None = None
    plan: bool = False
