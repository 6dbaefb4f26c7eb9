"""Hostile GeoJSON: shapes and properties that ask for endless work, or are none."""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Iterator
from typing import Any

from builders import changed
from hostile_case import Answer, Hostile, Maker, Place, edited, heavy, late

FILE = "locations/features.geojson"
WEST, SOUTH = -99.3675, 43.0825
"""A corner of the example's site."""
Json = Any


def _at(x: float, y: float) -> list[float]:
    """Return a position so many thousandths of a degree from the site's corner."""
    return [WEST + x / 1000, SOUTH + y / 1000]


def feature(geometry: Json, **properties: Json) -> Json:
    """Return a feature."""
    return {
        "type": "Feature",
        "properties": {"kind": "other", "name": "x", "public": "yes"} | properties,
        "geometry": geometry,
    }


def _shape(kind: str, coordinates: Json) -> Json:
    return feature({"type": kind, "coordinates": coordinates})


def star(count: int) -> Json:
    """Return a star whose every edge crosses nearly every other."""
    turn = 2 * math.pi * (count // 2) / count
    ring = [_at(math.cos(at * turn), math.sin(at * turn)) for at in range(count)]
    return _shape("Polygon", [[*ring, ring[0]]])


def _line(count: int) -> Json:
    return _shape("LineString", [_at(at / count, at % 2 / 9) for at in range(count)])


def _comb(count: int) -> Json:
    return _shape("LineString", [_at(at % 2, at / count) for at in range(count)])


def _rings(count: int) -> Json:
    square = [_at(0, 0), _at(1, 0), _at(1, 1), _at(0, 1), _at(0, 0)]
    return _shape("Polygon", [square] * count)


def _nested(depth: int) -> Json:
    return '{"type":"GeometryCollection","geometries":[' * depth + "]}" * depth


def _in_feature(geometry: str, properties: str = '{"kind":"other"}') -> bytes:
    whole = '{"type":"FeatureCollection","features":[{"type":"Feature","properties":%s,"geometry":%s}]}'
    return (whole % (properties, geometry)).encode("utf-8", "surrogatepass")


def _property(value: str) -> bytes:
    return _in_feature(
        json.dumps({"type": "Point", "coordinates": _at(0.5, 0.5)}), f'{{"kind":"other","name":{value}}}'
    )


POINT = {"type": "Point", "coordinates": _at(0.5, 0.5)}
UNREADABLE: dict[str, Callable[[], bytes]] = {
    "a number of 5,000 digits": lambda: _property("9" * 5_000),
    "a coordinate of 400 digits": lambda: _in_feature(f'{{"type":"Point","coordinates":[{"9" * 400},1]}}'),
    "a coordinate of 5,000 digits": lambda: _in_feature(f'{{"type":"Point","coordinates":[{"9" * 5_000},1]}}'),
    "a coordinate of 1e400": lambda: _in_feature('{"type":"Point","coordinates":[1e400,1]}'),
    "a coordinate that is no number": lambda: _in_feature('{"type":"Point","coordinates":[NaN,1]}'),
    "a coordinate of infinity": lambda: _in_feature('{"type":"Point","coordinates":[-Infinity,1]}'),
    "a coordinate in words": lambda: _in_feature('{"type":"Point","coordinates":["1","1"]}'),
    "a coordinate of truth": lambda: _in_feature('{"type":"Point","coordinates":[{},[]]}'),
    "no coordinates": lambda: _in_feature('{"type":"Polygon","coordinates":[]}'),
    "an unknown geometry": lambda: _in_feature('{"type":"Curve","coordinates":[[1,1]]}'),
    "a geometry of nothing": lambda: _in_feature("null"),
    "a position on another planet": lambda: _in_feature('{"type":"Point","coordinates":[470000,4770000]}'),
    "a line of one point": lambda: _in_feature('{"type":"LineString","coordinates":[[1,1]]}'),
    "a ring of two points": lambda: _in_feature('{"type":"Polygon","coordinates":[[[1,1],[2,2]]]}'),
    "collections within each other, 10": lambda: _in_feature(_nested(10)),
    "collections within each other, 500": lambda: _in_feature(_nested(500)),
    "collections within each other, 100,000": lambda: _in_feature(_nested(100_000)),
    "lists within each other, 100,000": lambda: b"[" * 100_000,
    "a lone surrogate in a name": lambda: _property('"a\\ud800b"'),
    "a lone surrogate in a key": lambda: _in_feature(json.dumps(POINT), '{"kind":"other","\\udfff":"x"}'),
    "a control character in a name": lambda: _property('"a\\u0000b\\u001b"'),
    "a name of 1 MB": lambda: _property('"' + "n" * 1_000_000 + '"'),
    "a name of 400 digits": lambda: _property("9" * 400),
    "10,000 properties": lambda: _in_feature(
        json.dumps(POINT), json.dumps({"kind": "other"} | {f"p{n}": n for n in range(10_000)})
    ),
    "a property of lists within each other": lambda: _property("[" * 400 + "]" * 400),
    "a kind that is a list": lambda: _in_feature(json.dumps(POINT), '{"kind":["other"]}'),
    "properties that are a list": lambda: _in_feature(json.dumps(POINT), "[1,2]"),
    "features that are none": lambda: b'{"type":"FeatureCollection","features":[1,"a",null,[]]}',
    "features that are a table": lambda: b'{"type":"FeatureCollection","features":{"a":1}}',
    "no collection": lambda: b'{"type":"Feature"}',
    "words": lambda: b"words",
    "a feature without properties": lambda: _in_feature(json.dumps(POINT), "null"),
}  # fmt: skip
SHAPES: dict[str, tuple[Answer, Callable[[], list[Json]]]] = {
    "one bow": (Answer.TOLD, lambda: [_shape("Polygon", [[_at(0, 0), _at(1, 1), _at(1, 0), _at(0, 1), _at(0, 0)]])]),
    "a star of 301": (Answer.REFUSED, lambda: [star(301)]),
    "fifty stars of 51": (Answer.REFUSED, lambda: [star(51) for _ in range(50)]),
    "a ring 300 times in one polygon": (Answer.BOUNDED, lambda: [_rings(300)]),
    "a comb of 3,000": (Answer.BOUNDED, lambda: [_comb(3_000)]),
    "1,000 points": (Answer.BOUNDED, lambda: [feature(POINT) for _ in range(1_000)]),
    "a line around the world": (Answer.BOUNDED, lambda: [_shape("LineString", [[-180, -90], [180, 90]])]),
    "a polygon over the pole": (
        Answer.BOUNDED,
        lambda: [_shape("Polygon", [[[-180, 89], [0, 90], [180, 89], [-180, 89]]])],
    ),
    "positions of one point": (Answer.BOUNDED, lambda: [_shape("LineString", [_at(0, 0)] * 500)]),
    "a polygon without area": (
        Answer.BOUNDED,
        lambda: [_shape("Polygon", [[_at(0, 0), _at(1, 1), _at(0, 0), _at(0, 0)]])],
    ),
    "heights": (Answer.BOUNDED, lambda: [_shape("Point", [*_at(0.5, 0.5), 1e308])]),
    "a height that is a list": (Answer.BOUNDED, lambda: [_shape("Point", [*_at(0.5, 0.5), [1]])]),
    "hostile names": (Answer.BUILT, lambda: [feature(POINT, name=name) for name in _NAMES]),
}
HEAVY: dict[str, Callable[[], list[Json]]] = {
    "a star of 20,001": lambda: [star(20_001)],
    "a line of 200,001": lambda: [_line(200_001)],
    "a comb of 100,000": lambda: [_comb(100_000)],
    "a ring 20,000 times in one polygon": lambda: [_rings(20_000)],
    "a hundred stars of 1,001": lambda: [star(1_001) for _ in range(100)],
}
HEAVY_BOUNDED: dict[str, Callable[[], list[Json]]] = {
    "a line of 19,999": lambda: [_line(19_999)],
    "ten lines of 19,999": lambda: [_line(19_999) for _ in range(10)],
    "20,000 features": lambda: [feature(POINT) for _ in range(20_000)],
    "20,000 wells": lambda: [feature(POINT, kind="well", name=f"W{at}") for at in range(20_000)],
    "5,000 buildings over each other": lambda: [feature(_rings(1)["geometry"], kind="building") for _ in range(5_000)],
    "2,000 boundaries": lambda: [feature(_rings(1)["geometry"], kind="site_boundary") for _ in range(2_000)],
    "one part in 1,999": lambda: [_shape("MultiPoint", [_at(at / 2_000, 0) for at in range(1_999)])],
}
_NAMES = (
    "</script><script>window.ran=1</script>", "<img src=x onerror=window.ran=1>", "=1+1", '#read("/etc/passwd")',
    "{{ 7*7 }}", "\u202etxt", "]]>", "<svg onload=window.ran=1>", "$x$", "a\nb",
)  # fmt: skip


def inputs() -> Iterator[Hostile]:
    """Yield the inputs of this class."""
    told = (Place(FILE),)
    for what, whole in UNREADABLE.items():
        yield Hostile("features", what, edited(late(FILE, whole)), places=told)
    for what, (answer, shapes) in SHAPES.items():
        places = told if answer in (Answer.REFUSED, Answer.TOLD) else ()
        yield Hostile("features", what, _added_by(shapes, small=answer is Answer.BUILT), answer, places)
    for what, shapes in HEAVY.items():
        yield heavy(Hostile("features", what, _added_by(shapes), places=told))
    for what, shapes in HEAVY_BOUNDED.items():
        yield heavy(Hostile("features", what, _added_by(shapes), Answer.BOUNDED))


def _added_by(shapes: Callable[[], list[Json]], *, small: bool = False) -> Maker:
    return edited(late(FILE, lambda: _added(shapes())), small=small)


def _added(shapes: list[Json]) -> bytes:
    whole = json.loads(changed().files[FILE].content)
    whole["features"] += shapes
    return json.dumps(whole).encode()
