"""Site features from zipped shapefiles: places, lines and areas with their attribute tables and systems.

The form is the published one of 1998 (main file, index, dBASE table); the index is not needed. The zip
is bounded and read as any that anybody may have made; nothing is written to disk.
"""

from __future__ import annotations

import io
import struct
import zipfile
from collections.abc import Iterator, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path, PurePosixPath

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from sitegen.findings.problems import WrongUse
from sitegen.project import limits
from sitegen.project.packed import UNREADABLE, Pack
from sitegen.project.place.dbase import codec_of, read_dbase
from sitegen.project.place.drawn import Drawing, Drawn, Unusable, too_many, unreadable
from sitegen.project.place.layers import chosen_layers, one_system
from sitegen.project.place.parts import Places, line_of, point_of, polygon_of, together
from sitegen.project.place.systems import system_of_text

_MAGIC = 9994
_NULL, _POINT, _LINE, _POLYGON, _POINTS = 0, 1, 3, 5, 8
_KINDS = (_POINT, _LINE, _POLYGON, _POINTS)


@dataclass(frozen=True, slots=True)
class _Layer:
    """The files of one shapefile in the zip, by their endings in lower case."""

    name: str
    files: dict[str, str]


def read_shapefiles(content: bytes, layers: Sequence[str], encoding: str, file: str) -> Drawing:
    """Return what the shapefiles of a zip draw. Raises Unusable where one can't be read, or is too large."""
    with ExitStack() as stack:
        try:
            archive = stack.enter_context(zipfile.ZipFile(io.BytesIO(content)))
            if len(archive.infolist()) > limits.FEATURE_PARTS.value:
                raise Unusable("more files than are read", limits.FEATURE_PARTS.at_most, "zip only the shapefiles")
            return _drawing(Pack(Path(file), archive), layers, encoding, file)
        except UNREADABLE as error:
            raise Unusable(f"a zip that cannot be read ({error})", "zipped shapefiles", "zip them again") from error
        except WrongUse as error:
            raise Unusable(f"a zip that is not safe ({error})"[:300], "zipped shapefiles", "zip them again") from error


def _drawing(pack: Pack, wanted: Sequence[str], encoding: str, file: str) -> Drawing:
    there = {layer.name: layer for layer in _layers(pack)}
    chosen = [there[name] for name in chosen_layers(tuple(there), wanted, file)]
    systems = [_system(pack, layer) for layer in chosen]
    features: list[Drawn] = []
    for layer in chosen:
        features += _features(pack, layer, encoding)
        if len(features) > limits.FEATURES.value:
            raise too_many(len(features))
    return Drawing(tuple(features), *one_system(systems))


def _layers(pack: Pack) -> Iterator[_Layer]:
    """Yield the shapefiles, in the order of their names; what a system put beside them is passed over."""
    names = [name for name in pack.names if not any(p.startswith((".", "__")) for p in PurePosixPath(name).parts)]
    for name in names:
        path = PurePosixPath(name)
        if path.suffix.lower() == ".shp":
            beside = {
                PurePosixPath(other).suffix.lower(): other
                for other in names
                if PurePosixPath(other).with_suffix("") == path.with_suffix("")
            }
            yield _Layer(path.stem, beside)


def _read(pack: Pack, layer: _Layer, ending: str, why: str) -> bytes:
    if ending not in layer.files:
        do = f"zip {layer.name}{ending} with it ({why})"
        raise Unusable(f"{layer.name}.shp without its {ending}", f"{layer.name}{ending} in the zip", do)
    return pack.read(layer.files[ending], limits.FEATURES_BYTES.value)


def _system(pack: Pack, layer: _Layer) -> tuple[str, str]:
    text = _read(pack, layer, ".prj", "it states the coordinate system")
    return system_of_text(text.decode("utf-8", "replace"), f"{layer.name}.prj")


def _features(pack: Pack, layer: _Layer, encoding: str) -> Iterator[Drawn]:
    main = _read(pack, layer, ".shp", "it contains the shapes")
    table = _read(pack, layer, ".dbf", "it contains kinds and names")
    stated = pack.read(layer.files[".cpg"]).decode("ascii", "replace") if ".cpg" in layer.files else ""
    rows = read_dbase(table, encoding or codec_of(stated), f"{layer.name}.dbf")
    records = list(_records(main, f"{layer.name}.shp"))
    if len(records) != len(rows):
        found = f"{len(records)} shapes and {len(rows)} rows in {layer.name}"
        raise Unusable(found, "one row per shape", "export it again")
    for record, row in zip(records, rows, strict=True):
        if row is None:
            continue
        try:
            yield Drawn(_shape(record), row, layer.name)
        except Unusable as fault:
            yield Drawn(None, row, layer.name, fault)
        except (struct.error, ValueError):
            yield Drawn(None, row, layer.name, unreadable("it ends too early"))


def _records(content: bytes, file: str) -> Iterator[bytes]:
    """Yield the content of each record."""
    if len(content) < 100 or struct.unpack_from(">I", content)[0] != _MAGIC:
        raise Unusable(f"{file} that is not a shapefile", "a shapefile", "export it again")
    at, count = 100, 0
    while at + 8 <= len(content):
        count += 1
        if count > limits.FEATURES.value:
            raise too_many(count)
        (words,) = struct.unpack_from(">I", content, at + 4)
        if at + 8 + 2 * words > len(content):
            raise Unusable(f"{file} that ends too early", "a complete shapefile", "export it again")
        yield content[at + 8 : at + 8 + 2 * words]
        at += 8 + 2 * words


def _shape(record: bytes) -> BaseGeometry:
    (code,) = struct.unpack_from("<I", record)
    kind = code % 10 if code < 30 else -1  # 11 and 21 are a point with a height, with a measure, and so on
    if kind == _NULL:
        raise Unusable("a row without a shape", "points, lines or polygons", "draw it, or omit it")
    if kind not in _KINDS:
        raise Unusable(f"a shape of the type {code}", "points, lines or polygons", "export it as one of these")
    if kind == _POINT:
        return point_of(_places(record, 4, 1))
    if kind == _POINTS:
        (count,) = struct.unpack_from("<I", record, 36)
        return together([point_of(place[np.newaxis]) for place in _places(record, 40, count)])
    runs = _runs(record)
    return together([line_of(run) for run in runs]) if kind == _LINE else _areas(runs)


def _places(record: bytes, at: int, count: int) -> Places:
    if count > limits.SHAPE_VERTICES.value:
        most = limits.SHAPE_VERTICES
        raise Unusable(f"{count:,} {most.unit}", most.at_most, "simplify the shape or divide it")
    return np.frombuffer(record, "<f8", 2 * count, at).reshape(count, 2).astype(float)


def _runs(record: bytes) -> list[Places]:
    """Return the lines or rings of a record."""
    parts, count = struct.unpack_from("<II", record, 36)
    if parts > limits.SHAPE_PARTS.value:
        most = limits.SHAPE_PARTS
        raise Unusable(f"{parts:,} {most.unit}", most.at_most, "simplify the shape or divide it")
    starts = [*struct.unpack_from(f"<{parts}I", record, 44), count]
    places = _places(record, 44 + 4 * parts, count)
    if starts != sorted(starts):
        raise unreadable("its parts are out of order")
    return [places[start:end] for start, end in pairwise(starts)]


def _areas(rings: Sequence[Places]) -> BaseGeometry:
    """Return the polygons of rings: outer ones run clockwise, holes the other way round.

    A hole is that of the smallest outer ring around it.
    """
    areas = [polygon_of([ring]) for ring in rings]
    outer = [at for at, ring in enumerate(rings) if not shapely.is_ccw(shapely.linearrings(ring))] or [0]
    holes: dict[int, list[Places]] = {at: [] for at in outer}
    for at, ring in enumerate(rings):
        if at in holes:
            continue
        place = shapely.Point(ring[0])
        around = [other for other in outer if areas[other].intersects(place)]
        if not around:
            raise unreadable("a hole outside every area")
        holes[min(around, key=lambda other: float(areas[other].area))].append(ring)
    return together([polygon_of([rings[at], *inner]) for at, inner in holes.items()])
