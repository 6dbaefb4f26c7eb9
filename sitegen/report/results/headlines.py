"""What the report opens with: where each group of compounds is highest, how often it was detected, and two maps."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, NamedTuple

from sitegen.compute.picture.leading import Leading, group_detections, highest_by_group, leading_by_group
from sitegen.compute.results.store import StoredResult
from sitegen.compute.results.summary import Summary
from sitegen.figures.ground import Ground
from sitegen.report.record.pages import Block, Figure, Prose, Ref, Section, Table
from sitegen.report.record.specs import Spec, table
from sitegen.report.results.compound import highest_marked, map_figure, soil_rows
from sitegen.report.write.blanking import partly_silent
from sitegen.report.write.columns import compound_column, point_cell, result_column
from sitegen.report.write.context import Context
from sitegen.report.write.traced import traced
from sitegen.report.write.values import highest_text
from sitegen.report.write.whereabouts import where_text
from sitegen.report.write.words import markdown, opening, say, word

NAMED = 2
"""Groups of compounds that the report opens with, each with a map; the table of groups has them all."""


def answer_groups(context: Context) -> tuple[str, ...]:
    """Return the groups of compounds to open with: those that a map is shown of, then those with the highest mass."""
    mapped = (one.group for one in leading_by_group(context.evaluation))
    return tuple(dict.fromkeys((*mapped, *highest_by_group(context.evaluation))))[:NAMED]


def found_prose(context: Context, of_round: str = "") -> Prose:
    """Say of each group to open with how often it was detected and where which compound is highest, in which round."""
    tops = highest_by_group(context.evaluation)
    named = answer_groups(context)
    refs = tuple(Ref("source", tops[group].highest_sample, tops[group].analyte_id) for group in named)
    text = markdown(
        "front.found_text",
        groups=[_group_facts(context, group, tops[group]) for group in named],
        others=[word("compound_group", group) for group in tops if group not in named],
        points=context.soil_points,
        unit=context.mass_unit.text,
        round=of_round,
    )
    return Prose(text, refs)


def headline(context: Context) -> str:
    """Say in one sentence which compound of each group is highest and where; "" where nothing was detected."""
    tops = highest_by_group(context.evaluation)
    groups = [_group_facts(context, group, tops[group]) for group in answer_groups(context)]
    return say("front.headline", groups=groups) if groups else ""


def top_text(context: Context) -> str:
    """Name the highest mass of the groups with most, and how many groups have detections; "" where none has."""
    tops = highest_by_group(context.evaluation)
    named = list(tops.values())[:NAMED]
    masses = [f"{context.name(soil.analyte_id)} {highest_marked(context, soil)}" for soil in named]
    return say("front.top", masses=masses, groups=len(tops)) if masses else ""


def _group_facts(context: Context, group: str, soil: Summary) -> dict[str, Any]:
    row = context.by_key[soil.highest_sample, soil.analyte_id]
    counted = group_detections(context.evaluation, group)
    return {
        "group": word("compound_group", group),
        "detected": counted.detected,
        "unblanked": counted.unblanked,
        "analysed": counted.analysed,
        "name": context.name(soil.analyte_id),
        "value": highest_text(soil),
        "where": where_text(context, soil.highest_at),
        "tied": _others_as_high(context, row),
        "marks": list(dict.fromkeys(mark.word for mark in context.marks(row))),
    }


def _others_as_high(context: Context, row: StoredResult) -> int:
    """Count the other soil points whose mass of a compound is that of a result."""
    rows = soil_rows(context, context.compounds[row.analyte_id])
    equal = {one.location_id for one in rows if one.detected and not one.rejected and one.value == row.value}
    return len(equal - {row.location_id})


class _Top(NamedTuple):
    """The highest mass of a group of compounds: the summary that has it, and its result."""

    group: str
    soil: Summary
    row: StoredResult


@traced
def tops_table(context: Context) -> Table:
    """Return the highest mass of each group of compounds in soil gas, the highest first."""
    columns: list[Spec[_Top]] = [
        Spec("group", "Group of compounds", cell=lambda top: opening(word("compound_group", top.group))),
        compound_column(context).of(lambda top: top.soil),
        result_column(context, title="Highest").of(lambda top: top.row),
        Spec("point", "At", cell=lambda top: point_cell(top.soil.highest_at)),
        Spec(
            "found",
            "This compound detected at soil points",
            cell=lambda top: say("front.detected_of", detected=top.soil.detected, analysed=top.soil.analysed),
            tells=True,
        ),
    ]
    return table(
        "group-tops",
        say("front.tops_caption", unit=context.mass_unit.text),
        columns,
        [
            _Top(group, soil, context.by_key[soil.highest_sample, soil.analyte_id])
            for group, soil in highest_by_group(context.evaluation).items()
        ],
        empty=say("front.tops_none", points=context.soil_points),
    )


@traced
def first_maps(context: Context, ground: Ground | None, *, printed: bool = False) -> tuple[Block, ...]:
    """Return how the maps were chosen, and a section for each: its title is what it shows; or why there is none.

    In the report as ``printed`` the drawings have names of their own and leave their words to the chapter on results.
    """
    chosen = leading_by_group(context.evaluation)[:NAMED]
    limit = context.evaluation.limits["front_detections_min"]
    rule = markdown(
        "front.map_rule",
        maps=len(chosen),
        drawn=ground is not None,
        titles=[_title(context, one) for one in chosen],
        points=context.soil_points,
        least=f"{limit.value:g}",
        source=limit.source,
        mapped=any(compound.mapped for compound in context.evaluation.compounds),
        unaffected=say("front.unaffected", speak=context.evaluation.blanks_speak, silent=partly_silent(context)),
    )
    sections = tuple(
        Section(f"first-map-{number}", _title(context, one), (_drawn(context, one, ground, printed=printed),))
        for number, one in enumerate(chosen, start=1)
        if ground
    )
    return (*sections, Prose(rule))


def _drawn(context: Context, one: Leading, ground: Ground, *, printed: bool) -> Figure:
    figure = map_figure(context, context.compounds[one.summary.analyte_id], ground)
    return replace(figure, id=f"summary-{figure.id}", description="", table=None) if printed else figure


def _title(context: Context, one: Leading) -> str:
    """Say where a compound is highest, of results that no blank affects."""
    soil = one.summary
    row = context.by_key[one.lab_sample_id, soil.analyte_id]
    return say(
        "front.map_title",
        name=context.name(soil.analyte_id),
        where=where_text(context, row.location_id),
        sole=soil.detected == 1,
        clean=row.value != soil.highest,
        tied=_others_as_high(context, row),
    )
