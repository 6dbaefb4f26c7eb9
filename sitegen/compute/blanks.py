"""Blanks act through membership, and nothing is ever subtracted.

A trip blank speaks for the samplers of its own return bag, a method blank for its own
batch, a field blank for the samplers in the ground on its day.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import pandas as pd

from sitegen.compute.limits import COMMON_RATIO_RULE, LimitRecord
from sitegen.compute.marks import MarkFact
from sitegen.project.survey import records

KINDS = ("trip_blank", "method_blank", "field_blank")


@dataclass(frozen=True, slots=True)
class BlankHit:
    """A compound detected in a blank, and the results that it touches.

    ``group`` is the bag, batch or day that the blank speaks for. ``touched`` holds
    (lab_sample_id, analyte_id) of the detections up to the rule's multiple of the blank.
    """

    kind: str
    lab_sample_id: str
    label: str
    group: str
    analyte_id: str
    value: float
    rl: float
    file: str
    row: int
    touched: tuple[tuple[str, str], ...]
    members: int


@dataclass(frozen=True, slots=True)
class Proposal:
    """A qualifier proposed by rule for one result, with the limit it would be shown at."""

    qualifier: str
    limit: float | None = None


@dataclass(frozen=True, slots=True)
class BlankRule:
    """A rule for blanks: ratio for most compounds and for common contaminants, and its source."""

    name: str
    ratio: float
    ratio_common: float
    source: str
    proposes: str


def blank_rule(name: str, in_force: Mapping[str, LimitRecord]) -> BlankRule:
    """Return the rule that the project chose."""
    five = in_force["blank_ratio"]
    if name == COMMON_RATIO_RULE:
        ten = in_force["blank_ratio_common"]
        return BlankRule(name, five.value, ten.value, ten.source, "U")
    if name == "five_times_nondetect":
        return BlankRule(name, five.value, five.value, "common practice, no source", "U")
    if name == "mark_only":
        return BlankRule(name, five.value, five.value, five.source, "")
    return BlankRule(name, five.value, five.value, five.source, "J+")


def propose(rule: BlankRule, result: float | None, lod: float, blank: float, *, common: bool = False) -> Proposal:
    """Return what the rule proposes for a result beside a blank.

    ``result`` is the value (None for a non-detect), ``lod`` the limit of detection (the
    MDL, else the RL), ``blank`` the blank's value, all in one unit. Up to the LOD: U at
    the LOD. Above it and up to ratio × blank: J+ (or U at the value, by the older
    rules). Above: no change.

    >>> from sitegen.compute.limits import DEFAULTS
    >>> dod = blank_rule("five_times_estimate", {d.name: d for d in DEFAULTS})
    >>> [propose(dod, x, 10, 6).qualifier for x in (None, 8, 10, 10.1, 30, 30.1)]
    ['U', 'U', 'U', 'J+', 'J+', '']
    """
    if not rule.proposes:
        return Proposal("")
    if result is None or result <= lod:
        return Proposal("U", lod)
    if result > (rule.ratio_common if common else rule.ratio) * blank:
        return Proposal("")
    return Proposal("U", result) if rule.proposes == "U" else Proposal("J+")


def blank_hits(
    store: pd.DataFrame, days: Mapping[str, str], common: frozenset[str], rule: BlankRule
) -> tuple[BlankHit, ...]:
    """Find every detection in a blank and the results it touches.

    ``days`` maps sampler to day of retrieval, for field blanks; ``common`` holds the
    compounds that are common laboratory contaminants.
    """
    samples = store[(store["type"] == "sample") & store["reportable"]]
    return tuple(hit for kind in KINDS for hit in _hits(store, samples, kind, days, common, rule))


def _groups(store: pd.DataFrame, kind: str, days: Mapping[str, str]) -> pd.Series[str]:
    """Return what a kind of blank speaks for: each result's bag, batch or day of retrieval."""
    if kind == "field_blank":
        return store["sampler_id"].map(days).astype(object).fillna("")
    return store["bag_id" if kind == "trip_blank" else "batch_id"]


def _hits(
    store: pd.DataFrame,
    samples: pd.DataFrame,
    kind: str,
    days: Mapping[str, str],
    common: frozenset[str],
    rule: BlankRule,
) -> Iterator[BlankHit]:
    found = store[(store["type"] == kind) & store["detected"] & store["reportable"]]
    if found.empty:
        return
    groups = _groups(store, kind, days)
    sample_groups = groups[samples.index]
    for row in records(found):
        index = found.index[found["_row"] == row["_row"]][0]
        group = groups[index]
        members = samples[(sample_groups == group) & (samples["analyte_id"] == row["analyte_id"])]
        if not group:
            members = members.iloc[:0]
        ratio = rule.ratio_common if row["analyte_id"] in common else rule.ratio
        touched = members[members["detected"] & (members["value"] <= ratio * row["value"])]
        yield BlankHit(
            kind,
            row["lab_sample_id"],
            row["label"] or row["lab_sample_id"],
            group,
            row["analyte_id"],
            row["value"],
            row["rl"],
            row["_file"],
            int(row["_row"]),
            tuple(zip(touched["lab_sample_id"], touched["analyte_id"], strict=True)),
            len(members),
        )


def blank_marks(hits: tuple[BlankHit, ...], shown: Mapping[str, str]) -> Iterator[tuple[tuple[str, str], MarkFact]]:
    """Yield a mark for each result that a blank touches. ``shown`` maps compound to its name."""
    for hit in hits:
        code = hit.kind.replace("_", "-") + "-detection"
        facts = (
            ("blank", hit.label),
            ("group", hit.group),
            ("compound", shown.get(hit.analyte_id, hit.analyte_id)),
            ("value", repr(hit.value)),
        )
        mark = MarkFact(code, "result", f"{hit.lab_sample_id}+{hit.analyte_id}", facts)
        for key in hit.touched:
            yield key, mark
