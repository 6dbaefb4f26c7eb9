"""The start page, the map page and the narrative."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from sitegen.compute.field.exposure import IN_PLACE, LOST, NOT_RETRIEVED
from sitegen.compute.field.standing import NOT_INSTALLED, PLANNED
from sitegen.compute.place.named import NEAR_M
from sitegen.compute.quality.duplicates import DIFFERS, with_results
from sitegen.compute.statistics.rounding import percent
from sitegen.compute.text.claims import CLAIMING
from sitegen.figures.ground import Ground
from sitegen.findings.problems import Severity
from sitegen.project.schema import AIR_MEDIA
from sitegen.project.theme import OwnPage, own_pages
from sitegen.report.bound.answer import found_blocks, next_blocks, people_blocks, people_tables, state_line, to_ledger
from sitegen.report.record.maps import MapData, MapLayer, MapPoint
from sitegen.report.record.pages import (
    Block,
    Cell,
    MapFrame,
    Page,
    Prose,
    Ref,
    Section,
    Table,
    Tile,
    Tiles,
)
from sitegen.report.record.specs import Spec, table
from sitegen.report.results.compoundtables import summary_row_table
from sitegen.report.results.headlines import first_maps, headline, top_text, tops_table
from sitegen.report.results.pressing import levels_tile, open_callout, review_pages
from sitegen.report.rounds.naming import round_name
from sitegen.report.write.blanking import silent_text
from sitegen.report.write.columns import POINT
from sitegen.report.write.context import Context
from sitegen.report.write.narrative import narrative_blocks, own_words
from sitegen.report.write.publish import withheld
from sitegen.report.write.traced import traced
from sitegen.report.write.values import result_cell
from sitegen.report.write.words import markdown, say, word
from sitegen.voice import worded

START = Ref("page", "start")
MAP = Ref("page", "map")
REPORT = Ref("page", "report")
TOLD_PAGES = 2
"""How many of the front pages print the narrative: they come first."""


def front_pages(context: Context, data: MapData, ground: Ground | None) -> Iterator[Page]:
    """Yield the start page, the map page and the page with the narrative."""
    yield Page(START, worded("Summary"), "", start_blocks(context, ground), group="Summary", search=headline(context))
    told = tuple(_with_ledger(context, section) for section in narrative_blocks(context))
    yield Page(
        REPORT,
        worded("Interpretation"),
        say("front.report_lead", sections=len(told), summary="summary" in context.survey.texts),
        told,
        group="Findings and advice",
    )
    for own in own_pages(context.survey):
        yield own_page(context, own)
    map_lead = say("front.map_lead", points=len(context.locations), unplaced=context.unplaced)
    yield Page(MAP, worded("Map"), map_lead, map_blocks(context, data), group="Results")


def lead(context: Context) -> str:
    """Return what was found in a few sentences, for a letter: points with results, and the highest masses."""
    done = context.evaluation.completeness
    return say(
        "front.lead",
        round=round_name(context, context) if context.earlier else "",
        unit=context.mass_unit.text,
        sampled=done.overall.counts[3],
        planned=done.overall.counts[0],
        added=done.added.counts[0],
        sampled_added=done.added.counts[3],
        compounds=len(context.evaluation.compounds),
        top=top_text(context),
    )


@traced
def start_blocks(context: Context, ground: Ground | None) -> tuple[Block, ...]:
    """Return the summary: what was found, who may be affected, what is next; then maps, confidence and open items."""
    tables = (tops_table(context), summary_row_table(context))
    left_out = [word("withheld", name) for name in withheld(context.survey.settings.publish)]
    return (
        *state_line(context),
        Prose(markdown("front.downloads")),
        Section("found", say("front.found_title"), found_blocks(context)),
        Section("people", say("front.people_title"), people_blocks(context)),
        Section("next", say("front.recommended_title"), next_blocks(context)),
        *people_tables(context),
        Tiles((*tiles(context), *levels_tile(context))),
        Section("maps", say("front.maps_title"), first_maps(context, ground)),
        Section("sure", say("front.howsure_title"), (how_sure(context),)),
        Section("open", say("front.open_title"), (open_callout(context, more=review_pages()),)),
        Section("tables", say("front.tables_title"), tables),
        Section("reading", say("front.howto_title"), (how_to(context),)),
        *((Section("withheld", say("publish.title"), (_withheld_prose(left_out),)),) if left_out else ()),
    )


def how_to(context: Context) -> Prose:
    """Say how to read the report, with the way to the limits in force."""
    own = sum(limit.from_project for limit in context.evaluation.limits.values())
    text = markdown("front.howto", unit=context.mass_unit.text, near=f"{NEAR_M:g}", limits=own)
    return Prose(text, (Ref("page", "limits"),))


def _withheld_prose(names: list[str]) -> Prose:
    return Prose(markdown("publish.text", names=names))


@traced
def own_page(context: Context, own: OwnPage) -> Page:
    """Return a page that the project adds; it stands on the site only."""
    return Page(
        Ref("page", own.slug),
        own.title,
        say("front.own_lead"),
        (own_words(context, own.body),),
        group="Findings and advice",
    )


def _share(part: int, whole: int) -> str:
    return worded("{part:,} of {whole:,}", part=part, whole=whole) if whole else worded("no record")


def _compounds(count: int) -> str:
    if count == 1:
        return worded("1 compound")
    return worded("{count:,} compounds", count=count) if count else worded("no compounds")


def tiles(context: Context) -> tuple[Tile, ...]:
    """Return the numbers to see first."""
    ev = context.evaluation
    counts = ev.completeness.overall.counts
    soil = [s for (_, group), s in ev.summaries.items() if group == "soil"]
    detected, analysed = sum(s.detected for s in soil), sum(s.analysed for s in soil)
    holds = sum(f.severity is Severity.HOLD for f in context.findings)
    flags = sum(f.severity is Severity.FLAG for f in context.findings)
    return (
        Tile(
            _share(counts[3], counts[0]),
            say("front.tile_results_label"),
            say(
                "front.tile_usable",
                usable=counts[4],
                unnoted=ev.completeness.unnoted_planned,
                results=counts[3],
                groups=_by_medium(context),
            ),
            Ref("page", "locations"),
        ),
        Tile(
            _share(detected, analysed),
            say("front.tile_detected_label"),
            _compounds(len(ev.compounds)),
            Ref("page", "compounds"),
        ),
        Tile(
            str(holds + flags),
            say("front.tile_issues_label"),
            say("front.tile_holds", holds=holds, team=context.for_team),
            Ref("page", "findings"),
        ),
    )


def _by_medium(context: Context) -> list[str]:
    """Return planned points with results by medium group, where there is more than one."""
    groups = context.evaluation.completeness.planned_by
    if len(groups) < 2:
        return []
    return [
        worded(
            "{medium} {part} of {whole}",
            medium=word("medium_group", group.group),
            part=group.counts[3],
            whole=group.counts[0],
        )
        for group in groups
    ]


def how_sure(context: Context) -> Prose:
    """Say how sure the pattern is, in plain counts."""
    ev = context.evaluation
    done = ev.completeness
    codes = [finding.code for finding in context.own_findings]
    share, wanted = ev.limits["blank_share_pct"].value, ev.limits["completeness_pct"]
    halved = [
        context.name(analyte)
        for (analyte, group), s in ev.summaries.items()
        if group == "soil" and s.detected and 100 * (s.detected - s.unblanked) >= share * s.detected
    ]
    return Prose(
        markdown(
            "front.howsure_text",
            usable=done.overall.counts[4],
            unnoted=done.unnoted_planned,
            planned=done.overall.counts[0],
            added=done.added.counts[0],
            not_installed=done.in_state(NOT_INSTALLED),
            unplaced=done.in_state(PLANNED),
            in_place=done.in_state(IN_PLACE),
            lost=done.in_state(LOST),
            unrecorded=done.in_state(NOT_RETRIEVED),
            placed=done.every.counts[1],
            recovered=done.every.counts[2],
            chained=done.chained_planned,
            touched=len({key for hit in ev.blank_hits for key in hit.touched}),
            compounds_halved=len(halved),
            halved=", ".join(halved),
            differ=sum(bool(pair.count(DIFFERS)) for pair in ev.pairs),
            pairs=len(with_results(ev.pairs)),
            compared=sum(pair.compared for pair in ev.pairs),
            share=percent(done.overall.counts[4], done.overall.counts[0], wanted.value),
            criterion=wanted.text,
            gaps=codes.count("custody-gap"),
            changed=sum(bool(chain.silent_changes) for chain in ev.custody.samplers.values()),
            seals=codes.count("seal-differs"),
            unsigned=codes.count("hand-over-unsigned"),
            blanks=len(ev.blanks),
            speak=ev.blanks_speak,
            silent=silent_text(context),
            results=done.every.counts[3],
            compounds=len(ev.compounds),
            bases=context.bases,
        )
    )


def _with_ledger(context: Context, section: Section) -> Section:
    """Return a section whose sentences the claim ledger lists with the way there."""
    if section.id not in [f"text-{name}" for name in CLAIMING]:
        return section
    return replace(section, blocks=(*section.blocks, *to_ledger(context)))


@traced
def map_blocks(context: Context, data: MapData) -> tuple[Block, ...]:
    """Return the web map and its table twin."""
    return (
        MapFrame(worded("Map of all points"), tall=True),
        Section("twin", worded("The map as a table"), (map_table(context, data),)),
    )


@traced
def map_table(context: Context, data: MapData) -> Table:
    """Return a row per point with the mapped compounds, as the map draws them."""
    mapped = {compound.analyte_id for compound in context.evaluation.compounds if compound.mapped}
    layers = [layer for layer in data.layers if layer.id in mapped] or list(data.layers[:1])
    columns: list[Spec[MapPoint]] = [
        POINT,
        Spec("surface", "Surface", cell=_surface_text),
        Spec("state", "State", cell=lambda point: word("state", point.state)),
        *(_layer_column(context, layer, data.points) for layer in layers),
    ]
    ev = context.evaluation
    air = any(point.medium in AIR_MEDIA for point in ev.points)
    caption = say(
        "front.map_table_caption",
        unit=context.mass_unit.text,
        unplaced=context.unplaced,
        air=air,
        by_volume=air and bool(ev.concentrations),
    )
    empty = say("front.map_table_none", unplaced=context.unplaced)
    return table("map-twin", caption, columns, data.points, filters=("surface", "state"), empty=empty)


def _surface_text(point: MapPoint) -> str:
    return word("surface", point.surface) if point.surface else word("medium", point.medium)


def _layer_column(context: Context, layer: MapLayer, points: Iterable[MapPoint]) -> Spec[MapPoint]:
    """Return the column over points of what a layer shows there."""
    texts = {point.location_id: value.text for point, value in zip(points, layer.values, strict=True)}

    def cell(point: MapPoint) -> Cell:
        row = context.at_point.get((point.location_id, layer.id))
        return result_cell(texts[point.location_id], row, context.marks(row)) if row else Cell("–", tone="muted")

    return Spec(layer.id, layer.title, context.mass_unit.text, "number", cell)
