"""Custody: holders without a break, hand-overs, seals."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise

from sitegen.checks.catalogue import find
from sitegen.checks.rows import Mask, first_rows, number_of, surplus, touches_by_key
from sitegen.compute.custody.chains import Chain, Custody
from sitegen.compute.custody.events import FROM_HAND, GIVING, HAND_OVERS, Event, recorded_events
from sitegen.compute.custody.marks import Trouble, troubles
from sitegen.compute.custody.seals import DIFFERS, seals
from sitegen.compute.custody.walk import GAPS, IN_CUSTODY, LABORATORY, UNHELD, UNNAMED, UNRECORDED, Span
from sitegen.compute.evaluate import Evaluation
from sitegen.compute.formats import durations_text, moment_text, stamp_text
from sitegen.findings.problems import Finding, Touch, Where
from sitegen.project.survey import Survey, SurveyTable
from sitegen.project.tables import CustodyEvent, ReturnBag, Sampler, Shipment
from sitegen.voice import worded

_DONE = {"placed": "installed"}
"""What an event is called in a finding, where the word of the format is not the trade's."""

_SUBJECTS = {"sampler": "samplers", "bag": "return_bags", "shipment": "shipments"}


def subjects_known(survey: Survey) -> Iterator[Finding]:
    """A custody event is about a sampler, bag or shipment that is listed."""
    table = survey.tables["custody"]
    for kind, name in _SUBJECTS.items():
        target = survey.tables[name]
        if not target.present:
            continue
        known = set(target.frame[target.spec.key[0]])
        bad = (table.frame["subject_kind"] == kind) & ~table.frame["subject_id"].isin(known)
        bad &= table.frame["subject_id"] != ""
        for row in first_rows(table, bad, CustodyEvent):
            yield find(
                "custody-subject-unknown",
                row.event_id,
                row.origin.where("subject_id"),
                worded("the {kind} {name!r}", kind=worded(kind), name=row.subject_id),
                worded("a {kind} listed in {file}", kind=worded(kind), file=target.called),
                kind="event",
            )
        yield from surplus("custody-subject-unknown", table, bad, "subject_id")


def events_agree(survey: Survey) -> Iterator[Finding]:
    """A sampler's custody events of placing and retrieving agree with deployments.csv."""
    table = survey.tables["custody"]
    placed = survey.frame("deployments").drop_duplicates("sampler_id").set_index("sampler_id")
    own = (table.frame["subject_kind"] == "sampler") & table.frame["subject_id"].isin(
        survey.frame("samplers")["sampler_id"]
    )
    for event, said in (
        ("placed", "sampler {sampler} placed at {when}"),
        ("retrieved", "sampler {sampler} retrieved at {when}"),
    ):
        stated = table.frame["subject_id"].map(placed[f"{event}_at_utc"]).astype("float64")
        bad = own & (table.frame["event"] == event) & (stated != table.frame["at_utc"])
        for row in first_rows(table, bad, CustodyEvent):
            known = row.subject_id in placed.index
            stated_at = stamp_text(str(placed.at[row.subject_id, f"{event}_at"])) if known else ""
            written = stated_at or worded("no such time on record" if known else "no deployment on record")
            yield find(
                "custody-disagrees",
                row.event_id,
                row.origin.where("at"),
                worded(said, sampler=row.subject_id, when=stamp_text(row.at)),
                worded("{stated}, as in deployments.csv", stated=written),
                kind="event",
            )
        yield from surplus("custody-disagrees", table, bad, "at")


def custody_gaps(survey: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """Time without a holder, and with two, in the chains of shipments, bags and samplers."""
    found = seals(survey)
    touches = touches_by_key(evaluation)
    alike: dict[tuple[str, str], list[Trouble]] = {}
    for chain, bags in _chains(survey, evaluation.custody):
        for trouble in troubles(chain, evaluation.limits, found, bags, survey.time_zone):
            alike.setdefault((trouble.code, trouble.key_subject), []).append(trouble)
    yield from (_trouble(survey, same, touches) for same in alike.values())


def _chains(survey: Survey, held: Custody) -> Iterator[tuple[Chain, tuple[str, ...]]]:
    """Yield every chain with the bags whose seals bear on it."""
    inside: dict[str, list[str]] = {}
    for bag in survey.rows(ReturnBag):
        inside.setdefault(bag.shipment_id, []).append(bag.bag_id)
    for name, chain in held.shipments.items():
        yield chain, tuple(inside.get(name, ()))
    for name, chain in held.bags.items():
        yield chain, (name,)
    for name, chain in held.samplers.items():
        yield chain, (held.bag_of[name],) if name in held.bag_of else ()


def _trouble(survey: Survey, same: list[Trouble], touches: dict[str, tuple[Touch, ...]]) -> Finding:
    """Make one finding of what began by one event, which may have ended for each sampler at a time of its own."""
    trouble = same[0]
    span, first = trouble.span, trouble.span.events[0]
    known = f"; {trouble.known}" if trouble.known else ""
    length = durations_text(one.span.minutes for one in same)
    since = worded(
        "in transit from {when}" if span.state == UNRECORDED else "from {when}",
        when=moment_text(span.start, survey.time_zone),
    )
    sealed = known if span.state in GAPS else ""
    return find(
        trouble.code,
        trouble.key_subject,
        first.origin.where(first.column),
        worded(
            "{unheld} for {length}{between}, {since}{sealed}",
            unheld=_unheld(same),
            length=length,
            between=_between(same),
            since=since,
            sealed=sealed,
        ),
        worded("one recorded custodian"),
        kind=trouble.kind,
        touches=touches.get(f"{trouble.code}:{trouble.key_subject}", ()),
    )


def _unheld(same: list[Trouble]) -> str:
    return worded("no custodian recorded") if same[0].span.state in GAPS else worded("two custodians recorded at once")


def _between(same: list[Trouble]) -> str:
    """Name the parties on both sides of the time, each pair once; nothing where none is named."""
    pairs = dict.fromkeys((one.span.giver, one.span.taker) for one in same)
    parties = [
        [worded("a role not recorded") if party == UNNAMED else party for party in pair if party] for pair in pairs
    ]
    named = [worded(" and ").join(both) for both, pair in zip(parties, pairs, strict=True) if set(pair) - {"", UNNAMED}]
    return worded(" between {parties}", parties="; ".join(named)) if named else ""


def some_holder(_: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """A recovered sampler had some recorded holder on its way to the laboratory."""
    for p in evaluation.placements:
        chain = evaluation.custody.samplers.get(p.sampler_id)
        if not p.recovered or p.retrieved_utc is None or chain is None or _has_holder(chain, p.retrieved_utc):
            continue
        yield find(
            "custody-none",
            p.sampler_id,
            p.origin.where("retrieved_by"),
            worded("no recorded custodian between retrieval and the laboratory"),
            worded("the role that had custody"),
            kind="sampler",
            touches=[Touch(p.sampler_id)],
        )


def _has_holder(chain: Chain, retrieved_utc: int) -> bool:
    """Tell whether somebody is named as holder between retrieval and the laboratory."""
    arrivals = (e.utc for e in chain.events if e.kind in ("lab_received", "analysed") and e.utc > retrieved_utc)
    arrival = min(arrivals, default=chain.events[-1].utc)
    return any(_names(span) for span in chain.spans if span.end > retrieved_utc and span.start < arrival)


def _names(span: Span) -> bool:
    """Tell whether a stretch names who had the thing, or who had it when the stretch began."""
    last = span.holder if span.state in IN_CUSTODY else span.giver if span.state == UNHELD else ""
    return last not in ("", UNNAMED, LABORATORY)


def changes_of_holder(survey: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """A thing goes from one role to another by a hand-over: told once for each bag or shipment."""
    changes: dict[tuple[str, str, str, str], dict[str, Event]] = {}
    returns = _returns(evaluation)
    for row in survey.rows(Sampler):
        name, outward = row.sampler_id, row.shipment_id
        bag = evaluation.custody.bag_of.get(name, "")
        for before, event in evaluation.custody.samplers[name].silent_changes:
            if event.utc >= returns[name]:
                where = ("bag", bag) if bag else ("sampler", name)
            else:
                where = ("shipment", outward) if outward else ("sampler", name)
            changes.setdefault((*where, before, event.by), {}).setdefault(name, event)
    yield from (_change_of_holder(survey, change, tuple(found.values())) for change, found in changes.items())


def _returns(evaluation: Evaluation) -> dict[str, float]:
    """Return from when on each sampler is on its way back: retrieved, or put into its bag."""
    held = evaluation.custody
    retrieved = {p.sampler_id: p.retrieved_utc for p in evaluation.deployed}
    found = {}
    for name in held.samplers:
        out = retrieved.get(name)
        in_bag = held.bags[held.bag_of[name]].events[:1] if held.bag_of.get(name) in held.bags else ()
        found[name] = float(out) if out is not None else min((float(e.utc) for e in in_bag), default=math.inf)
    return found


def _change_of_holder(survey: Survey, change: tuple[str, str, str, str], events: tuple[Event, ...]) -> Finding:
    kind, subject, before, after = change
    first = min(events, key=lambda event: event.sort_key)
    then = f"then {_DONE.get(first.kind) or first.kind.replace('_', ' ')} by {{role}}"
    thing = f"{worded(kind)} {subject}"
    if kind != "sampler":
        thing = worded("{samplers} of {thing}", samplers=number_of(len(events), "sampler"), thing=thing)
    return find(
        "holder-changed",
        f"{subject}+{before}+{after}",
        first.origin.where(first.column),
        worded(
            "{thing} with {before}, {then} (first at {when}), no transfer between them on record",
            thing=thing,
            before=before,
            then=worded(then, role=after),
            when=moment_text(first.utc, survey.time_zone),
        ),
        worded("a custody transfer on record wherever the custodian changes"),
        kind=kind,
    )


def takers_agree(survey: Survey) -> Iterator[Finding]:
    """Who takes over is who it was handed to."""
    for (kind, subject), events in recorded_events(survey).items():
        handed = [event for event in events if event.kind in (*GIVING, *FROM_HAND)]
        for given, taken in pairwise(handed):
            if given.kind not in GIVING or taken.kind in GIVING or not given.to or not taken.by:
                continue
            if given.to != taken.by:
                yield find(
                    "handed-to-another",
                    given.event_id,
                    given.origin.where("to_role"),
                    worded(
                        "{kind} {subject} handed to {to}, received by {by} ({event_id})",
                        kind=worded(kind),
                        subject=subject,
                        to=given.to,
                        by=taken.by,
                        event_id=taken.event_id,
                    ),
                    worded("the same role"),
                    kind="event",
                )


def seals_agree(survey: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """Seals read at receipt as applied."""
    touches = touches_by_key(evaluation)
    for seal in seals(survey).values():
        if seal.verdict == DIFFERS:
            swapped = sorted(seal.applied) == sorted(seal.read)
            found = worded(
                "seal {read} read at receipt (transposed digits), condition {condition}"
                if swapped
                else "seal {read} read at receipt, condition {condition}",
                read=seal.read,
                condition=worded(seal.condition or "not recorded"),
            )
            yield find(
                "seal-differs",
                seal.subject,
                Where(*seal.where),
                found,
                worded("seal {applied}, as applied", applied=seal.applied),
                kind=seal.kind,
                touches=touches.get(f"seal-differs:{seal.subject}", ()),
            )


def seals_whole(survey: Survey) -> Iterator[Finding]:
    """Seals arrive whole."""
    shipments, custody = survey.tables["shipments"], survey.tables["custody"]
    of_shipments, of_events = _not_whole(shipments), _not_whole(custody)
    for row in first_rows(shipments, of_shipments, Shipment):
        yield _broken_seal(row, row.shipment_id, row.shipment_id, "shipment")
    yield from surplus("seal-not-whole", shipments, of_shipments, "seal_condition")
    for event in first_rows(custody, of_events, CustodyEvent):
        yield _broken_seal(event, event.event_id, f"{worded(event.subject_kind)} {event.subject_id}", "event")
    yield from surplus("seal-not-whole", custody, of_events, "seal_condition")


_NOT_WHOLE = {"broken": "seal broken on {about}", "absent": "seal absent on {about}"}


def _not_whole(table: SurveyTable) -> Mask:
    return table.frame["seal_condition"].isin(list(_NOT_WHOLE))


def _broken_seal(row: Shipment | CustodyEvent, subject: str, about: str, kind: str) -> Finding:
    found = worded(_NOT_WHOLE[row.seal_condition], about=about)
    where = row.origin.where("seal_condition")
    return find("seal-not-whole", subject, where, found, worded("an intact seal"), kind=kind)


def seals_of_bags(survey: Survey) -> Iterator[Finding]:
    """A bag has a seal of its own number, which the laboratory read; either table may say so."""
    bags = survey.frame("return_bags")["bag_id"]
    found = seals(survey)
    applied = bags.map({name: seal.applied for (kind, name), seal in found.items() if kind == "bag"}).astype(object)
    read = bags.map({name: seal.read for (kind, name), seal in found.items() if kind == "bag"}).astype(object)
    sealed = applied != ""
    again, unread = sealed & applied.duplicated(), sealed & (read == "")
    yield from _bags(
        "seal-missing", survey, ~sealed, worded("no seal number on record"), worded("the number of the seal")
    )
    yield from _bags(
        "seal-twice", survey, again, worded("the seal number of another bag"), worded("a different number for each bag")
    )
    unheard = worded("no seal number read at receipt on record")
    yield from _bags("seal-not-read", survey, unread, unheard, worded("a seal_checked event"))


def _bags(code: str, survey: Survey, bad: Mask, found: str, expected: str) -> Iterator[Finding]:
    table = survey.tables["return_bags"]
    for row in first_rows(table, bad, ReturnBag):
        yield find(code, row.bag_id, row.origin.where("seal_applied"), found, expected, kind="bag")
    yield from surplus(code, table, bad, "seal_applied")


def signatures(survey: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """Hand-overs without a signature."""
    table = survey.tables["custody"]
    touches = touches_by_key(evaluation)
    bad = (table.frame["signature"] == "none") & table.frame["event"].isin(HAND_OVERS)
    for row in first_rows(table, bad, CustodyEvent):
        yield find(
            "hand-over-unsigned",
            row.event_id,
            row.origin.where("signature"),
            worded(
                "no signature of {role} for {kind} {subject}",
                role=row.by_role or worded("a role not recorded"),
                kind=worded(row.subject_kind),
                subject=row.subject_id,
            ),
            worded("a signature, in ink or electronic"),
            kind="event",
            touches=touches.get(f"hand-over-unsigned:{row.event_id}", ()),
        )
    yield from surplus("hand-over-unsigned", table, bad, "signature")


RULES = (subjects_known, events_agree, takers_agree, seals_whole, seals_of_bags)
EVALUATION_RULES = (custody_gaps, some_holder, changes_of_holder, seals_agree, signatures)
