"""What the web map's script reads of several rounds: each round's values, and what changed between two."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from sitegen.figures.changesigns import CHANGE_WORDS, FACTOR_RADII, SIGNS, SMALL
from sitegen.figures.symbols import PRINT_SCALE, Symbol
from sitegen.render.map.pooled import Pool, mark_places, value_layer
from sitegen.report.record.maps import MapChange, MapChangeLayer, MapData, MapPoint, MapView
from sitegen.voice import worded


def view_payload(data: MapData, values: Pool, marks: Pool, point: Callable[[MapPoint], list[Any]]) -> dict[str, Any]:
    """Return the views of a map, and the signs of a change with their words.

    A view without ``points`` is the round that is reported: its points and layers are the map's. A value of a
    change is ``[text, kind, marks, factor class, below limit, lines]``; the signs' radii are pixels, and what stands
    behind the radii of a factor are its words.
    """
    views = [_view(view, values, marks, point) for view in data.views]
    signs = {kind: _sign(sign) for kind, sign in SIGNS.items()}
    factors = [[radius / PRINT_SCALE, words] for radius, words in zip(FACTOR_RADII, data.factor_labels, strict=True)]
    small = SMALL / PRINT_SCALE
    return {
        "views": views,
        "change": {
            "signs": signs,
            "words": {kind: worded(words) for kind, words in CHANGE_WORDS.items()},
            "factors": factors,
            "small": small,
        },
    }


def _view(view: MapView, values: Pool, marks: Pool, point: Callable[[MapPoint], list[Any]]) -> dict[str, Any]:
    found: dict[str, Any] = {"id": view.id, "kind": view.kind, "title": view.title, "group": view.group}
    if view.reported:
        return found
    layers = [value_layer(layer, values, marks) for layer in view.layers]
    layers += [_change_layer(layer, values, marks) for layer in view.changes]
    return found | {"points": [point(one) for one in view.points], "layers": layers}


def _change_layer(layer: MapChangeLayer, values: Pool, marks: Pool) -> dict[str, Any]:
    places = [values(one, _change(one, marks)) for one in layer.values]
    return {"id": layer.id, "title": layer.title, "unit": layer.unit, "group": layer.group, "v": places}


def _change(one: MapChange, marks: Pool) -> list[Any]:
    found = mark_places(one.marks, marks)
    return [one.text, one.kind, found, one.factor_class, int(one.below_limit), one.lines]


def _sign(symbol: Symbol) -> dict[str, Any]:
    fill = {"fill": symbol.fill} if symbol.fill else {}
    return {"kind": symbol.kind, "shape": symbol.shape, "r": symbol.radius / PRINT_SCALE, "ring": False, **fill}
