"""Custody of one thing to a page: each sampler's life, each bag, each shipment."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from math import isnan
from typing import NamedTuple

from sitegen.compute.custody.chains import Chain
from sitegen.compute.custody.marks import members_of
from sitegen.compute.field.exposure import FIELD_BLANK, Placement
from sitegen.compute.formats import day_text
from sitegen.compute.quality.blanks import BlankHit
from sitegen.compute.results.store import StoredResult
from sitegen.project.tables import LabSample, ReturnBag, Sampler, Shipment
from sitegen.report.field.custodyfindings import known_section
from sitegen.report.field.custodyview import chain_figure, events_table, sampler_figure, spans_table
from sitegen.report.record.pages import Block, Cell, Facts, Page, Quote, Ref, Section, Table
from sitegen.report.record.specs import Spec, table
from sitegen.report.write.columns import POINT, SAMPLER, compound_column, point_cell, result_column
from sitegen.report.write.context import Context
from sitegen.report.write.filled import filled_facts
from sitegen.report.write.scans import scan_cell
from sitegen.report.write.traced import traced
from sitegen.report.write.values import place_text
from sitegen.report.write.words import say, word
from sitegen.voice import worded

PAGE = Ref("page", "custody")
SAMPLERS = Ref("page", "samplers")


def named_cell(kind: str, name: str) -> Cell:
    """Return a bag, shipment or sampler that leads to its page, a dash where none is named."""
    return Cell(name, Ref(kind, name)) if name else Cell("–")


def whole(value: float) -> str:
    """Write a count, a dash where none is stated."""
    return "–" if isnan(value) else f"{value:.0f}"


def _stated(value: float) -> str:
    """Write a count of items, and that none is on record where none is stated."""
    return worded("number not recorded") if isnan(value) else f"{value:.0f}"


def _run_text(run: LabSample) -> str:
    """Write a laboratory sample with its batch."""
    return worded("{sample} (batch {batch})", sample=run.lab_sample_id, batch=run.batch_id or worded("not recorded"))


def _search(*words: str) -> str:
    return " ".join(word.replace("_", " ") for word in words if word)


def sampler_pages(context: Context, rows: tuple[Sampler, ...]) -> Iterator[Page]:
    """Yield a page for each sampler, one after the other."""
    names = [row.sampler_id for row in rows]
    for at, row in enumerate(rows):
        placement = context.placed.get(names[at])
        facts = {"label": row.label or names[at], "sampler": names[at], "kind": word("kind", row.kind)}
        yield Page(
            Ref("sampler", names[at]),
            worded("Sampler {sampler}", sampler=names[at]),
            say(
                "custody.sampler_lead",
                location=placement.location_id if placement else "",
                type=row.sampler_type,
                lot=row.lot,
                **facts,
            ),
            biography(context, row),
            parent=SAMPLERS,
            previous=Ref("sampler", names[at - 1]) if at else None,
            following=Ref("sampler", names[at + 1]) if at + 1 < len(names) else None,
            search=_search(names[at], row.label, placement.location_id if placement else "", row.outcome, row.note),
        )


@traced
def biography(context: Context, row: Sampler) -> tuple[Block, ...]:
    """Return a sampler's life on one page."""
    name = row.sampler_id
    placement = context.placed.get(name)
    bag = context.evaluation.custody.bag_of.get(name, "")
    runs = context.runs.get(name, [])
    facts = [
        (worded("Prepared on"), Cell(day_text(row.prepared_on) or "–")),
        (worded("Outward shipment"), named_cell("shipment", row.shipment_id)),
        (
            worded("Point"),
            point_cell(placement.location_id) if placement else Cell(worded("no installation on record")),
        ),
        *(
            ((worded("State"), Cell(word("state", placement.state))),)
            if placement and placement.role != FIELD_BLANK
            else ()
        ),
        (worded("Return bag"), named_cell("bag", bag)),
        (
            worded("Laboratory samples"),
            Cell("; ".join(_run_text(r) for r in runs) or "–"),
        ),
        *_holding(context, runs),
        (worded("Outcome"), Cell(word("outcome", row.outcome or "not recorded"))),
        *filled_facts(context, ("samplers", name), ("deployments", name)),
    ]
    blocks: list[Block] = [Facts(tuple(facts), frozenset({say("custody.held_title")}))]
    if row.note:
        blocks.append(Quote(row.note, place_text(row.origin)))
    around = [("bag", bag), ("shipment", row.shipment_id), ("shipment", _shipment_of(context, bag))]
    blocks += known_section(context, ("sampler", name), (name,), around)
    chain = context.evaluation.custody.samplers.get(name)
    if chain:
        drawn = sampler_figure(context, name, chain)
        spans = spans_table(context, f"held-{name}", chain, say("custody.spans_caption", kind="sampler", name=name))
        events = events_table(
            context, f"events-{name}", chain.events, say("custody.sampler_events_caption", sampler=name)
        )
        parts: tuple[Block, ...] = (drawn, spans) if drawn else (spans,)
        blocks.append(Section("held", worded("Chain of custody"), parts))
        blocks.append(Section("events", worded("Events on record"), (events,)))
    return tuple(blocks)


def _holding(context: Context, runs: Iterable[LabSample]) -> Iterator[tuple[str, Cell]]:
    """Yield the days from retrieval to analysis of a sampler's reportable runs, beside the limit."""
    limit = context.evaluation.limits["hold_days"]
    for run in runs:
        held = context.evaluation.holding.get(run.lab_sample_id)
        if held:
            over = held.days > limit.value
            words = say("custody.held_days", days=f"{held.days:.1f}", limit=limit.text, over=over)
            yield say("custody.held_title"), Cell(words, Ref("page", "quality", "holding"), tone="flag" if over else "")


def _shipment_of(context: Context, bag: str) -> str:
    """Return the shipment that a bag went in, "" where none is named."""
    rows = context.survey.rows(ReturnBag)
    return next((row.shipment_id for row in rows if row.bag_id == bag and bag), "")


def _inside(context: Context, kind: str, name: str) -> tuple[str, ...]:
    """Return the samplers in a bag or shipment."""
    return tuple(members_of(context.survey, context.evaluation.custody).get((kind, name), ()))


def bag_pages(context: Context) -> Iterator[Page]:
    """Yield a page for each return bag."""
    for row in context.survey.rows(ReturnBag):
        name = row.bag_id
        hits = [hit for hit in context.evaluation.blank_hits if hit.kind == "trip_blank" and hit.group == name]
        members = [p for p in context.evaluation.deployed if p.bag_id == name]
        chain = context.evaluation.custody.bags[name]
        filled = filled_facts(context, ("return_bags", name))
        yield Page(
            Ref("bag", name),
            worded("Return bag {bag}", bag=name),
            say(
                "custody.bag_lead",
                count=len(members),
                blank=row.trip_blank_id,
                hits=len(hits),
                touched=sum(len(hit.touched) for hit in hits),
            ),
            (
                *((Facts(tuple(filled)),) if filled else ()),
                *((Quote(row.note, place_text(row.origin)),) if row.note else ()),
                *known_section(context, ("bag", name), _inside(context, "bag", name)),
                *_chain_sections(context, "bag", name, chain),
                *_touched_section(context, name, hits, len(members)),
                Section("members", worded("Samplers in the bag"), (_members_table(context, name, members),)),
            ),
            parent=PAGE,
            search=_search(name, row.trip_blank_id, row.seal_applied, row.note),
        )


def _touched_section(context: Context, name: str, hits: Sequence[BlankHit], members: int) -> Iterator[Section]:
    """Yield what a bag's trip blank touches, where results can be on record."""
    if context.with_results:
        blocks = (_touched_table(context, name, hits, members),)
        yield Section("touched", worded("Results affected by its trip blank"), blocks)


def _chain_sections(context: Context, kind: str, name: str, chain: Chain) -> tuple[Section, ...]:
    drawn = chain_figure(context, f"{kind}-{name}", name, chain, kind)
    spans = spans_table(context, f"held-{name}", chain, say("custody.spans_caption", kind=kind, name=name))
    events = events_table(context, f"events-{name}", chain.events, say("custody.events_caption", kind=kind, name=name))
    parts: tuple[Block, ...] = (drawn, spans) if drawn else (spans,)
    return Section("held", worded("Chain of custody"), parts), Section("events", worded("Events on record"), (events,))


@traced
def _touched_table(context: Context, bag: str, hits: Sequence[BlankHit], members: int) -> Table:
    wanted = {key for hit in hits for key in hit.touched}
    rows = [
        row
        for placement in context.evaluation.placements
        if placement.bag_id == bag
        for row in context.by_sampler.get(placement.sampler_id, [])
        if row.key in wanted
    ]
    columns: list[Spec[StoredResult]] = [POINT, compound_column(context), result_column(context), SAMPLER]
    return table(
        f"touched-{bag}",
        say("custody.bag_touched_caption", unit=context.mass_unit.text, bag=bag),
        columns,
        rows,
        empty=say("custody.none_touched", hits=len(hits), blanks=_trip_blanks(context, bag), members=members),
        filters=("compound",),
    )


def _trip_blanks(context: Context, bag: str) -> int:
    """Return how many trip blanks of a bag have results."""
    return sum(blank.kind == "trip_blank" and blank.group == bag for blank in context.evaluation.blanks)


@traced
def _members_table(context: Context, bag: str, members: Iterable[Placement]) -> Table:
    columns: list[Spec[Placement]] = [
        SAMPLER,
        Spec("label", "Label", cell=lambda p: p.label),
        POINT,
        Spec(
            "retrieved",
            "Retrieved",
            cell=lambda p: "–" if p.retrieved_utc is None else context.when(p.retrieved_utc),
        ),
        Spec("condition", "Condition", cell=lambda p: word("condition", p.condition or "–")),
    ]
    return table(f"members-{bag}", say("custody.bag_members_caption", bag=bag), columns, members)


def shipment_pages(context: Context) -> Iterator[Page]:
    """Yield a page for each shipment."""
    for row in context.survey.rows(Shipment):
        name = row.shipment_id

        yield Page(
            Ref("shipment", name),
            worded("Shipment {shipment}", shipment=name),
            say(
                "custody.shipment_lead",
                direction={"out": "outward", "return": "return"}.get(row.direction, ""),
                declared=_stated(row.items_declared),
                received=_stated(row.items_received),
            ),
            (
                *((Facts(((worded("Form"), scan_cell(context.survey, row.scan_file)),)),) if row.scan_file else ()),
                *known_section(context, ("shipment", name), _inside(context, "shipment", name)),
                *_chain_sections(context, "shipment", name, context.evaluation.custody.shipments[name]),
                Section("inside", worded("Contents"), (_inside_table(context, name),)),
            ),
            parent=PAGE,
            search=_search(name, row.carrier_ref, row.seal_outer, row.receipt_note),
        )


class _Item(NamedTuple):
    """A thing in a shipment: its kind as its page has it, its id, and its kind in words."""

    kind: str
    name: str
    words: str


def _inside_table(context: Context, shipment: str) -> Table:
    bags = (row for row in context.survey.rows(ReturnBag) if row.shipment_id == shipment)
    samplers = (row for row in context.survey.rows(Sampler) if row.shipment_id == shipment)
    items = [
        *(_Item("bag", row.bag_id, worded("return bag")) for row in bags),
        *(_Item("sampler", row.sampler_id, word("kind", row.kind)) for row in samplers),
    ]
    columns: list[Spec[_Item]] = [
        Spec("id", "Item", cell=lambda item: named_cell(item.kind, item.name)),
        Spec("kind", "Kind", cell=lambda item: item.words),
    ]
    return table(f"inside-{shipment}", say("custody.shipment_members_caption", shipment=shipment), columns, items)
