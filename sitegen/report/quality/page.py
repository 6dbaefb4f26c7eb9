"""The page on quality: completeness, blanks, duplicates, surrogates, calibration."""

from __future__ import annotations

from dataclasses import replace

from sitegen.compute.field.completeness import STAGES, Stages
from sitegen.compute.quality.duplicates import AGREES, DIFFERS, NOT_CALCULABLE, Pair, with_results
from sitegen.compute.quality.holding import batch_holds
from sitegen.compute.results.store import StoredResult
from sitegen.compute.statistics.rounding import as_reported, percent, percent_of
from sitegen.report.evidence.defence import batch_ref, batches_table
from sitegen.report.points.results import duplicate_table, runs_table
from sitegen.report.quality.figures import before_after_figure, duplicates_figure
from sitegen.report.quality.labcontrol import controls_table, surrogates_table
from sitegen.report.quality.proposing import proposed_table, rules_table
from sitegen.report.record.pages import Block, Cell, Column, Page, Ref, Section, Table
from sitegen.report.results.blanktables import affected_table, before_after_table, blanks_analysed_table, blanks_table
from sitegen.report.write.blanking import partly_silent
from sitegen.report.write.context import Context, location_ref
from sitegen.report.write.traced import traced
from sitegen.report.write.values import value_cell
from sitegen.report.write.words import prose, say, word

PAGE = Ref("page", "quality")


@traced
def quality_page(context: Context) -> Page:
    """Return the page on quality."""
    return Page(PAGE, "Quality review", lead(context), quality_blocks(context), group="Quality")


def lead(context: Context) -> str:
    """Return the sentences that open the page on quality."""
    ev = context.evaluation
    codes = [finding.code for finding in context.findings]
    overall = ev.completeness.overall
    return say(
        "quality.lead",
        usable=overall.counts[4],
        unnoted=ev.completeness.unnoted_planned,
        planned=overall.counts[0],
        results=ev.completeness.every.counts[3],
        hits=len(ev.blank_hits),
        unplaced=[hit.reach for hit in ev.blank_hits if not hit.members],
        touched=len({key for hit in ev.blank_hits for key in hit.touched}),
        pairs=len(with_results(ev.pairs)),
        compared=sum(pair.compared for pair in ev.pairs),
        pairs_differ=sum(bool(pair.count(DIFFERS)) for pair in ev.pairs),
        surrogates=codes.count("surrogate-out"),
        over=codes.count("above-calibration"),
        tops=ev.tops.results,
        marked=ev.tops.marked,
        blanks=len(ev.blanks),
        analysed=sum(blank.analysed for blank in ev.blanks),
        silent=partly_silent(context),
        bases=context.bases,
    )


@traced
def quality_blocks(context: Context) -> tuple[Block, ...]:
    """Return the quality review in the order in which a reviewer asks."""
    counts = before_after_table(context)
    blanks = (
        blanks_analysed_table(context),
        blanks_table(context),
        affected_table(context),
        *(before_after_figure(context, counts) or (counts,)),
    )
    return (
        prose("quality.how"),
        Section("completeness", "Completeness", completeness_tables(context)),
        Section("blanks", "Blanks", blanks),
        Section(
            "duplicates",
            "Duplicates",
            (rates_table(context), pairs_table(context), *duplicates_figure(context), *_pair_tables(context)),
        ),
        Section("surrogates", "Surrogates and controls", (surrogates_table(context), controls_table(context))),
        Section("calibration", "Calibration range", calibration_tables(context)),
        Section("batches", "Batches", (batches_table(context),)),
        Section("holding", "Holding times", (holding_table(context),)),
        Section("proposed", "Qualifiers proposed by rule", (proposed_table(context), rules_table(context))),
    )


@traced
def completeness_tables(context: Context) -> tuple[Table, ...]:
    """Return completeness of the whole survey, then by medium, surface, day, bag and batch."""
    done = context.evaluation.completeness
    groups = done.planned_by if len(done.planned_by) > 1 else ()
    whole = _stages_table(
        "completeness", say("quality.stages_caption"), (done.overall, *groups, done.added, done.every), "Points",
        context.evaluation.limits["completeness_pct"].value,
    )  # fmt: skip
    beside = {"chained": len(done.chained), "unnoted": len(done.unnoted), "usable": done.every.counts[-1]}
    whole = replace(whole, note=say("quality.stages_note", **beside))
    parts = tuple(
        _stages_table(f"completeness-{key}", say("quality.stages_by_caption", key=key), groups, key.capitalize())
        for key, groups in done.by.items()
    )
    return (whole, *parts)


def _stages_table(
    table_id: str, caption: str, groups: tuple[Stages, ...], head: str, limit_pct: float | None = None
) -> Table:
    columns = (
        Column("group", head),
        *(Column(s, say("quality.stage_all") if s == STAGES[0] else word("stage", s), kind="number") for s in STAGES),
    )
    rows = []
    known = [any(group.counts[stage] for group in groups) for stage in range(1, len(STAGES))]
    if known[STAGES.index("analysed") - 1]:
        known[-1] = True
    for group in groups:
        counts = group.counts
        shares = (f"{n} ({percent(n, counts[0], limit_pct)})" for n in counts[1:])
        cells = [
            Cell(str(counts[0])),
            *(Cell(text if there else "–") for text, there in zip(shares, known, strict=True)),
        ]
        label = word("points", group.group) if table_id == "completeness" else word("medium", group.group)
        rows.append((Cell(label), *cells))
    return Table(table_id, caption, columns, tuple(rows))


@traced
def rates_table(context: Context) -> Table:
    """Return pairs with results against primaries with results, of all media and by medium group, beside the plan."""
    limit = context.evaluation.limits["duplicate_rate"]
    columns = (
        Column("group", "Medium"),
        Column("pairs", "Pairs with results", kind="number"),
        Column("primaries", "Primaries with results", kind="number"),
        Column("rate", "Rate", kind="number"),
        Column("planned", "Planned", kind="number"),
    )
    rows = tuple(
        (
            Cell(word("medium_group", one.group)),
            Cell(str(one.pairs)),
            Cell(str(one.primaries)),
            Cell(
                percent(one.pairs, one.primaries, 100 * limit.value), tone="flag" if one.short_of(limit.value) else ""
            ),
            Cell(percent_of(limit.value)),
        )
        for one in context.evaluation.duplicate_rates
    )
    return Table("duplicate-rates", say("quality.rates_caption"), columns, rows, note=f"Source: {limit.source}.")


@traced
def pairs_table(context: Context) -> Table:
    """Return the duplicate pairs with the number of compounds by outcome."""
    limits = context.evaluation.limits
    columns = (
        Column("point", "Point"),
        Column("primary", "Primary"),
        Column("duplicate", "Duplicate"),
        Column("agrees", "Agree", kind="number"),
        Column("differs", "Differ", kind="number"),
        Column("none", "Not calculable", kind="number"),
        Column("which", "Compounds that differ", kind="wide"),
    )
    rows = tuple(
        (
            Cell(pair.location_id, location_ref(pair.location_id)),
            Cell(pair.primary_id, Ref("sampler", pair.primary_id)),
            Cell(pair.duplicate_id, Ref("sampler", pair.duplicate_id)),
            Cell(str(pair.count(AGREES))),
            Cell(str(pair.count(DIFFERS)), tone="flag" if pair.count(DIFFERS) else ""),
            Cell(str(pair.count(NOT_CALCULABLE))),
            Cell(_differing(context, pair)),
        )
        for pair in context.evaluation.pairs
    )
    note = say(
        "quality.pairs_note",
        multiple=f"{limits['duplicate_rl_multiple'].value:g}",
        rpd=f"{limits['duplicate_rpd_pct'].value:g}",
        difference=f"{limits['duplicate_difference_rl'].value:g}",
        source=limits["duplicate_rpd_pct"].source,
        planned_rate=limits["duplicate_rate"].text,
        achieved=context.evaluation.duplicate_rates[0].pairs,
        points=context.evaluation.duplicate_rates[0].primaries,
    )
    return Table("pairs", say("quality.pairs_caption"), columns, rows, note=note, empty=say("quality.pairs_none"))


def _differing(context: Context, pair: Pair) -> str:
    if not pair.results:
        known = {"primary": pair.primary_id, "duplicate": pair.duplicate_id}
        return say("quality.pair_without", **{name: sampler in context.by_sampler for name, sampler in known.items()})
    return ", ".join(context.name(r.analyte_id) for r in pair.results if r.verdict == DIFFERS) or "–"


@traced
def _pair_tables(context: Context) -> tuple[Table, ...]:
    return tuple(duplicate_table(context, pair) for pair in with_results(context.evaluation.pairs))


@traced
def holding_table(context: Context) -> Table:
    """Return the days from the end of sampling to analysis, batch by batch, beside the limit."""
    limit = context.evaluation.limits["hold_days"]
    columns = (
        Column("batch", "Batch"),
        Column("samples", "Samples", kind="number"),
        Column("shortest", "Shortest", "days", "number"),
        Column("longest", "Longest", "days", "number"),
        Column("limit", "Limit", "days", "number"),
        Column("over", "Over the limit", kind="number"),
        Column("which", "Which", kind="wide"),
    )
    rows = tuple(
        (
            Cell(hold.batch_id or "none", batch_ref(hold.batch_id) if hold.batch_id else None),
            Cell(str(hold.samples)),
            Cell(f"{hold.shortest_days:.1f}"),
            Cell(f"{hold.longest_days:.1f}", tone="flag" if hold.over else ""),
            Cell(f"{limit.value:g}"),
            Cell(str(len(hold.over)), tone="flag" if hold.over else ""),
            Cell("; ".join(hold.over) or "–"),
        )
        for hold in batch_holds(context.evaluation.holding.values(), limit.value)
    )
    note = say("quality.holding_note", source=limit.source)
    empty = say("quality.holding_none")
    return Table("holding", say("quality.holding_caption"), columns, rows, note=note, empty=empty)


@traced
def calibration_tables(context: Context) -> tuple[Table, ...]:
    """Return the results above the calibration, then other runs of the same samplers where they are on file."""
    rows = _over(context)
    runs = runs_table(context, "runs-over", say("quality.runs_caption"), rows, with_point=True)
    return (over_table(context), runs) if runs else (over_table(context),)


def _over(context: Context) -> list[StoredResult]:
    """Return the reported results that lie above the top of their calibration."""
    return [
        row for rows in context.by_sampler.values() for row in rows if row.detected and row.value > row.calibration_top
    ]


@traced
def over_table(context: Context) -> Table:
    """Return the results that lie above the calibration."""
    rows = _over(context)
    columns = (
        Column("point", "Point"),
        Column("compound", "Compound"),
        Column("result", "Result", context.mass_unit.text, "number"),
        Column("top", "Top of calibration", context.mass_unit.symbol, "number"),
    )
    body = tuple(
        (
            Cell(
                row.location_id or row.label,
                location_ref(row.location_id) if row.location_id else None,
            ),
            Cell(context.name(row.analyte_id), Ref("compound", row.analyte_id)),
            value_cell(row, context.display, context.marks(row)),
            Cell(as_reported(row.calibration_top)),
        )
        for row in rows
    )
    empty = say(
        "quality.none_over",
        basis=context.bases["calibration"],
        tops=context.evaluation.tops.results,
        marked=context.evaluation.tops.marked,
    )
    return Table("over-range", say("quality.over_caption"), columns, body, empty=empty)
