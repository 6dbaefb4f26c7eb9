"""Field: condition, exposure and depth of each sampler; losses."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from sitegen.checks.catalogue import catalogue, find
from sitegen.checks.rows import departures, enumeration, number_of
from sitegen.compute.evaluate import Evaluation
from sitegen.compute.field.exposure import IN_PLACE, LOST, NOT_RETRIEVED, Placement
from sitegen.compute.field.stage import stage
from sitegen.compute.formats import day_text
from sitegen.compute.quality.fieldmarks import planned_depth_m
from sitegen.findings.problems import Finding, Severity, Touch
from sitegen.project.survey import Survey
from sitegen.voice import worded

_DECIDE = "decide whether this is sufficient, and write a disposition"
_ON_RECORD: Mapping[str, str] = {
    "exposure-out-of-plan": _DECIDE,
    "hole-refused": f"compare this point with others with caution, {_DECIDE}",
    "depth-off-plan": _DECIDE,
}
"""What is left to do once a departure says the effect; other findings ask for the same as before."""


def sampler_marks(survey: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """Condition, exposure and depth of each recovered sampler."""
    expected = _expectations(survey, evaluation)
    on_record = departures(survey)
    for p in evaluation.placements:
        for mark in evaluation.marks.by_sampler.get(p.sampler_id, ()):
            if mark.scope == "sampler":
                about, wanted = expected[mark.code]
                column, found = _cell_behind(p, about)
                found = worded("refusal at {found}", found=found) if mark.code == "hole-refused" else found
                where, do = p.origin.where(column), _to_do(mark.code, p, on_record)
                touches = [Touch(p.sampler_id)]
                yield find(mark.code, p.sampler_id, where, found, wanted, do=do, kind="sampler", touches=touches)


def _to_do(code: str, p: Placement, on_record: Mapping[str, str]) -> str:
    """Return what to do where a departure is on record, "" where the catalogue's words hold."""
    known = on_record.get(p.sampler_id) or on_record.get(p.location_id)
    asked = _ON_RECORD.get(code)
    return f"{known}; {worded(asked) if asked else _remedy(code)}" if known else ""


def _remedy(code: str) -> str:
    text = catalogue()[code].do
    return text[0].lower() + text[1:].rstrip(".")


def _cell_behind(p: Placement, about: str) -> tuple[str, str]:
    """Return the column behind a mark and what it holds."""
    if about == "depth":
        return ("depth_m" if p.depth_text.endswith(" m") else "depth_ft"), _depth(p)
    if about == "condition":
        return about, worded(p.condition.replace("_", " "))
    return about, worded("exposure of {days:.1f} days", days=p.exposure_days or 0.0)


def _depth(p: Placement) -> str:
    """Write a depth in metres, as the plan is compared in, with the depth as received.

    Feet are told beside metres, metres alone once.
    """
    if p.depth_m is None:
        return p.depth_text or worded("no depth")
    if p.depth_text.endswith(" m"):
        return p.depth_text
    return worded("{metres:.2f} m ({depth} as received)", metres=p.depth_m, depth=p.depth_text)


def not_back(survey: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """Every sampler placed is retrieved: those lost are named, those in place counted, the others asked for."""
    on_record = departures(survey)
    for p in evaluation.placements:
        where = p.origin.where("retrieved_at")
        if p.state == LOST:
            found, do = (
                worded(p.condition.replace("_", " ") or "lost, according to samplers.csv"),
                _to_do("sampler-lost", p, on_record),
            )
            yield find(
                "sampler-lost", p.sampler_id, where, found, worded("recovery of the sampler"), do=do, kind="sampler"
            )
        elif p.state == NOT_RETRIEVED:
            found = worded("no retrieval on record, though the planned exposure ended on {day}", day=day_text(p.due_on))
            expected = worded("retrieved_at, or the condition not_recovered")
            yield find("retrieval-missing", p.sampler_id, where, found, expected, kind="sampler")
    yield from _in_place(survey, [p for p in evaluation.placements if p.state == IN_PLACE])


def _in_place(survey: Survey, still: Sequence[Placement]) -> Iterator[Finding]:
    """Count the samplers in place, since when and until when; while a survey is in the field that is no fault."""
    if not still:
        return
    names = enumeration(p.sampler_id for p in still)
    since, until = min(p.placed_at for p in still)[:10], sorted({p.due_on for p in still})
    found = worded(
        "{samplers} still deployed on the report date, since {day}: {names}",
        samplers=number_of(len(still), "sampler"), day=day_text(since), names=names,
    )  # fmt: skip
    expected = worded(
        "retrieval by {day}, the last by {last}, the end of the planned exposure"
        if len(until) > 1
        else "retrieval by {day}, the end of the planned exposure",
        day=day_text(until[0]),
        last=day_text(until[-1]),
    )
    severity = Severity.NOTE if stage(survey) == "in_field" else None
    where = still[0].origin.where("retrieved_at")
    yield find("samplers-in-place", "survey", where, found, expected, severity=severity)


def _expectations(survey: Survey, evaluation: Evaluation) -> dict[str, tuple[str, str]]:
    """Return column and expectation for each code of a sampler's mark."""
    limits = evaluation.limits
    low, high = limits["exposure_days_min"].value, limits["exposure_days_max"].value
    depth = planned_depth_m(survey)
    tolerance = limits["depth_tolerance_m"].value
    planned = (
        f"{depth:.2f} m ± {tolerance:.2f} m{_own_units(survey)}" if depth is not None else worded("the planned depth")
    )
    median = (evaluation.median_exposure_min or 0.0) / 1440
    share = limits["exposure_from_median_pct"].value
    intact = ("condition", worded("intact"))
    return {
        "water-in-sampler": intact,
        "cap-damaged": intact,
        "glass-damaged": intact,
        "soil-in-sampler": intact,
        "sampler-disturbed": intact,
        "exposure-out-of-plan": ("retrieved_at", worded("{low:g} to {high:g} days", low=low, high=high)),
        "exposure-off-median": ("retrieved_at", worded("{days:.1f} days ± {share:g} %", days=median, share=share)),
        "hole-refused": ("depth", planned),
        "depth-off-plan": ("depth", planned),
    }


def _own_units(survey: Survey) -> str:
    """Return the plan's depth and tolerance in their own units, "" where these are metres."""
    stated = [q for q in (survey.settings.plan.depth, survey.settings.plan.depth_tolerance) if q is not None]
    own = " ± ".join(f"{quantity.value:g} {quantity.unit}" for quantity in stated)
    return worded(" ({own} in the plan)", own=own) if any(quantity.unit != "m" for quantity in stated) else ""


EVALUATION_RULES = (sampler_marks, not_back)
