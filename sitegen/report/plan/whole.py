"""The work plan as a whole: its pages and its chapters, in order, and those of a survey in the field."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from sitegen.figures.ground import Ground
from sitegen.report.field.custody import bags_table, counts_table, custody_pages, register_table, shipments_table
from sitegen.report.field.custodyfindings import trouble_table
from sitegen.report.field.fieldnotes import notes_table
from sitegen.report.field.fieldwork import AIR, clearance_table, deviation_blocks, field_pages, log_table
from sitegen.report.field.fieldwork import lead as field_lead
from sitegen.report.field.weatherview import weather_blocks
from sitegen.report.plan.cautions import cautions_blocks, cautions_page
from sitegen.report.plan.design import design_blocks, design_lead, design_page
from sitegen.report.plan.fielddays import programme_blocks, programme_lead, programme_page
from sitegen.report.plan.methods import methods_blocks, methods_page
from sitegen.report.plan.points import Planned, list_page, planned_points, point_pages, points_blocks, sheets_chapter
from sitegen.report.plan.samplers import samplers_blocks, samplers_lead, samplers_page
from sitegen.report.plan.start import (
    caution,
    figure_blocks,
    lead,
    map_page,
    open_blocks,
    progress_table,
    start_page,
    tiles,
)
from sitegen.report.record.maps import MapData
from sitegen.report.record.pages import Block, Chapter, Figure, Meta, Page, Ref, Section, Tiles, Volume
from sitegen.report.review.codes import roles_and_codes_table
from sitegen.report.review.findings import findings_table
from sitegen.report.review.lists import glossary_table, limits_blocks
from sitegen.report.write.context import Context
from sitegen.report.write.narrative import narrative_blocks, section_text
from sitegen.report.write.traced import traced
from sitegen.report.write.words import prose, say
from sitegen.voice import worded

REPORT = Ref("page", "report")


def told_pages(context: Context, data: MapData, ground: Ground | None) -> Iterator[Page]:
    """Yield the pages that print the narrative."""
    del data
    yield start_page(context, planned_points(context), ground)
    told = narrative_blocks(context)
    narrative_lead = say("plan.narrative_lead", sections=len(told))
    yield Page(REPORT, worded("Objectives and setting"), narrative_lead, told, group="Work plan")
    yield design_page(context)


def plan_pages(context: Context, tool: str, data: MapData, ground: Ground | None) -> Iterator[Page]:
    """Yield the pages of a plan, those that print the narrative first."""
    points = planned_points(context)
    yield from told_pages(context, data, ground)
    yield map_page(context, points, data, ground)
    yield list_page(context, points)
    yield from point_pages(context, points)
    yield samplers_page(context)
    yield programme_page(context)
    yield cautions_page(context)
    yield methods_page(context, tool)


def field_record_pages(context: Context, tool: str, data: MapData, ground: Ground | None) -> Iterator[Page]:
    """Yield the pages of a plan and of what is on record from the field."""
    yield from plan_pages(context, tool, data, ground)
    yield from (page for page in field_pages(context, ground) if page.ref != AIR)
    yield from custody_pages(context)


def plan_chapters(
    context: Context, ground: Ground | None, meta: Meta, volumes: tuple[Volume, ...] = ()
) -> Iterator[Chapter]:
    """Yield the printed work plan, chapter by chapter; a plan has no further volumes."""
    del volumes
    yield from _chapters(context, ground, meta, ())


def field_record_chapters(
    context: Context, ground: Ground | None, meta: Meta, volumes: tuple[Volume, ...] = ()
) -> Iterator[Chapter]:
    """Yield the printed work plan with what is on record from the field."""
    del volumes
    record = (
        Chapter("field", worded("Field work"), _field(context)),
        Chapter("custody", worded("Chain of custody"), _custody(context)),
        Chapter("deviations", worded("Deviations from the work plan"), deviation_blocks(context)),
    )
    yield from _chapters(context, ground, meta, record)


def _chapters(context: Context, ground: Ground | None, meta: Meta, record: tuple[Chapter, ...]) -> Iterator[Chapter]:
    points = planned_points(context)
    yield Chapter("summary", worded("Summary"), _summary(context))
    yield Chapter("plan-map", worded("Map of the planned points"), _map(context, points, ground))
    yield Chapter("design", worded("Design"), _led(design_lead(context), design_blocks(context)))
    yield Chapter("points", worded("Points"), points_blocks(context, points))
    samplers = _led(samplers_lead(context), samplers_blocks(context))
    yield Chapter("samplers", worded("Samplers and quality control"), samplers)
    yield Chapter("programme", worded("Field programme"), _led(programme_lead(context), programme_blocks(context)))
    yield Chapter("cautions", worded("Cautions"), cautions_blocks(context))
    told = tuple(section for section in narrative_blocks(context) if section.id != "text-objectives")
    if told:
        yield Chapter("interpretation", worded("Setting"), told)
    yield Chapter("methods", worded("Planned methods"), methods_blocks(context, meta.tool))
    yield from record
    yield Chapter("findings", worded("Findings and dispositions"), (findings_table(context, with_place=True),))
    yield sheets_chapter(context, points)
    yield Chapter("limits", worded("Limits and their sources"), limits_blocks(context), appendix=True)
    yield Chapter(
        "glossary", worded("Glossary"), (glossary_table(context), roles_and_codes_table(context)), appendix=True
    )


def _led(words: str, blocks: tuple[Block, ...]) -> tuple[Block, ...]:
    return (prose("plan.plain", text=words), *blocks)


@traced
def _summary(context: Context) -> tuple[Block, ...]:
    text = section_text(context, "summary")
    blocks: list[Block] = [prose("plan.plain", text=lead(context)), Tiles(tiles(context))]
    if text:
        blocks.append(text)
    if context.stage == "in_field":
        blocks.append(Section("progress", say("plan.progress_title"), (progress_table(context),)))
    return (*blocks, *open_blocks(context), caution())


@traced
def _map(context: Context, points: tuple[Planned, ...], ground: Ground | None) -> tuple[Block, ...]:
    """Return the drawing; its table is that of the chapter on points."""
    return tuple(
        replace(one, table=None) if isinstance(one, Figure) else one for one in figure_blocks(context, points, ground)
    )


@traced
def _field(context: Context) -> tuple[Block, ...]:
    words = prose("plan.plain", text=field_lead(context))
    return (words, *weather_blocks(context), clearance_table(context), log_table(context), notes_table(context))


@traced
def _custody(context: Context) -> tuple[Block, ...]:
    tables = (trouble_table(context), counts_table(context), register_table(context))
    return (prose("custody.how"), *tables, bags_table(context), shipments_table(context))
