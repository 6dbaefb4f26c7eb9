"""Maps to print alone: what stands on each, as records; a writer chooses paper and scale."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sitegen.figures.inputs import PlaceFeature, PlacePoint, PlaceValue

MAPS = "downloads/maps.pdf"
"""Where the maps to print alone stand in the site, one to a page."""


@dataclass(frozen=True, slots=True)
class LoneGround:
    """What the maps of a round have in common: its points and features in project metres, and its facts.

    ``feet`` asks for scales in feet to the inch. ``facts`` are labels and values of the title block.
    """

    points: tuple[PlacePoint, ...]
    features: tuple[PlaceFeature, ...]
    class_labels: tuple[str, ...]
    crs_text: str
    feet: bool
    facts: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class LoneMap:
    """A compound, or the sum of a group, at every point of a ground (by its place among the grounds).

    Without ``values`` it is a map of the points themselves, planned and as they lie.
    ``texts`` are the results as they are written, one per point and "" for none, and ``valued`` explains
    them; ``cautions`` must be read, ``notes`` explain what is drawn. ``layer`` is the layer of the web map
    that shows the same, "" for that of an earlier round.
    """

    id: str
    layer: str
    ground: int
    title: str
    subtitle: str
    alt: str
    unit: str
    values: tuple[PlaceValue, ...]
    texts: tuple[str, ...]
    cautions: tuple[str, ...]
    notes: tuple[str, ...]
    valued: str


@dataclass(frozen=True, slots=True)
class Atlas:
    """Maps to print alone, and the grounds that they are drawn on."""

    grounds: tuple[LoneGround, ...] = ()
    maps: tuple[LoneMap, ...] = ()

    def only(self, maps: Sequence[LoneMap]) -> Atlas:
        """Return the same grounds with some of the maps."""
        return Atlas(self.grounds, tuple(maps))


NO_ATLAS = Atlas()
