"""What the report opens with: the highest mass of each group of compounds, and one map with the reason for it."""

from __future__ import annotations

from collections.abc import Mapping

from sitegen.compute.picture.leading import Leading, highest_by_group, leading
from sitegen.compute.results.summary import Summary
from sitegen.figures.ground import Ground
from sitegen.report.record.pages import Block, Cell, Column, Figure, Prose, Table
from sitegen.report.results.compound import highest_marked, map_figure
from sitegen.report.results.compoundtables import compound_ref
from sitegen.report.write.blanking import partly_silent
from sitegen.report.write.context import Context, location_ref
from sitegen.report.write.traced import traced
from sitegen.report.write.values import value_cell, value_text
from sitegen.report.write.words import prose, say, word

NAMED = 2
"""Groups named in the opening sentence, for the summary keeps to a page in print; the table has them all."""


def top_text(context: Context) -> str:
    """Name the highest mass of the groups with most, and how many groups have detections; "" where none has."""
    tops = highest_by_group(context.evaluation)
    named = list(tops.values())[:NAMED]
    masses = [f"{context.name(soil.analyte_id)} {highest_marked(context, soil)}" for soil in named]
    return say("front.top", masses=masses, groups=len(tops)) if masses else ""


@traced
def tops_table(context: Context) -> Table:
    """Return the highest mass of each group of compounds in soil gas, the highest first."""
    columns = (
        Column("group", "Group of compounds"),
        Column("compound", "Compound"),
        Column("result", "Highest", context.mass_unit.text, "number"),
        Column("point", "At"),
        Column("found", "Detected at soil points", tells=True),
    )
    tops = highest_by_group(context.evaluation)
    rows = tuple(_top_row(context, group, soil) for group, soil in tops.items())
    caption, empty = (
        say("front.tops_caption", unit=context.mass_unit.text),
        say("front.tops_none", points=context.soil_points),
    )
    return Table("group-tops", caption, columns, rows, empty=empty)


def _top_row(context: Context, group: str, soil: Summary) -> tuple[Cell, ...]:
    row = context.by_key[soil.highest_sample, soil.analyte_id]
    head = word("compound_group", group)
    return (
        Cell(head[:1].upper() + head[1:]),
        Cell(context.name(soil.analyte_id), compound_ref(context.compounds[soil.analyte_id])),
        value_cell(row, context.display, context.marks(row)),
        Cell(soil.highest_at, location_ref(soil.highest_at)),
        Cell(say("front.detected_of", detected=soil.detected, analysed=soil.analysed)),
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
