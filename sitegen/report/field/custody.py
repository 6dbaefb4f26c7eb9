"""Custody of the whole survey: its page, the list of samplers, and the tables of both."""

from __future__ import annotations

from collections.abc import Iterator
from math import nan

from sitegen.compute.custody.chains import Chain
from sitegen.compute.custody.seals import DIFFERS, seals
from sitegen.compute.custody.walk import GAPS, STATES
from sitegen.compute.field.reconcile import returned
from sitegen.figures.timeline import custody_timeline
from sitegen.project.tables import ReturnBag, Sampler, Shipment
from sitegen.report.field.custodyfindings import trouble_table
from sitegen.report.field.custodypages import (
    PAGE,
    SAMPLERS,
    bag_pages,
    sampler_pages,
    sampler_ref,
    shipment_pages,
    whole,
)
from sitegen.report.field.custodyview import (
    after_analysis,
    day_ticks,
    minutes_text,
    timeline_row,
)
from sitegen.report.record.pages import Block, Cell, Column, Figure, Page, Ref, Section, Table
from sitegen.report.write.audience import grave
from sitegen.report.write.context import Context, location_ref
from sitegen.report.write.words import counted, prose, say, word


def custody_pages(context: Context) -> Iterator[Page]:
    """Yield the survey's custody page, the list of samplers, and a page per sampler, bag and shipment."""
    yield Page(PAGE, "Custody", lead(context), custody_blocks(context), group="Field record")
    rows = context.survey.rows(Sampler)
    yield Page(
        SAMPLERS,
        "Samplers",
        say("custody.list_samplers_lead", count=len(rows)),
        (samplers_table(context, rows),),
        group="Field record",
    )
    yield from sampler_pages(context, rows)
    yield from bag_pages(context)
    yield from shipment_pages(context)


def lead(context: Context) -> str:
    """Return the sentence that opens the page on custody."""
    codes = [finding.code for finding in context.findings]
    shipments = context.survey.rows(Shipment)
    found = returned(context.survey, context.evaluation.custody.bag_of, context.evaluation.deployed)
    return say(
        "custody.lead",
        samplers=found.sent,
        found=found,
        outside=[counted(number, word("kind", kind)) for kind, number in found.outside.items()],
        shipments=len(shipments),
        out=sum(row.direction == "out" for row in shipments),
        bagged=[
            counted(number, noun)
            for number, noun in ((found.bagged, "sampler"), (found.trip_blanks, "trip blank"))
            if number
        ],
        gaps=codes.count("custody-gap"),
        seals=codes.count("seal-differs"),
        unsigned=codes.count("hand-over-unsigned"),
        bases=context.bases,
    )


def custody_blocks(context: Context) -> tuple[Block, ...]:
    """Return the survey's custody: what went wrong first, then counts, then the lines."""
    blocks: list[Block] = [
        prose("custody.how"),
        Section("trouble", "What a reader must know", (trouble_table(context),)),
        Section(
            "counts",
            "Counts",
            (counts_table(context), register_table(context), bags_table(context), shipments_table(context)),
        ),
    ]
    drawn = survey_figure(context)
    if drawn:
        blocks.append(Section("lines", "Time lines", (drawn,)))
    return tuple(blocks)


def counts_table(context: Context) -> Table:
    """Return the counts at each step from issue to analysis."""
    rows = tuple(
        (Cell(step.title), Cell(say("custody.step_count", step=step)), Cell(step.source)) for step in context.reconciled
    )
    columns = (
        Column("step", "Step"),
        Column("count", "Samplers", kind="number"),
        Column("source", "Counted in"),
    )
    return Table("custody-counts", say("custody.counts_caption"), columns, rows)


def register_table(context: Context) -> Table:
    """Return how many samplers became what, by kind."""
    kinds: dict[str, dict[str, int]] = {}
    outcomes: dict[str, None] = {}
    for row in context.survey.rows(Sampler):
        outcome = row.outcome or "not recorded"
        outcomes[outcome] = None
        kinds.setdefault(row.kind, {}).setdefault(outcome, 0)
        kinds[row.kind][outcome] += 1
    columns = (Column("kind", "Kind"), *(Column(o, o.replace("_", " "), kind="number") for o in outcomes))
    rows = tuple(
        (Cell(word("kind", kind)), *(Cell(str(found.get(o, 0))) for o in outcomes)) for kind, found in kinds.items()
    )
    return Table("sampler-register", say("custody.register_caption"), columns, rows)


def bags_table(context: Context) -> Table:
    """Return the return bags with seals applied and read."""
    read = seals(context.survey)
    named = any(p.bag_id for p in context.evaluation.deployed)
    columns = (
        Column("bag", "Bag"),
        Column("blank", "Trip blank"),
        Column("count", "Declared", kind="number"),
        Column("found", "By deployments", kind="number"),
        Column("applied", "Seal applied"),
        Column("read", "Seal read"),
        Column("condition", "Seal condition"),
        Column("shipment", "Shipment"),
    )
    rows = []
    for row in context.survey.rows(ReturnBag):
        members = [p for p in context.evaluation.deployed if p.bag_id == row.bag_id]
        seal = read["bag", row.bag_id]
        differs = seal.verdict == DIFFERS
        rows.append(
            (
                Cell(row.bag_id, Ref("bag", row.bag_id)),
                Cell(row.trip_blank_id or "–", sampler_ref(row.trip_blank_id)),
                Cell(whole(row.count_declared)),
                Cell(str(len(members)) if named else "not recorded"),
                Cell(seal.applied or "–"),
                Cell(
                    f"{seal.read or 'not recorded'}{' (differs)' if differs else ''}",
                    tone=grave(context) if differs else "",
                ),
                Cell(seal.condition or "not recorded"),
                Cell(
                    row.shipment_id or "–",
                    Ref("shipment", row.shipment_id) if row.shipment_id else None,
                ),
            )
        )
    return Table("return-bags", say("custody.bags_caption"), columns, tuple(rows))


def shipments_table(context: Context) -> Table:
    """Return the shipments with seals and counts at each end, as their rows or custody.csv give them."""
    read, received = seals(context.survey), context.evaluation.custody.received
    columns = (
        Column("shipment", "Shipment"),
        Column("packed", "Packed"),
        Column("received", "Received"),
        Column("declared", "Declared", kind="number"),
        Column("counted", "Counted", kind="number"),
        Column("seal", "Seal applied"),
        Column("read", "Seal read, condition"),
        Column("note", "Remark at receipt", kind="wide"),
    )
    rows = tuple(
        (
            Cell(f"{row.shipment_id}, {row.direction}", Ref("shipment", row.shipment_id)),
            Cell(context.moment(row.packed_at_utc)),
            Cell(context.moment(received.get(row.shipment_id, nan))),
            Cell(whole(row.items_declared)),
            Cell(whole(row.items_received)),
            Cell(read["shipment", row.shipment_id].applied or "–"),
            Cell(say("custody.seal_read", seal=read["shipment", row.shipment_id])),
            Cell(row.receipt_note or "–"),
        )
        for row in context.survey.rows(Shipment)
    )
    return Table("shipments", say("custody.shipments_caption"), columns, rows)


def survey_figure(context: Context) -> Figure | None:
    """Draw every sampler's chain, one line each."""
    chains = {name: c for name, c in context.evaluation.custody.samplers.items() if c.spans}
    if not chains or len(chains) > MOST_LINES:
        return None
    start = min(chain.spans[0].start for chain in chains.values())
    end = max(chain.drawn_to for chain in chains.values())
    labels = {row.sampler_id: row.label or row.sampler_id for row in context.survey.rows(Sampler)}
    rows = tuple(timeline_row(labels.get(name, name), chain) for name, chain in chains.items())
    gaps = sum(any(span.state in GAPS for span in chain.spans) for chain in chains.values())
    return Figure(
        "custody-survey",
        custody_timeline("custody-survey", rows, start, end, day_ticks(context, start, end)),
        say("custody.survey_caption"),
        say("custody.survey_alt", count=len(rows), gaps=gaps, held=sum(c.hand_overs > 0 for c in chains.values())),
        say("custody.survey_words", kept=_kept_beyond(context, chains, labels)),
        table=_state_table(chains, labels),
    )


def _kept_beyond(context: Context, chains: dict[str, Chain], labels: dict[str, str]) -> list[str]:
    """Say of what was kept after its analysis when that came to its end, samplers of one moment together."""
    found: dict[str, list[str]] = {}
    for name, chain in chains.items():
        later = after_analysis(context, chain)
        if later:
            found.setdefault(later, []).append(labels.get(name, name))
    return [f"{', '.join(names)}: {later}" for later, names in found.items()]


MOST_LINES = 400
"""More time lines than this make no readable figure; each sampler's own page has its line."""


def _state_table(chains: dict[str, Chain], labels: dict[str, str]) -> Table:
    rows = tuple(
        (
            Cell(name, Ref("sampler", name)),
            Cell(labels.get(name, name)),
            *(Cell(minutes_text(chain.minutes_in(state)) if chain.minutes_in(state) else "–") for state in STATES),
        )
        for name, chain in chains.items()
    )
    columns = (
        Column("sampler", "Sampler"),
        Column("label", "Label"),
        *(Column(state, state, kind="number") for state in STATES),
    )
    return Table("custody-states", say("custody.survey_caption"), columns, rows)


def samplers_table(context: Context, rows: tuple[Sampler, ...]) -> Table:
    """Return every sampler with its kind, place, bag and outcome."""
    columns = (
        Column("sampler", "Sampler"),
        Column("label", "Label"),
        Column("kind", "Kind"),
        Column("location", "Point"),
        Column("bag", "Return bag"),
        Column("outcome", "Outcome"),
    )
    body = []
    for row in rows:
        placement = context.placed.get(row.sampler_id)
        bag = context.evaluation.custody.bag_of.get(row.sampler_id, "")
        body.append(
            (
                Cell(row.sampler_id, Ref("sampler", row.sampler_id)),
                Cell(row.label or "–"),
                Cell(word("kind", row.kind)),
                Cell(placement.location_id, location_ref(placement.location_id)) if placement else Cell("–"),
                Cell(bag or "–", Ref("bag", bag) if bag else None),
                Cell((row.outcome or "not recorded").replace("_", " ")),
            )
        )
    return Table(
        "samplers",
        say("custody.list_samplers_caption"),
        columns,
        tuple(body),
        filters=("kind", "bag", "outcome"),
    )
