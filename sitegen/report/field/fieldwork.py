"""Field pages: placements, weather, clearance, departures, and air."""

from __future__ import annotations

import re
from collections.abc import Iterator

from sitegen.compute.field.idranges import id_ranges
from sitegen.figures.ground import Ground
from sitegen.figures.sitemap import location_map
from sitegen.findings.problems import Finding
from sitegen.project.schema import AIR_MEDIA
from sitegen.project.tables import Departure, ReviewComment, Ticket
from sitegen.report.field.fieldnotes import notes_table
from sitegen.report.field.positions import location_words, positions_table
from sitegen.report.field.weatherview import weather_blocks
from sitegen.report.record.pages import Block, Callout, Cell, Column, Figure, Page, Ref, Section, Table
from sitegen.report.results.air import air_blocks
from sitegen.report.write.audience import withheld_comments
from sitegen.report.write.context import Context, location_ref
from sitegen.report.write.publish import allowed
from sitegen.report.write.remarks import OPEN
from sitegen.report.write.traced import traced
from sitegen.report.write.values import mark_words
from sitegen.report.write.words import markdown, say, word

FIELD = Ref("page", "field")
DEVIATIONS = Ref("page", "deviations")
AIR = Ref("page", "air")


def field_pages(context: Context, ground: Ground | None) -> Iterator[Page]:
    """Yield the pages on field work, departures and air."""
    yield Page(FIELD, "Field work", lead(context), field_blocks(context, ground), group="Field record")
    count, unrecorded = len(context.survey.rows(Departure)), len(_unrecorded(context))
    yield Page(
        DEVIATIONS,
        "Departures from the plan",
        say("field.deviations_lead", count=count, unrecorded=unrecorded),
        deviation_blocks(context),
        group="Field record",
    )
    air = [row for row in context.locations if row.medium in AIR_MEDIA]
    yield Page(AIR, "Air results", say("field.air_lead", count=len(air)), air_blocks(context), group="Results")


def lead(context: Context) -> str:
    """Return the sentence that opens the page on field work."""
    placed = context.evaluation.placements
    days = sorted(p.exposure_days for p in placed if p.recovered and p.exposure_days)
    median = context.evaluation.median_exposure_min
    return say(
        "field.lead",
        placed=len(placed),
        points=len(context.placed_at),
        first=min((p.placed_at[:10] for p in placed if p.placed_at), default=""),
        last=max((p.placed_at[:10] for p in placed if p.placed_at), default=""),
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
        blocks.append(Section("points", "Where the points lie", (location_figure(context, ground),)))
    over = weather_blocks(context)
    if over:
        blocks.append(Section("weather", "Weather over the exposure", over))
    blocks.append(Section("log", "Placements", (log_table(context),)))
    blocks.append(Section("notes", "Field notes", (notes_table(context),)))
    blocks.append(
        Section(
            "clearance",
            "Clearance and cautions",
            (Callout("caution", "Before any hole", markdown("field.caution")), clearance_table(context)),
        )
    )
    return tuple(blocks)


@traced
def location_figure(context: Context, ground: Ground) -> Figure:
    """Draw the points as planned and as surveyed."""
    limit = context.evaluation.limits["moved_m"].value
    moved = [p for p in context.evaluation.points if p.moved(limit)]
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
    columns = (
        Column("point", "Point"),
        Column("sampler", "Sampler"),
        Column("role", "Role"),
        Column("placed", "Placed"),
        Column("retrieved", "Retrieved"),
        Column("days", "Exposure", "days", "number"),
        Column("depth", "Depth", kind="number"),
        Column("surface", "Surface"),
        Column("condition", "Condition"),
        Column("by", "Placed by / retrieved by"),
    )
    rows = []
    for _, p in context.in_order((p.location_id, p) for p in context.evaluation.deployed):
        own = mark_words(m for m in context.evaluation.marks.by_sampler.get(p.sampler_id, ()) if m.scope == "sampler")
        rows.append(
            (
                Cell(p.location_id, location_ref(p.location_id)),
                Cell(p.sampler_id, Ref("sampler", p.sampler_id)),
                Cell(word("role", p.role)),
                Cell(context.moment(p.placed_utc)),
                Cell(context.moment(p.retrieved_utc) if p.retrieved_utc is not None else word("state", p.state)),
                Cell(f"{p.exposure_days:.2f}" if p.exposure_days else "–", marks=own),
                Cell(p.depth_text or "–"),
                Cell(word("surface", p.surface) if p.surface else "–"),
                Cell((p.condition or "–").replace("_", " ")),
                Cell(f"{p.placed_by or '–'} / {p.retrieved_by or '–'}"),
            )
        )
    return Table(
        "placements",
        say("field.log_caption"),
        columns,
        tuple(rows),
        note=say("field.log_note"),
        filters=("role", "surface", "condition"),
    )


@traced
def clearance_table(context: Context) -> Table:
    """Return the utility tickets with their validity."""
    columns = (
        Column("ticket", "Ticket"),
        Column("from", "Valid from"),
        Column("to", "Valid to"),
        Column("scope", "Covers", kind="wide"),
        Column("points", "Points", kind="wide"),
    )
    rows = tuple(
        (
            Cell(row.ticket),
            Cell(context.moment(row.valid_from_utc)),
            Cell(context.moment(row.valid_to_utc)),
            Cell(row.scope or "–"),
            Cell("; ".join(_points(context, row.location_ids)) or "all"),
        )
        for row in context.survey.rows(Ticket)
    )
    return Table("clearance", say("field.clearance_caption"), columns, rows, empty=say("field.clearance_none"))


def _points(context: Context, listed: str) -> tuple[str, ...]:
    """Return the points of a ticket, as ranges where they stand under their own ids."""
    names = tuple(name.strip() for name in listed.split(";") if name.strip())
    return id_ranges(names) if "location_ids" in allowed(context.survey.settings.publish) else names


@traced
def deviation_blocks(context: Context) -> tuple[Block, ...]:
    """Return the departures: those on record, and those that the checks found beside them."""
    table = deviations_table(context)
    return (table, unrecorded_table(context)) if _unrecorded(context) else (table,)


def _unrecorded(context: Context) -> tuple[Finding, ...]:
    return tuple(f for f in context.findings if f.code == "deviation-unrecorded")


@traced
def unrecorded_table(context: Context) -> Table:
    """Return what departs from the plan in the data and has no row, with open comments that name the point."""
    columns = (
        Column("point", "Point"),
        Column("finding", "What", kind="wide"),
        Column("comment", "Open review comment that names it", kind="wide"),
        *([Column("do", "What to do", kind="wide")] if context.for_team else ()),
    )
    waiting = [row for row in context.survey.rows(ReviewComment) if row.state in OPEN]
    rows = []
    for f in _unrecorded(context):
        name, _, _ = f.subject.rpartition("+")
        named = re.compile(rf"(?<![\w-]){re.escape(name)}(?![\w-])")
        said = [row for row in waiting if named.search(f"{row.target} {row.text}")]
        words = "; ".join(f"{row.comment_id}, {row.class_.replace('_', ' ')}" for row in said)
        rows.append(
            (
                Cell(name, location_ref(name)),
                Cell(f.found, Ref("finding", f.key)),
                Cell(words or withheld_comments(context) or "–", Ref("page", "review") if said else None),
                *([Cell(f.do)] if context.for_team else ()),
            )
        )
    return Table("unrecorded", say("field.unrecorded_caption"), columns, tuple(rows))


@traced
def deviations_table(context: Context) -> Table:
    """Return the departures from the plan."""
    columns = (
        Column("id", "No."),
        Column("date", "Date"),
        Column("plan", "Plan"),
        Column("what", "What", kind="wide"),
        Column("why", "Why", kind="wide"),
        Column("effect", "Effect on the data", kind="wide"),
        Column("affected", "Affects"),
        Column("agreed", "Agreed"),
    )
    rows = tuple(
        (
            Cell(row.deviation_id, Ref("page", "deviations", row.deviation_id)),
            Cell(row.date or "–"),
            Cell(row.plan_ref or "–"),
            Cell(row.what),
            Cell(row.why or "–"),
            Cell(row.effect or "–"),
            _affected(context, row.affected_ids),
            Cell(" ".join(part for part in (row.agreed_by_role, row.agreed_on) if part) or "–"),
        )
        for row in context.survey.rows(Departure)
    )
    return Table("deviations", say("field.deviations_caption"), columns, rows)


def _affected(context: Context, ids: str) -> Cell:
    names = [name.strip() for name in ids.split(";") if name.strip()]
    first = next((name for name in names if name in context.placed_at or name in context.points), "")
    return Cell("; ".join(names) or "–", location_ref(first) if first else None)
