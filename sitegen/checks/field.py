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
                found = f"refusal at {found}" if mark.code == "hole-refused" else found
                where, do = p.origin.where(column), _to_do(mark.code, p, on_record)
                touches = [Touch(p.sampler_id)]
                yield find(mark.code, p.sampler_id, where, found, wanted, do=do, kind="sampler", touches=touches)


def _to_do(code: str, p: Placement, on_record: Mapping[str, str]) -> str:
    """Return what to do where a departure is on record, "" where the catalogue's words hold."""
    known = on_record.get(p.sampler_id) or on_record.get(p.location_id)
    return f"{known}; {_ON_RECORD.get(code) or _remedy(code)}" if known else ""


def _remedy(code: str) -> str:
    text = catalogue()[code].do
    return text[0].lower() + text[1:].rstrip(".")


def _cell_behind(p: Placement, about: str) -> tuple[str, str]:
    """Return the column behind a mark and what it holds."""
    if about == "depth":
        return ("depth_m" if p.depth_text.endswith(" m") else "depth_ft"), _depth(p)
    if about == "condition":
        return about, p.condition.replace("_", " ")
    return about, f"exposure of {p.exposure_days or 0.0:.1f} days"


def _depth(p: Placement) -> str:
    """Write a depth in metres, as the plan is compared in, with the depth as received.

    Feet are told beside metres, metres alone once.
    """
    if p.depth_m is None:
        return p.depth_text or "no depth"
    return p.depth_text if p.depth_text.endswith(" m") else f"{p.depth_m:.2f} m ({p.depth_text} as received)"


def not_back(survey: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """Every sampler placed is retrieved: those lost are named, those in place counted, the others asked for."""
    on_record = departures(survey)
    for p in evaluation.placements:
        where = p.origin.where("retrieved_at")
        if p.state == LOST:
            found, do = (
                p.condition.replace("_", " ") or "lost, according to samplers.csv",
                _to_do("sampler-lost", p, on_record),
            )
            yield find("sampler-lost", p.sampler_id, where, found, "recovery of the sampler", do=do, kind="sampler")
        elif p.state == NOT_RETRIEVED:
            found = f"no retrieval on record, though the planned exposure ended on {day_text(p.due_on)}"
            expected = "retrieved_at, or the condition not_recovered"
            yield find("retrieval-missing", p.sampler_id, where, found, expected, kind="sampler")
    yield from _in_place(survey, [p for p in evaluation.placements if p.state == IN_PLACE])


def _in_place(survey: Survey, still: Sequence[Placement]) -> Iterator[Finding]:
    """Count the samplers in place, since when and until when; while a survey is in the field that is no fault."""
    if not still:
        return
    names = enumeration(p.sampler_id for p in still)
    since, until = min(p.placed_at for p in still)[:10], sorted({p.due_on for p in still})
    found = f"{number_of(len(still), 'sampler')} still deployed on the report date, since {day_text(since)}: {names}"
    last = f", the last by {day_text(until[-1])}" if len(until) > 1 else ""
    expected = f"retrieval by {day_text(until[0])}{last}, the end of the planned exposure"
    severity = Severity.NOTE if stage(survey) == "in_field" else None
    where = still[0].origin.where("retrieved_at")
    yield find("samplers-in-place", "survey", where, found, expected, severity=severity)


def _expectations(survey: Survey, evaluation: Evaluation) -> dict[str, tuple[str, str]]:
    """Return column and expectation for each code of a sampler's mark."""
    limits = evaluation.limits
    low, high = limits["exposure_days_min"].value, limits["exposure_days_max"].value
    depth = planned_depth_m(survey)
    tolerance = limits["depth_tolerance_m"].value
    planned = f"{depth:.2f} m ± {tolerance:.2f} m{_own_units(survey)}" if depth is not None else "the planned depth"
    median = (evaluation.median_exposure_min or 0.0) / 1440
    share = limits["exposure_from_median_pct"].value
    intact = ("condition", "intact")
    return {
        "water-in-sampler": intact,
        "cap-damaged": intact,
        "glass-damaged": intact,
        "soil-in-sampler": intact,
        "sampler-disturbed": intact,
        "exposure-out-of-plan": ("retrieved_at", f"{low:g} to {high:g} days"),
        "exposure-off-median": ("retrieved_at", f"{median:.1f} days ± {share:g} %"),
        "hole-refused": ("depth", planned),
        "depth-off-plan": ("depth", planned),
    }


def _own_units(survey: Survey) -> str:
    """Return the plan's depth and tolerance in their own units, "" where these are metres."""
    stated = [q for q in (survey.settings.plan.depth, survey.settings.plan.depth_tolerance) if q is not None]
    own = " ± ".join(f"{quantity.value:g} {quantity.unit}" for quantity in stated)
    return f" ({own} in the plan)" if any(quantity.unit != "m" for quantity in stated) else ""


EVALUATION_RULES = (sampler_marks, not_back)
