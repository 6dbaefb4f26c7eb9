"""The printed report: the same blocks as the site, in the order of a bound volume."""

from __future__ import annotations

from collections.abc import Iterator

from sitegen.figures.foldout import MANY_WORDS_PT
from sitegen.figures.ground import Ground
from sitegen.project.schema import AIR_MEDIA
from sitegen.report.bound.annexes import comment_blocks, photo_blocks
from sitegen.report.bound.answer import found_blocks, next_blocks, people_blocks, state_line, summary_rest
from sitegen.report.bound.front import how_sure, how_to, tiles
from sitegen.report.evidence.calculation import calculation_blocks
from sitegen.report.evidence.defence import defence_table
from sitegen.report.evidence.methods import methods_blocks
from sitegen.report.evidence.missed import missed_section
from sitegen.report.field.custody import (
    bags_table,
    counts_table,
    register_table,
    shipments_table,
    survey_figure,
)
from sitegen.report.field.custodyfindings import trouble_table
from sitegen.report.field.fieldnotes import notes_table
from sitegen.report.field.fieldwork import (
    clearance_table,
    deviation_blocks,
    location_figure,
    log_table,
)
from sitegen.report.field.fieldwork import lead as field_lead
from sitegen.report.field.weatherview import weather_blocks
from sitegen.report.points.location import locations_table
from sitegen.report.points.sheets import sheets_chapter
from sitegen.report.quality.page import quality_blocks
from sitegen.report.record.pages import (
    Block,
    Callout,
    Chapter,
    Meta,
    Prose,
    Section,
    Tiles,
    Volume,
)
from sitegen.report.results.air import air_blocks
from sitegen.report.results.compound import blank_callout, map_figure
from sitegen.report.results.compoundtables import index_table, summary_row_table
from sitegen.report.results.contouring import contour_section
from sitegen.report.results.headlines import first_maps, tops_table
from sitegen.report.results.mapdata import fold_out_ground
from sitegen.report.results.matrix import matrix_table
from sitegen.report.results.patterns import pattern_blocks
from sitegen.report.results.pressing import open_callout, open_text
from sitegen.report.results.relations import relations_blocks
from sitegen.report.review.codes import roles_and_codes_table
from sitegen.report.review.findings import findings_table
from sitegen.report.review.lists import glossary_table, limits_blocks
from sitegen.report.rounds.chapter import masses_blocks, rounds_blocks
from sitegen.report.rounds.sides import several
from sitegen.report.write.context import Context
from sitegen.report.write.narrative import narrative_blocks
from sitegen.report.write.traced import traced
from sitegen.report.write.words import markdown, prose, say
from sitegen.voice import worded


def chapters(
    context: Context, ground: Ground | None, meta: Meta, volumes: tuple[Volume, ...] = ()
) -> Iterator[Chapter]:
    """Yield the printed report, chapter by chapter; ``volumes`` hold the location sheets that it has no room for."""
    large = fold_out_ground(context) or ground
    wordy = fold_out_ground(context, MANY_WORDS_PT) or ground
    yield Chapter("summary", worded("Summary"), _summary(context), single_page=True)
    yield Chapter("glance", say("chapter.glance_title"), _glance(context, ground))
    yield Chapter("reading", say("front.howto_title"), (how_to(context),))
    told = (*summary_rest(context), *narrative_blocks(context))
    yield Chapter(
        "interpretation",
        worded("Objectives, setting and interpretation"),
        told or (prose("chapter.no_sections", summary="summary" in context.survey.texts),),
    )
    yield Chapter("results", worded("Results in soil gas"), _results(context, large, wordy))
    if any(row.medium in AIR_MEDIA for row in context.locations):
        yield Chapter("air", worded("Results in air"), air_blocks(context))
    if several(context):
        yield Chapter("rounds", say("rounds.chapter_title"), rounds_blocks(context, large))
    yield Chapter("relations", worded("Compound relations"), relations_blocks(context))
    yield Chapter("field", worded("Field work"), _field(context, large))
    yield Chapter("custody", worded("Chain of custody"), _custody(context))
    yield Chapter("quality", worded("Quality review"), quality_blocks(context))
    yield Chapter("defensibility", worded("Defensibility sheet"), (defence_table(context),))
    yield Chapter("methods", worded("Methods"), methods_blocks(context, meta.tool))
    yield Chapter("deviations", worded("Deviations from the work plan"), deviation_blocks(context))
    yield Chapter("findings", worded("Findings and dispositions"), (findings_table(context, with_place=True),))
    if commented := comment_blocks(context):
        yield Chapter("comments", say("chapter.comments_title"), commented)
    yield Chapter(
        "matrix", worded("Results by point and compound"), (matrix_table(context),), appendix=True, keyed=True
    )
    if context.earlier:
        title = say("rounds.annex_title")
        yield Chapter("rounds-masses", title, masses_blocks(context), appendix=True, keyed=True)
    yield sheets_chapter(context, volumes)
    if photographs := photo_blocks(context):
        yield Chapter("photographs", say("chapter.photos_title"), photographs, appendix=True)
    yield Chapter(
        "limits", worded("Limits and their sources"), (missed_section(context), *limits_blocks(context)), appendix=True
    )
    yield Chapter("calculation", worded("Calculation sheet"), calculation_blocks(context), appendix=True)
    yield Chapter(
        "glossary", worded("Glossary"), (glossary_table(context), roles_and_codes_table(context)), appendix=True
    )


@traced
def _summary(context: Context) -> tuple[Block, ...]:
    """Return the answer on one page: the maps, the numbers and the tables are on the next."""
    return (
        *state_line(context),
        Section("summary-found", say("front.found_title"), found_blocks(context, printed=True)),
        Section("summary-people", say("front.people_title"), people_blocks(context)),
        Section("summary-next", say("front.recommended_title"), next_blocks(context)),
        Section("summary-sure", say("front.howsure_title"), (how_sure(context),)),
        Section("summary-open", say("front.open_title"), (Prose(open_text(context)), prose("front.open_later"))),
    )


@traced
def _glance(context: Context, ground: Ground | None) -> tuple[Block, ...]:
    """Return the numbers, the maps, the tables and the details of what is open, after the summary."""
    maps = first_maps(context, ground, printed=True)
    tables = (tops_table(context), summary_row_table(context))
    return (Tiles(tiles(context)), *maps, *tables, open_callout(context))


@traced
def _results(context: Context, ground: Ground | None, wordy: Ground | None) -> tuple[Block, ...]:
    """Return the results; on the ground ``wordy`` stand the maps that more words belong to."""
    blocks: list[Block] = [index_table(context), *pattern_blocks(context, ground)]
    for compound in context.evaluation.compounds:
        if not compound.mapped or ground is None or wordy is None or not context.by_compound.get(compound.analyte_id):
            continue
        callout = blank_callout(context, compound)
        parts: tuple[Block, ...] = (callout,) if callout else ()
        interpolated = contour_section(context, compound, wordy)
        after = interpolated.blocks if interpolated else ()
        drawn = map_figure(context, compound, wordy if parts else ground)
        blocks.append(Section(f"map-{compound.analyte_id}", compound.name, (*parts, drawn, *after)))
    return tuple(blocks)


@traced
def _field(context: Context, ground: Ground | None) -> tuple[Block, ...]:
    blocks: list[Block] = [Prose(markdown("chapter.plain", text=field_lead(context)))]
    if ground:
        blocks.append(location_figure(context, ground))
    blocks.append(locations_table(context))
    blocks += weather_blocks(context)
    blocks.append(Callout("caution", worded("Before any hole"), markdown("field.caution")))
    return (*blocks, clearance_table(context), log_table(context), notes_table(context))


@traced
def _custody(context: Context) -> tuple[Block, ...]:
    drawn = survey_figure(context)
    blocks: list[Block] = [
        prose("custody.how"),
        trouble_table(context),
        counts_table(context),
        register_table(context),
    ]
    blocks += [bags_table(context), shipments_table(context)]
    return (*blocks, drawn) if drawn else tuple(blocks)
