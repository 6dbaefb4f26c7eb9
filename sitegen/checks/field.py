"""Field: condition, exposure and depth of each sampler; losses."""

from __future__ import annotations

from collections.abc import Iterator

from sitegen.checks.catalogue import find
from sitegen.compute.evaluate import Evaluation
from sitegen.compute.exposure import Placement
from sitegen.compute.fieldmarks import planned_depth_m
from sitegen.problems import Finding, Touch, Where
from sitegen.project.survey import Survey


def sampler_marks(survey: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """Condition, exposure and depth of each recovered sampler."""
    path = survey.tables["deployments"].spec.path
    expected = _expectations(survey, evaluation)
    for p in evaluation.placements:
        for mark in evaluation.marks.by_sampler.get(p.sampler_id, ()):
            if mark.scope == "sampler":
                about, wanted = expected[mark.code]
                column, found = _as_found(p, about)
                where = Where(path, p.row, column)
                touches = [Touch(p.sampler_id)]
                yield find(mark.code, p.sampler_id, where, found, wanted, kind="sampler", touches=touches)


def _as_found(p: Placement, about: str) -> tuple[str, str]:
    """Return the column behind a mark and what it holds."""
    if about == "depth":
        return ("depth_m" if p.depth_text.endswith(" m") else "depth_ft"), p.depth_text or "no depth"
    if about == "condition":
        return about, p.condition
    return about, f"{p.exposure_days or 0.0:.1f} days in the ground"


def lost(survey: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """Every sampler placed is recovered."""
    path = survey.tables["deployments"].spec.path
    for p in evaluation.placements:
        if not p.recovered:
            found = p.condition or "no time of retrieval"
            yield find("sampler-lost", p.sampler_id, Where(path, p.row), found, "a recovered sampler", kind="sampler")


def _expectations(survey: Survey, evaluation: Evaluation) -> dict[str, tuple[str, str]]:
    """Return column and expectation for each code of a sampler's mark."""
    limits = evaluation.limits
    low, high = limits["exposure_days_min"].value, limits["exposure_days_max"].value
    depth = planned_depth_m(survey)
    tolerance = limits["depth_tolerance_m"].value
    planned = f"{depth:.2f} m ± {tolerance:.2f} m" if depth is not None else "the planned depth"
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


EVALUATION_RULES = (sampler_marks, lost)
