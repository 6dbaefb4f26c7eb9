"""The geometry of a GeoPackage: its header (OGC 12-128r18, 2.1.3), then well-known binary (ISO 13249-3).

It is read here, piece by piece and each kind of part only where it may stand: a library that reads
parts within parts without end is led by a few bytes to run out of stack.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass

import numpy as np
from shapely.geometry.base import BaseGeometry

from sitegen.project import limits
from sitegen.project.place.drawn import Unusable, unreadable
from sitegen.project.place.parts import Places, line_of, point_of, polygon_of, together

_ENVELOPES = {0: 0, 1: 32, 2: 48, 3: 48, 4: 64}
_POINT, _LINE, _POLYGON = 1, 2, 3
_PARTS_OF = {4: _POINT, 5: _LINE, 6: _POLYGON}


def read_blob(blob: bytes) -> BaseGeometry:
    r"""Return the shape of a geometry column's cell. Raises Unusable where there is none.

    >>> read_blob(b"GP\x00\x01" + bytes(4) + struct.pack("<BIdd", 1, 1, 12.0, 56.0)).wkt
    'POINT (12 56)'
    """
    if blob[:2] != b"GP" or len(blob) < 8:
        raise unreadable("not a GeoPackage geometry")
    flags = blob[3]
    envelope = _ENVELOPES.get(flags >> 1 & 7)
    if envelope is None or flags & 0x20:
        raise unreadable("an unknown header")
    if flags & 0x10:
        raise Unusable("an empty shape", "points, lines or polygons", "draw it, or omit it")
    try:
        return together(_Binary(blob, 8 + envelope).shape())
    except (struct.error, ValueError) as error:
        raise unreadable("it ends too early") from error


@dataclass
class _Binary:
    """Well-known binary, read from a place on."""

    content: bytes
    at: int

    def shape(self) -> list[BaseGeometry]:
        """Return the parts of the shape."""
        order, kind, width = self._head()
        inner = _PARTS_OF.get(kind)
        if inner is None:
            return [self._one(kind, order, width)]
        parts = []
        for _ in range(self._count(order, limits.SHAPE_PARTS)):
            part_order, part, part_width = self._head()
            if part != inner:
                raise unreadable("a part of a different kind")
            parts.append(self._one(part, part_order, part_width))
        return parts

    def _one(self, kind: int, order: str, width: int) -> BaseGeometry:
        if kind == _POINT:
            return point_of(self._places(1, order, width))
        if kind == _LINE:
            return line_of(self._run(order, width))
        if kind == _POLYGON:
            return polygon_of([self._run(order, width) for _ in range(self._count(order, limits.SHAPE_PARTS))])
        do = "make each shape a separate feature with straight lines"
        raise Unusable("a curve, or a collection of shapes", "points, lines or polygons", do)

    def _head(self) -> tuple[str, int, int]:
        """Return byte order, kind and numbers per place of the geometry that begins here."""
        order = "<" if self.content[self.at : self.at + 1] == b"\x01" else ">"
        (code,) = struct.unpack_from(f"{order}I", self.content, self.at + 1)
        self.at += 5
        extra = {0: 0, 1: 1, 2: 1, 3: 2}.get(code // 1000)
        if extra is None:
            raise unreadable("an unknown kind of geometry")
        return order, code % 1000, 2 + extra

    def _count(self, order: str, bound: limits.Bound) -> int:
        (count,) = struct.unpack_from(f"{order}I", self.content, self.at)
        self.at += 4
        if count > bound.value:
            raise Unusable(f"{count:,} {bound.unit}", bound.at_most, "simplify the shape or divide it")
        return int(count)

    def _run(self, order: str, width: int) -> Places:
        return self._places(self._count(order, limits.SHAPE_VERTICES), order, width)

    def _places(self, count: int, order: str, width: int) -> Places:
        """Return the next places, of which heights and measures are left out."""
        numbers = np.frombuffer(self.content, f"{order}f8", count * width, self.at)
        self.at += 8 * count * width
        return numbers.reshape(count, width)[:, :2].astype(float)
