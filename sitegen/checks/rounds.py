"""Rounds: each is declared, each placement names its own, and what goes with a sampler is of the sampler's round."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from itertools import chain

from sitegen.checks.catalogue import find
from sitegen.checks.rows import enumeration, first_rows, setting_where, surplus
from sitegen.compute.rounds.membership import Membership, Of
from sitegen.findings.problems import Finding
from sitegen.project.settings import RoundPart
from sitegen.project.survey import Survey
from sitegen.project.tables import ROW_TYPE, Deployment, LabSample, ReturnBag, Sampler, Shipment
from sitegen.voice import worded

TABLES = ("locations", "deployments", "return_bags", "shipments", "lab_samples")
"""The tables with a column ``round``."""


def declared(survey: Survey) -> Iterator[Finding]:
    """Rounds are told apart by their ids, and each supplement belongs to a round."""
    rounds = survey.settings.rounds
    known = {one.id for one in rounds if one.kind == "round"}
    times = Counter(one.id for one in rounds)
    for at, one in enumerate(rounds):
        for key, found, expected in _faults(one, known, times):
            yield find(
                "round-unsound", f"rounds.{one.id}", setting_where(survey, f"rounds.{at}.{key}"), found, expected
            )
    reported = survey.settings.project.round
    if reported and reported not in times:
        found = worded("the round {reported}, which is not declared", reported=reported)
        where = setting_where(survey, "project.round")
        yield find(
            "round-unsound",
            "project.round",
            where,
            found,
            worded("one of {names}", names=enumeration(times)) if times else worded("none"),
        )


def _faults(one: RoundPart, known: set[str], times: Counter[str]) -> Iterator[tuple[str, str, str]]:
    if times[one.id] > 1:
        yield (
            "id",
            worded("the id {id} for {times} rounds", id=one.id, times=times[one.id]),
            worded("an id for each round"),
        )
    if one.kind == "supplement" and one.of not in known:
        yield (
            "of",
            worded("a supplement of {round}", round=one.of) if one.of else worded("a supplement of no round"),
            worded("the round it belongs to: {rounds}", rounds=enumeration(known)),
        )
    if one.kind == "round" and one.of:
        yield "of", worded("a round of {round}", round=one.of), worded('no "of", or kind = "supplement"')


def known_rounds(survey: Survey) -> Iterator[Finding]:
    """A cell names a round that is declared."""
    ids = [one.id for one in survey.settings.rounds]
    for name in TABLES:
        table = survey.tables[name]
        bad = (table.frame["round"] != "") & ~table.frame["round"].isin(ids)
        expected = enumeration(ids) if ids else worded("rounds declared as [[rounds]] in project.toml")
        for row in first_rows(table, bad, ROW_TYPE[name]):
            at, key = row.origin.where("round"), getattr(row, table.spec.key[0])  # type: ignore[attr-defined]
            yield find("round-unknown", f"{name}+{key}", at, worded("the round {round}", round=row.round), expected)  # type: ignore[attr-defined]
        yield from surplus("round-unknown", table, bad, "round")


def placements_have_rounds(survey: Survey) -> Iterator[Finding]:
    """Where several rounds are declared, each placement says which it is of."""
    rounds = survey.settings.rounds
    if len(rounds) < 2:
        return
    table = survey.tables["deployments"]
    blank = table.frame["round"] == ""
    expected = enumeration([one.id for one in rounds])
    for row in first_rows(table, blank, Deployment):
        yield find(
            "round-blank", row.sampler_id, row.origin.where("round"), worded("no round"), expected, kind="sampler"
        )
    yield from surplus("round-blank", table, blank, "round")


def along_the_way(survey: Survey) -> Iterator[Finding]:
    """A bag, a shipment and a laboratory sample are of the round of the samplers in them; a pair is of one round."""
    ids = tuple(dict.fromkeys(one.id for one in survey.settings.rounds))
    if len(ids) < 2:
        return
    of = Membership(survey, ids)
    yield from chain(_bags(survey, of), _shipments(survey, of), _runs(survey, of), _pairs(survey, of.placed))


def _bags(survey: Survey, of: Membership) -> Iterator[Finding]:
    stated = {row.bag_id: row for row in survey.rows(ReturnBag)}
    seen: set[str] = set()
    for row in survey.rows(Deployment):
        bag = stated.get(row.bag_id)
        if bag is None or bag.bag_id in seen:
            continue
        own = of.placed[row.sampler_id]
        others = frozenset((bag.round,)) if bag.round else of.bags[bag.bag_id]
        if others != own:
            seen.add(bag.bag_id)
            found = worded(
                "sampler {sampler_id} of {own} in the bag {bag_id} of {others}",
                sampler_id=row.sampler_id,
                own=_words(own),
                bag_id=bag.bag_id,
                others=_words(others),
            )
            yield find("rounds-disagree", bag.bag_id, bag.origin.where("round"), found, worded("one round"), kind="bag")


def _shipments(survey: Survey, of: Membership) -> Iterator[Finding]:
    """A stated round is among those of the samplers sent with a shipment, or of the bags that came back with it."""
    sent: dict[str, set[str]] = {}
    for row in survey.rows(Sampler):
        sent.setdefault(row.shipment_id, set()).update(of.placed.get(row.sampler_id, ()))
    for bag in survey.rows(ReturnBag):
        sent.setdefault(bag.shipment_id, set()).update(of.bags[bag.bag_id])
    for one in survey.rows(Shipment):
        inside = sent.get(one.shipment_id, set())
        if one.round and inside and one.round not in inside:
            found = worded(
                "samplers of {inside} in the shipment {shipment_id} of {round}",
                inside=_words(inside),
                shipment_id=one.shipment_id,
                round=one.round,
            )
            yield find(
                "rounds-disagree",
                one.shipment_id,
                one.origin.where("round"),
                found,
                worded("one round"),
                kind="shipment",
            )


def _runs(survey: Survey, of: Membership) -> Iterator[Finding]:
    for run in survey.rows(LabSample):
        own = of.placed.get(run.sampler_id)
        if run.round and own and run.round not in own:
            found = worded(
                "a sample of {round}, whose sampler {sampler_id} was installed in {own}",
                round=run.round,
                sampler_id=run.sampler_id,
                own=_words(own),
            )
            where = run.origin.where("round")
            yield find("rounds-disagree", run.lab_sample_id, where, found, worded("one round"), kind="lab_sample")


def _pairs(survey: Survey, placed: Of) -> Iterator[Finding]:
    for row in survey.rows(Deployment):
        for column in ("duplicate_of", "replaces"):
            other = getattr(row, column)
            if other in placed and placed[other] != placed[row.sampler_id]:
                found = worded(
                    "{sampler_id} of {own}, {other} of {others}",
                    sampler_id=row.sampler_id,
                    own=_words(placed[row.sampler_id]),
                    other=other,
                    others=_words(placed[other]),
                )
                where = row.origin.where(column)
                yield find(
                    "rounds-disagree", f"{row.sampler_id}+{other}", where, found, worded("one round"), kind="sampler"
                )


def _words(rounds: frozenset[str] | set[str]) -> str:
    return f" {worded('and')} ".join(sorted(rounds)) or worded("no round")


RULES = (declared, known_rounds, placements_have_rounds, along_the_way)
