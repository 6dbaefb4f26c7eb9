"""Drawings of the quality review: what blanks take away, and how well duplicates agree."""

from __future__ import annotations

from sitegen.compute.quality.duplicates import DIFFERS, PairResult, with_results
from sitegen.compute.results.store import StoredResult
from sitegen.figures.scatter import BlankPair, DuplicateDot, before_after, duplicate_scatter
from sitegen.report.record.pages import Cell, Figure, Table
from sitegen.report.record.specs import Spec, table
from sitegen.report.write.columns import compound_column, point_cell
from sitegen.report.write.context import Context
from sitegen.report.write.traced import traced
from sitegen.report.write.values import value_cell
from sitegen.report.write.words import say
from sitegen.units import MASS_UNITS


def before_after_figure(context: Context, counts: Table) -> tuple[Figure, ...]:
    """Draw detections before and after the blank rule; nothing where no blank touches any.

    ``counts`` is the table that holds the same counts.
    """
    pairs = [
        BlankPair(context.name(analyte), soil.analysed, soil.detected, soil.unblanked)
        for (analyte, group), soil in context.evaluation.summaries.items()
        if group == "soil" and soil.unblanked != soil.detected
    ]
    if not pairs:
        return ()
    most = max(pairs, key=lambda pair: pair.before - pair.after)
    facts = {"count": len(pairs), "most": f"{most.label} ({most.before} to {most.after})"}
    return (
        Figure(
            "before-after-drawn",
            before_after("before-after-drawn", pairs),
            say("figures.before_caption", **facts),
            say("figures.before_alt", **facts),
            say("figures.before_words", **facts),
            counts,
        ),
    )


def duplicates_figure(context: Context) -> tuple[Figure, ...]:
    """Draw duplicates against primaries; nothing where no pair has a detection."""
    listed = [
        (pair.location_id, result)
        for pair in with_results(context.evaluation.pairs)
        for result in pair.results
        if all(row.unit in MASS_UNITS and _stands(row) for row in (result.primary, result.duplicate))
    ]
    seen = [(at, result) for at, result in listed if result.primary.detected or result.duplicate.detected]
    if not seen:
        return ()
    differing = [(at, result) for at, result in seen if result.verdict == DIFFERS]
    limit_pct = context.evaluation.limits["duplicate_rpd_pct"].value
    facts = {
        "limit": f"{limit_pct:g}",
        "drawn": len(seen),
        "pairs": len(with_results(context.evaluation.pairs)),
        "silent": len(listed) - len(seen),
        "unit": context.mass_unit.text,
        "differ": len(differing),
    }
    return (
        Figure(
            "duplicate-scatter",
            duplicate_scatter(
                "duplicate-scatter", [_dot(context, *one) for one in seen], limit_pct, context.mass_unit.text
            ),
            say("figures.scatter_caption", **facts),
            say("figures.scatter_alt", **facts),
            say("figures.scatter_words", **facts),
            _differing(context, differing),
        ),
    )


def _stands(row: StoredResult) -> bool:
    """Tell whether a result, or the limit of a non-detect, can stand on a decade axis."""
    return bool((row.value if row.detected else row.rl) > 0)


def _dot(context: Context, location_id: str, result: PairResult) -> DuplicateDot:
    both = (result.primary, result.duplicate)
    primary, duplicate = (row.value if row.detected else None for row in both)
    limit = next((row.rl for row in both if not row.detected), result.primary.rl)
    label = f"{location_id} {context.name(result.analyte_id)}"
    return DuplicateDot(label, primary, duplicate, limit, result.verdict == DIFFERS)


@traced
def _differing(context: Context, found: list[tuple[str, PairResult]]) -> Table:
    unit = context.mass_unit.text

    def value(row: StoredResult) -> Cell:
        return value_cell(row, context.display, context.ringed(row))

    columns: list[Spec[tuple[str, PairResult]]] = [
        Spec("point", "Point", cell=lambda one: point_cell(one[0])),
        compound_column(context).of(lambda one: one[1]),
        Spec("primary", "Primary", unit, "number", cell=lambda one: value(one[1].primary)),
        Spec("duplicate", "Duplicate", unit, "number", cell=lambda one: value(one[1].duplicate)),
    ]
    return table("duplicate-scatter-data", say("figures.scatter_data"), columns, found)
