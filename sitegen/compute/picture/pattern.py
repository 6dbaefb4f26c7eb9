"""Which way a compound's masses fall from their highest point, for a map in words."""

from __future__ import annotations

import math
from collections.abc import Mapping

import pandas as pd

from sitegen.compute.place.points import Point, bearing_deg, direction_word
from sitegen.project.schema import SOIL_MEDIA

_SHARE = 0.1
"""A direction counts where the mass stays above this share of the highest (project default)."""


def falls(primary: pd.DataFrame, points: tuple[Point, ...]) -> Mapping[str, str]:
    """Return, per compound, the direction in which high masses reach out from the highest point.

    The direction is the bearing from the highest point to the mass-weighted centre of the
    other detections at or above a tenth of it; "" where there are none.
    """
    places = {point.location_id: point for point in points}
    directions: dict[str, str] = {}
    rows = primary[primary["detected"] & primary["medium"].isin(SOIL_MEDIA)]
    for analyte_id, part in rows.groupby("analyte_id", sort=False):
        directions[str(analyte_id)] = _direction(part, places)
    return directions


def _direction(part: pd.DataFrame, places: Mapping[str, Point]) -> str:
    ranked = part.sort_values("value", ascending=False)
    top = places.get(str(ranked["location_id"].iloc[0]))
    others = ranked.iloc[1:]
    others = others[others["value"] >= _SHARE * float(ranked["value"].iloc[0])]
    near = [
        (places[name], mass)
        for name, mass in zip(others["location_id"], others["value"], strict=True)
        if name in places
    ]
    if top is None or not near:
        return ""
    total = math.fsum(mass for _, mass in near)
    x = math.fsum(point.x * mass for point, mass in near) / total
    y = math.fsum(point.y * mass for point, mass in near) / total
    return direction_word(bearing_deg(top.x, top.y, x, y))
