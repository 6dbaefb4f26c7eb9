"""Site features from KML (OGC 12-007): placemarks with their data, in WGS 84. What a link names is never fetched."""

from __future__ import annotations

from collections.abc import Iterator
from xml.etree.ElementTree import Element

import numpy as np
from shapely.geometry.base import BaseGeometry

from sitegen.project import limits
from sitegen.project.place.drawn import Drawing, Drawn, Unusable, number, too_many, unreadable
from sitegen.project.place.parts import Places, line_of, point_of, polygon_of, together
from sitegen.project.place.xmltree import read_tree, text_of

_SHAPES = ("Point", "LineString", "LinearRing", "Polygon", "MultiGeometry")
_FOLDERS = ("Document", "Folder")


def read_kml(content: bytes) -> Drawing:
    """Return what a KML file draws. Raises Unusable where it can't be read, or is too large."""
    tree = read_tree(content, "kml")
    found = list(_placemarks(tree, ""))
    if len(found) > limits.FEATURES.value:
        raise too_many(len(found))
    links = sum(1 for _ in tree.iter("NetworkLink"))
    doubts: tuple[Unusable, ...] = ()
    if links:
        one = "a link to another file, which is not followed"
        what = one if links == 1 else f"{links} links to other files, which are not followed"
        doubts = (
            Unusable(what, "a file that contains everything it displays", "save the linked content in this file"),
        )
    return Drawing(tuple(_drawn(element, folder) for element, folder in found), doubts=doubts)


def _placemarks(parent: Element, folder: str) -> Iterator[tuple[Element, str]]:
    """Yield each placemark with the name of its innermost folder."""
    for child in parent:
        if child.tag == "Placemark":
            yield child, folder
        elif child.tag in _FOLDERS:
            yield from _placemarks(child, text_of(child, "name") or folder)


def _drawn(placemark: Element, folder: str) -> Drawn:
    properties = _properties(placemark)
    shape = next((child for child in placemark if child.tag in _SHAPES), None)
    if shape is None:
        fault = Unusable("a placemark without a shape", ", ".join(_SHAPES), "draw it, or omit it")
        return Drawn(None, properties, folder, fault)
    try:
        return Drawn(together(list(_parts(shape))), properties, folder)
    except Unusable as fault:
        return Drawn(None, properties, folder, fault)


def _properties(placemark: Element) -> dict[str, str]:
    """Return what a placemark says of itself: name, description, and its data, typed by a schema or not."""
    found = {name: text_of(placemark, name) for name in ("name", "description")}
    for extended in placemark.findall("ExtendedData"):
        found |= {one.get("name", ""): text_of(one, "value") for one in extended.findall("Data")}
        for data in extended.findall("SchemaData"):
            found |= {one.get("name", ""): (one.text or "").strip() for one in data.findall("SimpleData")}
    return {name: text for name, text in found.items() if name and text}


def _parts(shape: Element) -> Iterator[BaseGeometry]:
    if shape.tag == "MultiGeometry":
        for child in shape:
            if child.tag in _SHAPES:
                yield from _parts(child)
    elif shape.tag == "Polygon":
        rings = [*shape.findall("outerBoundaryIs/LinearRing"), *shape.findall("innerBoundaryIs/LinearRing")]
        yield polygon_of([_places(ring) for ring in rings])
    elif shape.tag == "LinearRing":
        yield polygon_of([_places(shape)])
    else:
        yield (point_of if shape.tag == "Point" else line_of)(_places(shape))


def _places(element: Element) -> Places:
    """Return coordinates, longitude and latitude; heights are left out."""
    try:
        rows = [[number(one) for one in place.split(",")[:2]] for place in text_of(element, "coordinates").split()]
        return np.array(rows, dtype=float).reshape(len(rows), 2)
    except ValueError as error:
        raise unreadable(str(error)) from error
