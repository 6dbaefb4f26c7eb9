"""Custody: holders without a break, hand-overs, seals."""

from __future__ import annotations

from collections.abc import Iterator

from sitegen.checks.catalogue import find
from sitegen.checks.rows import Mask, first_rows, surplus, touched_samplers
from sitegen.compute.custody import CARRIER, GAP, HELD, OVERLAP, RANK, STORED, Chain
from sitegen.compute.evaluate import Evaluation
from sitegen.compute.fieldmarks import seal_differences
from sitegen.problems import Finding, Touch, Where
from sitegen.project.survey import Survey
from sitegen.project.zones import local_text

HANDED = ("relinquished", "accepted", "received", "lab_received")
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
        for at, row in first_rows(table, bad):
            yield find(
                "custody-subject-unknown",
                row["event_id"],
                table.where(at, "subject_id"),
                f"the {kind} {row['subject_id']!r}",
                f"a {kind} that {target.spec.path} lists",
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
    for event in ("placed", "retrieved"):
        stated = table.frame["subject_id"].map(placed[f"{event}_at_utc"]).astype("float64")
        bad = own & (table.frame["event"] == event) & (stated != table.frame["at_utc"])
        for at, row in first_rows(table, bad):
            known = row["subject_id"] in placed.index
            written = str(placed.at[row["subject_id"], f"{event}_at"]) if known else "not placed"
            yield find(
                "custody-disagrees",
                row["event_id"],
                table.where(at, "at"),
                f"sampler {row['subject_id']} {event} at {row['at']}",
                f"{written or 'not ' + event}, as in deployments.csv",
                kind="event",
            )
        yield from surplus("custody-disagrees", table, bad, "at")


def custody_gaps(survey: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """Gaps and overlaps in the chains of bags, shipments and samplers."""
    held = evaluation.custody
    touches = touched_samplers(evaluation)
    seen: set[str] = set()
    for chain in (*held.bags.values(), *held.shipments.values(), *held.samplers.values()):
        for finding in _spans(survey, chain, touches):
            if finding.key not in seen:
                seen.add(finding.key)
                yield finding


def _spans(survey: Survey, chain: Chain, touches: dict[str, tuple[Touch, ...]]) -> Iterator[Finding]:
    for span in chain.spans:
        if span.state not in (GAP, OVERLAP):
            continue
        first = span.events[0]
        code = "custody-gap" if span.state == GAP else "custody-overlap"
        subject = f"{first.subject_id}+{span.start}"
        yield find(
            code,
            subject,
            Where(first.file, first.row, "at"),
            f"{span.minutes} min from {local_text(span.start, survey.time_zone)}, {span.holder}",
            "one recorded holder",
            kind=first.subject_kind,
            touches=touches.get(f"{code}:{subject}", ()),
        )


def held_at_all(survey: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """A recovered sampler had some recorded holder on its way to the laboratory."""
    path = survey.tables["deployments"].spec.path
    for p in evaluation.placements:
        chain = evaluation.custody.samplers.get(p.sampler_id)
        if not p.recovered or p.retrieved_utc is None or chain is None:
            continue
        known = any(
            span.end > p.retrieved_utc and span.holder not in ("", "not recorded")
            for span in chain.spans
            if span.state in (HELD, STORED, CARRIER)
        )
        if not known:
            yield find(
                "custody-none",
                p.sampler_id,
                Where(path, p.row, "retrieved_by"),
                "no recorded holder between retrieval and the laboratory",
                "the role that held it",
                kind="sampler",
                touches=[Touch(p.sampler_id)],
            )


def handed_to_another(survey: Survey) -> Iterator[Finding]:
    """Who takes over is who it was handed to."""
    table = survey.tables["custody"]
    frame = table.frame[table.frame["event"].isin(HANDED)]
    ordered = frame.assign(rank=frame["event"].map(RANK)).sort_values(["subject_kind", "subject_id", "at_utc", "rank"])
    following = ordered.shift(-1)
    same = (ordered["subject_kind"] == following["subject_kind"]) & (ordered["subject_id"] == following["subject_id"])
    bad = same & (ordered["event"] == "relinquished") & (following["event"] != "relinquished")
    bad &= (ordered["to_role"] != "") & (following["by_role"] != "") & (ordered["to_role"] != following["by_role"])
    for index in ordered.index[bad.astype(bool)]:
        row, taken = ordered.loc[index], following.loc[index]
        yield find(
            "handed-to-another",
            str(row["event_id"]),
            table.where(index, "to_role"),
            f"{row['subject_kind']} {row['subject_id']} handed to {row['to_role']}, "
            f"taken by {taken['by_role']} ({taken['event_id']})",
            "one and the same role",
            kind="event",
        )


def seals(survey: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """Seals read at receipt as applied."""
    touches = touched_samplers(evaluation)
    for kind, name, applied, read, row in seal_differences(survey):
        table = "custody" if kind == "bag" else "shipments"
        column = "seal_number" if kind == "bag" else "seal_received"
        hint = " (two digits changed places)" if sorted(applied) == sorted(read) else ""
        yield find(
            "seal-differs",
            name,
            Where(survey.tables[table].spec.path, row, column),
            f"seal {read} read at receipt{hint}",
            f"seal {applied}, as applied",
            kind=kind,
            touches=touches.get(f"seal-differs:{name}", ()),
        )


def seals_whole(survey: Survey) -> Iterator[Finding]:
    """Seals arrive whole."""
    for name, key in (("shipments", "shipment_id"), ("custody", "event_id")):
        table = survey.tables[name]
        bad = table.frame["seal_condition"].isin(("broken", "absent"))
        for at, row in first_rows(table, bad):
            about = row[key] if name == "shipments" else f"{row['subject_kind']} {row['subject_id']}"
            yield find(
                "seal-not-whole",
                row[key],
                table.where(at, "seal_condition"),
                f"seal {row['seal_condition']} on {about}",
                "a seal that is intact",
                kind=key.removesuffix("_id"),
            )
        yield from surplus("seal-not-whole", table, bad, "seal_condition")


def seals_applied_and_read(survey: Survey) -> Iterator[Finding]:
    """A bag has a seal of its own number, which the laboratory read."""
    table = survey.tables["return_bags"]
    events = survey.frame("custody")
    checked = events[(events["event"] == "seal_checked") & (events["seal_number"] != "")]["subject_id"]
    sealed = table.frame["seal_applied"] != ""
    again = sealed & table.frame.duplicated("seal_applied")
    unread = sealed & ~table.frame["bag_id"].isin(checked)
    yield from _bags("seal-missing", survey, ~sealed, "no seal number", "the number of the seal")
    yield from _bags("seal-twice", survey, again, "the seal number of another bag", "a number of its own")
    yield from _bags("seal-not-read", survey, unread, "a seal that nobody read at receipt", "a seal_checked event")


def _bags(code: str, survey: Survey, bad: Mask, found: str, expected: str) -> Iterator[Finding]:
    table = survey.tables["return_bags"]
    for at, row in first_rows(table, bad):
        yield find(code, row["bag_id"], table.where(at, "seal_applied"), found, expected, kind="bag")
    yield from surplus(code, table, bad, "seal_applied")


def unsigned(survey: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """Hand-overs without a signature."""
    table = survey.tables["custody"]
    touches = touched_samplers(evaluation)
    bad = (table.frame["signature"] == "none") & table.frame["event"].isin(HANDED)
    for at, row in first_rows(table, bad):
        yield find(
            "hand-over-unsigned",
            row["event_id"],
            table.where(at, "signature"),
            f"no signature of {row['by_role']} for {row['subject_kind']} {row['subject_id']}",
            "ink or electronic",
            kind="event",
            touches=touches.get(f"hand-over-unsigned:{row['event_id']}", ()),
        )
    yield from surplus("hand-over-unsigned", table, bad, "signature")


RULES = (subjects_known, events_agree, handed_to_another, seals_whole, seals_applied_and_read)
EVALUATION_RULES = (custody_gaps, held_at_all, seals, unsigned)
