"""The days between which a sampler may be in place, for a reminder of a change of the clocks."""

from __future__ import annotations

from datetime import date, timedelta

from sitegen.project.survey import Survey
from sitegen.project.tables import Deployment


def exposure_period(survey: Survey) -> tuple[date, date] | None:
    """Return the first and the last day on which a sampler may be in place; None where no date is known.

    The plan's own dates count first, then those of samplers that are placed; an end that is not planned is the
    longest planned exposure after the last day of placing.
    """
    plan = survey.plan
    placed = sorted(date.fromisoformat(row.placed_at[:10]) for row in survey.rows(Deployment) if row.placed_at)
    starts = [day for day in (plan.placing_from, *placed[:1]) if day]
    if not starts:
        return None
    last_in = max(day for day in (plan.placing_to, *starts, *placed[-1:]) if day)
    longest = timedelta(days=float(plan.exposure_days_max))
    return min(starts), plan.retrieving_to or last_in + longest
