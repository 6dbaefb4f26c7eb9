"""Field: order of times, condition, depth, losses, custody events."""

from __future__ import annotations

from collections.abc import Iterator

from sitegen.checks.catalogue import find
from sitegen.compute.custody import GAP, OVERLAP, Chain
from sitegen.compute.evaluate import Evaluation
from sitegen.compute.fieldmarks import depth_tolerance_m, planned_depth_m, seal_differences
from sitegen.problems import Finding, Touch, Where
from sitegen.project.survey import Survey
from sitegen.project.zones import local_text


def retrieved_after_placed(survey: Survey) -> Iterator[Finding]:
    """Find samplers retrieved before they were placed."""
    table = survey.tables["deployments"]
    frame = table.frame
    for index in frame.index[frame["retrieved_at_utc"] <= frame["placed_at_utc"]]:
        row = frame.loc[index]
        yield find(
            "retrieved-before-placed",
            str(row["sampler_id"]),
            table.where(index, "retrieved_at"),
            f"{row['retrieved_at']}, placed {row['placed_at']}",
            "a time after placing",
            kind="sampler",
        )


def sampler_marks(survey: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """Condition, exposure and depth of each recovered sampler."""
    path = survey.tables["deployments"].spec.path
    expected = _expectations(survey, evaluation)
    for p in evaluation.placements:
        for mark in evaluation.marks.by_sampler.get(p.sampler_id, ()):
            if mark.scope != "sampler":
                continue
            column, wanted = expected[mark.code]
            found = {"condition": p.condition, "depth": p.depth_text or "no depth"}.get(column)
            days = p.exposure_days or 0.0
            yield find(
                mark.code,
                p.sampler_id,
                Where(path, p.row, column),
                found or f"{days:.1f} days in the ground",
                wanted,
                kind="sampler",
                touches=[Touch(p.sampler_id)],
            )
        if not p.recovered:
            found = p.condition or "no time of retrieval"
            yield find(
                "sampler-lost", p.sampler_id, Where(path, p.row), found, "a recovered sampler", kind="sampler"
            )


def _expectations(survey: Survey, evaluation: Evaluation) -> dict[str, tuple[str, str]]:
    """Return column and expectation for each code of a sampler's mark."""
    limits = evaluation.limits
    low, high = limits["exposure_days_min"].value, limits["exposure_days_max"].value
    depth = planned_depth_m(survey)
    tolerance = depth_tolerance_m(survey, limits)
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


def custody_gaps(survey: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """Gaps and overlaps in the chains of bags, shipments and samplers."""
    held = evaluation.custody
    seen: set[str] = set()
    for chain in (*held.bags.values(), *held.shipments.values(), *held.samplers.values()):
        for finding in _spans(survey, evaluation, chain):
            if finding.key not in seen:
                seen.add(finding.key)
                yield finding


def _spans(survey: Survey, evaluation: Evaluation, chain: Chain) -> Iterator[Finding]:
    for span in chain.spans:
        if span.state not in (GAP, OVERLAP):
            continue
        first = span.events[0]
        code = "custody-gap" if span.state == GAP else "custody-overlap"
        subject = f"{first.subject_id}+{span.start}"
        key = f"{code}:{subject}"
        touched = [
            Touch(name)
            for name, marks in evaluation.marks.by_sampler.items()
            if any(mark.key == key for mark in marks)
        ]
        since = local_text(span.start, survey.time_zone)
        yield find(
            code,
            subject,
            Where(first.file, first.row, "at"),
            f"{span.minutes} min from {since}, {span.holder}",
            "one recorded holder",
            kind=first.subject_kind,
            touches=touched,
        )


def seals(survey: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """Seals read at receipt as applied."""
    for kind, name, applied, read, row in seal_differences(survey):
        table = "custody" if kind == "bag" else "shipments"
        column = "seal_number" if kind == "bag" else "seal_received"
        hint = " (two digits changed places)" if sorted(applied) == sorted(read) else ""
        key = f"seal-differs:{name}"
        yield find(
            "seal-differs",
            name,
            Where(survey.tables[table].spec.path, row, column),
            f"{read} read at receipt{hint}",
            f"{applied}, as applied",
            kind=kind,
            touches=[
                Touch(s)
                for s, marks in evaluation.marks.by_sampler.items()
                if any(m.key == key for m in marks)
            ],
        )


def unsigned(survey: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """Hand-overs without a signature."""
    table = survey.tables["custody"]
    handed = ("relinquished", "accepted", "received", "lab_received")
    frame = table.frame
    for index in frame.index[(frame["signature"] == "none") & frame["event"].isin(handed)]:
        row = frame.loc[index]
        key = f"hand-over-unsigned:{row['event_id']}"
        yield find(
            "hand-over-unsigned",
            str(row["event_id"]),
            table.where(index, "signature"),
            f"no signature of {row['by_role']} for {row['subject_kind']} {row['subject_id']}",
            "ink or electronic",
            kind="event",
            touches=[
                Touch(s)
                for s, marks in evaluation.marks.by_sampler.items()
                if any(m.key == key for m in marks)
            ],
        )


RULES = (retrieved_after_placed,)
EVALUATION_RULES = (sampler_marks, custody_gaps, seals, unsigned)
