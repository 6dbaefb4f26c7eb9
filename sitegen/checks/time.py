"""Times: the order in which things can have happened, rounding, holding times."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from sitegen.checks.catalogue import find
from sitegen.checks.rows import (
    Mask,
    enumeration,
    first_numbers,
    first_rows,
    key_of,
    number_of,
    numbered_rows,
    samples_a_point,
    surplus,
)
from sitegen.compute.evaluate import Evaluation
from sitegen.compute.formats import day_text, moment_text, stamp_text
from sitegen.compute.limits import limits
from sitegen.compute.quality.holding import held_days
from sitegen.findings.problems import Finding, Touch
from sitegen.project.survey import Survey, SurveyTable
from sitegen.project.tables import Deployment, LabSample
from sitegen.project.zones import read_time
from sitegen.voice import worded

ROUND_MINUTES = ("00", "30")
ROUNDED_MIN_TIMES = 8
"""Fewer times than this say nothing about rounding."""


def retrieval_after_placing(survey: Survey) -> Iterator[Finding]:
    """Find samplers retrieved before they were placed."""
    table = survey.tables["deployments"]
    bad = table.frame["retrieved_at_utc"] < table.frame["placed_at_utc"]
    bad |= samples_a_point(survey) & (table.frame["retrieved_at_utc"] == table.frame["placed_at_utc"])
    for row in first_rows(table, bad, Deployment):
        yield find(
            "retrieved-before-placed",
            row.sampler_id,
            row.origin.where("retrieved_at"),
            worded("{retrieved_at}, installed {placed_at}", retrieved_at=row.retrieved_at, placed_at=row.placed_at),
            worded("a time after installation"),
            kind="sampler",
        )
    yield from surplus("retrieved-before-placed", table, bad, "retrieved_at")


@dataclass(frozen=True, slots=True)
class Order:
    """Two times that stand in one order: ``earlier`` in a parent's row, ``later`` in the child's.

    The child's ``link`` column names the parent's key. ``before`` says that the child's
    time is the one that must come first.
    """

    code: str
    child: str
    later: str
    link: str
    parent: str
    earlier: str
    noun: str
    before: bool = False


ORDERS = (
    Order("shipped-before-prepared", "samplers", "prepared_on", "shipment_id", "shipments", "packed_at",
          "sampler", before=True),
    Order("placed-before-received", "deployments", "placed_at", "outward", "shipments", "received_at",
          "sampler"),
    Order("sealed-before-retrieved", "deployments", "retrieved_at", "bag_id", "return_bags", "sealed_at",
          "sampler", before=True),
    Order("packed-before-sealed", "return_bags", "sealed_at", "shipment_id", "shipments", "packed_at",
          "bag", before=True),
)  # fmt: skip


def _utc(frame: pd.DataFrame, column: str, zone: str) -> pd.Series[float]:
    """Return a time or date column as UTC minutes; a date is its first minute."""
    if f"{column}_utc" in frame:
        return frame[f"{column}_utc"]
    days = {text: read_time(f"{text}T00:00", zone).utc_min for text in frame[column].unique() if text}
    return frame[column].map(days).astype("float64")


def in_order(survey: Survey) -> Iterator[Finding]:
    """Samplers are prepared, shipped, placed, retrieved, sealed and packed in that order."""
    for order in ORDERS:
        child, parent = _child(survey, order), survey.tables[order.parent]
        key = parent.spec.key[0]
        first = parent.frame.drop_duplicates(key)
        times = dict(zip(first[key], first[f"{order.earlier}_utc"], strict=True))
        own = _utc(child.frame, order.later, survey.time_zone)
        theirs = child.frame[order.link].map(times).astype("float64")
        yield from _out_of_order(order, child, parent, own > theirs if order.before else own < theirs)


def _child(survey: Survey, order: Order) -> SurveyTable:
    """Return the child's table; ``outward`` is the shipment that a deployed sampler came in."""
    table = survey.tables[order.child]
    if order.link in table.frame:
        return table
    samplers = survey.frame("samplers").drop_duplicates("sampler_id")
    came = dict(zip(samplers["sampler_id"], samplers["shipment_id"], strict=True))
    return replace(
        table, frame=table.frame.assign(outward=table.frame["sampler_id"].map(came).astype(object).fillna(""))
    )


def _out_of_order(order: Order, child: SurveyTable, parent: SurveyTable, bad: Mask) -> Iterator[Finding]:
    """Yield one finding for each parent: at its child's row where there is one such child, else at its own."""
    key = parent.spec.key[0]
    rows = child.frame[bad]
    for name, group in rows.groupby(order.link, sort=True):
        at = int(np.flatnonzero((parent.frame[key] == name).to_numpy())[0])
        time = parent.frame[order.earlier].iloc[at]
        one = len(group) == 1
        ids = group[child.spec.key[0]].tolist()
        words = (
            "{later} of {things} ({ids}; {first}) after {earlier} of {name} ({time})"
            if order.before
            else "{later} of {things} ({ids}; {first}) before {earlier} of {name} ({time})"
        )
        wanted = "{later} before {earlier}" if order.before else "{later} after {earlier}"
        yield find(
            order.code,
            f"{name}+{ids[0]}" if one else str(name),
            child.where(group.index[0], order.later) if one else parent.where(at, order.earlier),
            worded(
                words,
                later=order.later,
                things=number_of(len(group), order.noun),
                ids=enumeration(ids),
                first=group[order.later].iloc[0],
                earlier=order.earlier,
                name=name,
                time=time,
            ),
            worded(wanted, later=order.later, earlier=order.earlier),
            kind=order.noun if one else key.removesuffix("_id"),
        )


def row_order(survey: Survey) -> Iterator[Finding]:
    """Times of one row stand in order: packed and received, received and analysed, ticket from and to."""
    for code, name, first, second in (
        ("received-before-packed", "shipments", "packed_at", "received_at"),
        ("analysed-before-received", "lab_samples", "lab_received_at", "analysed_at"),
        ("clearance-reversed", "clearance", "valid_from", "valid_to"),
    ):
        table = survey.tables[name]
        bad = table.frame[f"{second}_utc"] < table.frame[f"{first}_utc"]
        for at in first_numbers(bad):
            later, earlier = (table.frame[column].iloc[at] for column in (second, first))
            yield find(
                code,
                key_of(table, at),
                table.where(at, second),
                f"{second} {later}, {first} {earlier}",
                worded("{second} not before {first}", second=second, first=first),
                kind=table.spec.key[0].removesuffix("_id"),
            )
        yield from surplus(code, table, bad, second)


def laboratory_order(survey: Survey) -> Iterator[Finding]:
    """A sampler reaches the laboratory after it came out of the ground."""
    table = survey.tables["lab_samples"]
    out = survey.frame("deployments").drop_duplicates("sampler_id").set_index("sampler_id")["retrieved_at_utc"]
    came_out = table.frame["sampler_id"].map(out).astype("float64")
    bad = table.frame["lab_received_at_utc"].fillna(table.frame["analysed_at_utc"]) < came_out
    for at, row in numbered_rows(table, bad, LabSample):
        yield find(
            "laboratory-before-retrieval",
            row.lab_sample_id,
            row.origin.where("lab_received_at"),
            worded(
                "received {received}, analysed {analysed}",
                received=stamp_text(row.lab_received_at) or "NA",
                analysed=stamp_text(row.analysed_at) or "NA",
            ),
            worded(
                "a time after {time}, when it was retrieved",
                time=moment_text(came_out.iloc[at], survey.time_zone),
            ),
            kind="lab_sample",
        )
    yield from surplus("laboratory-before-retrieval", table, bad, "lab_received_at")


def not_after_report(survey: Survey) -> Iterator[Finding]:
    """Nothing in the record happens after the report's date."""
    day = survey.settings.project.report_date.isoformat()
    midnight = read_time(f"{day}T23:59", survey.time_zone).utc_min
    for name, column in (
        ("deployments", "placed_at"),
        ("deployments", "retrieved_at"),
        ("shipments", "received_at"),
        ("custody", "at"),
        ("lab_samples", "analysed_at"),
    ):
        table = survey.tables[name]
        late = table.frame[f"{column}_utc"] > (midnight if midnight is not None else np.inf)
        if late.any():
            at = int(np.flatnonzero(late.to_numpy())[0])
            yield find(
                "later-than-report",
                f"{name}+{column}",
                table.where(at, column),
                worded(
                    "{time} in {rows}",
                    time=stamp_text(table.frame[column].iloc[at]),
                    rows=number_of(int(late.sum()), "row"),
                ),
                worded("no later than the report date, {day}", day=day_text(day)),
            )


def rounded_times(survey: Survey) -> Iterator[Finding]:
    """Field times are noted to the minute, not to the half hour."""
    limit = limits(survey.settings)["rounded_times_pct"]
    table = survey.tables["deployments"]
    for column in ("placed_at", "retrieved_at"):
        minutes = table.frame.loc[table.frame[column] != "", column].str[14:16]
        rounded = minutes.isin(ROUND_MINUTES)
        share = 100.0 * rounded.mean() if len(minutes) else 0.0
        if len(minutes) >= ROUNDED_MIN_TIMES and share > limit.value:
            yield find(
                "times-rounded",
                column,
                table.where(int(rounded.index[rounded][0]), column),
                worded("{share:.0f} % of {count} times on the hour or half hour", share=share, count=len(minutes)),
                worded("at most {limit}; 3 % by chance", limit=limit.text),
            )


def holding(survey: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """A sampler is analysed within the holding time."""
    limit = evaluation.limits["hold_days"]
    table = survey.tables["lab_samples"]
    days = held_days(table.frame, evaluation.placements)
    bad = days > limit.value
    for at, row in numbered_rows(table, bad, LabSample):
        yield find(
            "hold-time-exceeded",
            row.lab_sample_id,
            row.origin.where("analysed_at"),
            worded("{days:.1f} days after retrieval", days=days.iloc[at]),
            worded("at most {limit}", limit=limit.text),
            kind="lab_sample",
            touches=[Touch(row.sampler_id)],
        )
    yield from surplus("hold-time-exceeded", table, bad, "analysed_at")


RULES = (retrieval_after_placing, in_order, row_order, laboratory_order, not_after_report, rounded_times)
EVALUATION_RULES = (holding,)
