"""A feature as its file draws it, before it is known to be usable."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from shapely.geometry.base import BaseGeometry

from sitegen.findings.problems import SitegenError
from sitegen.project import limits
from sitegen.project.place.coordinates import WGS84
from sitegen.project.read import cells


class Unusable(SitegenError):
    """A file or feature that can't be used: what there is, what is expected and what to do."""

    def __init__(self, found: str, expected: str, do: str) -> None:
        super().__init__(found)
        self.found, self.expected, self.do = found, expected, do


@dataclass(frozen=True, slots=True)
class Drawn:
    """A feature of a file: its shape, its properties, and what stands in the way of its use.

    ``layer`` is the layer or folder that the file has it in. ``corners`` is True where the file gives
    corners in a line and not whether they enclose something: ``outline`` says so (``line`` or ``area``),
    or else its kind. ``row`` is the row of a table that it begins in.
    """

    geometry: BaseGeometry | None
    properties: Mapping[str, Any] = field(default_factory=dict)
    layer: str = ""
    fault: Unusable | None = None
    corners: bool = False
    outline: str = ""
    row: int | None = None


@dataclass(frozen=True, slots=True)
class Drawing:
    """What a file draws: its features in a system of coordinates, x before y.

    ``system`` is a code of the EPSG register or a description that PROJ reads, ``system_name`` what a
    person calls it. ``doubts`` are of the file as a whole. ``plain`` is True of GeoJSON, whose
    features are taken as they stand.
    """

    features: tuple[Drawn, ...]
    system: str = WGS84
    system_name: str = "WGS 84"
    doubts: tuple[Unusable, ...] = ()
    plain: bool = False


def unreadable(why: str = "") -> Unusable:
    """Return the fault of a shape that can't be read."""
    return Unusable(
        f"a geometry that cannot be read{why and f' ({why})'}", "points, lines or polygons", "draw it again"
    )


def too_many(count: int) -> Unusable:
    """Return the fault of a file of more features than are read."""
    return Unusable(f"{count:,} features", limits.FEATURES.at_most, "leave out what the report does not need")


def number(text: str) -> float:
    """Return a decimal number. Raises ValueError where a text is none.

    >>> number(" -99.35 ")
    -99.35
    """
    value = cells.number(text.strip()) if len(text) <= limits.ID.value else None
    if value is None:
        raise ValueError(f"{text[:40]!r} is not a number")
    return value
