"""What the changes from one revision to the next affect: ends of ranges, maps, numbers of the text, levels."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import NamedTuple

import pandas as pd

from sitegen.compute.evaluate import Evaluation
from sitegen.compute.evidence.revised import Revised
from sitegen.compute.evidence.revision import Change, Revision
from sitegen.compute.results.summary import Summary
from sitegen.compute.text.tokens import TOKEN

MEDIA = ("soil", "indoor_air", "outdoor_air")
"""The groups of points whose ranges are told."""
ENDS = ("highest", "lowest")
NEW_TOKENS = ("revision", "status", "date.report", "project.title")
"""Tokens that are new in a revision whatever changed."""
_ON_A_MAP = [
    "location_id", "value", "detected", "rejected", "rl", "mdl", "lab_qualifier", "validation_qualifier", "unit",
]  # fmt: skip
_BEHIND_ALL_MAPS = ("locations:", "samplers:", "deployments:", "lab_samples:", "analytes:", "setting:")


class End(NamedTuple):
    """The lowest or highest detection of a compound: mass, unit, qualifier, and the point of a highest."""

    value: float
    unit: str
    qualifier: str
    point: str


@dataclass(frozen=True, slots=True)
class EndChange:
    """An end (of ``ENDS``) of a compound's range in a medium that is not what it was; None without a detection."""

    analyte_id: str
    medium: str
    end: str
    before: End | None
    after: End | None


class TokenChange(NamedTuple):
    """A number that the text takes from the data, as printed in both revisions."""

    name: str
    before: str
    after: str


class Crossing(NamedTuple):
    """A compound at a point that lies above a level in one revision alone: ``above`` in the later one."""

    location_id: str
    analyte_id: str
    above: bool


@dataclass(frozen=True, slots=True)
class Effects:
    """What the changes affect.

    ``maps`` are the mapped compounds of which a value, a limit, a qualifier, a ring or a place differs on the map,
    ``drawn`` how many are mapped. ``compared`` counts the comparisons with levels of both revisions.
    """

    ends: tuple[EndChange, ...] = ()
    maps: tuple[str, ...] = ()
    drawn: int = 0
    tokens: tuple[TokenChange, ...] = ()
    crossings: tuple[Crossing, ...] = ()
    compared: int = 0


NO_EFFECTS = Effects()


def effects(
    old: Revision,
    new: Revision,
    changes: Iterable[Change],
    results: Iterable[Revised],
    texts: tuple[Mapping[str, str], Mapping[str, str]],
) -> Effects:
    """Return what changes affect; ``texts`` are the tokens of both revisions."""
    evaluations = old.evaluation, new.evaluation
    mapped = tuple(c.analyte_id for c in new.evaluation.compounds if c.mapped)
    wide = any(change.key.startswith(_BEHIND_ALL_MAPS) for change in changes)
    asked = set(mapped) if wide else {one.key[1] for one in results}.intersection(mapped)
    drawn = _redrawn(*evaluations, asked, wide=wide)
    return Effects(
        tuple(_ends(*evaluations)),
        tuple(name for name in mapped if name in drawn),
        len(mapped),
        tuple(_tokens(new, *texts)),
        tuple(_crossings(*evaluations)),
        sum(len(one.comparisons) for one in evaluations),
    )


def _ends(old: Evaluation, new: Evaluation) -> Iterator[EndChange]:
    ids = dict.fromkeys(c.analyte_id for one in (new, old) for c in one.compounds)
    for medium in MEDIA:
        for name in ids:
            was, now = (one.summaries.get((name, medium)) for one in (old, new))
            for end in ENDS:
                before, after = (_end(summary, end) for summary in (was, now))
                if before != after:
                    yield EndChange(name, medium, end, before, after)


def _end(summary: Summary | None, end: str) -> End | None:
    if summary is None or summary.highest is None or summary.lowest is None:
        return None
    if end == "highest":
        return End(summary.highest, summary.unit, summary.highest_qualifier, summary.highest_at)
    return End(summary.lowest, summary.unit, summary.lowest_qualifier, "")


def _redrawn(old: Evaluation, new: Evaluation, asked: set[str], *, wide: bool) -> set[str]:
    """Return the compounds of those asked for whose map is not what it was."""
    before, after = (_drawn(one, asked) for one in (old, new))
    found = {str(name) for name, _ in before ^ after}
    if not wide:
        return found | {key[1] for key in _ringed(old, asked) ^ _ringed(new, asked)}
    places = [{(p.location_id, p.x, p.y) for p in one.points} for one in (old, new)]
    marks = [one.marks.by_sampler for one in (old, new)]
    return asked if places[0] != places[1] or marks[0] != marks[1] else found


def _drawn(evaluation: Evaluation, asked: set[str]) -> set[tuple[str, int]]:
    """Return a mark of each result that a map shows, by compound: equal for what is drawn alike."""
    rows = evaluation.primary
    rows = rows[rows["analyte_id"].isin(asked)]
    marks = pd.util.hash_pandas_object(rows[_ON_A_MAP], index=False)
    return set(zip(rows["analyte_id"], marks, strict=True))


def _ringed(evaluation: Evaluation, asked: set[str]) -> set[tuple[str, str, str]]:
    marks = evaluation.marks.by_result
    return {(*key, mark.code) for key, own in marks.items() if key[1] in asked for mark in own}


def _tokens(new: Revision, before: Mapping[str, str], after: Mapping[str, str]) -> Iterator[TokenChange]:
    """Yield the tokens that the texts of the later revision print and that read otherwise than before."""
    printed = dict.fromkeys(match["name"] for text in new.survey.texts.values() for match in TOKEN.finditer(text))
    for name in printed:
        if name not in NEW_TOKENS and name in after and before.get(name) != after[name]:
            yield TokenChange(name, before.get(name, ""), after[name])


def _crossings(old: Evaluation, new: Evaluation) -> Iterator[Crossing]:
    was, now = ({(one.location_id, one.analyte_id) for one in each.exceedances} for each in (old, new))
    for key in sorted(was ^ now):
        yield Crossing(*key, key in now)
