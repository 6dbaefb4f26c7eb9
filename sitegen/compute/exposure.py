"""Samplers in the ground: where, how deep, how long.

Durations are differences of UTC minutes, so that a clock change does not lengthen or
shorten an exposure.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import median
from typing import Any

from sitegen.project.survey import Survey
from sitegen.units import minutes_to_days, to_metres


@dataclass(frozen=True, slots=True)
class Placement:
    """One sampler at one place, with the times as written and in UTC minutes.

    ``row`` is the row in deployments.csv; ``recovered`` is False for a lost sampler.
    """

    sampler_id: str
    label: str
    kind: str
    sampler_type: str
    location_id: str
    medium: str
    surface: str
    duplicate_of: str
    placed_at: str
    retrieved_at: str
    placed_utc: int
    retrieved_utc: int | None
    exposure_min: int | None
    depth_m: float | None
    depth_text: str
    condition: str
    refusal: bool
    bag_id: str
    placed_by: str
    retrieved_by: str
    comment: str
    row: int

    @property
    def exposure_days(self) -> float | None:
        """Exposure in days of 1,440 minutes."""
        return None if self.exposure_min is None else minutes_to_days(self.exposure_min)

    @property
    def recovered(self) -> bool:
        """Whether the sampler came back from the ground."""
        return self.retrieved_utc is not None and self.condition != "not_recovered"


def placements(survey: Survey) -> tuple[Placement, ...]:
    """Return every placement in file order."""
    places = {row["location_id"]: row for row in survey.records("locations")}
    samplers = {row["sampler_id"]: row for row in survey.records("samplers")}
    return tuple(
        _placement(row, samplers.get(row["sampler_id"], {}), places.get(row["location_id"], {}))
        for row in survey.records("deployments")
    )


def _placement(row: dict[str, Any], sampler: dict[str, Any], place: dict[str, Any]) -> Placement:
    placed, retrieved = row["placed_at_utc"], row["retrieved_at_utc"]
    known = not (math.isnan(placed) or math.isnan(retrieved))
    depth_m, depth_text = depth(row)
    return Placement(
        sampler_id=row["sampler_id"],
        label=sampler.get("label") or row["sampler_id"],
        kind=sampler.get("kind", "sample"),
        sampler_type=sampler.get("sampler_type", ""),
        location_id=row["location_id"],
        medium=place.get("medium", ""),
        surface=place.get("surface", ""),
        duplicate_of=row["duplicate_of"],
        placed_at=row["placed_at"],
        retrieved_at=row["retrieved_at"],
        placed_utc=-1 if math.isnan(placed) else int(placed),
        retrieved_utc=None if math.isnan(retrieved) else int(retrieved),
        exposure_min=int(retrieved - placed) if known else None,
        depth_m=depth_m,
        depth_text=depth_text,
        condition=row["condition"],
        refusal=row["refusal"] == "yes",
        bag_id=row["bag_id"],
        placed_by=row["placed_by"],
        retrieved_by=row["retrieved_by"],
        comment=row["comment"],
        row=int(row["_row"]),
    )


def depth(row: dict[str, Any]) -> tuple[float | None, str]:
    """Return a deployment's depth in metres and as written, with its unit."""
    for name, unit in (("depth_ft", "ft"), ("depth_m", "m")):
        if not math.isnan(row[name]):
            return to_metres(row[name], unit), f"{row[name]:g} {unit}"
    return None, ""


def median_exposure_min(placed: tuple[Placement, ...]) -> float | None:
    """Return the median exposure in minutes over all recovered samplers, None if there is none."""
    minutes = [p.exposure_min for p in placed if p.recovered and p.exposure_min is not None]
    return float(median(minutes)) if minutes else None
