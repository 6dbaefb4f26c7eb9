"""Which points of a campaign came with a supplement, and how long after its round."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from sitegen.compute.evaluate import Evaluation
from sitegen.compute.rounds.campaigns import Campaign
from sitegen.project.tables import Deployment
from sitegen.units import minutes_to_days


@dataclass(frozen=True, slots=True)
class Supplemented:
    """The supplement of a point: its id and title.

    ``days_later`` lie from the first placing of the round to the first of the supplement, None where one is not on
    record.
    """

    id: str
    title: str
    days_later: float | None


def supplemented(evaluation: Evaluation, campaign: Campaign) -> Mapping[str, Supplemented]:
    """Return the supplement of each point whose standing sampler was placed for one; no point of the round itself."""
    if not campaign.supplements:
        return {}
    of = {row.sampler_id: row.round for row in evaluation.survey.rows(Deployment)}
    titles = {one.id: one.title for one in campaign.supplements}
    placed = [(of.get(p.sampler_id, ""), p.placed_utc) for p in evaluation.placements]
    begun = _first(at for name, at in placed if name not in titles)
    later = {name: _days(begun, _first(at for own, at in placed if own == name)) for name in titles}
    standing = ((point, of.get(one.placement.sampler_id, "")) for point, one in evaluation.standing.items())
    return {point: Supplemented(name, titles[name], later[name]) for point, name in standing if name in titles}


def _first(moments: Iterable[int]) -> int | None:
    return min((at for at in moments if at >= 0), default=None)


def _days(begun: int | None, at: int | None) -> float | None:
    return None if begun is None or at is None else minutes_to_days(at - begun)
