"""What the report opens with: the highest mass of each group of compounds, and one map with the reason for it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from sitegen.compute.picture.leading import Leading, highest_by_group, leading
from sitegen.compute.results.store import StoredResult
from sitegen.compute.results.summary import Summary
from sitegen.figures.ground import Ground
from sitegen.report.record.pages import Block, Figure, Prose, Table
from sitegen.report.record.specs import Spec, table
from sitegen.report.results.compound import highest_marked, map_figure
from sitegen.report.write.blanking import partly_silent
from sitegen.report.write.columns import compound_column, point_cell, result_column
from sitegen.report.write.context import Context
from sitegen.report.write.traced import traced
from sitegen.report.write.values import value_text
from sitegen.report.write.words import opening, prose, say, word

NAMED = 2
"""Groups named in the opening sentence, for the summary keeps to a page in print; the table has them all."""


def top_text(context: Context) -> str:
    """Name the highest mass of the groups with most, and how many groups have detections; "" where none has."""
    tops = highest_by_group(context.evaluation)
    named = list(tops.values())[:NAMED]
    masses = [f"{context.name(soil.analyte_id)} {highest_marked(context, soil)}" for soil in named]
    return say("front.top", masses=masses, groups=len(tops)) if masses else ""


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
            "Detected at soil points",
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


def first_map(context: Context, ground: Ground | None) -> tuple[Prose, Figure | None]:
    """Return why a compound is on the first map, and its map; or why there is none."""
    found = leading(context.evaluation)
    figure = map_figure(context, context.compounds[found.summary.analyte_id], ground) if found and ground else None
    return prose("front.map_why", drawn=figure is not None, **_why(context, found)), figure


def _why(context: Context, found: Leading | None) -> Mapping[str, object]:
    limit = context.evaluation.limits["front_detections_min"]
    facts: dict[str, object] = {
        "points": context.soil_points,
        "least": f"{limit.value:g}",
        "source": limit.source,
        "found": found is not None,
        "unaffected": say("front.unaffected", speak=context.evaluation.blanks_speak, silent=partly_silent(context)),
    }
    if found is None:
        return facts
    soil = found.summary
    row = context.by_key[found.lab_sample_id, soil.analyte_id]
    return facts | {
        "name": context.name(soil.analyte_id),
        "mass": value_text(row, context.display),
        "unit": context.mass_unit.text,
        "where": row.location_id,
        "detected": soil.detected,
        "analysed": soil.analysed,
        "among": found.among,
        "mapped": found.mapped,
    }


@traced
def first_map_blocks(context: Context, ground: Ground | None) -> tuple[Block, ...]:
    """Return the first map with the reason for it above."""
    why, figure = first_map(context, ground)
    return (why, figure) if figure else (why,)
