"""Places on plain ground: the nodes of a grid, places along a line, places on a ring. Metres in, metres out."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

Floats: TypeAlias = NDArray[np.float64]
Pattern: TypeAlias = Literal["square", "triangular"]
Side: TypeAlias = Literal["right", "left", "both"]

TRIANGULAR_ROWS = math.sqrt(3) / 2
"""Distance of the rows of a triangular grid over its spacing: the height of an equilateral triangle (geometry)."""

_SLACK = 1e-9
_ARC = 64
"""Edges in a quarter of an arc of a ring around a shape: it is off by a part in ten thousand of its radius at most."""


@dataclass(frozen=True, slots=True)
class Lattice:
    """A regular grid: its pattern, spacing (m), turn clockwise from north (degrees), and a place that it goes through.

    In a square grid each node has four neighbours at the spacing, in a triangular one six.
    """

    pattern: Pattern
    spacing_m: float
    rotation_deg: float = 0.0
    origin: tuple[float, float] = (0.0, 0.0)

    @property
    def row_m(self) -> float:
        """Distance between two rows of nodes."""
        return self.spacing_m * (TRIANGULAR_ROWS if self.pattern == "triangular" else 1.0)

    @property
    def cell_m2(self) -> float:
        """Ground for each node.

        >>> Lattice("square", 20.0).cell_m2, round(Lattice("triangular", 20.0).cell_m2, 2)
        (400.0, 346.41)
        """
        return self.spacing_m * self.row_m

    def nodes_around(self, box: tuple[float, float, float, float]) -> float:
        """Return how many nodes are looked at to find those in a box (west, south, east, north)."""
        columns, rows = self._ranges(box)
        return max(columns[1] - columns[0], 0.0) * max(rows[1] - rows[0], 0.0)

    def nodes(self, box: tuple[float, float, float, float]) -> Floats:
        """Return the nodes in a box, edges included, row by row from the first row on.

        >>> Lattice("square", 10.0).nodes((0, 0, 10, 10)).tolist()
        [[0.0, 0.0], [10.0, 0.0], [0.0, 10.0], [10.0, 10.0]]
        """
        (first, last), (bottom, top) = self._ranges(box)
        column, row = np.meshgrid(np.arange(first, last), np.arange(bottom, top))
        shift = np.where(row % 2, 0.5, 0.0) if self.pattern == "triangular" else 0.0
        along, across = ((column + shift) * self.spacing_m).ravel(), (row * self.row_m).ravel()
        xy = np.column_stack([along, across]) @ self._axes() + self.origin
        west, south, east, north = box
        reach = _SLACK * max(1.0, *map(abs, box))
        inside = (xy[:, 0] >= west - reach) & (xy[:, 0] <= east + reach)
        return np.asarray(xy[inside & (xy[:, 1] >= south - reach) & (xy[:, 1] <= north + reach)])

    def _axes(self) -> Floats:
        """Return the directions of a row and across the rows, as rows of a matrix."""
        turn = math.radians(self.rotation_deg)
        sine, cosine = math.sin(turn), math.cos(turn)
        return np.array([[cosine, -sine], [sine, cosine]])

    def _ranges(self, box: tuple[float, float, float, float]) -> tuple[tuple[float, float], tuple[float, float]]:
        """Return the columns and the rows, first and one past the last, whose nodes may lie in a box."""
        west, south, east, north = box
        corners = np.array([(west, south), (west, north), (east, south), (east, north)]) - self.origin
        places = corners @ self._axes().T / (self.spacing_m, self.row_m)
        low, high = np.floor(places.min(axis=0)) - 1, np.ceil(places.max(axis=0)) + 2
        return (float(low[0]), float(high[0])), (float(low[1]), float(high[1]))


def along(line: BaseGeometry, spacing_m: float, offset_m: float = 0.0, side: Side = "right") -> Floats:
    """Return places along a line, from its first vertex on, moved to a side of it; each part of several by itself.

    The side is that on the way from the first vertex to the last. With ``both`` each place is followed by the one
    across the line.

    >>> along(shapely.LineString([(0, 0), (0, 25)]), 10.0, 2.0).tolist()
    [[2.0, 0.0], [2.0, 10.0], [2.0, 20.0]]
    """
    parts = [_along(part, spacing_m, offset_m, side) for part in shapely.get_parts(line)]
    return np.concatenate([part for part in parts if len(part)] or [np.empty((0, 2))])


def _along(line: BaseGeometry, spacing_m: float, offset_m: float, side: Side) -> Floats:
    vertices = shapely.get_coordinates(line)
    steps = np.diff(vertices, axis=0)
    lengths = np.hypot(steps[:, 0], steps[:, 1])
    vertices, steps, lengths = vertices[:-1][lengths > 0], steps[lengths > 0], lengths[lengths > 0]
    if not len(lengths):
        return np.empty((0, 2))
    begins = np.concatenate([[0.0], np.cumsum(lengths)[:-1]])
    chainage = np.arange(math.floor(float(lengths.sum()) / spacing_m + _SLACK) + 1) * spacing_m
    at = np.searchsorted(begins, chainage, side="right") - 1
    ways = steps[at] / lengths[at, None]
    places = vertices[at] + ways * (chainage - begins[at])[:, None]
    right = np.column_stack([ways[:, 1], -ways[:, 0]]) * offset_m
    if side == "both" and offset_m:
        return np.asarray(np.stack([places + right, places - right], axis=1).reshape(-1, 2))
    return np.asarray(places - right if side == "left" else places + right)


def ring(shape: BaseGeometry, distance_m: float, count: int) -> Floats:
    """Return places at a distance from a shape, evenly spaced, clockwise from north.

    Around a place they lie on a circle; else on the line at that distance from the shape's edge. Around a shape
    of several parts they surround all of them.

    >>> ring(shapely.Point(0, 0), 5.0, 4).round(6).tolist()
    [[0.0, 5.0], [5.0, 0.0], [0.0, -5.0], [-5.0, -0.0]]
    """
    if shape.geom_type == "Point":
        turns = np.arange(count) * (2 * math.pi / count)
        middle = shapely.get_coordinates(shape)[0]
        return np.asarray(middle + distance_m * np.column_stack([np.sin(turns), np.cos(turns)]))
    whole = shape.convex_hull if len(shapely.get_parts(shape)) > 1 else shape
    outline = shapely.get_exterior_ring(shapely.orient_polygons(shapely.buffer(whole, distance_m, quad_segs=_ARC)))
    way = shapely.reverse(outline)  # oriented rings run against the clock
    middle_x, top = float(shapely.get_coordinates(whole.centroid)[0, 0]), float(shape.bounds[3]) + 2 * distance_m
    begin = shapely.line_locate_point(way, _northward(way, middle_x, top))
    at = (begin + np.arange(count) * (way.length / count)) % way.length
    return np.asarray(shapely.get_coordinates(shapely.line_interpolate_point(way, at)))


def _northward(way: BaseGeometry, x: float, top: float) -> shapely.Point:
    """Return where a ring lies furthest north on the meridian of its middle."""
    bottom = float(way.bounds[1]) - 1.0
    met = shapely.get_coordinates(shapely.intersection(way, shapely.LineString([(x, bottom), (x, top)])))
    return shapely.Point(x, float(met[:, 1].max()))
