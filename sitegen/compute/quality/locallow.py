"""Points that stand out from their neighbours: far too low, or off by a factor of units.

A local low may be true ground, a wet vial or a hole that leaked: the detector asks, and
the record and the field notes answer. A unit slip is a value about a thousand times its
neighbours', as when µg were written as ng.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from sitegen.compute.limits import LimitRecord
from sitegen.compute.marks import Marks
from sitegen.compute.place.points import Point
from sitegen.project.schema import SOIL_MEDIA, Origin
from sitegen.project.survey import rows as typed
from sitegen.units import MASS_UNITS

NEIGHBOURS = 3
LEAST_COMPOUNDS = 2
LEAST_BESIDE = 2
NEAR_RATIO = 0.5
"""A slip shows as about the ratio of two units: from half of it to twice."""


@dataclass(frozen=True, slots=True)
class LowCompound:
    """A compound far below its surroundings: this point's value or limit, and the lowest neighbour's."""

    analyte_id: str
    at_most_ng: float
    detected: bool
    lowest_neighbour_ng: float


@dataclass(frozen=True, slots=True)
class LocalLow:
    """A point that is low in at least two compounds, with the neighbours it is low against.

    ``marked`` tells whether the sampler carries a mark that may explain it.
    """

    location_id: str
    sampler_id: str
    neighbours: tuple[str, ...]
    compounds: tuple[LowCompound, ...]
    marked: bool


@dataclass(frozen=True, slots=True)
class Lows:
    """The points found low, and how many could be compared with their neighbours at all.

    A point can be compared where it and three unmarked neighbours, all with a position, have
    results of at least two compounds in common.
    """

    compared: int
    points: tuple[LocalLow, ...]


@dataclass(frozen=True, slots=True)
class UnitSlip:
    """A value in ``unit``, about ``ratio`` times its neighbours' highest, or (below 1) their lowest."""

    location_id: str
    sampler_id: str
    lab_sample_id: str
    analyte_id: str
    value: float
    unit: str
    ratio: float
    origin: Origin


class _Grid(NamedTuple):
    """Soil results by point (rows) and compound (columns, in order of their ids).

    ``masses`` holds a non-detect's limit, NaN where there is no result; ``high`` are detections
    of at least the multiple of their limit that a neighbour must have.
    """

    points: Mapping[str, int]
    samplers: Mapping[str, str]
    compounds: tuple[str, ...]
    masses: NDArray[np.float64]
    detected: NDArray[np.bool_]
    high: NDArray[np.bool_]


class _Suspect(NamedTuple):
    """A detection that may be a slip."""

    location_id: str
    sampler_id: str
    lab_sample_id: str
    analyte_id: str
    value: float
    unit: str
    origin: Origin


def local_lows(
    primary: pd.DataFrame, points: tuple[Point, ...], marks: Marks, in_force: Mapping[str, LimitRecord]
) -> Lows:
    """Find the points far below all of their nearest unmarked neighbours, in file order of points.

    For at least two compounds each of the three nearest neighbours without a mark of
    its sampler holds at least ``local_low_rl_multiple`` × RL, and this point holds less
    than ``local_low_share`` of the lowest of them. A non-detect counts by its limit.
    """
    grid = _grid(primary, in_force["local_low_rl_multiple"].value)
    soil = tuple(p for p in points if p.location_id in grid.points)
    sound = tuple(p for p in soil if marks.unmarked(grid.samplers[p.location_id]))
    names = frozenset(p.location_id for p in sound)
    places = np.array([(p.x, p.y) for p in sound]).reshape(-1, 2)
    ids = tuple(p.location_id for p in sound)
    beside = {p.location_id: _nearest(p, places, ids) for p in soil}
    compared = {name: around for name, around in beside.items() if _comparable(grid, name, around)}
    share = in_force["local_low_share"].value
    lows = []
    for name, around in compared.items():
        low = tuple(_lows(grid, name, around, share))
        if len(low) >= LEAST_COMPOUNDS:
            lows.append(LocalLow(name, grid.samplers[name], around, low, name not in names))
    return Lows(len(compared), tuple(lows))


def unit_slips(
    primary: pd.DataFrame, points: tuple[Point, ...], in_force: Mapping[str, LimitRecord]
) -> tuple[UnitSlip, ...]:
    """Find detections about ``unit_slip_ratio`` times those of their nearest neighbours, or one over it.

    At least two of the three nearest points must have detected the compound in the same
    unit. Upwards the ratio is to the highest of them, downwards to the lowest. Points in
    soil are measured against soil, points in air against air.
    """
    wanted = in_force["unit_slip_ratio"].value
    detected = primary[primary["detected"]]
    soil = detected["medium"].isin(SOIL_MEDIA)
    return tuple(
        slip
        for is_soil in (True, False)
        for slip in _slips(
            detected[soil == is_soil], [p for p in points if (p.medium in SOIL_MEDIA) == is_soil], wanted
        )
    )


def _slips(rows: pd.DataFrame, points: Sequence[Point], wanted: float) -> Iterator[UnitSlip]:
    suspects = _suspects(rows, wanted)
    places = np.array([(p.x, p.y) for p in points]).reshape(-1, 2)
    ids = tuple(p.location_id for p in points)
    named = set(suspects["location_id"])
    near = {p.location_id: _nearest(p, places, ids) for p in points if p.location_id in named}
    beside_any = rows["location_id"].isin({name for names in near.values() for name in names})
    known = rows[beside_any & rows["analyte_id"].isin(suspects["analyte_id"].unique())]
    keys = zip(known["location_id"], known["analyte_id"], known["unit"], strict=True)
    values = dict(zip(keys, known["value"], strict=True))
    for row in typed(suspects, _Suspect):
        beside = [values.get((name, row.analyte_id, row.unit)) for name in near.get(row.location_id, ())]
        slip = _slip(row, [value for value in beside if value is not None], wanted)
        if slip:
            yield slip


def _suspects(rows: pd.DataFrame, wanted: float) -> pd.DataFrame:
    """Return the results that can be slips: so far above the compound's lowest, or below its highest."""
    by_compound = rows.groupby("analyte_id")["value"]
    least = NEAR_RATIO * wanted
    high = rows["value"] >= least * by_compound.transform("min")
    return rows[high | (least * rows["value"] <= by_compound.transform("max"))]


def _slip(row: _Suspect, beside: Sequence[float], wanted: float) -> UnitSlip | None:
    if len(beside) < LEAST_BESIDE or min(beside) <= row.value <= max(beside):
        return None
    against = max(beside) if row.value > max(beside) else min(beside)
    ratio = row.value / against
    size = max(ratio, 1 / ratio)
    if not NEAR_RATIO * wanted <= size <= wanted / NEAR_RATIO:
        return None
    return UnitSlip(*row[:-1], ratio, row.origin)


def _nearest(point: Point, places: NDArray[np.float64], ids: tuple[str, ...]) -> tuple[str, ...]:
    """Return the ids of the nearest other points, at most three, nearest first; ties in id order."""
    away = np.hypot(places[:, 0] - point.x, places[:, 1] - point.y).round(6)
    if point.location_id in ids:
        away[ids.index(point.location_id)] = np.inf
    count = min(NEIGHBOURS, int(np.isfinite(away).sum()))
    if not count:
        return ()
    reach = np.partition(away, count - 1)[count - 1]
    ranked = sorted((float(away[i]), ids[i]) for i in np.flatnonzero(away <= reach))
    return tuple(name for _, name in ranked[:count])


def _comparable(grid: _Grid, here: str, around: tuple[str, ...]) -> bool:
    """Tell whether there are enough neighbours, and enough compounds with results here and at each of them."""
    known = ~np.isnan(grid.masses[[grid.points[name] for name in (here, *around)]])
    return len(around) == NEIGHBOURS and int(known.all(axis=0).sum()) >= LEAST_COMPOUNDS


def _lows(grid: _Grid, here: str, around: tuple[str, ...], share: float) -> Iterator[LowCompound]:
    own, beside = grid.points[here], [grid.points[name] for name in around]
    lowest = grid.masses[beside].min(axis=0)
    for at in np.flatnonzero(grid.high[beside].all(axis=0) & (grid.masses[own] < share * lowest)):
        value, detected = float(grid.masses[own, at]), bool(grid.detected[own, at])
        yield LowCompound(grid.compounds[at], value, detected, float(lowest[at]))


def _grid(primary: pd.DataFrame, multiple: float) -> _Grid:
    """Return results by point and compound, and each point's sampler, soil points alone; a first result stands.

    A detection whose reporting limit is missing counts with the compound's highest.
    """
    rows = primary[primary["medium"].isin(SOIL_MEDIA) & primary["unit"].isin(MASS_UNITS) & ~primary["rejected"]]
    first = rows.drop_duplicates(["location_id", "analyte_id"])
    limits = first["rl"].fillna(first.groupby("analyte_id")["rl"].transform("max"))
    row, points = pd.factorize(first["location_id"])
    column, compounds = pd.factorize(first["analyte_id"], sort=True)
    values = np.full((len(points), len(compounds)), np.nan)
    detected, high = np.zeros(values.shape, bool), np.zeros(values.shape, bool)
    values[row, column] = first["value"].where(first["detected"], first["rl"])
    detected[row, column] = first["detected"]
    high[row, column] = first["detected"] & (first["value"] >= multiple * limits)
    of_point = dict(zip(rows["location_id"], rows["sampler_id"], strict=True))
    return _Grid({name: at for at, name in enumerate(points)}, of_point, tuple(compounds), values, detected, high)
