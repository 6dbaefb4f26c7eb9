"""Which sampler stands for a point and why, and what became of each point.

A point has one primary sampler. Where another took its place in the same round (``replaces`` in
deployments.csv), the one that no other replaced stands for the point; the one it replaced keeps
its own page and results and enters no count of points. Nothing else chooses: whoever needs the
sampler of a point asks here.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from sitegen.compute.field.exposure import DUPLICATE, PRIMARY, Placement
from sitegen.project.survey import Survey
from sitegen.project.tables import Location

PLANNED, NOT_INSTALLED = "planned", "not_installed"
"""States of a point without a sampler: nothing on record yet, or said by a person not to be sampled."""

ONLY, BESIDE_DUPLICATE, REPLACEMENT, FIRST_OF_SEVERAL = "only", "primary", "replacement", "first"
"""Why a sampler stands: alone at its point, the primary beside its duplicates, the last that took another's
place, or the first in file order of several that nothing on record tells apart, which is a stop."""

_SAID = ("not_done", "abandoned")


@dataclass(frozen=True, slots=True)
class Standing:
    """The sampler that stands for a point, and the reason: one of the four above."""

    placement: Placement
    reason: str


def standing_samplers(placed: Iterable[Placement]) -> Mapping[str, Standing]:
    """Return what stands for each point, by location id: the primary that no other at the point replaced."""
    return {name: standing for name, here in _by_point(placed).items() if (standing := _standing(here))}


def second_primaries(placed: Iterable[Placement]) -> Iterator[tuple[Placement, Placement]]:
    """Yield each primary that is undeclared beside an earlier one at its point, and that earlier one."""
    for here in _by_point(placed).values():
        undeclared = [p for p in here if p.role == PRIMARY and not p.replaces]
        yield from ((p, undeclared[0]) for p in undeclared[1:])


def _by_point(placed: Iterable[Placement]) -> Mapping[str, list[Placement]]:
    at: dict[str, list[Placement]] = {}
    for p in placed:
        if p.location_id:
            at.setdefault(p.location_id, []).append(p)
    return at


def _standing(here: list[Placement]) -> Standing | None:
    primaries = [p for p in here if p.role == PRIMARY]
    replaced = {p.replaces for p in primaries if p.replaces != p.sampler_id}
    ends = [p for p in primaries if p.sampler_id not in replaced]
    if not ends:
        return None
    return Standing(ends[0], _reason(ends, primaries, here))


def _reason(ends: list[Placement], primaries: list[Placement], here: list[Placement]) -> str:
    if len(ends) > 1:
        return FIRST_OF_SEVERAL
    if len(primaries) > 1:
        return REPLACEMENT
    return BESIDE_DUPLICATE if any(p.role == DUPLICATE for p in here) else ONLY


def point_states(survey: Survey, standing: Mapping[str, Standing]) -> Mapping[str, str]:
    """Return the state of every point by location id: that of its sampler, else planned or not_installed."""
    return {
        row.location_id: standing[row.location_id].placement.state
        if row.location_id in standing
        else NOT_INSTALLED
        if row.status in _SAID
        else PLANNED
        for row in survey.rows(Location)
    }
