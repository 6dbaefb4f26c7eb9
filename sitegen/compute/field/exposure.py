"""Samplers at their points: where, how deep, how long, in which role and state.

Durations are differences of UTC minutes, so that a clock change does not lengthen or
shorten an exposure.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date, timedelta
from statistics import median

from sitegen.compute.limits import limits
from sitegen.project.schema import SOIL_MEDIA, Origin
from sitegen.project.survey import Survey
from sitegen.project.tables import Deployment, Location, Sampler
from sitegen.units import minutes_to_days, to_metres

PRIMARY, DUPLICATE, FIELD_BLANK = "primary", "duplicate", "field_blank"
"""What a row of deployments.csv is: a point's own sampler, one beside it, or a blank opened there."""

RETRIEVED, IN_PLACE, LOST, NOT_RETRIEVED = "retrieved", "in_place", "lost", "retrieval_not_recorded"
"""States of a sampler placed. It is lost where a person says so. Without a retrieval on record it is
in place until the planned exposure ends; after that its retrieval is not recorded."""


@dataclass(frozen=True, slots=True)
class Placement:
    """One sampler at one point, with the times as written and in UTC minutes.

    ``origin`` is the row in deployments.csv. ``state`` is one of the four states above; of a field
    blank, which is opened and closed at once, it means nothing. ``due_on`` is the last day of the planned
    exposure, date.max where no time of placing can be read.
    """

    sampler_id: str
    label: str
    kind: str
    sampler_type: str
    location_id: str
    medium: str
    surface: str
    duplicate_of: str
    replaces: str
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
    origin: Origin
    state: str
    due_on: date

    @property
    def role(self) -> str:
        """What the sampler is at its point: primary, duplicate or field_blank."""
        if self.kind == FIELD_BLANK:
            return FIELD_BLANK
        return DUPLICATE if self.duplicate_of or self.kind == "field_duplicate" else PRIMARY

    @property
    def exposure_days(self) -> float | None:
        """Exposure in days of 1,440 minutes."""
        return None if self.exposure_min is None else minutes_to_days(self.exposure_min)

    @property
    def recovered(self) -> bool:
        """Whether the sampler was retrieved from its point."""
        return self.state == RETRIEVED

    @property
    def noted(self) -> bool:
        """Whether its condition, and in soil its depth, are on record: without them nobody can say it has no mark."""
        return self.condition != "" and (self.medium != SOIL_MEDIA[0] or self.depth_m is not None)


def placements(survey: Survey) -> tuple[Placement, ...]:
    """Return every row of deployments.csv in file order, field blanks included."""
    places = {row.location_id: row for row in survey.rows(Location)}
    samplers = {row.sampler_id: row for row in survey.rows(Sampler)}
    longest_days = limits(survey.settings)["exposure_days_max"].value
    report = survey.settings.project.report_date
    return tuple(
        _placement(
            row,
            samplers.get(row.sampler_id),
            places.get(row.location_id),
            date.max if math.isnan(row.placed_at_utc) else last_day(row.placed_at, longest_days),
            report,
        )
        for row in survey.rows(Deployment)
    )


_MOST_DAYS = 3660
"""No planned exposure is longer than ten years; a limit beyond that is read as that."""


def last_day(placed_at: str, longest_days: float) -> date:
    """Return the day on which an exposure of at most ``longest_days`` ends.

    >>> last_day("2025-10-24T09:20", 14)
    datetime.date(2025, 11, 7)
    """
    days = math.ceil(longest_days) if 0 <= longest_days <= _MOST_DAYS else _MOST_DAYS
    return date.fromisoformat(placed_at[:10]) + timedelta(days=days)


def _state(row: Deployment, outcome: str, due_on: date, report: date) -> str:
    if row.condition == "not_recovered" or outcome == "lost":
        return LOST
    if not math.isnan(row.retrieved_at_utc):
        return RETRIEVED
    return IN_PLACE if report <= due_on else NOT_RETRIEVED


def _placement(
    row: Deployment, sampler: Sampler | None, place: Location | None, due_on: date, report: date
) -> Placement:
    placed, retrieved = row.placed_at_utc, row.retrieved_at_utc
    known = not (math.isnan(placed) or math.isnan(retrieved))
    depth_m, depth_text = depth(row)
    return Placement(
        sampler_id=row.sampler_id,
        label=(sampler.label if sampler else "") or row.sampler_id,
        kind=sampler.kind if sampler else "sample",
        sampler_type=sampler.sampler_type if sampler else "",
        location_id=row.location_id,
        medium=place.medium if place else "",
        surface=place.surface if place else "",
        duplicate_of=row.duplicate_of,
        replaces=row.replaces,
        placed_at=row.placed_at,
        retrieved_at=row.retrieved_at,
        placed_utc=-1 if math.isnan(placed) else int(placed),
        retrieved_utc=None if math.isnan(retrieved) else int(retrieved),
        exposure_min=int(retrieved - placed) if known else None,
        depth_m=depth_m,
        depth_text=depth_text,
        condition=row.condition,
        refusal=row.refusal == "yes",
        bag_id=row.bag_id,
        placed_by=row.placed_by,
        retrieved_by=row.retrieved_by,
        comment=row.comment,
        origin=row.origin,
        state=_state(row, sampler.outcome if sampler else "", due_on, report),
        due_on=due_on,
    )


def depth(row: Deployment) -> tuple[float | None, str]:
    """Return a deployment's depth in metres and as written, with its unit."""
    for number, unit in ((row.depth_ft, "ft"), (row.depth_m, "m")):
        if not math.isnan(number):
            return to_metres(number, unit), f"{number:g} {unit}"
    return None, ""


def median_exposure_min(placed: tuple[Placement, ...]) -> float | None:
    """Return the median exposure in minutes over all recovered samplers, None if there is none."""
    minutes = [p.exposure_min for p in placed if p.recovered and p.exposure_min is not None]
    return float(median(minutes)) if minutes else None
