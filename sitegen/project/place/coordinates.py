"""Coordinate systems by their codes, and what PROJ does between two of them.

Nothing is fetched: grids that PROJ would have to download are not used.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache

import numpy as np
import pyproj
from numpy.typing import NDArray
from pyproj.exceptions import CRSError, ProjError

from sitegen.voice import worded

WGS84 = "EPSG:4326"
_NO_PART = "axis order change (2D)"
"""What PROJ names beside every geographic system; it moves nothing."""


@lru_cache(maxsize=16)
def crs(name: str) -> pyproj.CRS | None:
    """Return the CRS called ``name`` (such as ``EPSG:32614``), None if there is no such CRS."""
    try:
        return pyproj.CRS.from_user_input(name)
    except CRSError:
        return None


@lru_cache(maxsize=16)
def transformer(source: str, target: str) -> pyproj.Transformer:
    """Return PROJ's transformer between two systems, x before y on both sides."""
    return pyproj.Transformer.from_crs(source, target, always_xy=True)


def transform(
    source: str, target: str, x: NDArray[np.float64], y: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Transform coordinates, x before y (longitude before latitude) on both sides.

    >>> e, n = transform("EPSG:4326", "EPSG:32632", np.array([12.0]), np.array([56.0]))
    >>> round(float(e[0]), 2), round(float(n[0]), 2)
    (687071.44, 6210141.33)
    """
    if source == target:
        return x, y
    out_x, out_y = transformer(source, target).transform(x, y)
    return np.asarray(out_x), np.asarray(out_y)


def operations(source: str, target: str, places: Iterable[tuple[float, float]]) -> tuple[tuple[str, float | None], ...]:
    """Return what PROJ does from one system to another at the corners of some places (x before y).

    Each operation stands with the accuracy in metres that PROJ states for it, None where it states none.

    >>> operations("EPSG:4326", "EPSG:32632", [(12.0, 56.0)])
    (('UTM zone 32N', 0.0),)
    """
    stated: dict[tuple[str, float | None], None] = {}
    x, y = np.array(list(places), dtype=float).T
    for corner in {(float(a), float(b)) for a in (x.min(), x.max()) for b in (y.min(), y.max())}:
        used = transformer(source, target)
        used.transform(*corner)
        try:
            operation = used.get_last_used_operation()
        except ProjError:  # PROJ names none, as for places that it can't transform
            continue
        parts = [part for part in operation.description.split(" + ") if part != _NO_PART]
        stated[" + ".join(parts), float(operation.accuracy) if operation.accuracy >= 0 else None] = None
    return tuple(sorted(stated, key=str))


def operation_words(source: str, target: str, places: Iterable[tuple[float, float]]) -> str:
    """Say by which operations places are transformed, with their stated accuracy.

    >>> operation_words("EPSG:4326", "EPSG:32632", [(12.0, 56.0)])
    'UTM zone 32N (stated accuracy 0 m)'
    """
    said = [
        worded("{name} (no stated accuracy)", name=name)
        if accuracy is None
        else worded("{name} (stated accuracy {accuracy:g} m)", name=name, accuracy=accuracy)
        for name, accuracy in operations(source, target, places)
    ]
    return "; ".join(said) or worded("an operation without a name in PROJ")
