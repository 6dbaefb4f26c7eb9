"""Waypoints, routes and tracks from GPX 1.0 and 1.1, in WGS 84."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from xml.etree.ElementTree import Element

import numpy as np

from sitegen.project import limits
from sitegen.project.place.drawn import Drawing, Drawn, Unusable, number, too_many, unreadable
from sitegen.project.place.parts import Places, line_of, point_of, together
from sitegen.project.place.xmltree import read_tree, text_of

TEXTS = ("name", "type", "sym", "cmt", "desc")
"""What a waypoint, a route and a track may say of themselves; of extensions, those that hold a text alone."""


def read_gpx(content: bytes) -> Drawing:
    """Return what a GPX file draws: waypoints, then routes, then tracks.

    A route or track is a line of corners; several segments of a track are a line each.
    Raises Unusable where it can't be read, or is too large.
    """
    tree = read_tree(content, "gpx")
    found = [child for name in ("wpt", "rte", "trk") for child in tree.findall(name)]
    if len(found) > limits.FEATURES.value:
        raise too_many(len(found))
    return Drawing(tuple(map(_drawn, found)))


def waypoints(content: bytes) -> Iterator[tuple[dict[str, str], str, str]]:
    """Yield texts, longitude and latitude of each waypoint, as the file has them. Raises Unusable as above."""
    for element in read_tree(content, "gpx").findall("wpt"):
        texts = {name: text_of(element, name) for name in TEXTS}
        yield texts, element.get("lon", "").strip(), element.get("lat", "").strip()


def _drawn(element: Element) -> Drawn:
    properties = {name: text_of(element, name) for name in TEXTS}
    properties |= {one.tag: (one.text or "").strip() for part in element.findall("extensions") for one in part}
    properties = {name: text for name, text in properties.items() if text}
    layer = {"wpt": "waypoints", "rte": "routes", "trk": "tracks"}[element.tag]
    try:
        if element.tag == "wpt":
            return Drawn(point_of(_places([element])), properties, layer)
        lines = (
            [element.findall("rtept")] if element.tag == "rte" else [s.findall("trkpt") for s in element.iter("trkseg")]
        )
        whole = together([line_of(_places(line)) for line in lines])
        return Drawn(whole, properties, layer, corners=whole.geom_type == "LineString")
    except Unusable as fault:
        return Drawn(None, properties, layer, fault)


def _places(elements: Iterable[Element]) -> Places:
    try:
        rows = [[number(one.get("lon", "")), number(one.get("lat", ""))] for one in elements]
        return np.array(rows, dtype=float).reshape(len(rows), 2)
    except ValueError as error:
        raise unreadable(str(error)) from error
