"""A round in figures: what was planned, placed and analysed in it, and what its quality rests on.

Rounds are told side by side and together. Points are kept as sets of ids, so that together a point that
was sampled twice counts once; samplers, pairs, blanks, batches and runs are of one round each, and add up.
"""

from __future__ import annotations

import math
from collections.abc import Container, Iterable, Sequence
from dataclasses import dataclass, fields
from statistics import median
from typing import Any

from sitegen.compute.custody.seals import DIFFERS, seals
from sitegen.compute.evaluate import Evaluation
from sitegen.compute.field.completeness import STAGES
from sitegen.compute.field.exposure import Placement
from sitegen.compute.field.weather import Weather, weather
from sitegen.compute.quality.blanks import KINDS, Blank
from sitegen.compute.quality.duplicates import with_results
from sitegen.compute.rounds.campaigns import Campaign
from sitegen.compute.rounds.membership import Membership
from sitegen.compute.rounds.split import narrow
from sitegen.project.reads import reading
from sitegen.project.schema import SOIL_MEDIA
from sitegen.project.survey import Survey
from sitegen.project.tables import Deployment, LabSample, Location, Sampler
from sitegen.units import MASS_UNITS

Span = tuple[float, float]
"""Lowest and highest."""

GAP = "custody-gap"
"""The code of the mark of a time without a holder."""


@dataclass(frozen=True, slots=True)
class BlankCount:
    """Blanks of a kind with results, and those of them in which a compound was detected."""

    kind: str
    analysed: int
    detected: int


@dataclass(frozen=True, slots=True)
class RoundFigures:
    """A round, or several together, in figures.

    ``points`` holds ids of points by stage (:data:`STAGES`). Moments are UTC minutes, exposures minutes of
    samplers at points, duplicates with them. ``handed`` samplers have a hand-over on record, ``gaps`` are the times
    without a holder that mark samplers at points, and of the seals whose number was read ``seals_differ`` were read
    otherwise than put on. ``rain_mm`` fell over the exposure; it is None where none was
    read, and for rounds together, whose exposures are not one. ``reporting`` spans the reporting limits of
    soil points, in the project's unit of mass; a span is None where nothing is on record.
    """

    points: tuple[frozenset[str], ...]
    placed: Span | None
    retrieved: Span | None
    exposures_min: tuple[int, ...]
    pairs: int
    primaries: int
    blanks: tuple[BlankCount, ...]
    handed: int
    gaps: int
    seals_read: int
    seals_differ: int
    rain_mm: float | None
    temperature_c: Span | None
    batches: tuple[str, ...]
    methods: tuple[str, ...]
    reporting: Span | None

    def count(self, stage: str) -> int:
        """Return the number of points at a stage of :data:`STAGES`."""
        return len(self.points[STAGES.index(stage)])

    @property
    def median_min(self) -> float | None:
        """The median exposure in minutes, None where none is on record."""
        return median(self.exposures_min) if self.exposures_min else None


def span(numbers: Iterable[float | None]) -> Span | None:
    """Return the lowest and highest of the numbers on record, None where none is.

    >>> span([3, None, float("nan"), 1]), span([None])
    ((1, 3), None)
    """
    known = [number for number in numbers if number is not None and not math.isnan(number)]
    return (min(known), max(known)) if known else None


def round_figures(evaluation: Evaluation, own: Survey | None = None) -> RoundFigures:
    """Return a round in figures; of a part of it (the round alone, a supplement) those of its ``own`` rows.

    Marks and stages are the round's: a part is not judged by itself.
    """
    survey = own or evaluation.survey
    runs = survey.rows(LabSample)
    sampled = {row.lab_sample_id for row in runs}
    at = {row.sampler_id for row in survey.rows(Deployment)}
    points = {row.location_id for row in survey.rows(Location)}
    placed = [p for p in evaluation.placements if p.sampler_id in at]
    seen, on_file = weather(survey), seals(survey).values()
    return RoundFigures(
        points=tuple(ids & points for ids in evaluation.completeness.every.ids),
        placed=span(p.placed_utc for p in placed if p.placed_utc >= 0),
        retrieved=span(p.retrieved_utc for p in placed),
        exposures_min=exposures_min(placed),
        pairs=sum(pair.primary_id in at for pair in with_results(evaluation.pairs)),
        primaries=_primaries(evaluation, sampled),
        blanks=_blank_counts(blank for blank in evaluation.blanks if blank.lab_sample_id in sampled),
        handed=_handed(evaluation, {row.sampler_id for row in survey.rows(Sampler)}),
        gaps=_gaps(evaluation, at),
        seals_read=sum(bool(seal.applied and seal.read) for seal in on_file),
        seals_differ=sum(seal.verdict == DIFFERS for seal in on_file),
        rain_mm=seen.rain_mm if seen else None,
        temperature_c=span(reading.temperature_c for reading in seen.readings) if seen else None,
        batches=_each(row.batch_id for row in runs),
        methods=_each(row.method for row in runs),
        reporting=_reporting(evaluation, sampled),
    )


def own_part(whole: Survey, name: str) -> Survey:
    """Return the part of a folder that belongs to one round or supplement alone, by its id."""
    with reading():
        ids = tuple(one.id for one in whole.settings.rounds)
        return narrow(whole, Campaign(name), Membership(whole, ids), first=False)


def _primaries(evaluation: Evaluation, sampled: Container[str]) -> int:
    """Count the points with a result that is not rejected, as the rate of duplicates does."""
    first = evaluation.primary[~evaluation.primary["rejected"]]
    return int(first.loc[[name in sampled for name in first["lab_sample_id"]], "location_id"].nunique())


def _reporting(evaluation: Evaluation, sampled: Container[str]) -> Span | None:
    """Return the lowest and highest reporting limit of the masses that stand for soil points."""
    first = evaluation.primary
    soil = first[first["medium"].isin(SOIL_MEDIA) & first["unit"].isin(MASS_UNITS)]
    return span(soil.loc[[name in sampled for name in soil["lab_sample_id"]], "rl"])


def exposures_min(placed: Iterable[Placement]) -> tuple[int, ...]:
    """Return the exposures on record in minutes, shortest first."""
    return tuple(sorted(p.exposure_min for p in placed if p.exposure_min is not None))


def _blank_counts(blanks: Iterable[Blank]) -> tuple[BlankCount, ...]:
    every = [BlankCount(blank.kind, 1, int(blank.detected > 0)) for blank in blanks]
    return _added([every])


def _handed(evaluation: Evaluation, samplers: Container[str]) -> int:
    """Count samplers with a hand-over on record, of one retrieved after its retrieval."""
    back = {p.sampler_id: p.retrieved_utc for p in evaluation.placements if p.recovered}
    chains = evaluation.custody.samplers.items()
    return sum(one.has_hand_over(back.get(name)) for name, one in chains if name in samplers)


def _gaps(evaluation: Evaluation, samplers: Container[str]) -> int:
    """Count the times without a holder that mark samplers at points; one of a bag marks all in it, and is one."""
    every = evaluation.marks.by_sampler.items()
    return len({mark.key for name, marks in every if name in samplers for mark in marks if mark.code == GAP})


def _each(texts: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(filter(None, texts)))


def together(rounds: Sequence[RoundFigures]) -> RoundFigures:
    """Return several rounds as one: points once each by their ids, everything else added up or spanned."""
    given: dict[str, list[Any]] = {
        one.name: [getattr(figures, one.name) for figures in rounds] for one in fields(RoundFigures)
    }
    return RoundFigures(
        points=tuple(frozenset[str]().union(*sets) for sets in zip(*given["points"], strict=True)),
        placed=_spanned(given["placed"]),
        retrieved=_spanned(given["retrieved"]),
        exposures_min=tuple(sorted(each for own in given["exposures_min"] for each in own)),
        pairs=sum(given["pairs"]),
        primaries=sum(given["primaries"]),
        blanks=_added(given["blanks"]),
        handed=sum(given["handed"]),
        gaps=sum(given["gaps"]),
        seals_read=sum(given["seals_read"]),
        seals_differ=sum(given["seals_differ"]),
        rain_mm=None,
        temperature_c=_spanned(given["temperature_c"]),
        batches=_each(name for own in given["batches"] for name in own),
        methods=_each(name for own in given["methods"] for name in own),
        reporting=_spanned(given["reporting"]),
    )


def _spanned(spans: Iterable[Span | None]) -> Span | None:
    return span(end for one in spans if one for end in one)


def _added(counts: Iterable[Sequence[BlankCount]]) -> tuple[BlankCount, ...]:
    every = [one for own in counts for one in own]
    of = {kind: [one for one in every if one.kind == kind] for kind in KINDS}
    return tuple(
        BlankCount(kind, sum(one.analysed for one in own), sum(one.detected for one in own))
        for kind, own in of.items()
        if own
    )


def rain_between_mm(seen: Weather | None, start_utc: float, end_utc: float | None) -> float | None:
    """Return the rain read between two moments in mm; None where none was read, or the end is not on record."""
    if seen is None or end_utc is None or start_utc < 0:
        return None
    rain = [r.rain_mm for r in seen.readings if start_utc <= r.at_utc <= end_utc and r.rain_mm is not None]
    return math.fsum(rain) if rain else None
