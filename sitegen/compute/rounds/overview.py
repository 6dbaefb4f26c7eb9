"""A round in figures: what was planned, placed and analysed in it, and what its quality rests on.

Rounds are told side by side and together. Points are kept as sets of ids, so that together a point that
was sampled twice counts once; samplers, pairs, blanks, batches and runs are of one round each, and add up.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, fields
from itertools import chain
from statistics import median
from typing import Any

from sitegen.compute.custody.seals import DIFFERS, seals
from sitegen.compute.evaluate import Evaluation
from sitegen.compute.field.completeness import STAGES
from sitegen.compute.field.exposure import Placement
from sitegen.compute.field.weather import weather
from sitegen.compute.marks import MarkFact
from sitegen.compute.quality.blanks import KINDS
from sitegen.compute.quality.duplicates import with_results
from sitegen.project.schema import SOIL_MEDIA
from sitegen.project.tables import LabSample
from sitegen.units import MASS_UNITS

Span = tuple[float, float]
"""Lowest and highest."""


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
    without a holder that a check tells, and of the seals whose number was read ``seals_differ`` were read
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


def round_figures(evaluation: Evaluation) -> RoundFigures:
    """Return a round in figures."""
    placed = evaluation.placements
    soil = evaluation.primary[evaluation.primary["medium"].isin(SOIL_MEDIA)]
    seen = weather(evaluation.survey)
    rates = evaluation.duplicate_rates
    runs = evaluation.survey.rows(LabSample)
    on_file = seals(evaluation.survey).values()
    return RoundFigures(
        points=evaluation.completeness.every.ids,
        placed=span(p.placed_utc for p in placed if p.placed_utc >= 0),
        retrieved=span(p.retrieved_utc for p in placed),
        exposures_min=exposures_min(placed),
        pairs=len(with_results(evaluation.pairs)),
        primaries=rates[0].primaries if rates else 0,
        blanks=_blank_counts(evaluation),
        handed=_handed(evaluation),
        gaps=len({mark.key for mark in _marks(evaluation) if mark.code == "custody-gap"}),
        seals_read=sum(bool(seal.applied and seal.read) for seal in on_file),
        seals_differ=sum(seal.verdict == DIFFERS for seal in on_file),
        rain_mm=seen.rain_mm if seen else None,
        temperature_c=span(reading.temperature_c for reading in seen.readings) if seen else None,
        batches=_each(row.batch_id for row in runs),
        methods=_each(row.method for row in runs),
        reporting=span(soil.loc[soil["unit"].isin(MASS_UNITS), "rl"]),
    )


def exposures_min(placed: Iterable[Placement]) -> tuple[int, ...]:
    """Return the exposures on record in minutes, shortest first."""
    return tuple(sorted(p.exposure_min for p in placed if p.exposure_min is not None))


def _blank_counts(evaluation: Evaluation) -> tuple[BlankCount, ...]:
    of = {kind: [blank for blank in evaluation.blanks if blank.kind == kind] for kind in KINDS}
    return tuple(BlankCount(kind, len(own), sum(bool(one.detected) for one in own)) for kind, own in of.items() if own)


def _handed(evaluation: Evaluation) -> int:
    """Count samplers with a hand-over on record, of one retrieved after its retrieval."""
    back = {p.sampler_id: p.retrieved_utc for p in evaluation.placements if p.recovered}
    return sum(one.has_hand_over(back.get(name)) for name, one in evaluation.custody.samplers.items())


def _marks(evaluation: Evaluation) -> Iterator[MarkFact]:
    return chain.from_iterable(evaluation.marks.by_sampler.values())


def _each(texts: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(filter(None, texts)))


def together(rounds: Sequence[RoundFigures]) -> RoundFigures:
    """Return several rounds as one: points once each by their ids, everything else added up or spanned."""
    given: dict[str, list[Any]] = {one.name: [getattr(figures, one.name) for figures in rounds] for one in fields(
        RoundFigures
    )}
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


def rain_between_mm(evaluation: Evaluation, start_utc: float, end_utc: float | None) -> float | None:
    """Return the rain read between two moments in mm; None where none was read, or the end is not on record."""
    seen = weather(evaluation.survey)
    if seen is None or end_utc is None or start_utc < 0:
        return None
    rain = [r.rain_mm for r in seen.readings if start_utc <= r.at_utc <= end_utc and r.rain_mm is not None]
    return math.fsum(rain) if rain else None
