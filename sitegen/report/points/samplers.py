"""Several samplers at one point: which stands for it, what the others are, and their results."""

from __future__ import annotations

from sitegen.compute.field.exposure import DUPLICATE, FIELD_BLANK, Placement
from sitegen.project.schema import AIR_MEDIA
from sitegen.report.points.results import results_table
from sitegen.report.record.pages import Table
from sitegen.report.record.specs import Spec, table
from sitegen.report.write.columns import SAMPLER
from sitegen.report.write.context import Context
from sitegen.report.write.traced import traced
from sitegen.report.write.words import say, word


@traced
def samplers_table(context: Context, name: str) -> Table | None:
    """Return the samplers at a point with what each is there; None where there is one alone."""
    here = (*context.placed_at.get(name, ()), *context.opened_at.get(name, ()))
    if len(here) < 2:
        return None
    results: list[Spec[Placement]] = [
        Spec("detected", "Compounds detected", kind="number", cell=lambda p: _results_text(context, p))
    ]
    columns: list[Spec[Placement]] = [
        SAMPLER,
        Spec("role", "Role", kind="wide", cell=lambda p: role_text(context, p)),
        Spec("placed", "Deployed or opened", cell=lambda p: context.moment(p.placed_utc)),
        Spec("retrieved", "Retrieved or closed", cell=lambda p: context.moment(p.retrieved_utc)),
        Spec("days", "Exposure", "days", "number", cell=_days_text),
        Spec("state", "State", cell=lambda p: "–" if p.role == FIELD_BLANK else word("state", p.state)),
        *(results if context.with_results else ()),
    ]
    ordered = sorted(here, key=lambda p: (p.role == FIELD_BLANK, p.placed_utc, p.origin))
    return table(f"samplers-{name}", say("location.samplers_caption", location=name), columns, ordered)


def _days_text(p: Placement) -> str:
    return "–" if p.role == FIELD_BLANK or p.exposure_days is None else f"{p.exposure_days:.2f}"


def _results_text(context: Context, p: Placement) -> str:
    results = context.by_sampler.get(p.sampler_id, ())
    if not results:
        return say("location.no_results")
    return say("location.detected_of", detected=sum(bool(row.detected) for row in results), analysed=len(results))


def role_text(context: Context, p: Placement) -> str:
    """Say what a sampler is at its point, and which sampler took its place."""
    by = next((q.sampler_id for q in context.placed_at.get(p.location_id, ()) if q.replaces == p.sampler_id), "")
    stands = context.primary_at(p.location_id)
    return say(
        "location.role",
        role=word("role", p.role),
        duplicate_of=p.duplicate_of if p.role == DUPLICATE else "",
        replaces=p.replaces,
        replaced_by=by,
        stands=stands is not None and stands.sampler_id == p.sampler_id,
    )


@traced
def other_results(context: Context, name: str) -> tuple[Table, ...]:
    """Return the results of samplers that do not stand for their point, each in a table of its own.

    A duplicate in soil has its pair's table. In air a duplicate counts like its primary; a sampler that was
    replaced keeps its results, which enter no summary of soil.
    """
    return tuple(
        results_table(context, name, context.by_sampler[p.sampler_id], sampler=p.sampler_id)
        for p in context.placed_at.get(name, ())
        if p.sampler_id in context.by_sampler
        and p != context.primary_at(name)
        and (p.role != DUPLICATE or p.medium in AIR_MEDIA)
    )
