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
    says how many compounds were detected of how many. ``supplement`` says of a point of a supplement which it is,
    and when it was placed; ``paged`` that the report has a page about the point. ``above`` names the compounds with a
    concentration above a screening level there, "" for none.
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
    supplement: str = ""
    paged: bool = True
    above: str = ""


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


class MapChange(NamedTuple):
    """What became of a compound at a point between two rounds: in words, as a sign, and with both results as lines.

    ``kind``, ``factor_class`` and ``below_limit`` are those of ``figures.inputs.PlaceChange``.
    """

    text: str
    kind: str
    factor_class: int
    below_limit: bool
    marks: tuple[MapMark, ...]
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class MapChangeLayer:
    """What became of a compound between two rounds; ``values`` runs parallel to the view's points."""

    id: str
    title: str
    unit: str
    values: tuple[MapChange, ...]
    group: str = ""


@dataclass(frozen=True, slots=True)
class MapView:
    """What the map shows of several rounds at a choice: the values of a round, or what changed between two.

    ``kind`` is ``round`` or ``change``, and with ``id`` its address; ``group`` heads it in the chooser. The view of the
    round that is reported has no points and layers of its own: they are the map's.
    """

    id: str
    kind: str
    title: str
    group: str
    points: tuple[MapPoint, ...] = ()
    layers: tuple[MapLayer, ...] = ()
    changes: tuple[MapChangeLayer, ...] = ()
    reported: bool = False


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
    ``views`` are there where there are several rounds, the one that is reported among them; the words of
    the classes hold for the masses of all.
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
    views: tuple[MapView, ...] = ()
    factor_labels: tuple[str, ...] = ()
