"""Holding times: days from the end of sampling to analysis, by laboratory sample and by batch."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import NamedTuple

import pandas as pd

from sitegen.compute.field.exposure import Placement
from sitegen.compute.limits import LimitRecord
from sitegen.compute.marks import MarkFact
from sitegen.project.survey import Survey
from sitegen.units import minutes_to_days


class Held(NamedTuple):
    """A run of a sampler, and the days from its retrieval to its analysis."""

    lab_sample_id: str
    sampler_id: str
    batch_id: str
    days: float


@dataclass(frozen=True, slots=True)
class BatchHold:
    """The holding times of a batch; ``over`` names the laboratory samples past the limit."""

    batch_id: str
    samples: int
    shortest_days: float
    longest_days: float
    over: tuple[str, ...]


def held_days(lab_samples: pd.DataFrame, placed: Iterable[Placement]) -> pd.Series[float]:
    """Return days from retrieval to analysis for each row of lab_samples.csv, NaN where either is not known.

    A blank or a control was not in the ground: no end of sampling starts its clock. A run
    that is not reportable has no holding time either, for another stands in its place.
    """
    out = {p.sampler_id: float(p.retrieved_utc) for p in placed if p.retrieved_utc is not None}
    taken = lab_samples["sampler_id"].map(out).astype("float64")
    minutes = (lab_samples["analysed_at_utc"] - taken).where(lab_samples["reportable"] != "no")
    return minutes.map(minutes_to_days)


def holding_times(survey: Survey, placed: Iterable[Placement]) -> Mapping[str, Held]:
    """Return the holding time of each laboratory sample that has one, by its id, in file order."""
    frame = survey.frame("lab_samples")
    columns = zip(frame["lab_sample_id"], frame["sampler_id"], frame["batch_id"], held_days(frame, placed), strict=True)
    return {name: Held(name, *rest) for name, *rest in columns if rest[-1] == rest[-1]}


def holding_marks(
    held: Iterable[Held], store: pd.DataFrame, limit: LimitRecord
) -> Iterator[tuple[tuple[str, str], MarkFact]]:
    """Yield a mark for each result of a laboratory sample that was analysed past the limit."""
    late = {one.lab_sample_id: one.days for one in held if one.days > limit.value}
    rows = store[store["lab_sample_id"].isin(list(late))]
    for name, analyte in zip(rows["lab_sample_id"], rows["analyte_id"], strict=True):
        facts = (("days", f"{late[name]:.1f}"), ("limit", limit.text))
        yield (name, analyte), MarkFact("hold-time-exceeded", "result", name, facts)


def batch_holds(held: Iterable[Held], limit_days: float) -> tuple[BatchHold, ...]:
    """Return the shortest and the longest holding time of each batch, and what lies over a limit.

    >>> batch_holds([Held("L1", "1", "B", 5.0), Held("L2", "2", "B", 31.5)], 30)
    (BatchHold(batch_id='B', samples=2, shortest_days=5.0, longest_days=31.5, over=('L2',)),)
    """
    by_batch: dict[str, list[Held]] = {}
    for one in held:
        by_batch.setdefault(one.batch_id, []).append(one)
    return tuple(
        BatchHold(
            name,
            len(group),
            min(one.days for one in group),
            max(one.days for one in group),
            tuple(one.lab_sample_id for one in group if one.days > limit_days),
        )
        for name, group in by_batch.items()
    )
