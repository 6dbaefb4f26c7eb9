"""The start page of a work plan: what is planned, where and when, what is open, and how far the field work has come."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from sitegen.compute.design.programme import programme
from sitegen.compute.field.exposure import IN_PLACE, Placement
from sitegen.compute.text.tokens import shared
from sitegen.figures.ground import Ground
from sitegen.findings.problems import Finding, Severity
from sitegen.report.plan.design import plan_figure
from sitegen.report.plan.fielddays import PAGE as PROGRAMME
from sitegen.report.plan.fielddays import window_text
from sitegen.report.plan.points import LIST, Planned
from sitegen.report.plan.samplers import PAGE as SAMPLERS
from sitegen.report.record.maps import MapData
from sitegen.report.record.pages import Block, Callout, Cell, MapFrame, Page, Prose, Ref, Section, Table, Tile, Tiles
from sitegen.report.record.specs import Spec, table
from sitegen.report.results.pressing import open_callout
from sitegen.report.review.findings import about_text
from sitegen.report.review.lists import limits_table
from sitegen.report.write.columns import POINT, SAMPLER
from sitegen.report.write.context import Context
from sitegen.report.write.narrative import section_text
from sitegen.report.write.publish import withheld
from sitegen.report.write.traced import traced
from sitegen.report.write.words import markdown, prose, say, word
from sitegen.voice import worded

START = Ref("page", "start")
MAP = Ref("page", "map")
FINDINGS = Ref("page", "findings")
_LINKS = (
    ("design", Ref("page", "design")),
    ("points", LIST),
    ("samplers", SAMPLERS),
    ("programme", PROGRAMME),
    ("cautions", Ref("page", "cautions")),
    ("methods", Ref("page", "methods")),
)
_MOST_OPEN = 12
"""Findings named on the start page; the others are counted, and all are on their own page."""


def start_page(context: Context, points: Sequence[Planned], ground: Ground | None) -> Page:
    """Return the start page."""
    return Page(START, worded("Summary"), lead(context), start_blocks(context, points, ground), group="Summary")


def map_page(context: Context, points: Sequence[Planned], data: MapData, ground: Ground | None) -> Page:
    """Return the page of the map: the web map, and the same as a drawing with the strips that holes keep off."""
    del data
    lead_words = say("plan.map_lead", unplaced=context.unplaced)
    return Page(MAP, worded("Map"), lead_words, map_blocks(context, points, ground), group="Work plan")


@traced
def map_blocks(context: Context, points: Sequence[Planned], ground: Ground | None) -> tuple[Block, ...]:
    """Return the web map and the drawing."""
    frame = MapFrame(worded("Map of all planned points"), tall=True)
    return (frame, Section("drawing", say("plan.drawing_title"), figure_blocks(context, points, ground)))


def figure_blocks(context: Context, points: Sequence[Planned], ground: Ground | None) -> tuple[Block, ...]:
    """Return the drawing of the plan, or why there is none."""
    return (plan_figure(context, points, ground),) if ground else (prose("plan.no_drawing"),)


def lead(context: Context) -> str:
    """Return the sentences that open the work plan."""
    counts = context.evaluation.plan.allocation.counts
    return say(
        "plan.lead",
        site=context.survey.settings.project.site,
        points=counts.primaries,
        media=[f"{n} {name}" for name, n in _media(context).items()],
        samplers=counts.samplers,
        **_dates(context),
        **progress(context),
    )


def _media(context: Context) -> dict[str, int]:
    kept = (row for row in context.locations if row.status not in ("not_done", "abandoned"))
    return dict(Counter(word("medium", row.medium) for row in kept))


def _dates(context: Context) -> dict[str, str]:
    found = programme(context.survey, context.evaluation.plan)
    return {"placing": window_text(found.placing), "retrieving": window_text(found.retrieving)}


def progress(context: Context) -> dict[str, int | bool]:
    """Return how far the field work has come: points planned, placed, retrieved and in place; nothing while planned."""
    done = context.evaluation.completeness
    return {
        "begun": context.stage == "in_field",
        "planned": done.overall.counts[0],
        "placed": done.overall.counts[1],
        "retrieved": done.overall.counts[2],
        "in_place": done.in_state(IN_PLACE),
        "added": done.added.counts[1],
    }


@traced
def start_blocks(context: Context, points: Sequence[Planned], ground: Ground | None) -> tuple[Block, ...]:
    """Return what is planned, what is open, where, and what to mind."""
    blocks: list[Block] = [
        Prose(markdown("plan.printed")),
        Tiles(tiles(context)),
        *open_blocks(context, Cell(worded("All findings"), FINDINGS)),
    ]
    if context.stage == "in_field":
        blocks.append(Section("progress", say("plan.progress_title"), (progress_table(context),)))
    text = section_text(context, "summary")
    if text:
        blocks.append(Section("summary", worded("Summary"), (text,)))
    blocks.append(Section("where", say("plan.where_title"), figure_blocks(context, points, ground)))
    blocks.append(
        Section("cautions", worded("Cautions"), (caution(Cell(worded("All cautions"), Ref("page", "cautions"))),))
    )
    blocks.append(Section("contents", say("plan.contents_title"), (contents(),)))
    left_out = [word("withheld", name) for name in withheld(context.survey.settings.publish)]
    if left_out:
        blocks.append(Section("withheld", say("publish.title"), (Prose(markdown("publish.text", names=left_out)),)))
    own = limits_table(context, own_only=True)
    return (*blocks, Section("own-limits", worded("Limits set by the project"), (own,))) if own.rows else tuple(blocks)


def contents() -> Prose:
    """Return what this work plan holds, with the ways there."""
    return Prose(markdown("plan.contents"), tuple(ref for _, ref in _LINKS))


def caution(*more: Cell) -> Callout:
    """Return the caution of the start page; ``more`` are pointers to put below it."""
    return Callout("caution", worded("Before any hole"), markdown("field.caution"), more)


def tiles(context: Context) -> tuple[Tile, ...]:
    """Return the numbers to see first."""
    counts, dates, now = context.evaluation.plan.allocation.counts, _dates(context), progress(context)
    majors = sum(f.severity is Severity.HOLD for f in context.findings)
    flags = sum(f.severity is Severity.FLAG for f in context.findings)
    media = "; ".join(f"{n} {name}" for name, n in _media(context).items())
    days = len(programme(context.survey, context.evaluation.plan).days)
    first: tuple[Tile, ...] = ()
    if now["begun"]:
        note = say("plan.tile_retrieved", retrieved=now["retrieved"], in_place=now["in_place"])
        first = (
            Tile(shared(now["placed"], now["planned"]), worded("planned points with a sampler installed"), note, LIST),
        )
    return (
        *first,
        Tile(str(counts.primaries), worded("planned points"), media, LIST),
        Tile(str(counts.samplers), worded("samplers"), say("plan.tile_samplers", counts=counts), SAMPLERS),
        Tile(str(days) if days else "–", worded("planned field days"), say("plan.tile_dates", **dates), PROGRAMME),
        Tile(
            str(majors + flags),
            worded("issues flagged"),
            say("plan.tile_findings", majors=majors, flags=flags),
            FINDINGS,
        ),
    )


def open_blocks(context: Context, *more: Cell) -> tuple[Callout, ...]:
    """Say what is open before mobilisation, or during field work; readers outside the team are given the state.

    ``more`` are pointers to put below the lines.
    """
    if not context.for_team:
        return (open_callout(context, more=more),)
    found = [f for f in context.findings if f.severity in (Severity.STOP, Severity.HOLD, Severity.FLAG)]
    waiting = [f for f in found if f.key not in context.dispositions]
    text = markdown(
        "plan.open_text",
        majors=sum(f.severity is Severity.HOLD for f in waiting),
        flags=sum(f.severity is Severity.FLAG for f in waiting),
        decided=len(found) - len(waiting),
        more=max(0, len(waiting) - _MOST_OPEN),
    )
    lines = tuple(_open_line(context, one) for one in waiting[:_MOST_OPEN])
    worst = {one.severity for one in waiting}
    tone = "hold" if worst & {Severity.STOP, Severity.HOLD} else "flag" if worst else "info"
    title = say("plan.open_title", begun=context.stage == "in_field")
    return (Callout(tone, title, text, (*lines, *more)),)


def _open_line(context: Context, one: Finding) -> Cell:
    text = say("plan.open_line", severity=word("severity", one.severity.value), about=about_text(context, one),
               found=one.found)  # fmt: skip
    return Cell(text, Ref("finding", one.key))


@traced
def progress_table(context: Context) -> Table:
    """Return every sampler placed: since when it has been in place, when it is due, when it was retrieved."""
    columns: list[Spec[Placement]] = [
        POINT,
        SAMPLER,
        Spec("role", "Role", cell=lambda p: word("role", p.role)),
        Spec("state", "State", cell=lambda p: word("state", p.state)),
        Spec("placed", "Installed", cell=lambda p: context.moment(p.placed_utc)),
        Spec("due", "Retrieval due by", cell=_due),
        Spec("retrieved", "Retrieved", cell=lambda p: context.moment(p.retrieved_utc)),
    ]
    rows = [p for _, p in context.in_order((p.location_id, p) for p in context.evaluation.placements)]
    return table("progress", say("plan.progress_caption"), columns, rows, filters=("state",),
                 empty=say("plan.no_placement"), note=say("plan.placed_note", samplers=len(rows)))  # fmt: skip


def _due(p: Placement) -> str:
    return p.due_on.isoformat() if p.placed_utc >= 0 else "–"
