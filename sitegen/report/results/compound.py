"""Compound pages: where a compound was found, how often, how high, and how sure."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from sitegen.compute.evaluate import Compound
from sitegen.compute.quality.blanks import BlankHit
from sitegen.compute.results.reported import printed_text
from sitegen.compute.results.store import StoredResult
from sitegen.compute.results.summary import Summary
from sitegen.compute.statistics.classes import size_class
from sitegen.compute.statistics.rounding import percent
from sitegen.figures.bars import ranked_bars
from sitegen.figures.ground import Ground
from sitegen.figures.inputs import ResultBar
from sitegen.figures.sitemap import symbol_map
from sitegen.project.schema import SOIL_MEDIA
from sitegen.project.tables import Analyte
from sitegen.report.record.lone import MAPS
from sitegen.report.record.pages import Block, Callout, Cell, Facts, Figure, Page, Ref, Section, Table
from sitegen.report.record.specs import Spec, table
from sitegen.report.results.compoundtables import compound_ref, index_table, means_table, soil_summary, summary_table
from sitegen.report.results.contouring import contour_section
from sitegen.report.results.cumulative import cumulative_figures
from sitegen.report.results.mapdata import lone_compounds, place_values
from sitegen.report.results.standout import compound_lows, share_links
from sitegen.report.write.columns import POINT, SAMPLER, result_column
from sitegen.report.write.context import Context
from sitegen.report.write.searchwords import compound_words
from sitegen.report.write.traced import traced
from sitegen.report.write.values import (
    highest_text,
    limits_text,
    place_text,
    value_text,
)
from sitegen.report.write.words import markdown, say, word
from sitegen.units import UNIT_TEXT
from sitegen.voice import worded

INDEX = Ref("page", "compounds")


def compound_pages(context: Context, ground: Ground | None) -> Iterator[Page]:
    """Yield the list of compounds, then a page for each, linked one to the next."""
    listed = context.evaluation.compounds
    spellings = {row.analyte_id: [*map(str.strip, row.synonyms.split(";"))] for row in context.survey.rows(Analyte)}
    found = sum(bool(s.detected) for (_, group), s in context.evaluation.summaries.items() if group == "soil")
    yield Page(
        INDEX,
        worded("Compounds"),
        say(
            "compound.index_lead",
            unit=context.mass_unit.text,
            count=len(listed),
            found=found,
            points=context.soil_points,
        ),
        (index_table(context),),
        group="Results",
        search=" ".join(compound.name for compound in listed),
    )
    for at, compound in enumerate(listed):
        yield Page(
            compound_ref(compound),
            compound.name,
            lead(context, compound),
            compound_blocks(context, compound, ground),
            parent=INDEX,
            previous=compound_ref(listed[at - 1]) if at else None,
            following=compound_ref(listed[at + 1]) if at + 1 < len(listed) else None,
            search=f"{compound.name} {compound.cas} {compound.analyte_id}",
            words=compound_words(compound.cas, compound.analyte_id, compound.cas, *spellings[compound.analyte_id]),
        )


def lead(context: Context, compound: Compound) -> str:
    """Return the sentence that opens a compound's page."""
    soil = soil_summary(context, compound)
    if soil is None:
        return say("compound.lead", analysed=0)
    ruled = context.evaluation.ruled_summaries.get((compound.analyte_id, "soil"))
    return say(
        "compound.lead",
        name=compound.name,
        ruled=ruled.detected if ruled else None,
        analysed=soil.analysed,
        detected=soil.detected,
        unblanked=soil.unblanked,
        touched=soil.detected - soil.unblanked,
        share=percent(soil.detected, soil.analysed),
        limits=limits_text(soil.rl_low, soil.rl_high),
        highest=highest_marked(context, soil),
        unit=UNIT_TEXT[soil.unit],
    )


def highest_marked(context: Context, soil: Summary) -> str:
    """Write the highest mass with qualifier, unit, point and marks: ``600 ng per sampler at SG-46 (custody)``."""
    row = context.by_key.get((soil.highest_sample, soil.analyte_id))
    return say(
        "compound.highest",
        value=highest_text(soil),
        unit=UNIT_TEXT[soil.unit],
        where=soil.highest_at,
        marks=dict.fromkeys(mark.word for mark in context.marks(row)) if row else (),
    )


@traced
def compound_blocks(context: Context, compound: Compound, ground: Ground | None) -> tuple[Block, ...]:
    """Return everything about one compound."""
    blocks: list[Block] = []
    callout = blank_callout(context, compound)
    if callout:
        blocks.append(callout)
    blocks += compound_lows(context, compound.analyte_id)
    rows = soil_rows(context, compound)
    means = means_table(context, compound)
    summed = (_facts(context, compound), summary_table(context, compound), *((means,) if means else ()))
    blocks.append(Section("summary", worded("Summary"), summed))
    if rows:
        drawings: list[Block] = []
        if compound.mapped and ground:
            drawings.append(map_figure(context, compound, ground))
        drawings.append(ranked_figure(context, compound))
        drawings += cumulative_figures(context, compound, rows)
        blocks.append(Section("pattern", worded("Distribution"), tuple(drawings)))
        interpolated = contour_section(context, compound, ground)
        if interpolated:
            blocks.append(interpolated)
        blocks.append(Section("points", worded("All points"), (points_table(context, compound, rows),)))
    return tuple(blocks)


def soil_rows(context: Context, compound: Compound) -> list[StoredResult]:
    """Return the results at soil points, highest first, then non-detects by point."""
    rows = [r for r in context.by_compound.get(compound.analyte_id, []) if r.medium in SOIL_MEDIA]
    return sorted(rows, key=lambda r: (not r.detected, -(r.value if r.detected else 0), r.location_id))


def blank_callout(context: Context, compound: Compound) -> Callout | None:
    """Say what blanks do to this compound; None where they do nothing."""
    hits = [hit for hit in context.evaluation.blank_hits if hit.analyte_id == compound.analyte_id]
    soil = soil_summary(context, compound)
    if not hits or soil is None or soil.detected == soil.unblanked:
        return None
    touched = soil.detected - soil.unblanked
    half = context.evaluation.limits["blank_share_pct"].value <= 100 * touched / soil.detected
    text = markdown(
        "compound.blank_text",
        unit=context.mass_unit.text,
        hits=[_hit(context, hit) for hit in hits],
        name=compound.name,
        half=half,
        rule=word("rule", context.evaluation.blank_rule.name),
    )
    refs = tuple(Cell(say("compound.hit_link", blank=hit.label), _hit_ref(hit)) for hit in hits)
    refs += share_links(context, compound.analyte_id)
    title = say("compound.blank_title", touched=touched, detected=soil.detected)
    return Callout("flag", title, text, refs)


def _hit(context: Context, hit: BlankHit) -> dict[str, Any]:
    return {
        "blank": hit.label,
        "kind": word("blank", hit.kind),
        "group": hit.group,
        "reach": hit.reach,
        "value": printed_text(context.by_key[hit.lab_sample_id, hit.analyte_id], context.display),
        "members": hit.members,
        "touched": len(hit.touched),
    }


def _hit_ref(hit: BlankHit) -> Ref:
    code = f"{hit.kind.replace('_', '-')}-detection"
    return Ref("finding", f"{code}:{hit.lab_sample_id}+{hit.analyte_id}")


def _facts(context: Context, compound: Compound) -> Facts:
    at_map = Ref("map", compound.analyte_id) if context.by_compound.get(compound.analyte_id) else None
    lone = [one.analyte_id for one in lone_compounds(context)] if context.points else []
    page = lone.index(compound.analyte_id) + 1 if compound.analyte_id in lone else 0
    mass = f"{compound.molar_mass_g_mol:g} g/mol" if compound.molar_mass_g_mol is not None else "–"
    return Facts(
        (
            (worded("CAS number"), Cell(compound.cas)),
            (worded("Group"), Cell(word("compound_group", compound.group))),
            (worded("Molar mass"), Cell(mass)),
            *(((worded("On the map"), Cell(say("figures.open_map", name=compound.name), at_map)),) if at_map else ()),
            *(((worded("Full-page map"), Cell(say("lone.open"), Ref("file", MAPS, f"page={page}"))),) if page else ()),
        ),
        frozenset({worded("Molar mass")}),
    )


@traced
def map_figure(context: Context, compound: Compound, ground: Ground) -> Figure:
    """Return a compound on the map of the site: drawn once, shown on its page and in print."""
    key = compound.analyte_id, ground.room.placing
    if key not in context.maps:
        context.maps[key] = _map_figure(context, compound, ground)
    return context.maps[key]


@traced
def _map_figure(context: Context, compound: Compound, ground: Ground) -> Figure:
    values = place_values(context, compound.analyte_id)
    soil = soil_summary(context, compound)
    rows = soil_rows(context, compound)
    hits = [row for row in rows if row.detected]
    facts = {
        "name": compound.name,
        "unit": context.mass_unit.text,
        "analysed": len(rows),
        "nondetects": len(rows) - len(hits),
        "where": soil.highest_at if soil else "",
        "top": "; ".join(f"{r.location_id} ({value_text(r, context.display)})" for r in hits[:3]),
        "several": len(hits) > 1,
        "direction": worded(context.falls.get(compound.analyte_id, "")),
        "marked": sum(context.has_ring(row) for row in rows),
    }
    return Figure(
        f"map-{compound.analyte_id}",
        symbol_map(f"map-{compound.analyte_id}", ground, values, context.class_labels, context.mass_unit.text),
        say("compound.map_caption", **facts),
        say("compound.map_alt", **facts),
        say("compound.map_words", **facts),
        width=ground.room.placing,
    )


@traced
def ranked_figure(context: Context, compound: Compound) -> Figure:
    """Return the results of a compound at soil points as bars, highest first."""
    rows = soil_rows(context, compound)
    items = tuple(
        ResultBar(
            row.location_id,
            value_text(row, context.display),
            row.value if row.detected else None,
            row.rl if row.rl == row.rl else None,
            size_class(row.value) if row.detected else None,
            context.has_ring(row),
        )
        for row in rows
    )
    soil = soil_summary(context, compound)
    hits = [row for row in rows if row.detected]
    most = min(max(len(hits), _USUAL_BARS), MOST_BARS)
    facts = {
        "name": compound.name,
        "unit": context.mass_unit.text,
        "detected": len(hits),
        "nondetects": len(rows) - len(hits),
        "open": most > len(hits) and any(item.mass_ng is None and item.limit_ng is not None for item in items),
        "where": soil.highest_at if soil else "",
        "highest": value_text(hits[0], context.display) if hits else "",
        "lowest": value_text(hits[-1], context.display) if hits else "",
        "limits": limits_text(soil.rl_low, soil.rl_high) if soil else "",
    }
    return Figure(
        f"ranked-{compound.analyte_id}",
        ranked_bars(
            f"ranked-{compound.analyte_id}",
            items,
            context.mass_unit.text,
            most=most,
        ),
        say("compound.ranked_caption", **facts),
        say("compound.ranked_alt", **facts),
        say("compound.ranked_words", **facts),
    )


MOST_BARS = 60
"""More bars than this make no readable figure; the table below holds every point."""

_USUAL_BARS = 40
"""Non-detects are drawn after the detections up to as many bars as this."""


@traced
def points_table(context: Context, compound: Compound, rows: list[StoredResult]) -> Table:
    """Return a compound's result at every soil point, highest first."""
    columns: list[Spec[StoredResult]] = [
        POINT,
        result_column(context),
        Spec("surface", "Surface", cell=lambda row: word("surface", row.surface)),
        SAMPLER,
        Spec("source", "Row in file", cell=lambda row: place_text(row.origin)),
    ]
    caption = say("compound.table_caption", name=compound.name, unit=context.mass_unit.text)
    return table(f"points-{compound.analyte_id}", caption, columns, rows, filters=("surface",))
