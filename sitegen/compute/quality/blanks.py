"""Blanks act through membership, and nothing is ever subtracted.

A trip blank applies to the samplers of its own return bag, a method blank to those of its own
batch. A field blank applies to the samplers of its return bag or, where the plan says so, to those
placed or retrieved on the day it was opened.

A blank says something only where its bag, batch or day is on record. Where none does, what blanks
affect is not known and not nothing, and a kind of blank that is silent is named (:class:`Silent`).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from sitegen.compute.field.exposure import FIELD_BLANK, Placement
from sitegen.compute.limits import COMMON_RATIO_RULE, PRACTICE, LimitRecord
from sitegen.compute.marks import MarkFact
from sitegen.compute.results.reported import reported_text
from sitegen.compute.results.store import StoredResult, by_key, stored_results
from sitegen.project.schema import MEDIUM_GROUPS, Origin
from sitegen.voice import worded

KINDS = ("trip_blank", "method_blank", "field_blank")
BAG, BATCH, DAY = "bag", "batch", "day"
ROUNDING = 1e-9
"""5 × 0.09 is a little less than 0.45 in binary fractions, and a result of 0.45 is five times a blank of 0.09."""
_COLUMN = {BAG: "bag_id", BATCH: "batch_id"}


@dataclass(frozen=True, slots=True)
class BlankHit:
    """A compound detected in a blank, and the results that it touches.

    ``group`` is the bag, batch or day that the blank applies to, as ``reach`` says; "" where the
    record names none. ``touched`` holds (lab_sample_id, analyte_id) of the detections up to the
    rule's multiple of the blank. ``text`` is the result in ``unit`` as the laboratory wrote it,
    with its qualifier, and ``multiple`` the rule's for this compound.
    """

    kind: str
    lab_sample_id: str
    label: str
    reach: str
    group: str
    analyte_id: str
    value: float
    rl: float
    origin: Origin
    touched: tuple[tuple[str, str], ...]
    members: int
    text: str
    unit: str
    multiple: float

    @property
    def action_level(self) -> float:
        """The highest result that the rule affects, in ``unit``, without the digits of a binary fraction."""
        return float(f"{self.multiple * self.value:.12g}")


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

    def most(self, blank: float, *, common: bool = False) -> float:
        """Return the highest result that a blank speaks for, with room for the digits of a binary fraction."""
        return (self.ratio_common if common else self.ratio) * blank * (1 + ROUNDING)


def blank_rule(name: str, in_force: Mapping[str, LimitRecord]) -> BlankRule:
    """Return the rule that the project chose."""
    five = in_force["blank_ratio"]
    if name == COMMON_RATIO_RULE:
        ten = in_force["blank_ratio_common"]
        return BlankRule(name, five.value, ten.value, ten.source, "U")
    if name == "five_times_nondetect":
        return BlankRule(name, five.value, five.value, worded(PRACTICE), "U")
    if name == "mark_only":
        return BlankRule(name, five.value, five.value, five.source, "")
    return BlankRule(name, five.value, five.value, five.source, "J+")


def propose(rule: BlankRule, result: float | None, lod: float, blank: float, *, common: bool = False) -> Proposal:
    """Return what the rule proposes for a result beside a blank.

    ``result`` is the value (None for a non-detect), ``lod`` the limit of detection (the
    MDL, else the RL; NaN where neither is on file), ``blank`` the blank's value, all in
    one unit. Up to the LOD: U at the LOD. Above it and up to ratio × blank: J+ (or U at
    the value, by the older rules). Above: no change.

    >>> from sitegen.compute.limits import DEFAULTS
    >>> dod = blank_rule("five_times_estimate", {d.name: d for d in DEFAULTS})
    >>> [propose(dod, x, 10, 6).qualifier for x in (None, 8, 10, 10.1, 30, 30.1)]
    ['U', 'U', 'U', 'J+', 'J+', '']
    """
    if not rule.proposes:
        return Proposal("")
    if result is None or result <= lod:
        return Proposal("U", None if math.isnan(lod) else lod)
    if result > rule.most(blank, common=common):
        return Proposal("")
    return Proposal("U", result) if rule.proposes == "U" else Proposal("J+")


@dataclass(frozen=True, slots=True)
class Reach:
    """What the kinds of blanks apply to: a field blank to its bag or its day.

    ``days`` gives the local days on which each sampler was handled: placed and retrieved, or for a
    field blank opened.
    """

    field_blank: str
    days: Mapping[str, frozenset[str]]

    def of(self, kind: str) -> str:
        """Return ``bag``, ``batch`` or ``day``."""
        return {"trip_blank": BAG, "method_blank": BATCH}.get(kind, self.field_blank)

    def group(self, kind: str, row: StoredResult) -> str:
        """Return the bag, batch or day that a blank's result applies to, "" where the record names none."""
        on = min(self.days.get(row.sampler_id, ()), default="")
        return {BAG: row.bag_id, BATCH: row.batch_id, DAY: on}[self.of(kind)]

    def members(self, samples: pd.DataFrame, kind: str, group: str) -> pd.DataFrame:
        """Return the results among ``samples`` that a blank of that kind and group applies to."""
        if not group:
            return samples.iloc[:0]
        reach = self.of(kind)
        if reach != DAY:
            return samples[samples[_COLUMN[reach]] == group]
        handled = {sampler for sampler, days in self.days.items() if group in days}
        return samples[samples["sampler_id"].isin(handled)]


def handled_days(placed: Iterable[Placement]) -> Mapping[str, frozenset[str]]:
    """Return the local days of placing and retrieval of each sampler; of a field blank the day it was opened."""
    return {
        p.sampler_id: frozenset(at[:10] for at in (p.placed_at, "" if p.role == FIELD_BLANK else p.retrieved_at) if at)
        for p in placed
    }


def blank_hits(store: pd.DataFrame, reach: Reach, common: frozenset[str], rule: BlankRule) -> tuple[BlankHit, ...]:
    """Find every detection in a blank and the results it touches.

    ``common`` holds the compounds that are common laboratory contaminants.
    """
    samples = store[(store["type"] == "sample") & store["reportable"]]
    return tuple(hit for kind in KINDS for hit in _hits(store, samples, kind, reach, common, rule))


def _hits(
    store: pd.DataFrame,
    samples: pd.DataFrame,
    kind: str,
    reach: Reach,
    common: frozenset[str],
    rule: BlankRule,
) -> Iterator[BlankHit]:
    for row in stored_results(store[(store["type"] == kind) & store["detected"] & store["reportable"]]):
        group = reach.group(kind, row)
        members = reach.members(samples[samples["analyte_id"] == row.analyte_id], kind, group)
        ratio = rule.ratio_common if row.analyte_id in common else rule.ratio
        most = rule.most(row.value, common=row.analyte_id in common)
        touched = members[members["detected"] & (members["value"] <= most)]
        yield BlankHit(
            kind,
            row.lab_sample_id,
            row.label or row.lab_sample_id,
            reach.of(kind),
            group,
            row.analyte_id,
            row.value,
            row.rl,
            row.origin,
            tuple(zip(touched["lab_sample_id"], touched["analyte_id"], strict=True)),
            len(members),
            reported_text(row),
            row.unit,
            ratio,
        )


@dataclass(frozen=True, slots=True)
class Blank:
    """A blank with results: what it applies to, how many samplers with results that is, and what was detected in it."""

    kind: str
    lab_sample_id: str
    sampler_id: str
    label: str
    reach: str
    group: str
    samplers: int
    analysed: int
    detected: int


def blanks(store: pd.DataFrame, reach: Reach) -> tuple[Blank, ...]:
    """Return every blank with reportable results, trip blanks first, in file order."""
    samples = store[(store["type"] == "sample") & store["reportable"]].drop_duplicates("lab_sample_id")
    every = []
    for kind in KINDS:
        own = store[(store["type"] == kind) & store["reportable"]]
        for _, rows in own.groupby("lab_sample_id", sort=False):
            (row,) = stored_results(rows.iloc[:1])
            group = reach.group(kind, row)
            members = reach.members(samples, kind, group)["sampler_id"].nunique()
            label = row.label or row.lab_sample_id
            ids = kind, row.lab_sample_id, row.sampler_id, label
            every.append(Blank(*ids, reach.of(kind), group, members, len(rows), int(rows["detected"].sum())))
    return tuple(every)


@dataclass(frozen=True, slots=True)
class Silent:
    """A kind of blank that says nothing of any sample: without results, or no sample is on record in its ``reach``."""

    kind: str
    reach: str
    analysed: bool


def silent_kinds(every: Iterable[Blank], reach: Reach) -> tuple[Silent, ...]:
    """Return the silent kinds: trip and method blanks, which every survey has, and a field blank with results."""
    by_kind = {kind: [blank for blank in every if blank.kind == kind] for kind in KINDS}
    return tuple(
        Silent(kind, reach.of(kind), bool(own))
        for kind, own in by_kind.items()
        if not any(blank.samplers for blank in own) and (own or kind != FIELD_BLANK)
    )


@dataclass(frozen=True, slots=True)
class Affected:
    """Results of a medium group, how many are detections, and how many of these a blank affects."""

    group: str
    results: int
    detected: int
    affected: int


def affected_counts(measured: pd.DataFrame, touched: frozenset[tuple[str, str]]) -> tuple[Affected, ...]:
    """Count by medium group over the results of every sampler at a point, rejected ones left out."""
    rows = measured[~measured["rejected"]]
    hits = np.array([key in touched for key in zip(rows["lab_sample_id"], rows["analyte_id"], strict=True)], dtype=bool)
    counts = []
    for group, media in MEDIUM_GROUPS.items():
        own = rows["medium"].isin(media).to_numpy(dtype=bool)
        detected = rows["detected"].to_numpy(dtype=bool) & own
        if own.any():
            counts.append(Affected(group, int(own.sum()), int(detected.sum()), int((detected & hits).sum())))
    return tuple(counts)


def nondetects(
    rows: pd.DataFrame, hits: tuple[BlankHit, ...], rule: BlankRule, common: frozenset[str]
) -> dict[tuple[str, str], float]:
    """Return the detections among ``rows`` that a rule of the kind U makes non-detects, each with its limit.

    Keys are (lab_sample_id, analyte_id). A detection that two blanks touch takes the higher limit.
    """
    touched = {key for hit in hits for key in hit.touched}
    results = by_key(rows, touched)
    limits: dict[tuple[str, str], float] = {}
    for hit in hits:
        for key in hit.touched:
            if key in results:
                row = results[key]
                proposed = propose(rule, row.value, row.lod, hit.value, common=hit.analyte_id in common)
                if proposed.qualifier == "U" and proposed.limit is not None:
                    limits[key] = max(limits.get(key, 0.0), proposed.limit)
    return limits


def as_nondetects(rows: pd.DataFrame, at_limits: Mapping[tuple[str, str], float]) -> pd.DataFrame:
    """Return the rows with the results in ``at_limits`` as non-detects at the limits that it gives."""
    keys = zip(rows["lab_sample_id"], rows["analyte_id"], strict=True)
    limits = np.array([at_limits.get(key, np.nan) for key in keys], dtype=float)
    changed = ~np.isnan(limits)
    return rows.assign(
        detected=rows["detected"].to_numpy(dtype=bool) & ~changed,
        value=np.where(changed, np.nan, rows["value"].to_numpy(dtype=float)),
        rl=np.where(changed, np.fmax(limits, rows["rl"].to_numpy(dtype=float)), rows["rl"].to_numpy(dtype=float)),
        lod=np.where(changed, limits, rows["lod"].to_numpy(dtype=float)),
    )


def blank_marks(hits: tuple[BlankHit, ...], shown: Mapping[str, str]) -> Iterator[tuple[tuple[str, str], MarkFact]]:
    """Yield a mark for each result that a blank touches. ``shown`` maps compound to its name."""
    for hit in hits:
        code = hit.kind.replace("_", "-") + "-detection"
        facts = (
            ("blank", hit.label),
            ("group", hit.group),
            ("compound", shown.get(hit.analyte_id, hit.analyte_id)),
            ("value", hit.text),
            ("unit", hit.unit),
        )
        mark = MarkFact(code, "result", f"{hit.lab_sample_id}+{hit.analyte_id}", facts)
        for key in hit.touched:
            yield key, mark
