"""Lists of distinct things that the web map's data point into: values and marks, each written once."""

from __future__ import annotations

from collections.abc import Hashable, Iterable
from typing import Any

from sitegen.report.record.maps import MapLayer, MapMark, MapValue


class Pool:
    """Distinct items in order of first sight; calling it gives an item's place."""

    def __init__(self) -> None:
        self.items: list[object] = []
        self._places: dict[Hashable, int] = {}

    def __call__(self, key: Hashable, item: object) -> int:
        """Return the place of what a key stands for, which becomes the last where it is new."""
        place = self._places.setdefault(key, len(self.items))
        if place == len(self.items):
            self.items.append(item)
        return place


def mark_places(found: Iterable[MapMark], marks: Pool) -> list[int]:
    """Return the places of marks, each once."""
    return [marks(mark, [mark.word, mark.reason, int(mark.ring)]) for mark in dict.fromkeys(found)]


def value_layer(layer: MapLayer, values: Pool, marks: Pool) -> dict[str, Any]:
    """Return a layer as the script reads it, with one place in the list of values per point."""
    places = [values(value, _value(value, marks)) for value in layer.values]
    drawn = {"id": layer.id, "title": layer.title, "unit": layer.unit, "group": layer.group, "page": layer.page}
    return drawn | {"whole": layer.whole_words, "v": places}


def _value(value: MapValue, marks: Pool) -> list[Any]:
    return [value.text, value.size_class, mark_places(value.marks, marks)]
