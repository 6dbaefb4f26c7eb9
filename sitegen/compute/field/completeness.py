"""Completeness at five stages: planned, placed, recovered, analysed, usable without marks.

Points of the plan and points added in the field are counted apart; together they are all
points. *Usable without marks* looks at marks of the sampler's own: those of custody and seal,
which a sampler shares with its whole bag or shipment, are counted beside it (``chained``). A point
whose sampler's condition or depth is not on record can't be called free of a mark: it is not
usable, and counted beside as well (``unnoted``). The
sampler that stands for a point decides its stage; soil and air are counted apart as well.

So no stage exceeds the one before it. The points by medium, surface, day, bag and batch add up to
all points; the batch of a point is that of its sampler's reportable run.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import pandas as pd

from sitegen.compute.field.exposure import Placement
from sitegen.compute.field.standing import Standing, point_states
from sitegen.compute.marks import Marks
from sitegen.project.schema import MEDIUM_GROUPS, SOIL_MEDIA
from sitegen.project.survey import Survey
from sitegen.project.tables import Location

_NOT_RECORDED, _NO_PLACEMENT, _NO_REPORTABLE = "not recorded", "no placement on record", "no reportable run"
STAGES = ("planned", "placed", "recovered", "analysed", "usable")


@dataclass(frozen=True, slots=True)
class Stages:
    """Points at each stage, for one group; ``ids`` holds them by stage."""

    group: str
    ids: tuple[frozenset[str], ...]

    @property
    def counts(self) -> tuple[int, ...]:
        """Number of points at each stage."""
        return tuple(len(ids) for ids in self.ids)


@dataclass(frozen=True, slots=True)
class Completeness:
    """Stages of the planned points, of those added later, of all, and of all by several keys.

    ``planned_by`` holds the planned points by medium group (soil, air), those groups that have
    any. The groups of each key add up to ``every``. ``chained`` holds the usable points whose
    sampler carries a mark of custody or seal, ``unnoted`` the analysed points without a mark whose
    sampler's condition or depth is not on record, ``states`` what became of every point.
    """

    overall: Stages
    planned_by: tuple[Stages, ...]
    added: Stages
    every: Stages
    by: dict[str, tuple[Stages, ...]]
    chained: frozenset[str]
    unnoted: frozenset[str]
    states: Mapping[str, str]

    @property
    def chained_planned(self) -> int:
        """Number of planned points that are usable but for a mark of custody or seal."""
        return len(self.chained & self.overall.ids[-1])

    @property
    def unnoted_planned(self) -> int:
        """Number of planned points that would be usable but for a condition or depth that is not on record."""
        return len(self.unnoted & self.overall.ids[0])

    def in_state(self, state: str, stages: Stages | None = None) -> int:
        """Return the number of points in a state, of all or of those that ``stages`` counts."""
        among = (stages or self.every).ids[0]
        return sum(other == state for name, other in self.states.items() if name in among)


def completeness(survey: Survey, standing: Mapping[str, Standing], store: pd.DataFrame, marks: Marks) -> Completeness:
    """Count points at each stage, each by the sampler that stands for it."""
    first = {name: one.placement for name, one in standing.items()}
    places = {row.location_id: row for row in survey.rows(Location)}
    recovered, analysed, unmarked, usable = _later_stages(first, store, marks)
    sets = (frozenset(places), frozenset(first), recovered, analysed, usable)
    added = frozenset(name for name, row in places.items() if row.design == "added")
    planned = Stages("planned", tuple(ids - added for ids in sets))
    by_group = (
        Stages(group, tuple(frozenset(n for n in ids if places[n].medium in media) for ids in planned.ids))
        for group, media in MEDIUM_GROUPS.items()
    )
    return Completeness(
        planned,
        tuple(stages for stages in by_group if stages.counts[0]),
        Stages("added", tuple(ids & added for ids in sets)),
        Stages("every", sets),
        {title: _split(sets, list(places), key) for title, key in _keys(places, first, _batches(store)).items()},
        frozenset(name for name in usable if marks.chained(first[name].sampler_id)),
        unmarked - usable,
        point_states(survey, standing),
    )


def _later_stages(first: Mapping[str, Placement], store: pd.DataFrame, marks: Marks) -> tuple[frozenset[str], ...]:
    """Return the points recovered, analysed, analysed without a mark, and of these those that are usable."""
    with_results = set(store.loc[store["reportable"] & (store["type"] == "sample"), "sampler_id"])
    recovered = frozenset(name for name, p in first.items() if p.recovered)
    analysed = frozenset(name for name in recovered if first[name].sampler_id in with_results)
    unmarked = frozenset(name for name in analysed if marks.unmarked(first[name].sampler_id))
    return recovered, analysed, unmarked, frozenset(name for name in unmarked if first[name].noted)


def _keys(
    places: Mapping[str, Location], first: Mapping[str, Placement], batches: Mapping[str, str]
) -> dict[str, Callable[[str], str]]:
    """Return by title what tells a point's group."""

    def of_sampler(key: Callable[[Placement], str]) -> Callable[[str], str]:
        return lambda name: key(first[name]) if name in first else _NO_PLACEMENT

    return {
        "medium": lambda name: places[name].medium,
        "surface": lambda name: places[name].surface or _no_surface(places[name].medium),
        "day": of_sampler(lambda p: p.placed_at[:10]),
        "bag": of_sampler(lambda p: p.bag_id or _NOT_RECORDED),
        "batch": of_sampler(lambda p: batches.get(p.sampler_id, _NOT_RECORDED)),
    }


def _batches(store: pd.DataFrame) -> Mapping[str, str]:
    """Return the batch of each sampler with results: that of its reportable run, or that it has none.

    Of two reportable runs, each for other compounds, both batches are named.
    """
    reportable = store[store["reportable"] & store["sampler_id"].notna()]
    runs = dict.fromkeys(zip(reportable["sampler_id"], reportable["batch_id"], strict=True))
    batches: dict[str, list[str]] = {}
    for sampler_id, batch_id in sorted(runs):
        batches.setdefault(sampler_id, []).append(batch_id or _NOT_RECORDED)
    return dict.fromkeys(store["sampler_id"], _NO_REPORTABLE) | {name: " and ".join(of) for name, of in batches.items()}


def _no_surface(medium: str) -> str:
    """Return the group of a point without a surface: in soil it is not on record, in air there is none to record."""
    return _NOT_RECORDED if medium in SOIL_MEDIA else "air"


def _split(sets: tuple[frozenset[str], ...], known: list[str], key: Callable[[str], str]) -> tuple[Stages, ...]:
    groups: dict[str, set[str]] = {}
    for name in known:
        groups.setdefault(key(name), set()).add(name)
    return tuple(Stages(group, tuple(ids & names for ids in sets)) for group, names in sorted(groups.items()))
