"""Relations between compounds at a point: shares by amount of substance, and of fuels by mass.

All of it is indicative: samplers take up compounds at different rates, and what a sampler
holds is no soil-gas composition. A non-detect lies between nothing and its limit, so each
share has a least and a largest value that these amounts allow; both are shown.

These bounds are not two scenarios: with two non-detects, "all nothing" and "all at the limit"
may both lie inside the range, so each non-detect is taken at the end that matters.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple, TypeAlias

import pandas as pd
from shapely.geometry import Point as Dot
from shapely.geometry.base import BaseGeometry

from sitegen.compute.place.points import Point
from sitegen.project.schema import SOIL_MEDIA
from sitegen.project.survey import rows as typed
from sitegen.units import MASS_UNITS

CHLORINES: Mapping[str, int] = {"127-18-4": 4, "79-01-6": 3, "156-59-2": 2, "75-01-4": 1}
"""The four ethenes of the sequence by CAS number: PCE, TCE, cis-1,2-DCE, vinyl chloride."""

CIS_DCE = "156-59-2"
TOTAL_DCE = (CIS_DCE, "156-60-5", "75-35-4")
FUELS = ("71-43-2", "108-88-3", "100-41-4", "108-38-3", "106-42-3", "179601-23-1", "1330-20-7", "95-47-6")
"""Benzene, toluene, ethylbenzene and the xylenes, apart or together, by CAS number."""


@dataclass(frozen=True, slots=True)
class Share:
    """The least and the largest value of a share (in %) that non-detects allow; None where there is none."""

    low: float | None
    high: float | None


NO_SHARE = Share(None, None)
Box: TypeAlias = tuple[tuple[float, float], ...]
"""The least and the most of several amounts."""


@dataclass(frozen=True, slots=True)
class Makeup:
    """What a point's sampler holds, as shares; ``shares`` runs as ``analyte_ids`` of the relation.

    ``amounts`` are the least and the most of each compound in nmol (fuels: in ng);
    ``detected`` says which were detected; ``chlorine`` bounds the mean number of chlorine
    atoms (not a percentage), empty for fuels.
    """

    location_id: str
    amounts: Box
    shares: tuple[Share, ...]
    detected: tuple[bool, ...]
    chlorine: Share = NO_SHARE
    cis: Share = NO_SHARE

    @property
    def of_detections(self) -> tuple[float, ...]:
        """The shares in % among the detections alone, which add up to 100."""
        return percent_shares([least for least, _ in self.amounts]) or ()


@dataclass(frozen=True, slots=True)
class Relation:
    """One family of compounds over the points where at least one of it was detected.

    ``unweighed`` are compounds of the family with results that could not take part, for no molar
    mass is on record.
    """

    analyte_ids: tuple[str, ...]
    makeups: tuple[Makeup, ...]
    unweighed: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Along:
    """A point beside the flow line: how far along it, and how far off it, both in m."""

    location_id: str
    along_m: float
    off_m: float


def percent_shares(amounts: Sequence[float]) -> tuple[float, ...] | None:
    """Return each amount as a percentage of their sum; None where the sum is zero.

    >>> percent_shares([1.0, 3.0])
    (25.0, 75.0)
    """
    total = math.fsum(amounts)
    return tuple(100.0 * amount / total for amount in amounts) if total > 0 else None


def mean_chlorine(moles: Sequence[float], atoms: Sequence[int]) -> float | None:
    """Return the mean number of chlorine atoms per molecule, Σ nᵢ xᵢ / Σ xᵢ.

    >>> mean_chlorine([1.0, 1.0], [4, 2])
    3.0
    """
    total = math.fsum(moles)
    return math.fsum(n * x for n, x in zip(atoms, moles, strict=True)) / total if total > 0 else None


def share_bounds(amounts: Box) -> tuple[Share, ...]:
    """Return the least and the largest percentage of each amount.

    A share rises with its own amount and falls with every other, so it is least with its
    own at the least and the others at the most, and largest the other way round.

    >>> share_bounds(((60.0, 60.0), (0.0, 20.0), (0.0, 20.0)))[:2]
    (Share(low=60.0, high=100.0), Share(low=0.0, high=25.0))
    """
    least, most = zip(*amounts, strict=True)
    return tuple(Share(_percent(low, most, at), _percent(high, least, at)) for at, (low, high) in enumerate(amounts))


def _percent(own: float, amounts: Sequence[float], at: int) -> float:
    """Return an amount as a percentage of itself and the amounts elsewhere."""
    return 100.0 * own / (own + math.fsum(amounts[:at]) + math.fsum(amounts[at + 1 :])) if own else 0.0


def chlorine_bounds(amounts: Box, atoms: Sequence[int]) -> Share:
    """Return the least and the largest mean number of chlorine atoms.

    The mean is a quotient of linear functions and so monotone in each amount: its extremes
    lie where each non-detect is at one end or the other, and all such corners are tried.
    Raises ValueError where every amount is nothing.

    >>> chlorine_bounds(((10.0, 10.0), (0.0, 10.0), (0.0, 10.0)), (3, 4, 1))
    Share(low=2.0, high=3.5)
    """
    corners = itertools.product(*(dict.fromkeys(ends) for ends in amounts))
    means = [mean for corner in corners if (mean := mean_chlorine(corner, atoms)) is not None]
    return Share(min(means), max(means))


def ethenes(rows: pd.DataFrame, cas: Mapping[str, str], molar: Mapping[str, float]) -> Relation:
    """Return molar shares of the chlorinated ethenes, mean chlorine number and cis share.

    ``rows`` are primary results at soil points in one mass unit; ``cas`` and ``molar`` (g/mol) go by
    analyte id. A point is given where each of the compounds on the list has a result and
    one at least was detected; compounds without a molar mass are named and left out.
    """
    listed = _in_order(cas, CHLORINES, molar)
    dce = _in_order(cas, TOTAL_DCE, molar)
    atoms = [CHLORINES[cas[name]] for name in listed]
    measured = set(rows["analyte_id"])
    family = [name for name in cas if cas[name] in (*CHLORINES, *TOTAL_DCE) and name in measured]
    unweighed = tuple(name for name in family if not molar.get(name, 0.0) > 0)
    makeups = []
    for location_id, row in _points(rows, {*listed, *dce}).items():
        if not _complete(row, listed):
            continue
        amounts = _amounts(row, listed, molar)
        chlorine, cis = chlorine_bounds(amounts, atoms), _cis(row, dce, cas, molar)
        makeups.append(replace(_makeup(location_id, row, listed, amounts), chlorine=chlorine, cis=cis))
    return Relation(listed, tuple(makeups), unweighed)


def fuels(rows: pd.DataFrame, cas: Mapping[str, str]) -> Relation:
    """Return mass shares of benzene, toluene, ethylbenzene and xylenes, point by point."""
    listed = tuple(sorted((n for n in cas if cas[n] in FUELS), key=lambda n: FUELS.index(cas[n])))
    one = dict.fromkeys(listed, 1.0)
    makeups = (
        _makeup(location_id, row, listed, _amounts(row, listed, one))
        for location_id, row in _points(rows, set(listed)).items()
        if _complete(row, listed)
    )
    return Relation(listed, tuple(makeups))


def along_line(line: BaseGeometry, points: Iterable[Point], reach_m: float) -> tuple[Along, ...]:
    """Return the soil points within ``reach_m`` of a line, in order along it.

    ``line`` is a shapely line in the map CRS; distances are in map units (m). A point
    before the first or beyond the last vertex counts from that vertex.
    """
    beside = []
    for point in points:
        if point.medium not in SOIL_MEDIA:
            continue
        dot = Dot(point.x, point.y)
        off = float(line.distance(dot))
        if off <= reach_m:
            beside.append(Along(point.location_id, float(line.project(dot)), off))
    return tuple(sorted(beside, key=lambda item: (item.along_m, item.location_id)))


def _in_order(cas: Mapping[str, str], wanted: Iterable[str], molar: Mapping[str, float]) -> tuple[str, ...]:
    order = list(wanted)
    known = [name for name, number in cas.items() if number in order and molar.get(name, 0.0) > 0]
    return tuple(sorted(known, key=lambda name: order.index(cas[name])))


class _Mass(NamedTuple):
    """A mass: a detection's value, else the limit."""

    location_id: str
    analyte_id: str
    detected: bool
    value: float
    rl: float


_ByCompound: TypeAlias = Mapping[str, _Mass]


def _points(rows: pd.DataFrame, wanted: set[str]) -> dict[str, dict[str, _Mass]]:
    kept = rows[rows["analyte_id"].isin(wanted) & rows["unit"].isin(MASS_UNITS) & ~rows["rejected"]]
    points: dict[str, dict[str, _Mass]] = {}
    for row in typed(kept, _Mass):
        points.setdefault(row.location_id, {}).setdefault(row.analyte_id, row)
    return dict(sorted(points.items()))


def _complete(row: _ByCompound, listed: Sequence[str]) -> bool:
    known = all(name in row and (row[name].detected or row[name].rl > 0) for name in listed)
    return len(listed) > 1 and known and any(row[name].detected for name in listed)


def _amounts(row: _ByCompound, listed: Sequence[str], molar: Mapping[str, float]) -> Box:
    """Return the least and the most of each amount in nmol: a non-detect lies between nothing and its limit."""
    weighed = ((row[name], molar[name]) for name in listed)
    return tuple(
        (one.value / weight, one.value / weight) if one.detected else (0.0, one.rl / weight) for one, weight in weighed
    )


def _makeup(location_id: str, row: _ByCompound, listed: Sequence[str], amounts: Box) -> Makeup:
    return Makeup(
        location_id,
        amounts,
        share_bounds(amounts),
        tuple(row[name].detected for name in listed),
    )


def _cis(
    row: _ByCompound,
    dce: Sequence[str],
    cas: Mapping[str, str],
    molar: Mapping[str, float],
) -> Share:
    """Return the cis share of total DCE, by moles (the isomers weigh the same)."""
    if not _complete(row, dce) or cas[dce[0]] != CIS_DCE:
        return NO_SHARE
    return share_bounds(_amounts(row, dce, molar))[0]
