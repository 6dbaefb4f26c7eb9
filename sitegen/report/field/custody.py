"""Custody of the whole survey: its page, the list of samplers, and the tables of both."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from math import nan

from sitegen.compute.custody.chains import Chain
from sitegen.compute.custody.events import HAND_OVERS
from sitegen.compute.custody.seals import DIFFERS, Seal, seals
from sitegen.compute.custody.walk import GAPS, STATES
from sitegen.compute.field.exposure import Placement
from sitegen.compute.field.reconcile import Step, count_fates
from sitegen.compute.formats import duration_text
from sitegen.figures.timeline import custody_timeline
from sitegen.project.tables import CustodyEvent, ReturnBag, Sampler, Shipment
from sitegen.report.field.custodyfindings import trouble_table
from sitegen.report.field.custodypages import (
    PAGE,
    SAMPLERS,
    bag_pages,
    named_cell,
    sampler_pages,
    shipment_pages,
    whole,
)
from sitegen.report.field.custodyview import (
    after_analysis,
    changes_drawn,
    day_ticks,
    timeline_row,
)
from sitegen.report.record.pages import Block, Cell, Figure, Page, Ref, Section, Table
from sitegen.report.record.specs import Spec, table
from sitegen.report.write.audience import grave
from sitegen.report.write.columns import SAMPLER, point_cell, sampler_cell
from sitegen.report.write.context import Context
from sitegen.report.write.derived import derived_events
from sitegen.report.write.traced import traced
from sitegen.report.write.words import counted, prose, say, word
from sitegen.voice import thousands, worded


def custody_pages(context: Context) -> Iterator[Page]:
    """Yield the survey's custody page, the list of samplers, and a page per sampler, bag and shipment."""
    yield Page(PAGE, worded("Chain of custody"), lead(context), custody_blocks(context), group="Field and custody")
    rows = context.survey.rows(Sampler)
    yield Page(
        SAMPLERS,
        worded("Samplers"),
        say("custody.list_samplers_lead", count=len(rows)),
        (samplers_table(context, rows),),
        group="Field and custody",
    )
    yield from sampler_pages(context, rows)
    yield from bag_pages(context)
    yield from shipment_pages(context)


def lead(context: Context) -> str:
    """Return the sentence that opens the page on custody."""
    codes = [finding.code for finding in context.own_findings]
    shipments = context.survey.rows(Shipment)
    found = count_fates(context.survey, context.evaluation.custody.bag_of, context.evaluation.deployed)
    return say(
        "custody.lead",
        samplers=found.sent,
        found=found,
        outside=[counted(number, word("kind", kind)) for kind, number in found.outside.items()],
        shipments=len(shipments),
        out=sum(row.direction == "out" for row in shipments),
        bagged=[
            counted(number, noun)
            for number, noun in ((found.bagged, worded("sampler")), (found.trip_blanks, worded("trip blank")))
            if number
        ],
        gaps=codes.count("custody-gap"),
        seals=codes.count("seal-differs"),
        unsigned=sum(row.signature == "none" for row in context.survey.rows(CustodyEvent) if row.event in HAND_OVERS),
        bases=context.bases,
    )


@traced
def custody_blocks(context: Context) -> tuple[Block, ...]:
    """Return the survey's custody: what went wrong first, then counts, then the lines."""
    blocks: list[Block] = [
        prose("custody.how"),
        Section("trouble", worded("Custody findings"), (trouble_table(context),)),
        Section(
            "counts",
            worded("Counts and disposition"),
            (
                counts_table(context),
                register_table(context),
                bags_table(context),
                shipments_table(context),
                *_derived_tables(context),
            ),
        ),
    ]
    drawn = survey_figure(context)
    if drawn:
        blocks.append(Section("lines", worded("Time lines"), (drawn,)))
    return tuple(blocks)


@traced
def counts_table(context: Context) -> Table:
    """Return the counts at each step from issue to analysis."""
    columns: list[Spec[Step]] = [
        Spec("step", "Step", cell=lambda step: word("step", step.title)),
        Spec("count", "Samplers", kind="number", cell=lambda step: say("custody.step_count", step=step)),
        Spec("source", "Counted in", cell=lambda step: step.source),
    ]
    steps = context.reconciled if context.with_results else context.reconciled[:-1]
    caption = say("custody.counts_caption", results=context.with_results)
    return table("custody-counts", caption, columns, steps)


def _derived_tables(context: Context) -> Iterator[Table]:
    """Yield how many events custody.csv has and how many are derived, where the project derives any."""
    if context.survey.settings.derive.custody:
        yield derived_table(context)


@traced
def derived_table(context: Context) -> Table:
    """Return how many events are typed in custody.csv, and how many of which kind follow from which table."""
    found = Counter((event.origin.file, event.kind) for event in derived_events(context))
    typed = {(context.path("custody"), ""): len(context.survey.rows(CustodyEvent))}
    columns: list[Spec[tuple[str, str]]] = [
        Spec("origin", "Recorded in", cell=lambda one: one[0]),
        Spec(
            "event",
            "Event",
            cell=lambda one: _kind_text(one[1]),
        ),
        Spec("count", "Events", kind="number", cell=lambda one: thousands(f"{(typed | found)[one]:,}")),
    ]
    caption, note = say("custody.derived_caption"), say("custody.derived_note")
    return table("custody-derived", caption, columns, [*typed, *sorted(found)], note=note)


def _kind_text(kind: str) -> str:
    """Say that events of a kind are derived; of none, that they are recorded."""
    return say("custody.derived_event", event=word("event", kind) if kind else "")


@traced
def register_table(context: Context) -> Table:
    """Return how many samplers became what, by kind."""
    found = Counter((row.kind, row.outcome or "not recorded") for row in context.survey.rows(Sampler))
    columns: list[Spec[str]] = [
        Spec("kind", "Kind", cell=lambda kind: word("kind", kind)),
        *(_outcome_column(found, outcome) for outcome in dict.fromkeys(outcome for _, outcome in found)),
    ]
    kinds = dict.fromkeys(kind for kind, _ in found)
    return table("sampler-register", say("custody.register_caption"), columns, kinds)


def _outcome_column(found: Counter[tuple[str, str]], outcome: str) -> Spec[str]:
    """Return the column over kinds that counts the samplers of one outcome."""
    return Spec(outcome, word("outcome", outcome), kind="number", cell=lambda kind: str(found[kind, outcome]))


@traced
def bags_table(context: Context) -> Table:
    """Return the return bags with seals applied and read."""
    read = seals(context.survey)
    members = Counter(p.bag_id for p in context.evaluation.deployed)
    columns: list[Spec[ReturnBag]] = [
        Spec("bag", "Bag", cell=lambda row: named_cell("bag", row.bag_id)),
        Spec("blank", "Trip blank", cell=lambda row: sampler_cell(row.trip_blank_id)),
        Spec("count", "Declared", kind="number", cell=lambda row: whole(row.count_declared)),
        Spec(
            "found",
            "Per field records",
            kind="number",
            cell=lambda row: str(members[row.bag_id]) if any(members) else worded("not recorded"),
        ),
        Spec("applied", "Seal applied", cell=lambda row: read["bag", row.bag_id].applied or "–"),
        Spec("read", "Seal read", cell=lambda row: _seal_read(context, read["bag", row.bag_id])),
        Spec("condition", "Seal condition", cell=lambda row: _condition(read["bag", row.bag_id])),
        Spec("shipment", "Shipment", cell=lambda row: named_cell("shipment", row.shipment_id)),
    ]
    return table("return-bags", say("custody.bags_caption"), columns, context.survey.rows(ReturnBag))


def _seal_read(context: Context, seal: Seal) -> Cell:
    read = seal.read or worded("not recorded")
    return Cell(worded("{seal} (differs)", seal=read), tone=grave(context)) if seal.verdict == DIFFERS else Cell(read)


def _condition(seal: Seal) -> str:
    return word("seal_condition", seal.condition or "not recorded")


@traced
def shipments_table(context: Context) -> Table:
    """Return the shipments with seals and counts at each end, as their rows or custody.csv give them."""
    read, received = seals(context.survey), context.evaluation.custody.received
    columns: list[Spec[Shipment]] = [
        Spec("shipment", "Shipment", cell=_shipment_cell),
        Spec("packed", "Packed", cell=lambda row: context.moment(row.packed_at_utc)),
        Spec("received", "Received", cell=lambda row: context.moment(received.get(row.shipment_id, nan))),
        Spec("declared", "Declared", kind="number", cell=lambda row: whole(row.items_declared)),
        Spec("counted", "Counted at receipt", kind="number", cell=lambda row: whole(row.items_received)),
        Spec("seal", "Seal applied", cell=lambda row: read["shipment", row.shipment_id].applied or "–"),
        Spec(
            "read",
            "Seal read, condition",
            cell=lambda row: say("custody.seal_read", seal=read["shipment", row.shipment_id]),
        ),
        Spec("note", "Remark at receipt", kind="wide", cell=lambda row: row.receipt_note or "–"),
    ]
    return table("shipments", say("custody.shipments_caption"), columns, context.survey.rows(Shipment))


def _shipment_cell(row: Shipment) -> Cell:
    return Cell(f"{row.shipment_id}, {word('direction', row.direction)}", Ref("shipment", row.shipment_id))


@traced
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
    changed = sum(bool(changes_drawn(chain)) for chain in chains.values())
    return Figure(
        "custody-survey",
        custody_timeline("custody-survey", rows, start, end, day_ticks(context, start, end)),
        say("custody.survey_caption"),
        say("custody.survey_alt", count=len(rows), gaps=gaps, held=sum(c.hand_overs > 0 for c in chains.values())),
        say("custody.survey_words", changed=changed, kept=_kept_beyond(context, chains, labels)),
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
    columns: list[Spec[str]] = [
        Spec("sampler", "Sampler", cell=sampler_cell),
        Spec("label", "Label", cell=lambda name: labels.get(name, name)),
        *(_state_column(chains, state) for state in STATES),
        Spec(
            "changes",
            "Changes of custodian without a recorded transfer",
            kind="number",
            cell=lambda name: str(len(changes_drawn(chains[name])) or "–"),
        ),
    ]
    return table("custody-states", say("custody.survey_caption"), columns, chains)


def _state_column(chains: dict[str, Chain], state: str) -> Spec[str]:
    """Return the column over samplers of the time that each was in a state."""

    def text(name: str) -> str:
        minutes = chains[name].minutes_in(state)
        return duration_text(minutes) if minutes else "–"

    return Spec(state, state, kind="number", cell=text)


@traced
def samplers_table(context: Context, rows: tuple[Sampler, ...]) -> Table:
    """Return every sampler with its kind, place, bag and outcome."""
    placed, bag_of = context.placed, context.evaluation.custody.bag_of
    columns: list[Spec[Sampler]] = [
        SAMPLER,
        Spec("label", "Label", cell=lambda row: row.label or "–"),
        Spec("kind", "Kind", cell=lambda row: word("kind", row.kind)),
        Spec("location", "Point", cell=lambda row: _point_cell(placed.get(row.sampler_id))),
        Spec("bag", "Return bag", cell=lambda row: named_cell("bag", bag_of.get(row.sampler_id, ""))),
        Spec("outcome", "Outcome", cell=lambda row: word("outcome", row.outcome or "not recorded")),
    ]
    caption = say("custody.list_samplers_caption")
    return table("samplers", caption, columns, rows, filters=("kind", "bag", "outcome"))


def _point_cell(placement: Placement | None) -> Cell:
    return point_cell(placement.location_id if placement else "")
