"""Marks that custody lays on samplers: time without a holder, two holders, seals, unsigned hand-overs."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from sitegen.compute.custody.chains import Chain, Custody
from sitegen.compute.custody.events import HAND_OVERS
from sitegen.compute.custody.seals import DIFFERS, Seals, gap_evidence, seals
from sitegen.compute.custody.walk import GAPS, OVERLAP, Span
from sitegen.compute.formats import duration_text, stamp_text
from sitegen.compute.limits import LimitRecord
from sitegen.compute.marks import MarkFact
from sitegen.project.survey import Survey
from sitegen.project.tables import CustodyEvent, ReturnBag, Sampler
from sitegen.voice import worded


@dataclass(frozen=True, slots=True)
class Trouble:
    """A span that a reader must know, with the code of its check and what it is about.

    ``kind`` and ``subject`` are those of the event that opens it; ``known`` says what seals tell of it.
    """

    code: str
    kind: str
    subject: str
    span: Span
    known: str

    @property
    def key_subject(self) -> str:
        """The subject of the finding: what it is about, and when it began."""
        return f"{self.subject}+{self.span.start}"


def troubles(
    chain: Chain, in_force: Mapping[str, LimitRecord], on_file: Seals, bags: tuple[str, ...], zone: str
) -> Iterator[Trouble]:
    """Yield the spans of a chain without a holder for longer than the limit, or with two.

    ``bags`` are the bags whose seals bear on the chain.
    """
    least_min = in_force["custody_gap_min"].value
    for span in chain.spans:
        if span.state == OVERLAP or (span.state in GAPS and span.minutes > least_min):
            first = span.events[0]
            known = gap_evidence(on_file, span, bags, zone) if span.state in GAPS else ""
            code = "custody-overlap" if span.state == OVERLAP else "custody-gap"
            yield Trouble(code, first.subject_kind, first.subject_id, span, known)


def custody_marks(survey: Survey, held: Custody, in_force: Mapping[str, LimitRecord]) -> Iterator[tuple[str, MarkFact]]:
    """Yield the marks that custody lays on samplers: gaps, overlaps, seals, unsigned hand-overs."""
    on_file = seals(survey)
    for name, chain in held.samplers.items():
        bag = held.bag_of.get(name)
        for trouble in troubles(chain, in_force, on_file, (bag,) if bag else (), survey.time_zone):
            facts = (
                ("state", worded(trouble.span.state).capitalize()),
                ("length", duration_text(trouble.span.minutes)),
                ("between", trouble.span.holder),
                ("what", f"{trouble.kind} {trouble.subject}"),
                ("known", f"; {trouble.known}" if trouble.known else ""),
            )
            yield name, MarkFact(trouble.code, "chain", trouble.key_subject, facts)
    members = members_of(survey, held)
    yield from _seal_marks(on_file, members)
    yield from _signature_marks(survey, members)


def _seal_marks(on_file: Seals, members: Mapping[tuple[str, str], list[str]]) -> Iterator[tuple[str, MarkFact]]:
    for (kind, name), seal in on_file.items():
        if seal.verdict == DIFFERS:
            facts = (
                ("what", f"{kind} {name}"),
                ("applied", seal.applied),
                ("read", seal.read),
                ("condition", worded(seal.condition or "not recorded")),
            )
            for sampler in members.get((kind, name), ()):
                yield sampler, MarkFact("seal-differs", "chain", name, facts)


def _signature_marks(survey: Survey, members: Mapping[tuple[str, str], list[str]]) -> Iterator[tuple[str, MarkFact]]:
    for row in survey.rows(CustodyEvent):
        if row.signature == "none" and row.event in HAND_OVERS:
            kind, name = row.subject_kind, row.subject_id
            facts = (
                ("what", f"{kind} {name}"),
                ("event", worded(row.event)),
                ("by", row.by_role),
                ("at", stamp_text(row.at)),
            )
            for sampler in members.get((kind, name), ()):
                yield sampler, MarkFact("hand-over-unsigned", "chain", row.event_id, facts)


def members_of(survey: Survey, held: Custody) -> dict[tuple[str, str], list[str]]:
    """Return the samplers in each bag and shipment; a sampler is its own one member."""
    members: dict[tuple[str, str], list[str]] = {}
    shipment_of_bag = {row.bag_id: row.shipment_id for row in survey.rows(ReturnBag)}
    for row in survey.rows(Sampler):
        name = row.sampler_id
        members.setdefault(("sampler", name), []).append(name)
        if row.shipment_id:
            members.setdefault(("shipment", row.shipment_id), []).append(name)
        bag = held.bag_of.get(name)
        if bag:
            members.setdefault(("bag", bag), []).append(name)
            if shipment_of_bag.get(bag):
                members.setdefault(("shipment", shipment_of_bag[bag]), []).append(name)
    return members
