"""Sentences of the narrative beside two revisions: what each names that changed, and whether it still agrees.

A sentence is judged in both revisions as :mod:`sitegen.compute.text.claims` does it. One of which any reading
is open, or of which nothing was read, can't be judged, however little changed: a person must read it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher
from typing import Literal, NamedTuple, TypeAlias

from sitegen.compute.evidence.revision import Revision
from sitegen.compute.text.claims import CLAIMING, Claim, Record, claims
from sitegen.compute.text.tokens import TOKEN

State: TypeAlias = Literal["same", "changed", "unjudged"]
Verdicts: TypeAlias = tuple[str, ...]
LIKE = 0.6
"""How alike, of 1, two sentences are that count as one rewritten (project default, no published source)."""


class Named(NamedTuple):
    """Something that a sentence names and that changed: a token, compound, group or point."""

    kind: Literal["token", "compound", "group", "point"]
    name: str


@dataclass(frozen=True, slots=True)
class Statement:
    """A sentence as printed in both revisions, "" in the one that lacks it, and what it names that changed.

    ``same_words`` tells that nothing but numbers taken from the data differs. ``state`` compares the verdicts;
    ``line`` is that of its section's file in the later revision, 0 for a sentence that is no more; ``written`` its
    words there, tokens and all.
    """

    section: str
    line: int
    before: str
    after: str
    same_words: bool
    names: tuple[Named, ...]
    state: State
    written: str = ""

    @property
    def touched(self) -> bool:
        """Whether it reads otherwise, is judged otherwise, or names what changed."""
        return self.before != self.after or bool(self.names) or self.state == "changed"


class Changed(NamedTuple):
    """What changed, as sentences name it."""

    tokens: Collection[str]
    compounds: Collection[str]
    groups: Collection[str]
    points: Collection[str]


def changed_names(claim: Claim, changed: Changed) -> tuple[Named, ...]:
    """Return what a sentence names that changed, in the order tokens, compounds, groups, points."""
    return (
        *(Named("token", name) for name in claim.tokens if name in changed.tokens),
        *(Named("compound", name) for name in claim.compounds if name in changed.compounds),
        *(Named("group", name) for name in claim.read.groups if name in changed.groups),
        *(Named("point", name) for name in claim.read.points if name in changed.points),
    )


def statements(
    old: Revision, new: Revision, changed: Changed, texts: tuple[Mapping[str, str], Mapping[str, str]]
) -> tuple[Statement, ...]:
    """Return every sentence that claims something, those of the later revision first in each section.

    ``texts`` are the tokens of both revisions.
    """
    before, after = (claims(one.survey) for one in (old, new))
    records = Record(old.evaluation), Record(new.evaluation)
    found: list[Statement] = []
    for section in CLAIMING:
        was, now = ([claim for claim in each if claim.section == section] for each in (before, after))
        for claim, one, other in _pairs(was, now):
            verdicts = _verdicts(records[0], one), _verdicts(records[1], other)
            found.append(
                Statement(
                    section,
                    other.line if other else 0,
                    _printed(one, texts[0]),
                    _printed(other, texts[1]),
                    one is not None and other is not None and one.text == other.text,
                    changed_names(claim, changed),
                    _state(*verdicts),
                    other.text if other else "",
                )
            )
    return tuple(found)


def _pairs(old: Sequence[Claim], new: Sequence[Claim]) -> Iterator[tuple[Claim, Claim | None, Claim | None]]:
    """Yield each sentence with what it was and what it is: those of the later text, then those that are no more.

    Equal sentences are paired in their order; of the rest each with the one most like it, if that is like enough.
    """
    left = list(old)
    paired: list[Claim | None] = []
    for claim in new:
        same = next((one for one in left if one.text == claim.text), None)
        paired.append(same)
        if same:
            left.remove(same)
    for claim, same in zip(new, paired, strict=True):
        one = same or _most_like(claim, left)
        if one and not same:
            left.remove(one)
        yield claim, one, claim
    yield from ((one, one, None) for one in left)


def _most_like(claim: Claim, among: Iterable[Claim]) -> Claim | None:
    words = claim.text.split()
    scored = [(SequenceMatcher(None, one.text.split(), words, autojunk=False).ratio(), one) for one in among]
    best, one = max(scored, key=lambda pair: pair[0], default=(0.0, None))
    return one if best >= LIKE else None


def _verdicts(record: Record, claim: Claim | None) -> Verdicts | None:
    """Return the verdicts on a sentence, None where it can't be judged whole."""
    if claim is None or claim.read.unpaired:
        return None
    found = tuple(judged.verdict for judged in record.judge(claim) if judged.verdict != "named")
    return found if found and set(found) <= {"agrees", "differs"} else None


def _state(before: Verdicts | None, after: Verdicts | None) -> State:
    if before is None or after is None:
        return "unjudged"
    return "same" if before == after else "changed"


def _printed(claim: Claim | None, values: Mapping[str, str]) -> str:
    """Return a sentence as printed; an unknown token stays as it is written."""
    return TOKEN.sub(lambda match: values.get(match["name"], match[0]), claim.text) if claim else ""
