"""Custody pages: the survey's, each sampler's, each bag's, each shipment's."""

from __future__ import annotations

from collections.abc import Iterator
from math import isnan
from typing import Any

from sitegen.compute.custody import STATES, Chain
from sitegen.figures.timeline import custody_timeline
from sitegen.report.context import Context, location_ref
from sitegen.report.custodyview import (
    chain_figure,
    day_ticks,
    events_table,
    minutes_text,
    sampler_figure,
    spans_table,
    timeline_row,
)
from sitegen.report.records import Block, Cell, Column, Facts, Figure, Page, Quote, Ref, Section, Table
from sitegen.report.values import value_cell
from sitegen.report.words import prose, say, word

PAGE = Ref("page", "custody")
SAMPLERS = Ref("page", "samplers")
TROUBLE = ("custody-gap", "custody-overlap", "seal-differs", "hand-over-unsigned")


def custody_pages(context: Context) -> Iterator[Page]:
    """Yield the survey's custody page, the list of samplers, and a page per sampler, bag and shipment."""
    yield Page(PAGE, "Custody", lead(context), custody_blocks(context), group="Field record")
    rows = context.survey.records("samplers")
    yield Page(
        SAMPLERS,
        "Samplers",
        say("custody.list_samplers_lead", count=len(rows)),
        (samplers_table(context, rows),),
        group="Field record",
    )
    yield from _sampler_pages(context, rows)
    yield from _bag_pages(context)
    yield from _shipment_pages(context)


def lead(context: Context) -> str:
    """Return the sentence that opens the page on custody."""
    codes = [finding.code for finding in context.findings]
    shipments = context.survey.records("shipments")
    return say(
        "custody.lead",
        samplers=len(context.survey.records("samplers")),
        shipments=len(shipments),
        out=sum(row["direction"] == "out" for row in shipments),
        bags=len(context.survey.records("return_bags")),
        gaps=codes.count("custody-gap"),
        seals=codes.count("seal-differs"),
        unsigned=codes.count("hand-over-unsigned"),
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


def trouble_table(context: Context) -> Table:
    """Return gaps, overlaps, seals and signatures."""
    rows = tuple(
        (
            Cell(f.severity.value, tone=f.severity.value),
            Cell(say("review.found", found=f.found, expected=f.expected, where=f.where), Ref("finding", f.key)),
            Cell(_subject_text(f.subject_kind, f.subject), _subject_ref(f.subject_kind, f.subject)),
            Cell(str(len({touch.sampler_id for touch in f.touches}))),
        )
        for f in context.findings
        if f.code in TROUBLE
    )
    columns = (
        Column("severity", "Severity"),
        Column("found", "Found, and what was expected", kind="wide"),
        Column("subject", "About"),
        Column("touched", "Samplers touched", kind="number"),
    )
    empty = say("quality.nothing_found")
    return Table("custody-trouble", say("custody.trouble_caption"), columns, rows, empty=empty, row_header=-1)


def _subject_text(kind: str, subject: str) -> str:
    return f"{kind} {subject.partition('+')[0]}".strip()


def _subject_ref(kind: str, subject: str) -> Ref | None:
    return Ref(kind, subject.partition("+")[0]) if kind in ("bag", "shipment", "sampler") else None


def counts_table(context: Context) -> Table:
    """Return the counts at each step from issue to analysis."""
    reconciled = context.reconciled
    rows = tuple((Cell(step.title), Cell(str(step.count)), Cell(step.source)) for step in reconciled)
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
    for row in context.survey.records("samplers"):
        outcome = row["outcome"] or "not recorded"
        outcomes[outcome] = None
        kinds.setdefault(row["kind"], {}).setdefault(outcome, 0)
        kinds[row["kind"]][outcome] += 1
    columns = (Column("kind", "Kind"), *(Column(o, o.replace("_", " "), kind="number") for o in outcomes))
    rows = tuple(
        (Cell(word("kind", kind)), *(Cell(str(found.get(o, 0))) for o in outcomes)) for kind, found in kinds.items()
    )
    return Table("sampler-register", say("custody.register_caption"), columns, rows)


def bags_table(context: Context) -> Table:
    """Return the return bags with seals applied and read."""
    read = {
        row["subject_id"]: row["seal_number"]
        for row in context.survey.records("custody")
        if row["event"] == "seal_checked" and row["subject_kind"] == "bag"
    }
    columns = (
        Column("bag", "Bag"),
        Column("blank", "Trip blank"),
        Column("count", "Declared", kind="number"),
        Column("found", "By deployments", kind="number"),
        Column("applied", "Seal applied"),
        Column("read", "Seal read"),
        Column("shipment", "Shipment"),
    )
    rows = []
    for row in context.survey.records("return_bags"):
        members = [p for p in context.evaluation.placements if p.bag_id == row["bag_id"]]
        seal = read.get(row["bag_id"], "")
        differs = bool(seal and row["seal_applied"] and seal != row["seal_applied"])
        rows.append(
            (
                Cell(row["bag_id"], Ref("bag", row["bag_id"])),
                Cell(row["trip_blank_id"] or "–", _sampler_ref(row["trip_blank_id"])),
                Cell(_whole(row["count_declared"])),
                Cell(str(len(members))),
                Cell(row["seal_applied"] or "–"),
                Cell(
                    f"{seal or 'not recorded'}{' (differs)' if differs else ''}",
                    tone="hold" if differs else "",
                ),
                Cell(
                    row["shipment_id"] or "–",
                    Ref("shipment", row["shipment_id"]) if row["shipment_id"] else None,
                ),
            )
        )
    return Table("return-bags", say("custody.bags_caption"), columns, tuple(rows))


def _sampler_ref(name: str) -> Ref | None:
    return Ref("sampler", name) if name else None


def _whole(value: float) -> str:
    return "–" if isnan(value) else f"{value:.0f}"


def shipments_table(context: Context) -> Table:
    """Return the shipments with seals and counts at each end."""
    columns = (
        Column("shipment", "Shipment"),
        Column("direction", "Direction"),
        Column("packed", "Packed"),
        Column("received", "Received"),
        Column("declared", "Declared", kind="number"),
        Column("counted", "Counted", kind="number"),
        Column("seal", "Seal applied"),
        Column("read", "Seal read"),
        Column("note", "Remark at receipt", kind="wide"),
    )
    rows = tuple(
        (
            Cell(row["shipment_id"], Ref("shipment", row["shipment_id"])),
            Cell(row["direction"]),
            Cell(row["packed_at"].replace("T", " ") or "–"),
            Cell(_received(context, row)),
            Cell(_whole(row["items_declared"])),
            Cell(_whole(row["items_received"])),
            Cell(row["seal_outer"] or "–"),
            Cell(row["seal_received"] or "–"),
            Cell(row["receipt_note"] or "–"),
        )
        for row in context.survey.records("shipments")
    )
    return Table("shipments", say("custody.shipments_caption"), columns, rows)


def _received(context: Context, row: dict[str, Any]) -> str:
    at = row["received_at_utc"]
    return "–" if isnan(at) else context.when(at)


def survey_figure(context: Context) -> Figure | None:
    """Draw every sampler's chain, one line each."""
    chains = {name: c for name, c in context.evaluation.custody.samplers.items() if c.spans}
    if not chains or len(chains) > MOST_LINES:
        return None
    start = min(chain.spans[0].start for chain in chains.values())
    end = max(chain.spans[-1].end for chain in chains.values())
    labels = {row["sampler_id"]: row["label"] or row["sampler_id"] for row in context.survey.records("samplers")}
    rows = tuple(timeline_row(labels.get(name, name), chain) for name, chain in chains.items())
    gaps = sum(any(span.state == "gap" for span in chain.spans) for chain in chains.values())
    return Figure(
        "custody-survey",
        custody_timeline("custody-survey", rows, start, end, day_ticks(context, start, end)),
        say("custody.survey_caption"),
        say("custody.survey_alt", count=len(rows), gaps=gaps),
        table=_state_table(chains, labels),
    )


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


def samplers_table(context: Context, rows: list[dict[str, Any]]) -> Table:
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
        placement = context.placed.get(row["sampler_id"])
        bag = context.evaluation.custody.bag_of.get(row["sampler_id"], "")
        body.append(
            (
                Cell(row["sampler_id"], Ref("sampler", row["sampler_id"])),
                Cell(row["label"] or "–"),
                Cell(word("kind", row["kind"])),
                Cell(placement.location_id, location_ref(placement.location_id)) if placement else Cell("–"),
                Cell(bag or "–", Ref("bag", bag) if bag else None),
                Cell((row["outcome"] or "not recorded").replace("_", " ")),
            )
        )
    return Table(
        "samplers",
        say("custody.list_samplers_caption"),
        columns,
        tuple(body),
        filters=("kind", "bag", "outcome"),
    )


def _sampler_pages(context: Context, rows: list[dict[str, Any]]) -> Iterator[Page]:
    names = [row["sampler_id"] for row in rows]
    for at, row in enumerate(rows):
        placement = context.placed.get(names[at])
        facts = {"label": row["label"] or names[at], "sampler": names[at], "kind": word("kind", row["kind"])}
        yield Page(
            Ref("sampler", names[at]),
            f"Sampler {names[at]}",
            say(
                "custody.sampler_lead",
                location=placement.location_id if placement else "",
                type=row["sampler_type"],
                lot=row["lot"],
                **facts,
            ),
            biography(context, row),
            parent=SAMPLERS,
            previous=Ref("sampler", names[at - 1]) if at else None,
            following=Ref("sampler", names[at + 1]) if at + 1 < len(names) else None,
            search=f"{names[at]} {row['label']} {placement.location_id if placement else ''}",
        )


def biography(context: Context, row: dict[str, Any]) -> tuple[Block, ...]:
    """Return a sampler's life on one page."""
    name = row["sampler_id"]
    placement = context.placed.get(name)
    bag = context.evaluation.custody.bag_of.get(name, "")
    runs = context.runs.get(name, [])
    facts = [
        ("Prepared on", Cell(row["prepared_on"] or "–")),
        (
            "Outward shipment",
            Cell(row["shipment_id"] or "–", Ref("shipment", row["shipment_id"]) if row["shipment_id"] else None),
        ),
        (
            "Point",
            Cell(placement.location_id, location_ref(placement.location_id)) if placement else Cell("not placed"),
        ),
        ("Return bag", Cell(bag or "–", Ref("bag", bag) if bag else None)),
        (
            "Laboratory samples",
            Cell("; ".join(f"{r['lab_sample_id']} (batch {r['batch_id'] or '–'})" for r in runs) or "–"),
        ),
        ("Outcome", Cell((row["outcome"] or "not recorded").replace("_", " "))),
    ]
    blocks: list[Block] = [Facts(tuple(facts))]
    if row["note"]:
        blocks.append(Quote(row["note"], f"{context.path('samplers')}, row {row['_row']}"))
    chain = context.evaluation.custody.samplers.get(name)
    if chain:
        drawn = sampler_figure(context, name, chain)
        spans = spans_table(context, f"held-{name}", chain, say("custody.spans_caption", kind="sampler", name=name))
        events = events_table(
            context, f"events-{name}", chain.events, say("custody.sampler_events_caption", sampler=name)
        )
        parts: tuple[Block, ...] = (drawn, spans) if drawn else (spans,)
        blocks.append(Section("held", "Who held it", parts))
        blocks.append(Section("events", "Every event", (events,)))
    return tuple(blocks)


def _bag_pages(context: Context) -> Iterator[Page]:
    for row in context.survey.records("return_bags"):
        name = row["bag_id"]
        hits = [hit for hit in context.evaluation.blank_hits if hit.kind == "trip_blank" and hit.group == name]
        members = [p for p in context.evaluation.placements if p.bag_id == name]
        chain = context.evaluation.custody.bags[name]
        yield Page(
            Ref("bag", name),
            f"Return bag {name}",
            say(
                "custody.bag_lead",
                count=len(members),
                blank=row["trip_blank_id"],
                hits=len(hits),
                touched=sum(len(hit.touched) for hit in hits),
            ),
            (
                *((Quote(row["note"], f"{context.path('return_bags')}, row {row['_row']}"),) if row["note"] else ()),
                *_chain_sections(context, "bag", name, chain),
                Section("touched", "Results that its trip blank touches", (_touched_table(context, name, hits),)),
                Section("members", "Samplers in the bag", (_members_table(context, name, members),)),
            ),
            parent=PAGE,
            search=f"{name} {row['trip_blank_id']} {row['seal_applied']}",
        )


def _chain_sections(context: Context, kind: str, name: str, chain: Chain) -> tuple[Section, ...]:
    drawn = chain_figure(context, f"{kind}-{name}", name, chain, kind)
    spans = spans_table(context, f"held-{name}", chain, say("custody.spans_caption", kind=kind, name=name))
    events = events_table(context, f"events-{name}", chain.events, say("custody.events_caption", kind=kind, name=name))
    parts: tuple[Block, ...] = (drawn, spans) if drawn else (spans,)
    return Section("held", "Who held it", parts), Section("events", "Every event", (events,))


def _touched_table(context: Context, bag: str, hits: list[Any]) -> Table:
    wanted = {key for hit in hits for key in hit.touched}
    rows = [
        row
        for placement in context.evaluation.placements
        if placement.bag_id == bag
        for row in context.by_sampler.get(placement.sampler_id, [])
        if (row["lab_sample_id"], row["analyte_id"]) in wanted
    ]
    body = tuple(
        (
            Cell(row["location_id"], location_ref(row["location_id"])),
            Cell(context.name(row["analyte_id"]), Ref("compound", row["analyte_id"])),
            value_cell(row, context.display, context.marks(row)),
            Cell(row["sampler_id"], _sampler_ref(row["sampler_id"])),
        )
        for row in rows
    )
    columns = (
        Column("point", "Point"),
        Column("compound", "Compound"),
        Column("result", "Result", "ng per sampler", "number"),
        Column("sampler", "Sampler"),
    )
    return Table(
        f"touched-{bag}",
        say("custody.bag_touched_caption", bag=bag),
        columns,
        body,
        empty=say("quality.blank_clean"),
        filters=("compound",),
    )


def _members_table(context: Context, bag: str, members: list[Any]) -> Table:
    columns = (
        Column("sampler", "Sampler"),
        Column("label", "Label"),
        Column("point", "Point"),
        Column("retrieved", "Retrieved"),
        Column("condition", "Condition"),
    )
    rows = tuple(
        (
            Cell(p.sampler_id, _sampler_ref(p.sampler_id)),
            Cell(p.label),
            Cell(p.location_id, location_ref(p.location_id)),
            Cell(context.when(p.retrieved_utc) if p.retrieved_utc is not None else "–"),
            Cell((p.condition or "–").replace("_", " ")),
        )
        for p in members
    )
    return Table(f"members-{bag}", say("custody.bag_members_caption", bag=bag), columns, rows)


def _shipment_pages(context: Context) -> Iterator[Page]:
    bags = context.survey.records("return_bags")
    for row in context.survey.records("shipments"):
        name = row["shipment_id"]
        inside = [(b["bag_id"], Ref("bag", b["bag_id"]), "return bag") for b in bags if b["shipment_id"] == name]
        inside += [
            (s["sampler_id"], Ref("sampler", s["sampler_id"]), word("kind", s["kind"]))
            for s in context.survey.records("samplers")
            if s["shipment_id"] == name
        ]
        columns = (Column("id", "Item"), Column("kind", "Kind"))
        table = Table(
            f"inside-{name}",
            say("custody.shipment_members_caption", shipment=name),
            columns,
            tuple((Cell(item, ref), Cell(kind)) for item, ref, kind in inside),
        )
        yield Page(
            Ref("shipment", name),
            f"Shipment {name}",
            say(
                "custody.shipment_lead",
                direction={"out": "outward", "return": "return"}.get(row["direction"], ""),
                declared=_whole(row["items_declared"]),
                received=_whole(row["items_received"]),
            ),
            (
                *_chain_sections(context, "shipment", name, context.evaluation.custody.shipments[name]),
                Section("inside", "What is in it", (table,)),
            ),
            parent=PAGE,
            search=f"{name} {row['carrier_ref']} {row['seal_outer']}",
        )
