"""Tables of what was detected in blanks, and of what they touch."""

from __future__ import annotations

from sitegen.compute.quality.blanks import BAG, DAY, Affected, Blank, BlankHit
from sitegen.compute.results.store import StoredResult
from sitegen.compute.results.summary import Summary
from sitegen.compute.statistics.rounding import percent
from sitegen.report.record.pages import Cell, Ref, Table
from sitegen.report.record.specs import Spec, table
from sitegen.report.write.blanking import partly_silent, silent_text, unless_silent
from sitegen.report.write.columns import compound_column, point_cell
from sitegen.report.write.context import Context
from sitegen.report.write.traced import traced
from sitegen.report.write.values import limit_cell, value_cell
from sitegen.report.write.words import say, word
from sitegen.voice import thousands, worded


@traced
def blanks_analysed_table(context: Context) -> Table:
    """Return every blank with results: what it applies to, and how much was detected in it."""
    columns: list[Spec[Blank]] = [
        Spec("kind", "Blank", cell=lambda one: word("blank", one.kind)),
        Spec("label", "Sample", cell=lambda one: one.label),
        Spec("opened", "Opened at", cell=lambda one: _opened_cell(context, one.sampler_id)),
        Spec("group", "Applies to", cell=_reach_cell),
        Spec(
            "samples",
            say("quality.head_members"),
            kind="number",
            cell=lambda one: _if_known(one.samplers, one.samplers),
        ),
        Spec(
            "detected",
            "Compounds detected",
            kind="number",
            cell=lambda one: say("location.detected_of", detected=one.detected, analysed=one.analysed),
        ),
    ]
    note = say("quality.blanks_reach", day=context.survey.plan.field_blank == DAY)
    empty = say("quality.blanks_none")
    caption = say("quality.blanks_analysed_caption")
    return table("blanks-analysed", caption, columns, context.evaluation.blanks, note=note, empty=empty)


def _opened_cell(context: Context, sampler_id: str) -> Cell:
    placed = context.placed.get(sampler_id)
    return point_cell(placed.location_id if placed else "")


def _reach_cell(blank: Blank | BlankHit) -> Cell:
    """Return what a blank applies to: ``bag RB-1``, ``batch B1``, ``samplers of 2025-11-06``."""
    bag = Ref("bag", blank.group) if blank.reach == BAG and blank.group else None
    return Cell(say("quality.reach", reach=blank.reach, group=blank.group), bag)


@traced
def affected_table(context: Context) -> Table:
    """Return by medium group how many detections a blank affects."""
    limit = context.evaluation.limits["blank_share_pct"].value

    def affected_text(one: Affected) -> str:
        share = percent(one.affected, one.detected, limit)
        text = worded("{affected:,} ({share} of detections)", affected=one.affected, share=share)
        return unless_silent(context, text)

    columns: list[Spec[Affected]] = [
        Spec("group", "Medium", cell=lambda one: word("medium_group", one.group)),
        Spec("results", "Results", kind="number", cell=lambda one: thousands(f"{one.results:,}")),
        Spec("detected", "Detected", kind="number", cell=lambda one: thousands(f"{one.detected:,}")),
        Spec("affected", "Affected by a blank", kind="number", cell=affected_text),
    ]
    caption = say("quality.affected_caption", silent=silent_text(context))
    return table("blank-affected", caption, columns, context.evaluation.affected)


@traced
def blanks_table(context: Context) -> Table:
    """Return every detection in a blank with what it touches."""
    rule = context.evaluation.blank_rule
    return table(
        "blanks",
        say("quality.blanks_caption", rule=word("rule", rule.name)),
        _hit_columns(context),
        context.evaluation.blank_hits,
        note=say("quality.blanks_note", source=rule.source),
        empty=say(
            "quality.no_hits",
            blanks=len(context.evaluation.blanks),
            analysed=sum(blank.analysed for blank in context.evaluation.blanks),
            silent=partly_silent(context),
        ),
    )


def _hit_columns(context: Context) -> list[Spec[BlankHit]]:
    unit = context.mass_unit.symbol

    def result(hit: BlankHit) -> StoredResult:
        return context.by_key[hit.lab_sample_id, hit.analyte_id]

    return [
        Spec("kind", "Blank", cell=_kind_cell),
        Spec("label", "Sample", cell=lambda hit: hit.label),
        Spec("group", "Applies to", cell=_reach_cell),
        compound_column(context),
        Spec("value", "Found", unit, "number", cell=lambda hit: value_cell(result(hit), context.display, ())),
        Spec("rl", "Reporting limit", unit, "number", cell=lambda hit: limit_cell(result(hit), "rl")),
        Spec(
            "members", say("quality.head_members"), kind="number", cell=lambda hit: _if_known(hit.members, hit.members)
        ),
        Spec(
            "touched", "Detections affected", kind="number", cell=lambda hit: _if_known(hit.members, len(hit.touched))
        ),
    ]


def _kind_cell(hit: BlankHit) -> Cell:
    code = f"{hit.kind.replace('_', '-')}-detection"
    return Cell(word("blank", hit.kind), Ref("finding", f"{code}:{hit.lab_sample_id}+{hit.analyte_id}"))


def _if_known(samplers: int, count: int) -> str:
    """Return a count of what a blank applies to, unless no sampler is on record in its bag, batch or day."""
    return str(count) if samplers else say("quality.not_known")


@traced
def before_after_table(context: Context) -> Table:
    """Return the detections at soil points, and those that no blank affects, where they differ."""
    columns: list[Spec[Summary]] = [
        compound_column(context),
        Spec("analysed", worded("Analysed"), kind="number", cell=lambda soil: str(soil.analysed)),
        Spec(
            "before",
            "Detected",
            kind="number",
            cell=lambda soil: f"{soil.detected} ({percent(soil.detected, soil.analysed)})",
        ),
        Spec(
            "after",
            "Not affected by a blank",
            kind="number",
            cell=lambda soil: Cell(f"{soil.unblanked} ({percent(soil.unblanked, soil.analysed)})", tone="flag"),
        ),
    ]
    soils = [soil for (_, group), soil in context.evaluation.summaries.items() if group == "soil"]
    items = [soil for soil in soils if soil.unblanked != soil.detected]
    empty = say(
        "quality.none_affected",
        points=context.soil_points,
        blanks=len(context.evaluation.blanks),
        speak=context.evaluation.blanks_speak,
        silent=silent_text(context),
    )
    return table("before-after", say("quality.beforeafter_caption"), columns, items, empty=empty)
