"""Which computed statements and claims of the narrative remain where a part of the data is left out or read otherwise.

Two variants are computed of all that is stated here. *Unqualified* leaves out every sampler with a sample-specific
qualification; a qualification of a single result or of a whole bag leaves nothing out. *Reporting limit* takes each
non-detect at its reporting limit where the report orders it by its detection limit.

A statement is computed of each variant as of the whole record; claims are judged as the claims ledger judges them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal, NamedTuple, TypeAlias

import numpy as np
import pandas as pd

from sitegen.compute.evaluate import Evaluation
from sitegen.compute.picture.leading import highest_by_group
from sitegen.compute.results.relate import FlowPath
from sitegen.compute.statistics.kendall import kendall
from sitegen.compute.text.claims import Claim, Judged, Record, claims
from sitegen.project.reads import computed
from sitegen.project.schema import SOIL_MEDIA
from sitegen.project.tables import Location
from sitegen.units import MASS_UNITS

TOP = 3
"""Points in the ranking of a compound."""

LEAST_ALONG = 3
"""Points with results along a flow line from which on a direction is stated (project default, no published source)."""

_DECIDED = ("agrees", "differs")
"""Verdicts on the claims that the record decides; others are no statement that a variant could change."""

VariantName = Literal["unqualified", "reporting_limit"]


@dataclass(frozen=True)
class _Restated(Evaluation):
    """What a survey supports on another store of results."""

    given: pd.DataFrame = field(default_factory=pd.DataFrame, compare=False)

    @computed
    def store(self) -> pd.DataFrame:
        """The results that are given."""
        return self.given


class Variant(NamedTuple):
    """One other reading of the data.

    ``left_out`` names the points whose sampler is left out, in the order of the locations. ``lifted`` counts the
    non-detects that are taken at another limit.
    """

    name: VariantName
    evaluation: Evaluation
    left_out: tuple[str, ...] = ()
    lifted: int = 0


@dataclass(frozen=True, slots=True)
class Highest:
    """The compound with the highest mass of a group, and its point."""

    analyte_id: str
    point: str


@dataclass(frozen=True, slots=True)
class Ranking:
    """The points with the highest masses, the highest first: fewer than asked for where fewer have a detection."""

    points: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Detections:
    """Soil points with a detection, of those analysed."""

    detected: int
    analysed: int


@dataclass(frozen=True, slots=True)
class Direction:
    """How masses change along a line: -1 decreasing, 1 increasing, 0 neither.

    ``s`` counts pairs of points that increase less those that decrease, ``ordered`` the pairs whose order is known.
    """

    sign: int
    s: int = field(compare=False)
    ordered: int = field(compare=False)


@dataclass(frozen=True, slots=True)
class Verdict:
    """The verdict on a claim: agrees or differs."""

    word: str


Answer: TypeAlias = Highest | Ranking | Detections | Direction | Verdict
Kind = Literal["highest", "ranking", "detections", "direction", "claim"]
State = Literal["unchanged", "changed", "undetermined"]


class Outcome(NamedTuple):
    """A statement under a variant; ``now`` is None where it can't be determined."""

    state: State
    now: Answer | None


class Subject(NamedTuple):
    """What a statement is about, as far as its kind has it; of a claim its sentence and its reading."""

    kind: Kind
    group: str = ""
    analyte_id: str = ""
    line: int = -1
    claim: Claim | None = None
    judged: Judged | None = None
    number: int = 0


@dataclass(frozen=True, slots=True)
class Recomputed:
    """A statement of the report, and what becomes of it under each variant."""

    subject: Subject
    answer: Answer
    outcomes: tuple[Outcome, ...]


def variants(evaluation: Evaluation) -> tuple[Variant, ...]:
    """Return the variants that the record has anything for: none where each would repeat the report."""
    return tuple(one for one in (_unqualified(evaluation), _at_reporting_limit(evaluation)) if one)


def _unqualified(evaluation: Evaluation) -> Variant | None:
    store, first = evaluation.store, evaluation.primary
    marked = [name for name in store["sampler_id"].unique() if not evaluation.marks.unmarked(name)]
    there = set(first.loc[first["sampler_id"].isin(marked), "location_id"])
    points = tuple(row.location_id for row in evaluation.survey.rows(Location) if row.location_id in there)
    if not points:
        return None
    kept = store[~store["sampler_id"].isin(marked)].reset_index(drop=True)
    restated = _Restated(evaluation.survey, given=kept)
    return Variant("unqualified", restated, points)


def _at_reporting_limit(evaluation: Evaluation) -> Variant | None:
    store = evaluation.store
    other = ~store["detected"] & store["rl"].notna() & (store["rl"] != store["lod"])
    of_points = evaluation.primary.index
    lifted = int(other.loc[of_points].sum())
    if not lifted:
        return None
    restated = store.assign(lod=np.where(other, store["rl"], store["lod"]))
    return Variant("reporting_limit", _Restated(evaluation.survey, given=restated), lifted=lifted)


def recomputed(evaluation: Evaluation, others: Sequence[Variant], lines: Sequence[FlowPath]) -> tuple[Recomputed, ...]:
    """Return every statement that can be made of the record, and what becomes of it under each variant."""
    found = []
    for subject in _subjects(evaluation, lines):
        answer = _answer(evaluation, subject, lines)
        if answer is not None:
            outcomes = (outcome(answer, _answer(one.evaluation, subject, lines)) for one in others)
            found.append(Recomputed(subject, answer, tuple(outcomes)))
    return tuple(found)


def outcome(before: Answer, now: Answer | None) -> Outcome:
    """Compare a statement with what it is under a variant.

    >>> outcome(Detections(3, 5), Detections(3, 5)).state, outcome(Ranking(("A",)), None).state
    ('unchanged', 'undetermined')
    """
    if now is None:
        return Outcome("undetermined", None)
    return Outcome("unchanged" if now == before else "changed", now)


def _subjects(evaluation: Evaluation, lines: Sequence[FlowPath]) -> Iterator[Subject]:
    leading = highest_by_group(evaluation)
    yield from (Subject("highest", group=group) for group in leading)
    yield from (Subject("ranking", analyte_id=one.analyte_id) for one in leading.values())
    yield from (Subject("detections", analyte_id=one.analyte_id) for one in leading.values())
    for at in range(len(lines)):
        yield from (Subject("direction", analyte_id=one.analyte_id, line=at) for one in leading.values())
    record = Record(evaluation)
    for number, claim in enumerate(claims(evaluation.survey), start=1):
        for judged in record.judge(claim):
            if judged.verdict in _DECIDED:
                yield Subject("claim", claim=claim, judged=judged, number=number)


def _answer(evaluation: Evaluation, subject: Subject, lines: Sequence[FlowPath]) -> Answer | None:
    """Return what the data say of a subject, None where they can't."""
    if subject.kind == "highest":
        best = highest_by_group(evaluation).get(subject.group)
        return Highest(best.analyte_id, best.highest_at) if best else None
    if subject.kind == "claim":
        return _verdict(evaluation, subject)
    masses = _masses(evaluation, subject.analyte_id)
    if not masses:
        return None
    hits = {point: mass for point, (mass, detected) in masses.items() if detected}
    if subject.kind == "ranking":
        ranked = sorted(hits, key=lambda point: (-hits[point], point))[:TOP]
        return Ranking(tuple(ranked)) if ranked else None
    if subject.kind == "detections":
        return Detections(len(hits), len(masses))
    return direction([masses[one.location_id] for one in lines[subject.line].points if one.location_id in masses])


def _verdict(evaluation: Evaluation, subject: Subject) -> Verdict | None:
    """Return the verdict on a reading, None where it is open or a result is missing."""
    if subject.claim is None or subject.judged is None:
        return None
    judged = next(one for one in Record(evaluation).judge(subject.claim) if one.reading == subject.judged.reading)
    return Verdict(judged.verdict) if judged.verdict in _DECIDED else None


def _masses(evaluation: Evaluation, analyte_id: str) -> Mapping[str, tuple[float, bool]]:
    """Return a compound at each soil point, as mass or limit of detection, and whether it was detected."""
    first = evaluation.primary
    wanted = (first["analyte_id"] == analyte_id) & first["medium"].isin(SOIL_MEDIA)
    rows = first[wanted & first["unit"].isin(MASS_UNITS) & ~first["rejected"]]
    at = rows["value"].where(rows["detected"], rows["lod"])
    every = zip(rows["location_id"], at, rows["detected"], strict=True)
    return {str(point): (float(mass), bool(detected)) for point, mass, detected in every}


def direction(along: Sequence[tuple[float, bool]]) -> Direction | None:
    """Return the direction of masses in their order along a line, None with too few points or no known order.

    A non-detect has an order with a detection at or above its limit only.

    >>> direction([(90.0, True), (40.0, True), (10.0, False)])
    Direction(sign=-1, s=-3, ordered=3)
    """
    if len(along) < LEAST_ALONG:
        return None
    values, detected = np.array([[mass for mass, _ in along]]), np.array([[seen for _, seen in along]], dtype=bool)
    trend = kendall(values, detected)
    return Direction(int(np.sign(trend.s)), trend.s, trend.ordered) if trend.ordered else None
