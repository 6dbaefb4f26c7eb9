"""Which sampler stands for a point, and what became of each point.

A point has one primary sampler. Where another took its place in the same round (``replaces`` in
deployments.csv), the one that no other replaced stands for the point; the one it replaced keeps
its own page and results and enters no count of points.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from sitegen.compute.field.exposure import PRIMARY, Placement
from sitegen.project.survey import Survey
from sitegen.project.tables import Location

PLANNED, NOT_INSTALLED = "planned", "not_installed"
"""States of a point without a sampler: nothing on record yet, or said by a person not to be sampled."""

_SAID = ("not_done", "abandoned")


def standing_samplers(placed: Iterable[Placement]) -> Mapping[str, Placement]:
    """Return the sampler that stands for each point, by location id.

    It is the primary that no other sampler at the point replaced. Two of them contradict the
    record, which a check tells; the first in file order is returned then.
    """
    first = [p for p in placed if p.role == PRIMARY]
    replaced = {p.replaces for p in first if p.replaces != p.sampler_id}
    standing: dict[str, Placement] = {}
    for p in first:
        if p.sampler_id not in replaced:
            standing.setdefault(p.location_id, p)
    return standing


def point_states(survey: Survey, standing: Mapping[str, Placement]) -> Mapping[str, str]:
    """Return the state of every point by location id: that of its sampler, else planned or not_installed."""
    return {
        row.location_id: standing[row.location_id].state
        if row.location_id in standing
        else NOT_INSTALLED
        if row.status in _SAID
        else PLANNED
        for row in survey.rows(Location)
    }
