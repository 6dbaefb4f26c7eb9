"""Field pages: placements, weather, clearance, departures, and air."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from sitegen.compute.field.exposure import Placement
from sitegen.compute.field.idranges import id_ranges
from sitegen.compute.formats import day_text
from sitegen.figures.ground import Ground
from sitegen.figures.sitemap import location_map
from sitegen.findings.problems import Finding
from sitegen.project.schema import AIR_MEDIA
from sitegen.project.tables import Departure, ReviewComment, Ticket
from sitegen.report.field.fieldnotes import notes_table
from sitegen.report.field.plantwin import twin_blocks
from sitegen.report.field.positions import location_words, positions_table
from sitegen.report.field.weatherview import weather_blocks
from sitegen.report.record.pages import Block, Callout, Cell, Figure, Page, Ref, Section, Table
from sitegen.report.record.specs import Spec, table
from sitegen.report.results.air import air_blocks
from sitegen.report.write.audience import withheld_comments
from sitegen.report.write.columns import POINT, SAMPLER, point_cell
from sitegen.report.write.context import Context, location_ref
from sitegen.report.write.publish import allowed_classes
from sitegen.report.write.remarks import OPEN
from sitegen.report.write.traced import traced
from sitegen.report.write.values import mark_words
from sitegen.report.write.words import markdown, say, word
from sitegen.voice import worded

FIELD = Ref("page", "field")
DEVIATIONS = Ref("page", "deviations")
AIR = Ref("page", "air")


def field_pages(context: Context, ground: Ground | None) -> Iterator[Page]:
    """Yield the pages on field work, departures and air."""
    yield Page(FIELD, worded("Field work"), lead(context), field_blocks(context, ground), group="Field and custody")
    count, unrecorded = len(context.survey.rows(Departure)), len(_unrecorded(context))
    yield Page(
        DEVIATIONS,
        worded("Deviations from the work plan"),
        say("field.deviations_lead", count=count, unrecorded=unrecorded),
        deviation_blocks(context),
        group="Field and custody",
    )
    air = [row for row in context.locations if row.medium in AIR_MEDIA]
    yield Page(AIR, worded("Air results"), say("air.lead", count=len(air)), air_blocks(context), group="Air")


def lead(context: Context) -> str:
    """Return the sentence that opens the page on field work."""
    placed = context.evaluation.placements
    days = sorted(p.exposure_days for p in placed if p.recovered and p.exposure_days)
    median = context.evaluation.median_exposure_min
    return say(
        "field.lead",
        placed=len(placed),
        points=len(context.placed_at),
        first=day_text(min((p.placed_at[:10] for p in placed if p.placed_at), default="")),
        last=day_text(max((p.placed_at[:10] for p in placed if p.placed_at), default="")),
        recovered=sum(p.recovered for p in placed),
        median=context.days_text(median) if median else "–",
        shortest=f"{days[0]:.1f}" if days else "–",
        longest=f"{days[-1]:.1f}" if days else "–",
    )


@traced
def field_blocks(context: Context, ground: Ground | None) -> tuple[Block, ...]:
    """Return field work: where, when, over which weather."""
    blocks: list[Block] = []
    if ground:
        blocks.append(Section("points", worded("Point positions"), (location_figure(context, ground),)))
    over = weather_blocks(context)
    if over:
        blocks.append(Section("weather", worded("Weather during the exposure period"), over))
    blocks.append(Section("log", worded("Installation and retrieval"), (log_table(context),)))
    blocks.append(Section("notes", worded("Field notes"), (notes_table(context),)))
    blocks.append(
        Section(
            "clearance",
            worded("Utility clearance and cautions"),
            (
                Callout("caution", worded("Before any intrusive work"), markdown("field.caution")),
                clearance_table(context),
            ),
        )
    )
    return tuple(blocks)


@traced
def location_figure(context: Context, ground: Ground) -> Figure:
    """Draw the points as planned and as surveyed."""
    limit = context.evaluation.limits["moved_m"].value
    moved = [p for p in context.evaluation.points if p.is_off_plan(limit)]
    facts = {"count": len(context.evaluation.points), "moved": len(moved), "limit": f"{limit:g}"}
    return Figure(
        "location-map",
        location_map("location-map", ground),
        say("field.map_caption"),
        say("field.map_alt", **facts),
        location_words(context, moved),
        positions_table(context),
        ground.room.placing,
    )


@traced
def log_table(context: Context) -> Table:
    """Return every placement."""
    columns: list[Spec[Placement]] = [
        POINT,
        SAMPLER,
        Spec("role", "Role", cell=lambda p: word("role", p.role)),
        Spec("placed", "Installed", cell=lambda p: context.moment(p.placed_utc)),
        Spec("retrieved", "Retrieved", cell=lambda p: _retrieved_text(context, p)),
        Spec("days", "Exposure", "days", "number", cell=lambda p: _exposure_cell(context, p)),
        Spec("depth", "Depth", kind="number", cell=lambda p: p.depth_text or "–"),
        Spec("surface", "Surface", cell=lambda p: word("surface", p.surface) if p.surface else "–"),
        Spec("condition", "Condition", cell=lambda p: word("condition", p.condition or "–")),
        Spec("by", "Installed by / retrieved by", cell=lambda p: f"{p.placed_by or '–'} / {p.retrieved_by or '–'}"),
    ]
    return table(
        "placements",
        say("field.log_caption"),
        columns,
        [p for _, p in context.in_order((p.location_id, p) for p in context.evaluation.deployed)],
        note=say("field.log_note"),
        filters=("role", "surface", "condition"),
    )


def _retrieved_text(context: Context, p: Placement) -> str:
    return word("state", p.state) if p.retrieved_utc is None else context.moment(p.retrieved_utc)


def _exposure_cell(context: Context, p: Placement) -> Cell:
    """Return the days of an exposure with the marks of its sampler."""
    own = mark_words(m for m in context.evaluation.marks.by_sampler.get(p.sampler_id, ()) if m.scope == "sampler")
    return Cell(f"{p.exposure_days:.2f}" if p.exposure_days else "–", marks=own)


@traced
def clearance_table(context: Context) -> Table:
    """Return the utility tickets with their validity."""
    columns: list[Spec[Ticket]] = [
        Spec("ticket", "Ticket", cell=lambda row: row.ticket),
        Spec("from", "Valid from", cell=lambda row: context.moment(row.valid_from_utc)),
        Spec("to", "Valid to", cell=lambda row: context.moment(row.valid_to_utc)),
        Spec("scope", "Covers", kind="wide", cell=lambda row: row.scope or "–"),
        Spec("points", "Points", kind="wide", cell=lambda row: _points_text(context, row.location_ids)),
    ]
    return table(
        "clearance",
        say("field.clearance_caption"),
        columns,
        context.survey.rows(Ticket),
        empty=say("field.clearance_none"),
    )


def _points_text(context: Context, listed: str) -> str:
    """Return the points of a ticket, as ranges where they stand under their own ids."""
    names = tuple(name.strip() for name in listed.split(";") if name.strip())
    shown = id_ranges(names) if "location_ids" in allowed_classes(context.survey.settings.publish) else names
    return "; ".join(shown) or worded("all")


@traced
def deviation_blocks(context: Context) -> tuple[Block, ...]:
    """Return the plan beside what was done, then departures: those on record, and those that the checks found."""
    told = (*twin_blocks(context), deviations_table(context))
    return (*told, unrecorded_table(context)) if _unrecorded(context) else told


def _unrecorded(context: Context) -> tuple[Finding, ...]:
    return tuple(f for f in context.own_findings if f.code == "deviation-unrecorded")


@traced
def unrecorded_table(context: Context) -> Table:
    """Return what departs from the plan in the data and has no row, with open comments that name the point."""
    waiting = [row for row in context.survey.rows(ReviewComment) if row.state in OPEN]
    advice: list[Spec[Finding]] = [Spec("do", "Action", kind="wide", cell=lambda f: f.do)]
    columns: list[Spec[Finding]] = [
        Spec("point", "Point", cell=lambda f: point_cell(_point_of(f))),
        Spec("finding", "Finding", kind="wide", cell=lambda f: Cell(f.found, Ref("finding", f.key))),
        Spec(
            "comment",
            "Related open review comment",
            kind="wide",
            cell=lambda f: _comments_cell(context, waiting, _point_of(f)),
        ),
        *(advice if context.for_team else ()),
    ]
    return table("unrecorded", say("field.unrecorded_caption"), columns, _unrecorded(context))


def _point_of(finding: Finding) -> str:
    return finding.subject.rpartition("+")[0]


def _comments_cell(context: Context, comments: Iterable[ReviewComment], point: str) -> Cell:
    """Return those of the comments that name a point."""
    named = re.compile(rf"(?<![\w-]){re.escape(point)}(?![\w-])")
    said = [row for row in comments if named.search(f"{row.target} {row.text}")]
    words = "; ".join(f"{row.comment_id}, {word('comment_class', row.class_)}" for row in said)
    return Cell(words or withheld_comments(context) or "–", Ref("page", "review") if said else None)


@traced
def deviations_table(context: Context) -> Table:
    """Return the departures from the plan."""
    columns: list[Spec[Departure]] = [
        Spec("id", "No.", cell=lambda row: Cell(row.deviation_id, Ref("page", "deviations", row.deviation_id))),
        Spec("date", "Date", cell=lambda row: row.date or "–"),
        Spec("plan", "Plan reference", cell=lambda row: row.plan_ref or "–"),
        Spec("what", "Deviation", kind="wide", cell=lambda row: row.what),
        Spec("why", "Reason", kind="wide", cell=lambda row: row.why or "–"),
        Spec("effect", "Effect on the data", kind="wide", cell=lambda row: row.effect or "–"),
        Spec("affected", "Affected", cell=lambda row: _affected_cell(context, row.affected_ids)),
        Spec("agreed", "Agreed", cell=lambda row: " ".join(filter(None, (row.agreed_by_role, row.agreed_on))) or "–"),
    ]
    return table("deviations", say("field.deviations_caption"), columns, context.survey.rows(Departure))


def _affected_cell(context: Context, ids: str) -> Cell:
    names = [name.strip() for name in ids.split(";") if name.strip()]
    first = next((name for name in names if name in context.placed_at or name in context.points), "")
    return Cell("; ".join(names) or "–", location_ref(first) if first else None)
