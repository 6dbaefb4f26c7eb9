"""Relations between compounds at a point: shares by amount of substance, and of fuels by mass.

All of it is indicative: samplers take up compounds at different rates, and what a sampler
holds is no soil-gas composition. Non-detects enter twice, as nothing and as their limit;
the truth of what was held lies between, so both are shown where they differ.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import pandas as pd
from shapely.geometry import Point as Dot
from shapely.geometry.base import BaseGeometry

from sitegen.compute.place import Point
from sitegen.project.schema import SOIL_MEDIA
from sitegen.project.survey import records

CHLORINES: Mapping[str, int] = {"127-18-4": 4, "79-01-6": 3, "156-59-2": 2, "75-01-4": 1}
"""The four ethenes of the sequence by CAS number: PCE, TCE, cis-1,2-DCE, vinyl chloride."""

CIS_DCE = "156-59-2"
TOTAL_DCE = (CIS_DCE, "156-60-5", "75-35-4")
FUELS = ("71-43-2", "108-88-3", "100-41-4", "108-38-3", "106-42-3", "179601-23-1", "1330-20-7", "95-47-6")
"""Benzene, toluene, ethylbenzene and the xylenes, apart or together, by CAS number."""


@dataclass(frozen=True, slots=True)
class Share:
    """A share in % with non-detects as nothing (``low``) and as their limit (``high``).

    The names tell which convention was used, not which number is the larger.
    None where the convention leaves nothing to share.
    """

    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class Makeup:
    """What a point's sampler holds, as shares; ``shares`` runs as ``names`` of the relation.

    ``detected`` says which of the compounds were detected; ``chlorine`` is the mean number
    of chlorine atoms under both conventions (not a percentage), empty for fuels.
    """

    location_id: str
    shares: tuple[Share, ...]
    detected: tuple[bool, ...]
    chlorine: Share
    cis: Share


@dataclass(frozen=True, slots=True)
class Relation:
    """One family of compounds over the points where at least one of it was detected."""

    analyte_ids: tuple[str, ...]
    makeups: tuple[Makeup, ...]


@dataclass(frozen=True, slots=True)
class Along:
    """A point beside the flow line: how far along it, and how far off it, both in m."""

    location_id: str
    along_m: float
    off_m: float


NO_SHARE = Share(None, None)


def percent_shares(amounts: Sequence[float]) -> tuple[float, ...] | None:
    """Return each amount as a percentage of their sum; None where the sum is zero.

    >>> percent_shares([1.0, 3.0])
    (25.0, 75.0)
    """
    total = sum(amounts)
    return tuple(100.0 * amount / total for amount in amounts) if total > 0 else None


def mean_chlorine(moles: Sequence[float], atoms: Sequence[int]) -> float | None:
    """Return the mean number of chlorine atoms per molecule, Σ nᵢ xᵢ / Σ xᵢ.

    >>> mean_chlorine([1.0, 1.0], [4, 2])
    3.0
    """
    total = sum(moles)
    return sum(n * x for n, x in zip(atoms, moles, strict=True)) / total if total > 0 else None


def ethenes(rows: pd.DataFrame, cas: Mapping[str, str], molar: Mapping[str, float]) -> Relation:
    """Return molar shares of the chlorinated ethenes, mean chlorine number and cis share.

    ``rows`` are primary results at soil points in ng; ``cas`` and ``molar`` (g/mol) go by
    analyte id. A point is given where each of the compounds on the list has a result and
    one at least was detected.
    """
    listed = _listed(cas, CHLORINES, molar)
    dce = _listed(cas, TOTAL_DCE, molar)
    atoms = [CHLORINES[cas[name]] for name in listed]
    found = []
    for location_id, row in _points(rows, {*listed, *dce}).items():
        if not _complete(row, listed):
            continue
        low, high = (_moles(row, listed, molar, limits=limits) for limits in (False, True))
        found.append(
            Makeup(
                location_id,
                _shares(low, high),
                tuple(bool(row[name]["detected"]) for name in listed),
                Share(mean_chlorine(low, atoms), mean_chlorine(high, atoms)),
                _cis(row, dce, cas, molar),
            )
        )
    return Relation(listed, tuple(found))


def fuels(rows: pd.DataFrame, cas: Mapping[str, str]) -> Relation:
    """Return mass shares of benzene, toluene, ethylbenzene and xylenes, point by point."""
    listed = tuple(sorted((n for n in cas if cas[n] in FUELS), key=lambda n: FUELS.index(cas[n])))
    one = dict.fromkeys(listed, 1.0)
    found = []
    for location_id, row in _points(rows, set(listed)).items():
        if _complete(row, listed):
            low, high = (_moles(row, listed, one, limits=limits) for limits in (False, True))
            seen = tuple(bool(row[name]["detected"]) for name in listed)
            found.append(Makeup(location_id, _shares(low, high), seen, NO_SHARE, NO_SHARE))
    return Relation(listed, tuple(found))


def along_line(line: BaseGeometry, points: Iterable[Point], reach_m: float) -> tuple[Along, ...]:
    """Return the soil points within ``reach_m`` of a line, in order along it.

    ``line`` is a shapely line in the map CRS; distances are in map units (m). A point
    before the first or beyond the last vertex counts from that vertex.
    """
    found = []
    for point in points:
        if point.medium not in SOIL_MEDIA:
            continue
        dot = Dot(point.x, point.y)
        off = float(line.distance(dot))
        if off <= reach_m:
            found.append(Along(point.location_id, float(line.project(dot)), off))
    return tuple(sorted(found, key=lambda item: (item.along_m, item.location_id)))


def _listed(cas: Mapping[str, str], wanted: Iterable[str], molar: Mapping[str, float]) -> tuple[str, ...]:
    order = list(wanted)
    known = [name for name, number in cas.items() if number in order and molar.get(name, 0.0) > 0]
    return tuple(sorted(known, key=lambda name: order.index(cas[name])))


def _points(rows: pd.DataFrame, wanted: set[str]) -> dict[str, dict[str, dict[str, Any]]]:
    kept = rows[rows["analyte_id"].isin(wanted) & (rows["unit"] == "ng") & ~rows["rejected"]]
    found: dict[str, dict[str, dict[str, Any]]] = {}
    for row in records(kept[["location_id", "analyte_id", "detected", "value", "rl"]]):
        found.setdefault(row["location_id"], {}).setdefault(row["analyte_id"], row)
    return dict(sorted(found.items()))


def _complete(row: Mapping[str, Mapping[str, Any]], listed: Sequence[str]) -> bool:
    known = all(name in row and (row[name]["detected"] or row[name]["rl"] > 0) for name in listed)
    return len(listed) > 1 and known and any(row[name]["detected"] for name in listed)


def _moles(
    row: Mapping[str, Mapping[str, Any]], listed: Sequence[str], molar: Mapping[str, float], *, limits: bool
) -> tuple[float, ...]:
    """Return amounts in nmol; a non-detect is nothing, or with ``limits`` its limit."""
    return tuple(
        (row[name]["value"] if row[name]["detected"] else row[name]["rl"] if limits else 0.0) / molar[name]
        for name in listed
    )


def _shares(low: Sequence[float], high: Sequence[float]) -> tuple[Share, ...]:
    first = percent_shares(low) or (None,) * len(low)
    second = percent_shares(high) or (None,) * len(high)
    return tuple(Share(a, b) for a, b in zip(first, second, strict=True))


def _cis(
    row: Mapping[str, Mapping[str, Any]],
    dce: Sequence[str],
    cas: Mapping[str, str],
    molar: Mapping[str, float],
) -> Share:
    """Return the cis share of total DCE, by moles (the isomers weigh the same)."""
    if not _complete(row, dce) or cas[dce[0]] != CIS_DCE:
        return NO_SHARE
    return _shares(*(_moles(row, dce, molar, limits=limits) for limits in (False, True)))[0]
