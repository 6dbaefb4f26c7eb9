"""Marks from the field and from the laboratory's quality control."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import TypeAlias

import pandas as pd

from sitegen.compute.field.exposure import Placement
from sitegen.compute.limits import LimitRecord
from sitegen.compute.marks import MarkFact
from sitegen.compute.quality.duplicates import DIFFERS, Pair
from sitegen.compute.results.store import stored_results
from sitegen.project.schema import SOIL_MEDIA
from sitegen.project.survey import Survey
from sitegen.units import to_metres

CONDITION_CODES: Mapping[str, str] = {
    "water_inside": "water-in-sampler",
    "cap_damaged": "cap-damaged",
    "glass_damaged": "glass-damaged",
    "soil_inside": "soil-in-sampler",
    "disturbed": "sampler-disturbed",
}


def placement_marks(
    placed: Iterable[Placement], survey: Survey, in_force: Mapping[str, LimitRecord], median_min: float | None
) -> Iterator[tuple[str, MarkFact]]:
    """Yield the marks of condition, exposure and depth: (sampler_id, mark)."""
    planned = planned_depth_m(survey)
    for p in placed:
        if not p.recovered:
            continue
        for code, facts in (
            *_condition(p),
            *_exposure(p, in_force, median_min),
            *_depth(p, planned, in_force["depth_tolerance_m"].value),
        ):
            yield p.sampler_id, MarkFact(code, "sampler", p.sampler_id, facts)


_Facts: TypeAlias = tuple[str, tuple[tuple[str, str], ...]]


def _condition(p: Placement) -> Iterator[_Facts]:
    if p.condition in CONDITION_CODES:
        yield CONDITION_CODES[p.condition], ()


def _exposure(p: Placement, in_force: Mapping[str, LimitRecord], median_min: float | None) -> Iterator[_Facts]:
    if p.exposure_days is None or p.exposure_min is None:
        return
    low, high = in_force["exposure_days_min"], in_force["exposure_days_max"]
    days, share = f"{p.exposure_days:.1f}", in_force["exposure_from_median_pct"].value
    if not low.value <= p.exposure_days <= high.value:
        yield "exposure-out-of-plan", (("days", days), ("low", f"{low.value:g}"), ("high", f"{high.value:g}"))
    elif median_min and 100 * abs(p.exposure_min - median_min) > share * median_min:
        yield "exposure-off-median", (("days", days), ("median", f"{median_min / 1440:.1f}"))


def _depth(p: Placement, planned_m: float | None, tolerance_m: float) -> Iterator[_Facts]:
    if p.refusal:
        yield "hole-refused", (("depth", p.depth_text or "not recorded"),)
    elif _off_plan(p, planned_m, tolerance_m):
        yield "depth-off-plan", (("depth", p.depth_text), ("planned", f"{planned_m:.2f} m"))


def _off_plan(p: Placement, planned_m: float | None, tolerance_m: float) -> bool:
    if planned_m is None or p.depth_m is None or p.medium != SOIL_MEDIA[0]:
        return False
    return abs(p.depth_m - planned_m) > tolerance_m + 1e-9


def planned_depth_m(survey: Survey) -> float | None:
    """Return the planned depth in metres, None where the plan gives none."""
    depth = survey.plan.depth
    return to_metres(depth.value, depth.unit) if depth else None


def laboratory_marks(store: pd.DataFrame, pairs: Iterable[Pair]) -> Iterator[tuple[tuple[str, str], MarkFact]]:
    """Yield marks of single results: calibration range, duplicate pairs."""
    above = store[store["detected"] & (store["value"] > store["calibration_top"])]
    for row in stored_results(above):
        facts = (("top", repr(row.calibration_top)), ("unit", row.unit))
        yield row.key, MarkFact("above-calibration", "result", "+".join(row.key), facts)
    for pair in pairs:
        for result in pair.results:
            if result.verdict == DIFFERS:
                subject = f"{pair.primary_id}+{pair.duplicate_id}"
                facts = (("first", pair.primary_id), ("second", pair.duplicate_id))
                mark = MarkFact("duplicate-differs", "result", subject, facts)
                for one in (result.primary, result.duplicate):
                    yield one.key, mark
