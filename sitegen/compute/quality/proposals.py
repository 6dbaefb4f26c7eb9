"""Qualifiers proposed by rule, each with its reason, apart from anyone's word.

A proposal changes no number. Where qualifiers stand side by side, a person's comes first,
the laboratory's second; a proposal is printed beside them and decides nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from sitegen.compute.limits import FUNCTIONAL_GUIDELINES, PRACTICE
from sitegen.compute.marks import Marks
from sitegen.compute.quality.blanks import BlankHit, BlankRule, propose
from sitegen.compute.quality.labqc import HIGH, LOW, VERY_LOW
from sitegen.compute.results.store import StoredResult


@dataclass(frozen=True, slots=True)
class Estimate:
    """What a failed check proposes for a detection and for a non-detect, "" for nothing, and by which source.

    ``side`` is that of a recovery out of its limits, "" where there are no sides. ``reject``
    says that a person is to consider rejection: no qualifier of a rule rejects a result.
    """

    code: str
    side: str
    detected: str
    nondetect: str
    source: str
    reject: bool = False


def _by_side(code: str, source: str) -> tuple[Estimate, ...]:
    """Return the estimates of a recovery: low, very low, high."""
    return (
        Estimate(code, LOW, "J-", "UJ", source),
        Estimate(code, VERY_LOW, "J-", "", source, reject=True),
        Estimate(code, HIGH, "J+", "", source),
    )


ESTIMATES: tuple[Estimate, ...] = (
    *_by_side("surrogate-out", FUNCTIONAL_GUIDELINES),
    *_by_side("control-out", PRACTICE),
    *_by_side("calibration-check-out", PRACTICE),
    *(Estimate("internal-standard-out", side, "J", "UJ", PRACTICE) for side in (LOW, HIGH)),
    Estimate("hold-time-exceeded", "", "J-", "UJ", PRACTICE),
    Estimate("above-calibration", "", "J", "", PRACTICE),
    Estimate("duplicate-differs", "", "J", "UJ", PRACTICE),
)
_BY_CASE: Mapping[tuple[str, str], Estimate] = {(one.code, one.side): one for one in ESTIMATES}


@dataclass(frozen=True, slots=True)
class Proposed:
    """A qualifier proposed for one result, "" where only its rejection is to be considered (``reject``).

    ``limit`` is where a U would be shown, else None. ``key`` is that of the finding behind it.
    """

    lab_sample_id: str
    analyte_id: str
    qualifier: str
    limit: float | None
    key: str
    reject: bool = False


def proposals(
    rows: Mapping[tuple[str, str], StoredResult],
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
    rows: Mapping[tuple[str, str], StoredResult],
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
            proposal = propose(rule, row.value, row.lod, hit.value, common=hit.analyte_id in common)
            if proposal.qualifier:
                yield Proposed(*name, proposal.qualifier, proposal.limit, key)


def _by_marks(rows: Mapping[tuple[str, str], StoredResult], marks: Marks) -> Iterator[Proposed]:
    for name, own in marks.by_result.items():
        row = rows.get(name)
        if row is None or row.rejected:
            continue
        for mark in own:
            estimate = _BY_CASE.get((mark.code, dict(mark.facts).get("side", "")))
            qualifier = (estimate.detected if row.detected else estimate.nondetect) if estimate else ""
            if estimate and (qualifier or estimate.reject):
                yield Proposed(*name, qualifier, None, mark.key, estimate.reject)
