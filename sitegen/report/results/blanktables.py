"""Tables of what was detected in blanks, and of what they touch."""

from __future__ import annotations

from sitegen.compute.quality.blanks import BAG, DAY, BlankHit
from sitegen.compute.statistics.rounding import percent
from sitegen.report.record.pages import Cell, Column, Ref, Table
from sitegen.report.write.blanking import partly_silent, silent_text, unless_silent
from sitegen.report.write.context import Context, location_ref
from sitegen.report.write.traced import traced
from sitegen.report.write.values import limit_cell, value_cell
from sitegen.report.write.words import say, word


@traced
def blanks_analysed_table(context: Context) -> Table:
    """Return every blank with results: what it applies to, and how much was detected in it."""
    columns = (
        Column("kind", "Blank"),
        Column("label", "Sample"),
        Column("opened", "Opened at"),
        Column("group", "Applies to"),
        Column("samples", say("quality.head_members"), kind="number"),
        Column("detected", "Compounds detected", kind="number"),
    )
    rows = tuple(
        (
            Cell(word("blank", one.kind)),
            Cell(one.label),
            _opened_cell(context, one.sampler_id),
            Cell(_reach_text(one.reach, one.group), Ref("bag", one.group) if one.reach == BAG and one.group else None),
            _if_known(one.samplers, one.samplers),
            Cell(say("location.detected_of", detected=one.detected, analysed=one.analysed)),
        )
        for one in context.evaluation.blanks
    )
    note = say("quality.blanks_reach", day=context.survey.plan.field_blank == DAY)
    empty = say("quality.blanks_none")
    return Table("blanks-analysed", say("quality.blanks_analysed_caption"), columns, rows, note=note, empty=empty)


def _opened_cell(context: Context, sampler_id: str) -> Cell:
    placed = context.placed.get(sampler_id)
    return Cell(placed.location_id, location_ref(placed.location_id)) if placed else Cell("–")


def _reach_text(reach: str, group: str) -> str:
    """Say what a blank applies to: ``bag RB-1``, ``batch B1``, ``samplers of 2025-11-06``."""
    return say("quality.reach", reach=reach, group=group)


@traced
def affected_table(context: Context) -> Table:
    """Return by medium group how many detections a blank affects."""
    columns = (
        Column("group", "Medium"),
        Column("results", "Results", kind="number"),
        Column("detected", "Detected", kind="number"),
        Column("affected", "Affected by a blank", kind="number"),
    )
    limit = context.evaluation.limits["blank_share_pct"].value
    rows = tuple(
        (
            Cell(word("medium_group", one.group)),
            Cell(f"{one.results:,}"),
            Cell(f"{one.detected:,}"),
            Cell(
                unless_silent(context, f"{one.affected:,} ({percent(one.affected, one.detected, limit)} of detections)")
            ),
        )
        for one in context.evaluation.affected
    )
    caption = say("quality.affected_caption", silent=silent_text(context))
    return Table("blank-affected", caption, columns, rows)


@traced
def blanks_table(context: Context) -> Table:
    """Return every detection in a blank with what it touches."""
    rule = context.evaluation.blank_rule
    columns = (
        Column("kind", "Blank"),
        Column("label", "Sample"),
        Column("group", "Applies to"),
        Column("compound", "Compound"),
        Column("value", "Found", context.mass_unit.symbol, "number"),
        Column("rl", "Reporting limit", context.mass_unit.symbol, "number"),
        Column("members", say("quality.head_members"), kind="number"),
        Column("touched", "Detections touched", kind="number"),
    )
    rows = tuple(_blank_row(context, hit) for hit in context.evaluation.blank_hits)
    return Table(
        "blanks",
        say("quality.blanks_caption", rule=word("rule", rule.name)),
        columns,
        rows,
        note=say("quality.blanks_note", source=rule.source),
        empty=say(
            "quality.no_hits",
            blanks=len(context.evaluation.blanks),
            analysed=sum(blank.analysed for blank in context.evaluation.blanks),
            silent=partly_silent(context),
        ),
    )


def _blank_row(context: Context, hit: BlankHit) -> tuple[Cell, ...]:
    code = f"{hit.kind.replace('_', '-')}-detection"
    row = context.by_key[hit.lab_sample_id, hit.analyte_id]
    return (
        Cell(word("blank", hit.kind), Ref("finding", f"{code}:{hit.lab_sample_id}+{hit.analyte_id}")),
        Cell(hit.label),
        Cell(_reach_text(hit.reach, hit.group), Ref("bag", hit.group) if hit.reach == BAG and hit.group else None),
        Cell(context.name(hit.analyte_id), Ref("compound", hit.analyte_id)),
        value_cell(row, context.display, ()),
        limit_cell(row, "rl"),
        _if_known(hit.members, hit.members),
        _if_known(hit.members, len(hit.touched)),
    )


def _if_known(samplers: int, count: int) -> Cell:
    """Return a count of what a blank applies to, unless no sampler is on record in its bag, batch or day."""
    return Cell(str(count) if samplers else say("quality.not_known"))


@traced
def before_after_table(context: Context) -> Table:
    """Return the detections at soil points, and those that no blank affects, where they differ."""
    columns = (
        Column("compound", "Compound"),
        Column("analysed", "Analysed", kind="number"),
        Column("before", "Detected", kind="number"),
        Column("after", "Not affected by a blank", kind="number"),
    )
    rows = tuple(
        (
            Cell(context.name(analyte), Ref("compound", analyte)),
            Cell(str(s.analysed)),
            Cell(f"{s.detected} ({percent(s.detected, s.analysed)})"),
            Cell(f"{s.unblanked} ({percent(s.unblanked, s.analysed)})", tone="flag"),
        )
        for (analyte, group), s in context.evaluation.summaries.items()
        if group == "soil" and s.unblanked != s.detected
    )
    empty = say(
        "quality.none_affected",
        points=context.soil_points,
        blanks=len(context.evaluation.blanks),
        speak=context.evaluation.blanks_speak,
        silent=silent_text(context),
    )
    return Table("before-after", say("quality.beforeafter_caption"), columns, rows, empty=empty)
