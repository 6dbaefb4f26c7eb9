"""Facts about how the work was done, as far as the records say."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from sitegen.compute.field.exposure import Placement
from sitegen.project.survey import Survey
from sitegen.project.tables import LabControl, LabSample, Location, Sampler


@dataclass(frozen=True, slots=True)
class Practice:
    """What the records say of field and laboratory work; empty where they say nothing."""

    sampler_types: tuple[str, ...]
    coordinate_methods: tuple[str, ...]
    accuracies_m: tuple[float, ...]
    lab_methods: tuple[str, ...]
    batches: tuple[str, ...]
    qc_samples: Mapping[str, int]
    qc_measured: Mapping[str, int]
    clock_change_min: int
    lots: tuple[str, ...]


def practice(survey: Survey, placed: Iterable[Placement]) -> Practice:
    """Gather the facts that the methods text may speak of."""
    places = survey.rows(Location)
    samplers = survey.rows(Sampler)
    samples = survey.rows(LabSample)
    known = tuple(placed)
    qc_samples = Counter(row.type for row in samples if row.type != "sample")
    return Practice(
        _distinct(row.sampler_type for row in samplers),
        _distinct(row.coordinate_method for row in places),
        _numbers(row.accuracy_m for row in places),
        _distinct(row.method for row in samples),
        _distinct(row.batch_id for row in samples),
        qc_samples,
        Counter(row.qc_type for row in survey.rows(LabControl)),
        _clock_change(known),
        _distinct(row.lot for row in samplers),
    )


def _distinct(words: Iterable[str]) -> tuple[str, ...]:
    return tuple(sorted({word for word in words if word}))


def _numbers(values: Iterable[float]) -> tuple[float, ...]:
    return tuple(sorted({value for value in values if not math.isnan(value)}))


def _clock_change(placed: tuple[Placement, ...]) -> int:
    """Return by how many minutes a subtraction of local times would be off, 0 if by none."""
    offs = set()
    for p in placed:
        if p.exposure_min is None or len(p.placed_at) != 16 or len(p.retrieved_at) != 16:
            continue
        plain = datetime.fromisoformat(p.retrieved_at) - datetime.fromisoformat(p.placed_at)
        offs.add(abs(int(plain.total_seconds() // 60) - p.exposure_min))
    return max(offs, default=0)
