"""Several samplers at one point: which stands for it, what the others are, and their results."""

from __future__ import annotations

from sitegen.compute.field.exposure import DUPLICATE, FIELD_BLANK, Placement
from sitegen.project.schema import AIR_MEDIA
from sitegen.report.points.results import results_table
from sitegen.report.record.pages import Cell, Column, Ref, Table
from sitegen.report.write.context import Context
from sitegen.report.write.words import say, word


def samplers_table(context: Context, name: str) -> Table | None:
    """Return the samplers at a point with what each is there; None where there is one alone."""
    here = (*context.placed_at.get(name, ()), *context.opened_at.get(name, ()))
    if len(here) < 2:
        return None
    columns = (
        Column("sampler", "Sampler"),
        Column("role", "Role", kind="wide"),
        Column("placed", "Placed or opened"),
        Column("retrieved", "Retrieved or closed"),
        Column("days", "Exposure", "days", "number"),
        Column("state", "State"),
        Column("detected", "Compounds detected", kind="number"),
    )
    rows = tuple(_row(context, p) for p in sorted(here, key=lambda p: (p.role == FIELD_BLANK, p.placed_utc, p.origin)))
    return Table(f"samplers-{name}", say("location.samplers_caption", location=name), columns, rows)


def _row(context: Context, p: Placement) -> tuple[Cell, ...]:
    blank = p.role == FIELD_BLANK
    return (
        Cell(p.sampler_id, Ref("sampler", p.sampler_id)),
        Cell(role_text(context, p)),
        Cell(context.moment(p.placed_utc)),
        Cell(context.moment(p.retrieved_utc) if p.retrieved_utc is not None else "–"),
        Cell("–" if blank or p.exposure_days is None else f"{p.exposure_days:.2f}"),
        Cell("–" if blank else word("state", p.state)),
        Cell(_results_text(context, p)),
    )


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
