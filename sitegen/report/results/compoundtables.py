"""Tables of summaries: one compound by group of points, all compounds over the soil points."""

from __future__ import annotations

from sitegen.compute.evaluate import Compound
from sitegen.compute.results.summary import Summary
from sitegen.compute.statistics.rounding import percent, shown
from sitegen.report.record.pages import Cell, Column, Ref, Table
from sitegen.report.write.blanking import silent_text, unless_silent
from sitegen.report.write.context import Context, location_ref
from sitegen.report.write.traced import traced
from sitegen.report.write.values import interval_text, limits_text, percentile_text, range_text
from sitegen.report.write.words import say, word
from sitegen.units import UNIT_TEXT


def compound_ref(compound: Compound) -> Ref:
    """Return the pointer to a compound's page."""
    return Ref("compound", compound.analyte_id)


def soil_summary(context: Context, compound: Compound) -> Summary | None:
    """Return a compound's summary over all soil points, None where it has no result there."""
    return context.evaluation.summaries.get((compound.analyte_id, "soil"))


def _summary_columns(context: Context) -> tuple[Column, ...]:
    """Return the columns of a summary; under a rule that makes non-detects, what it gives has columns of its own."""
    ruled = bool(context.evaluation.ruled_summaries)
    mass = context.mass_unit.text
    return (
        Column("analysed", "Analysed", kind="number"),
        Column("detected", "Detected", kind="number"),
        Column("unaffected", say("compound.head_unaffected", silent=silent_text(context)), kind="number"),
        *((Column("ruled", say("compound.head_ruled"), kind="number"),) if ruled else ()),
        Column("range", "Range of detections", mass, "number"),
        Column("p50", "Median", mass, "number"),
        *((Column("ruled50", say("compound.head_ruled50"), mass, "number"),) if ruled else ()),
        Column("p90", "90th percentile", mass, "number"),
        *((Column("ruled90", say("compound.head_ruled90"), mass, "number"),) if ruled else ()),
        Column("where", "Highest at"),
        Column("limits", "Reporting limits", mass, "number"),
    )


def _summary_cells(context: Context, summary: Summary) -> tuple[Cell, ...]:
    ruled = context.evaluation.ruled_summaries.get((summary.analyte_id, summary.group))
    limit = context.evaluation.limits["blank_share_pct"].value
    return (
        Cell(str(summary.analysed)),
        Cell(f"{summary.detected} ({percent(summary.detected, summary.analysed)})"),
        Cell(
            unless_silent(context, f"{summary.unblanked} ({percent(summary.unblanked, summary.detected, 100 - limit)})")
            if summary.detected
            else "–",
            tone="flag" if summary.unblanked != summary.detected else "",
        ),
        *((Cell(f"{ruled.detected} ({percent(ruled.detected, ruled.analysed)})"),) if ruled else ()),
        Cell(range_text(summary)),
        Cell(percentile_text(summary.percentiles[0])),
        *((Cell(percentile_text(ruled.percentiles[0])),) if ruled else ()),
        Cell(percentile_text(summary.percentiles[2])),
        *((Cell(percentile_text(ruled.percentiles[2])),) if ruled else ()),
        Cell(summary.highest_at or "–", location_ref(summary.highest_at) if summary.highest_at else None),
        Cell(limits_text(summary.rl_low, summary.rl_high) or "–"),
    )


@traced
def summary_table(context: Context, compound: Compound) -> Table:
    """Return a compound's summary for soil points, paved, unpaved and those without a surface on record apart."""
    found = context.evaluation.summaries
    groups = [g for g in ("soil", "paved", "unpaved", "surface_unrecorded") if (compound.analyte_id, g) in found]
    rows = tuple(
        (Cell(word("group", g)), *_summary_cells(context, made), Cell(interval_text(made.frequency)))
        for g in groups
        for made in (found[compound.analyte_id, g],)
    )
    return Table(
        f"summary-{compound.analyte_id}",
        say("compound.summary_caption", name=compound.name),
        (
            Column("group", "Points"),
            *_summary_columns(context),
            Column("interval", "Frequency, 95 % interval", "%", "number"),
        ),
        rows,
        note=say("compound.summary_note", ruled=bool(found) and bool(context.evaluation.ruled_summaries)),
    )


@traced
def means_table(context: Context, compound: Compound) -> Table | None:
    """Return the means that the project asked for, or why each is refused; None unless asked."""
    soil = soil_summary(context, compound)
    if soil is None or not soil.means:
        return None
    columns = (
        Column("estimator", "Estimator"),
        Column("mean", "Mean", UNIT_TEXT[soil.unit], "number"),
        Column("tail", "Tail placed at", UNIT_TEXT[soil.unit], "number"),
        Column("demand", "Demanded of the data", kind="wide"),
    )
    rows = tuple(
        (
            Cell(word("estimator", mean.demand.estimator)),
            Cell(shown(mean.value) if mean.value is not None else say("compound.refused", why=mean.refusal)),
            Cell(shown(mean.tail) if mean.tail is not None else "–"),
            Cell(
                say(
                    "compound.demand",
                    least=mean.demand.least_results,
                    most=f"{mean.demand.most_nondetect_pct:g}",
                    source=mean.demand.source,
                )
            ),
        )
        for mean in soil.means
    )
    caption = say("compound.means_caption", name=compound.name)
    return Table(f"means-{compound.analyte_id}", caption, columns, rows, note=say("compound.means_note"))


@traced
def index_table(context: Context) -> Table:
    """Return one row per compound over all soil points."""
    rows = []
    blank = (Cell("–"),) * len(_summary_columns(context))
    for compound in context.evaluation.compounds:
        soil = soil_summary(context, compound)
        head = (
            Cell(compound.name, compound_ref(compound)),
            Cell(word("compound_group", compound.group)),
        )
        rows.append((*head, *(_summary_cells(context, soil) if soil else blank)))
    return Table(
        "compounds",
        say("compound.index_caption", unit=context.mass_unit.text),
        (Column("compound", "Compound"), Column("group", "Group"), *_summary_columns(context)),
        tuple(rows),
        note=say("compound.index_note", ruled=bool(context.evaluation.ruled_summaries)),
        filters=("group",),
    )


@traced
def summary_row_table(context: Context) -> Table:
    """Return the mapped compounds at a glance."""
    rows = []
    for compound in context.evaluation.compounds:
        soil = soil_summary(context, compound)
        if compound.mapped and soil:
            rows.append((Cell(compound.name, compound_ref(compound)), *_summary_cells(context, soil)))
    return Table(
        "glance",
        say("front.top_caption", unit=context.mass_unit.text),
        (Column("compound", "Compound"), *_summary_columns(context)),
        tuple(rows),
        note=say("compound.index_note", ruled=bool(context.evaluation.ruled_summaries)),
    )
