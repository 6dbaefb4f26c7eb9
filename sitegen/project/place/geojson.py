"""Site features from GeoJSON (RFC 7946)."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from shapely.errors import ShapelyError
from shapely.geometry import shape

from sitegen.project import limits
from sitegen.project.place.drawn import Drawing, Drawn, Unusable, too_many

_UNREADABLE = (
    AttributeError, KeyError, TypeError, ValueError, IndexError, OverflowError, RecursionError, ShapelyError,
)  # fmt: skip


def read_geojson(content: bytes) -> Drawing:
    """Return what a GeoJSON file draws. Raises Unusable where it is none, or too large."""
    try:
        data = json.loads(content.decode("utf-8-sig"), parse_constant=_no_constant)
        items = data["features"] if data["type"] == "FeatureCollection" else None
    except (ValueError, KeyError, TypeError, RecursionError) as error:
        items, said = None, f" ({error})" if isinstance(error, ValueError) else ""
    else:
        said = ""
    if not isinstance(items, list):
        found = f"text that is not a FeatureCollection{said[:200]}"
        raise Unusable(found, "GeoJSON (RFC 7946)", "export it again")
    if len(items) > limits.FEATURES.value:
        raise too_many(len(items))
    doubts = (Unusable("a crs member", "WGS 84 without a crs member", "export without it"),) if "crs" in data else ()
    return Drawing(tuple(map(_drawn, items)), doubts=doubts, plain=True)


def _no_constant(name: str) -> float:
    raise ValueError(f"the number {name}")


def _drawn(item: Mapping[str, Any]) -> Drawn:
    try:
        properties = dict(item.get("properties") or {})
        geometry = shape(item["geometry"])
        geometry.bounds  # noqa: B018 - what can't be measured can't be read
    except _UNREADABLE:
        return Drawn(None, fault=Unusable("a geometry that cannot be read", "a GeoJSON geometry", "draw it again"))
    return Drawn(geometry, properties)
