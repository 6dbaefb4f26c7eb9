"""Handling: from the ground into a sealed bag, holes closed for the time being, and the forms of it all."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from sitegen.checks.catalogue import find
from sitegen.checks.rows import Mask, enumeration, number_of
from sitegen.compute.custody.events import HAND_OVERS
from sitegen.compute.custody.seals import seals
from sitegen.compute.evaluate import Evaluation
from sitegen.compute.field.exposure import Placement
from sitegen.compute.field.idranges import id_ranges
from sitegen.compute.formats import durations_text
from sitegen.findings.problems import Finding, Touch
from sitegen.project.survey import Survey, SurveyTable
from sitegen.project.tables import ReturnBag, Shipment
from sitegen.voice import worded


def seals_in_time(survey: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """A bag is sealed soon after its samplers were retrieved; told once for each bag."""
    limit = evaluation.limits["seal_hours"]
    known = seals(survey)
    for row in survey.rows(ReturnBag):
        bag, on_utc = row.bag_id, known["bag", row.bag_id].on_utc
        late = [p for p in _back_in(bag, evaluation) if on_utc is not None and _hours(p, on_utc) > limit.value]
        if late and on_utc is not None:
            waits = sorted(_hours(p, on_utc) for p in late)
            times = durations_text(60 * wait for wait in waits)
            yield find(
                "seal-late",
                bag,
                row.origin.where("sealed_at"),
                worded(
                    "{times} between retrieval and sealing for {samplers} of bag {bag}: {names}",
                    times=times,
                    samplers=number_of(len(late), "sampler"),
                    bag=bag,
                    names=enumeration(f"{p.sampler_id} ({p.location_id})" for p in late),
                ),
                worded("at most {limit} ({source})", limit=limit.text, source=limit.source),
                kind="bag",
                touches=[Touch(p.sampler_id) for p in late],
            )


def _back_in(bag: str, evaluation: Evaluation) -> list[Placement]:
    return [p for p in evaluation.placements if bag and p.bag_id == bag and p.recovered]


def _hours(placement: Placement, on_utc: int) -> float:
    return (on_utc - (placement.retrieved_utc or on_utc)) / 60


def bags_of_their_own(survey: Survey) -> Iterator[Finding]:
    """Each sampler is in a bag of its own inside the return bag; told once for each return bag."""
    table = survey.tables["deployments"]
    loose = table.frame[table.frame["individually_bagged"] == "no"]
    for bag in loose["bag_id"].unique().tolist():
        rows = loose[loose["bag_id"] == bag]
        names = rows["sampler_id"].tolist()
        yield find(
            "not-individually-bagged",
            bag or "no bag",
            table.where(rows.index[0], "individually_bagged"),
            worded(
                "{samplers} not individually bagged in return bag {bag}: {names}"
                if bag
                else "{samplers} not individually bagged, no return bag on record: {names}",
                samplers=number_of(len(names), "sampler"),
                bag=bag,
                names=enumeration(names),
            ),
            worded("individually bagged samplers"),
            kind="bag" if bag else "",
            touches=[Touch(name) for name in names],
        )


def closures_for_good(survey: Survey) -> Iterator[Finding]:
    """No hole stays closed for the time being; told once."""
    table = survey.tables["deployments"]
    open_end = table.frame[table.frame["hole_restored"] == "temporary"]
    if len(open_end):
        points = open_end["location_id"].unique().tolist()
        yield find(
            "hole-temporary",
            "survey",
            table.where(open_end.index[0], "hole_restored"),
            worded(
                "temporary closure at {points}: {names}",
                points=number_of(len(points), "point"),
                names=enumeration(points, most=12),
            ),
            worded("permanently restored holes"),
        )


def scans_of_forms(survey: Survey) -> Iterator[Finding]:
    """Where forms are scanned, all are; told once for each table."""
    custody, placed, sent = (survey.tables[name] for name in ("custody", "deployments", "shipments"))
    signed = custody.frame["event"].isin(HAND_OVERS) & (custody.frame["signature"] != "electronic")
    everyone = placed.frame["scan_file"].map(lambda _: True).astype(bool)
    formless = sent.frame["shipment_id"].isin(_without_form(survey))
    yield from _missing_scans(custody, signed, "signed hand-over", "event_id")
    yield from _missing_scans(placed, everyone, "deployment", "sampler_id")
    yield from _missing_scans(sent, ~formless, "shipment", "shipment_id")


def _missing_scans(table: SurveyTable, wanted: Mask, noun: str, key: str) -> Iterator[Finding]:
    scanned = table.frame["scan_file"] != ""
    bad = table.frame[wanted & ~scanned]
    if len(bad) and bool((wanted & scanned).any()):
        yield find(
            "form-not-scanned",
            table.spec.path,
            table.where(bad.index[0], "scan_file"),
            worded(
                "no scan for {number} of {forms}: {names}",
                number=len(bad),
                forms=number_of(int(wanted.sum()), noun),
                names=_id_list(bad[key]),
            ),
            worded("a scan of each form, as for the others"),
            kind="file",
        )


def _id_list(ids: Iterable[str]) -> str:
    return enumeration(id_ranges(list(ids)), most=8)


def outward_forms(survey: Survey) -> Iterator[Finding]:
    """An outward shipment has a form: a custody event of its own, or a scan."""
    missing = set(_without_form(survey))
    for row in survey.rows(Shipment):
        if row.shipment_id in missing:
            yield find(
                "outward-form-missing",
                row.shipment_id,
                row.origin.where("scan_file"),
                worded("no custody event and no scan of outward shipment {shipment}", shipment=row.shipment_id),
                worded("the custody form sent with the samplers"),
                kind="shipment",
            )


def _without_form(survey: Survey) -> list[str]:
    frame = survey.frame("shipments")
    events = survey.frame("custody")
    with_events = events.loc[events["subject_kind"] == "shipment", "subject_id"]
    bad = (frame["direction"] == "out") & (frame["scan_file"] == "") & ~frame["shipment_id"].isin(with_events)
    names: list[str] = frame.loc[bad, "shipment_id"].tolist()
    return names


RULES = (bags_of_their_own, closures_for_good, scans_of_forms, outward_forms)
EVALUATION_RULES = (seals_in_time,)
