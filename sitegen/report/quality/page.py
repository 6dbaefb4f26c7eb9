"""The page on quality: completeness, blanks, duplicates, surrogates, calibration."""

from __future__ import annotations

from dataclasses import replace

from sitegen.compute.field.completeness import STAGES, Stages
from sitegen.compute.quality.duplicates import AGREES, DIFFERS, NOT_CALCULABLE, DuplicateRate, Pair, with_results
from sitegen.compute.quality.holding import BatchHold, batch_holds
from sitegen.compute.results.store import StoredResult
from sitegen.compute.statistics.rounding import as_reported, percent, percent_of
from sitegen.report.evidence.defence import batch_ref, batches_table
from sitegen.report.points.results import duplicate_table, runs_table
from sitegen.report.quality.blankpictures import blank_figures
from sitegen.report.quality.completepicture import completeness_figure
from sitegen.report.quality.controlpictures import control_figures
from sitegen.report.quality.figures import before_after_figure, duplicates_figure
from sitegen.report.quality.labcontrol import controls_table, surrogates_table
from sitegen.report.quality.proposing import proposed_table, rules_table
from sitegen.report.record.pages import Block, Cell, Page, Ref, Section, Table
from sitegen.report.record.specs import Spec, table
from sitegen.report.results.blanktables import affected_table, before_after_table, blanks_analysed_table, blanks_table
from sitegen.report.write.blanking import partly_silent
from sitegen.report.write.columns import POINT, POINT_OR_LABEL, compound_column, result_column, sampler_cell
from sitegen.report.write.context import Context
from sitegen.report.write.traced import traced
from sitegen.report.write.words import prose, say, word
from sitegen.voice import worded

PAGE = Ref("page", "quality")


@traced
def quality_page(context: Context) -> Page:
    """Return the page on quality."""
    return Page(PAGE, worded("Quality review"), lead(context), quality_blocks(context), group="Quality")


def lead(context: Context) -> str:
    """Return the sentences that open the page on quality."""
    ev = context.evaluation
    codes = [finding.code for finding in context.own_findings]
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
        *blank_figures(context),
        affected_table(context),
        *(before_after_figure(context, counts) or (counts,)),
    )
    return (
        prose("quality.how"),
        Section("completeness", worded("Completeness"), (*completeness_figure(context), *completeness_tables(context))),
        Section("blanks", worded("Blanks"), blanks),
        Section(
            "duplicates",
            worded("Duplicates"),
            (rates_table(context), pairs_table(context), *duplicates_figure(context), *_pair_tables(context)),
        ),
        Section(
            "surrogates",
            worded("Surrogates and controls"),
            (*control_figures(context), surrogates_table(context), controls_table(context)),
        ),
        Section("calibration", worded("Calibration range"), calibration_tables(context)),
        Section("batches", worded("Analysis batches"), (batches_table(context),)),
        Section("holding", worded("Hold times"), (holding_table(context),)),
        Section("proposed", worded("Proposed qualifiers"), (proposed_table(context), rules_table(context))),
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
    known = [any(group.counts[stage] for group in groups) for stage in range(len(STAGES))]
    known[-1] = known[-1] or known[STAGES.index("analysed")]
    of = "points" if table_id == "completeness" else "medium"
    columns: list[Spec[Stages]] = [
        Spec("group", head, cell=lambda group: word(of, group.group)),
        Spec(STAGES[0], say("quality.stage_all"), kind="number", cell=lambda group: str(group.counts[0])),
        *(_stage_column(stage, limit_pct, known=known[stage]) for stage in range(1, len(STAGES))),
    ]
    return table(table_id, caption, columns, groups)


def _stage_column(stage: int, limit_pct: float | None, *, known: bool) -> Spec[Stages]:
    """Return the column of a later stage: points with their share of the first; dashes where nothing is known of it."""

    def share(group: Stages) -> str:
        first, here = group.counts[0], group.counts[stage]
        return f"{here} ({percent(here, first, limit_pct)})" if known else "–"

    return Spec(STAGES[stage], word("stage", STAGES[stage]), kind="number", cell=share)


@traced
def rates_table(context: Context) -> Table:
    """Return pairs with results against primaries with results, of all media and by medium group, beside the plan."""
    limit = context.evaluation.limits["duplicate_rate"]

    def rate_cell(one: DuplicateRate) -> Cell:
        rate = percent(one.pairs, one.primaries, 100 * limit.value)
        return Cell(rate, tone="flag" if one.short_of(limit.value) else "")

    columns: list[Spec[DuplicateRate]] = [
        Spec("group", "Medium", cell=lambda one: word("medium_group", one.group)),
        Spec("pairs", "Pairs with results", kind="number", cell=lambda one: str(one.pairs)),
        Spec("primaries", "Primaries with results", kind="number", cell=lambda one: str(one.primaries)),
        Spec("rate", "Rate", kind="number", cell=rate_cell),
        Spec("planned", "Planned", kind="number", cell=lambda _: percent_of(limit.value)),
    ]
    caption, rates = say("quality.rates_caption"), context.evaluation.duplicate_rates
    return table("duplicate-rates", caption, columns, rates, note=worded("Source: {source}.", source=limit.source))


@traced
def pairs_table(context: Context) -> Table:
    """Return the duplicate pairs with the number of compounds by outcome."""
    limits = context.evaluation.limits
    columns: list[Spec[Pair]] = [
        POINT,
        Spec("primary", "Primary", cell=lambda pair: sampler_cell(pair.primary_id)),
        Spec("duplicate", "Duplicate", cell=lambda pair: sampler_cell(pair.duplicate_id)),
        Spec("agrees", "Agree", kind="number", cell=lambda pair: str(pair.count(AGREES))),
        Spec("differs", "Differ", kind="number", cell=lambda pair: _flagged_count(pair.count(DIFFERS))),
        Spec("none", "Not calculable", kind="number", cell=lambda pair: str(pair.count(NOT_CALCULABLE))),
        Spec("which", "Compounds that differ", kind="wide", cell=lambda pair: _differing(context, pair)),
    ]
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
    caption, empty = say("quality.pairs_caption"), say("quality.pairs_none")
    return table("pairs", caption, columns, context.evaluation.pairs, note=note, empty=empty)


def _flagged_count(count: int) -> Cell:
    return Cell(str(count), tone="flag" if count else "")


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

    def longest_cell(hold: BatchHold) -> Cell:
        return Cell(f"{hold.longest_days:.1f}", tone="flag" if hold.over else "")

    columns: list[Spec[BatchHold]] = [
        Spec("batch", "Batch", cell=_batch_cell),
        Spec("samples", "Samples", kind="number", cell=lambda hold: str(hold.samples)),
        Spec("shortest", "Shortest", "days", "number", cell=lambda hold: f"{hold.shortest_days:.1f}"),
        Spec("longest", "Longest", "days", "number", cell=longest_cell),
        Spec("limit", "Limit", "days", "number", cell=lambda _: f"{limit.value:g}"),
        Spec("over", "Over the limit", kind="number", cell=lambda hold: _flagged_count(len(hold.over))),
        Spec("which", "Samples over the limit", kind="wide", cell=lambda hold: "; ".join(hold.over) or "–"),
    ]
    return table(
        "holding",
        say("quality.holding_caption"),
        columns,
        batch_holds(context.evaluation.holding.values(), limit.value),
        note=say("quality.holding_note", source=limit.source),
        empty=say("quality.holding_none"),
    )


def _batch_cell(hold: BatchHold) -> Cell:
    return Cell(hold.batch_id, batch_ref(hold.batch_id)) if hold.batch_id else Cell(worded("none"))


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
    columns: list[Spec[StoredResult]] = [
        POINT_OR_LABEL,
        compound_column(context),
        result_column(context),
        Spec(
            "top",
            "Upper calibration limit",
            context.mass_unit.symbol,
            "number",
            cell=lambda row: as_reported(row.calibration_top),
        ),
    ]
    empty = say(
        "quality.none_over",
        basis=context.bases["calibration"],
        tops=context.evaluation.tops.results,
        marked=context.evaluation.tops.marked,
    )
    return table("over-range", say("quality.over_caption"), columns, _over(context), empty=empty)
