"""Sums of detected masses by compound group: where a family of compounds is, at a glance.

A non-detect adds nothing, because it is no number; so each sum says how many of the
group's compounds it is made of. Results that are no masses and rejected results
are left out.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

import pandas as pd

from sitegen.units import MASS_UNITS


@dataclass(frozen=True, slots=True)
class GroupSum:
    """One group at one point: the sum of its detections and how many there are.

    ``mass_ng`` is None where nothing of the group was detected. ``detections`` are the
    (sampler_id, lab_sample_id, analyte_id) of what was added up.
    """

    location_id: str
    group: str
    mass_ng: float | None
    detected: int
    analysed: int
    detections: tuple[tuple[str, str, str], ...]


def group_sums(primary: pd.DataFrame, groups: Mapping[str, str]) -> Mapping[str, Mapping[str, GroupSum]]:
    """Return the sums as ``{group: {location_id: sum}}``, groups in the order of the compounds.

    Parameters
    ----------
    primary
        The results that stand for their points.
    groups
        Each compound's group. A group of a single compound needs no sum and gets none.
    """
    listed = list(groups.values())
    wanted = [name for name in dict.fromkeys(listed) if listed.count(name) > 1]
    parts: dict[str, dict[str, list[_Row]]] = {name: {} for name in wanted}
    rows = primary[primary["unit"].isin(MASS_UNITS) & ~primary["rejected"]]
    for row in zip(*(rows[name].tolist() for name in _Row._fields), strict=True):
        result = _Row(*row)
        group = groups.get(result.analyte_id, "")
        if group in parts:
            parts[group].setdefault(result.location_id, []).append(result)
    return {
        group: {place: _sum(place, group, part) for place, part in places.items()} for group, places in parts.items()
    }


class _Row(NamedTuple):
    location_id: str
    sampler_id: str
    lab_sample_id: str
    analyte_id: str
    detected: bool
    value: float


def _sum(location_id: str, group: str, part: list[_Row]) -> GroupSum:
    hits = [row for row in part if row.detected]
    keys = tuple((row.sampler_id, row.lab_sample_id, row.analyte_id) for row in hits)
    mass = math.fsum(row.value for row in hits) if hits else None
    return GroupSum(location_id, group, mass, len(hits), len(part), keys)
