"""Qualifiers proposed by rule, each with its reason, apart from anyone's word.

A proposal changes no number. Where qualifiers stand side by side, a person's comes first,
the laboratory's second; a proposal is printed beside them and decides nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from sitegen.compute.blanks import BlankHit, BlankRule, propose
from sitegen.compute.marks import MarkFact, Marks

ESTIMATES: Mapping[str, tuple[str, str]] = {
    "above-calibration": ("J", "J"),
    "surrogate-out": ("J", "UJ"),
    "duplicate-differs": ("J", "UJ"),
}
"""Check to the qualifier proposed for a detection and for a non-detect: common practice, no source."""


@dataclass(frozen=True, slots=True)
class Proposed:
    """A qualifier proposed for one result. ``limit`` is where a U would be shown, else None.

    ``key`` is that of the finding behind it.
    """

    lab_sample_id: str
    analyte_id: str
    qualifier: str
    limit: float | None
    key: str


def proposals(
    rows: Mapping[tuple[str, str], Mapping[str, Any]],
    hits: Iterable[BlankHit],
    rule: BlankRule,
    common: frozenset[str],
    marks: Marks,
) -> tuple[Proposed, ...]:
    """Return every proposal, those of blanks first.

    ``rows`` holds results by (lab_sample_id, analyte_id); ``common`` the compounds that
    are common laboratory contaminants.
    """
    return (*_by_blanks(rows, hits, rule, common), *_by_marks(rows, marks))


def _by_blanks(
    rows: Mapping[tuple[str, str], Mapping[str, Any]],
    hits: Iterable[BlankHit],
    rule: BlankRule,
    common: frozenset[str],
) -> Iterator[Proposed]:
    for hit in hits:
        key = f"{hit.kind.replace('_', '-')}-detection:{hit.lab_sample_id}+{hit.analyte_id}"
        for name in hit.touched:
            row = rows.get(name)
            if row is None:
                continue
            made = propose(rule, row["value"], row["lod"], hit.value, common=hit.analyte_id in common)
            if made.qualifier:
                yield Proposed(*name, made.qualifier, made.limit, key)


def _by_marks(rows: Mapping[tuple[str, str], Mapping[str, Any]], marks: Marks) -> Iterator[Proposed]:
    for name, found in marks.by_result.items():
        row = rows.get(name)
        if row is None or row["rejected"]:
            continue
        for mark in found:
            if mark.code in ESTIMATES:
                yield Proposed(*name, _estimate(row, mark), None, mark.key)


def _estimate(row: Mapping[str, Any], mark: MarkFact) -> str:
    detected, nondetect = ESTIMATES[mark.code]
    return detected if row["detected"] else nondetect
