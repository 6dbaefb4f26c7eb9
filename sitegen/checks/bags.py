"""Bags and shipments: what is in them, how many, and which blank travels along."""

from __future__ import annotations

import re
from collections.abc import Iterator

import numpy as np
import pandas as pd

from sitegen.checks.catalogue import find
from sitegen.checks.rows import (
    Mask,
    first_numbers,
    first_rows,
    key_of,
    number_of,
    numbered_rows,
    of_samplers,
    samples_a_point,
    surplus,
)
from sitegen.compute.evaluate import Evaluation
from sitegen.compute.field.stage import stage
from sitegen.compute.limits import limits
from sitegen.findings.problems import Finding
from sitegen.project.survey import Survey, SurveyTable
from sitegen.project.tables import CustodyEvent, Deployment, ReturnBag, Sampler, Shipment
from sitegen.voice import ENGLISH, voice, worded

_OPENED = r"(?<!un)(?<!not )\bopen(?:ed)?\b"
_OPENED_WORDS = {
    ENGLISH: re.compile(_OPENED, re.IGNORECASE),
    "es": re.compile(rf"{_OPENED}|(?<!no )(?<!sin )\babiert[oa]s?\b|(?<!no )\bse\s+abri(?:ó|eron)\b", re.IGNORECASE),
}
"""Words of a note that say that something was opened; a note in a Spanish project may be in either language."""


def every_sampler_bagged(survey: Survey) -> Iterator[Finding]:
    """A recovered sampler and a field blank are in a bag, and in one only; in the field a blank may still be open."""
    table = survey.tables["deployments"]
    frame = table.frame
    back = frame["retrieved_at_utc"].notna()
    if stage(survey) == "returned":
        back |= ~samples_a_point(survey)
    back &= frame["condition"] != "not_recovered"
    bad = back & (frame["bag_id"] == "")
    for row in first_rows(table, bad, Deployment):
        where = row.origin.where("bag_id")
        yield find(
            "sampler-in-no-bag",
            row.sampler_id,
            where,
            worded("a retrieved sampler with no return bag on record"),
            worded("its return bag"),
            kind="sampler",
        )
    yield from surplus("sampler-in-no-bag", table, bad, "bag_id")
    yield from _bags_by_custody(survey)


def _bags_by_custody(survey: Survey) -> Iterator[Finding]:
    """Find ``bagged`` events of samplers that name another bag than deployments.csv."""
    bag_of = {row.sampler_id: row.bag_id for row in survey.rows(Deployment)}
    bags = {bag.bag_id for bag in survey.rows(ReturnBag)} - {""}
    for row in survey.rows(CustodyEvent):
        if row.event != "bagged" or row.subject_kind != "sampler":
            continue
        named = {word.strip(".,;:()") for word in f"{row.comment} {row.place}".split()} & bags
        stated = bag_of.get(row.subject_id, "")
        if named and stated and stated not in named:
            yield find(
                "sampler-in-two-bags",
                row.subject_id,
                row.origin.where("comment"),
                worded("bagged into {bags}", bags=", ".join(sorted(named))),
                worded("{stated}, as in deployments.csv", stated=stated),
                kind="sampler",
            )


def bag_contents(survey: Survey) -> Iterator[Finding]:
    """A bag holds as many samplers as it declares, and no more than the limit."""
    table = survey.tables["return_bags"]
    limit = limits(survey.settings)["samplers_per_bag"]
    placed = survey.frame("deployments")
    held = placed[placed["condition"] != "not_recovered"]["bag_id"].value_counts()
    inside = table.frame["bag_id"].map(held).fillna(0).astype(int)
    differs = table.frame["count_declared"].notna() & (table.frame["count_declared"] != inside)
    named = table.frame["bag_id"].isin(placed["bag_id"])
    for at, row in numbered_rows(table, differs, ReturnBag):
        found = worded("{declared:.0f} declared", declared=row.count_declared)
        expected = worded("{number}, the number in deployments.csv, trip blank not counted", number=inside.iloc[at])
        if not named.iloc[at]:
            found = worded(
                "{found}; no row of {file} refers to this bag", found=found, file=survey.tables["deployments"].called
            )
            expected = worded("the bag of each sampler on record")
        where = row.origin.where("count_declared")
        yield find("bag-count-differs", row.bag_id, where, found, expected, kind="bag")
    for at, row in numbered_rows(table, inside > limit.value, ReturnBag):
        yield find(
            "bag-overfull",
            row.bag_id,
            row.origin.where("bag_id"),
            number_of(int(inside.iloc[at]), "sampler"),
            worded("at most {most:g} ({source})", most=limit.value, source=limit.source),
            kind="bag",
        )


def trip_blanks(survey: Survey) -> Iterator[Finding]:
    """Every bag has a trip blank of its own, unopened."""
    table = survey.tables["return_bags"]
    frame = table.frame
    kind = of_samplers(survey, "kind", frame["trip_blank_id"]).fillna("trip_blank")
    used = frame["bag_id"].isin(survey.frame("deployments")["bag_id"])
    cases: tuple[tuple[str, Mask, str, str], ...] = (
        (
            "trip-blank-missing",
            used & (frame["trip_blank_id"] == ""),
            worded("no trip blank on record"),
            worded("a trip blank in each bag"),
        ),
        (
            "trip-blank-twice",
            (frame["trip_blank_id"] != "") & frame.duplicated("trip_blank_id"),
            worded("the trip blank of another bag"),
            worded("a separate trip blank"),
        ),
        (
            "trip-blank-kind",
            kind != "trip_blank",
            worded("a sampler of another kind"),
            worded("a sampler of the kind trip_blank"),
        ),
    )
    for code, bad, found, expected in cases:
        for row in first_rows(table, bad, ReturnBag):
            yield find(code, row.bag_id, row.origin.where("trip_blank_id"), found, expected, kind="bag")
    yield from _open_blanks(survey)


def _open_blanks(survey: Survey) -> Iterator[Finding]:
    table = survey.tables["samplers"]
    frame = table.frame
    events = survey.frame("custody")
    opened = _OPENED_WORDS[voice().language]
    subjects = events[events["comment"].str.contains(opened)]["subject_id"]
    bad = (frame["kind"] == "trip_blank") & (frame["note"].str.contains(opened) | frame["sampler_id"].isin(subjects))
    for row in first_rows(table, bad, Sampler):
        yield find(
            "trip-blank-opened",
            row.sampler_id,
            row.origin.where("note"),
            worded("a trip blank that was opened: {note}", note=row.note or worded("see custody.csv")),
            worded("an unopened trip blank"),
            kind="sampler",
        )


def shipments(survey: Survey) -> Iterator[Finding]:
    """A shipment holds what it declares, arrives complete, and goes the right way."""
    table = survey.tables["shipments"]
    frame = table.frame
    declared, received = frame["items_declared"], frame["items_received"]
    short = declared.notna() & received.notna() & (declared != received)
    for row in first_rows(table, short, Shipment):
        found = worded("{number:.0f} items received", number=row.items_received)
        where = row.origin.where("items_received")
        expected = worded("{number:.0f}, as declared", number=row.items_declared)
        yield find("shipment-short", row.shipment_id, where, found, expected, kind="shipment")
    if all(survey.tables[name].present for name in ("samplers", "deployments", "return_bags")):
        yield from _shipment_counts(survey)


def receipts(survey: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """Of a return shipment a receipt is on record, in its row or in custody.csv."""
    table = survey.tables["shipments"]
    frame = table.frame
    missing = (frame["direction"] == "return") & ~frame["shipment_id"].isin(evaluation.custody.received)
    for row in first_rows(table, missing, Shipment):
        yield find(
            "shipment-not-received",
            row.shipment_id,
            row.origin.where("received_at"),
            worded("no receipt on record"),
            worded("when the laboratory received it"),
            kind="shipment",
        )


def _shipment_counts(survey: Survey) -> Iterator[Finding]:
    """Compare what shipments declare with what the tables put into them.

    One return shipment took all samplers that were returned unused. Of several, no table says which
    took how many: each has from none to all of them, and together they have all.
    """
    table = survey.tables["shipments"]
    frame = table.frame
    declared, returns = frame["items_declared"], frame["direction"] == "return"
    inside = frame["shipment_id"].map(_contents(survey)).fillna(0)
    unused = int((survey.frame("samplers")["outcome"] == "returned_unused").sum())
    most = inside + unused * returns
    least = most if returns.sum() == 1 else inside
    differs = declared.notna() & ((declared < least) | (declared > most))
    for at, row in numbered_rows(table, differs, Shipment):
        low, high = least.iloc[at], most.iloc[at]
        expected = worded("{low:.0f}, the number assigned to it in the tables", low=low)
        if low < high:
            expected = worded(
                "{low:.0f} to {high:.0f}, including the samplers returned unused, "
                "the number assigned to it in the tables",
                low=low, high=high,
            )  # fmt: skip
        found = worded("{number:.0f} items declared", number=row.items_declared)
        if nothing := _nothing_inside(survey, row):
            found, expected = f"{found}; {nothing}", worded("the shipment and the bag of each item on record")
        where = row.origin.where("items_declared")
        yield find("shipment-count-differs", row.shipment_id, where, found, expected, kind="shipment")
    if returns.sum() > 1 and declared[returns].notna().all() and not differs[returns].any():
        yield from _together(table, returns, int(inside[returns].sum()), unused)


def _nothing_inside(survey: Survey, row: Shipment) -> str:
    """Say that no row puts anything into a shipment, "" where one does."""
    bags, placed = survey.tables["return_bags"], survey.tables["deployments"]
    own = bags.frame["shipment_id"] == row.shipment_id
    if row.direction == "return" and own.any():
        inside = placed.frame["bag_id"].isin(bags.frame.loc[own, "bag_id"])
        said = worded("no row of {file} refers to a bag of this shipment", file=placed.called)
    else:
        table = bags if row.direction == "return" else survey.tables["samplers"]
        inside = table.frame["shipment_id"] == row.shipment_id
        said = worded("no row of {file} refers to this shipment", file=table.called)
    return "" if inside.any() else said


def _together(table: SurveyTable, returns: Mask, inside: int, unused: int) -> Iterator[Finding]:
    """Compare what all return shipments declare with all that the tables send back."""
    declared = int(table.frame.loc[returns, "items_declared"].sum())
    if declared != inside + unused:
        names = table.frame.loc[returns, "shipment_id"].tolist()
        found = worded(
            "{number} items declared in the return shipments {names}", number=declared, names=", ".join(names)
        )
        expected = worded(
            "{number}, the number assigned to them in the tables, {unused} of them returned unused",
            number=inside + unused, unused=unused,
        )  # fmt: skip
        where = table.where(int(np.flatnonzero(returns)[0]), "items_declared")
        yield find("shipment-count-differs", "+".join(names), where, found, expected, kind="shipment")


def _contents(survey: Survey) -> dict[str, int]:
    """Return how many samplers the tables put into each shipment, those returned unused left out.

    Outward: the samplers that name it. Return: those in its bags, and their trip blanks.
    """
    frame = survey.frame("shipments")
    found = {str(k): int(v) for k, v in survey.frame("samplers")["shipment_id"].value_counts().items() if k}
    placed = survey.frame("deployments")
    bags = placed[placed["condition"] != "not_recovered"]["bag_id"].value_counts()
    own = survey.frame("return_bags")
    for name in frame.loc[frame["direction"] == "return", "shipment_id"]:
        inside = own[own["shipment_id"] == name]
        found[name] = int(inside["bag_id"].map(bags).fillna(0).sum() + (inside["trip_blank_id"] != "").sum())
    return found


def directions(survey: Survey) -> Iterator[Finding]:
    """Samplers come in an outward shipment, bags go in a return shipment."""
    way = survey.frame("shipments").drop_duplicates("shipment_id").set_index("shipment_id")["direction"]
    for name, wanted in (("samplers", "out"), ("return_bags", "return")):
        table = survey.tables[name]
        went = table.frame["shipment_id"].map(way)
        bad: pd.Series[bool] = went.isin(("out", "return")) & (went != wanted)
        for at in first_numbers(bad):
            yield find(
                "shipment-direction",
                key_of(table, at),
                table.where(at, "shipment_id"),
                worded(
                    "{shipment}, a shipment with the direction {direction}",
                    shipment=table.frame["shipment_id"].iloc[at],
                    direction=went.iloc[at],
                ),
                worded("a shipment with the direction {direction}", direction=wanted),
                kind=table.spec.key[0].removesuffix("_id"),
            )
        yield from surplus("shipment-direction", table, bad, "shipment_id")


RULES = (every_sampler_bagged, bag_contents, trip_blanks, shipments, directions)
EVALUATION_RULES = (receipts,)
