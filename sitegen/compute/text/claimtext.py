"""Sentences of the narrative read as claims: which compound is named with which point, and what is said of the two.

The reading is plain and keeps to what the words show. A sentence is cut at ``;`` and ``:``,
and at a comma or conjunction where each side names both a compound (or a group of compounds)
and a point. Names joined by commas, "and" or "or" are one list. In each part

* one list of compounds, or one list of points, is paired with all that the other side names;
* anything else is not paired, and is said not to be.

What is said of a pair is read from the words between the two, then those after, then those
before: *highest*, *not detected*, *detected*. "A is higher at X than at Y" compares two points,
"A is higher than B at X" two compounds. A negation, a rank ("second highest") or words that
may limit the claim to a part of the survey are kept as such and claim nothing by themselves.

A grammar would read more sentences, and be wrong without telling. "Highest" beside words such as
"in the south" may be meant of a part, and is a flag where it differs from the whole survey.

The words are those of the report's language (:mod:`sitegen.compute.text.claimwords`). In Spanish a verb may stand
before, between or behind the names, so that a claim is read only where one thing is said of a pair, and no other
word turns or weakens it; else it is kept as unread.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise, product
from typing import Literal, NamedTuple

from sitegen.compute.text.claimwords import ClaimWords, claim_words, composed
from sitegen.compute.text.saying import Beside, Relation, may_be_limited, stated, strictly
from sitegen.compute.text.sentences import any_of

Kind = Literal["compound", "group", "point"]


class Reading(NamedTuple):
    """What a sentence says of a compound (or group of compounds) and a point.

    ``of`` is their number of points that are called highest together. ``other`` is the point,
    or the compound, that a comparison is with. ``limited`` is True where other words of the
    sentence may limit the claim to a part of the survey.
    """

    kind: Kind
    what: str
    point: str
    relation: Relation
    of: int = 1
    other: tuple[Kind, str] | None = None
    limited: bool = False


@dataclass(frozen=True, slots=True)
class Read:
    """What a sentence names, in the order of the text, and what it says of pairs; ``unpaired`` parts are not told."""

    compounds: tuple[str, ...]
    groups: tuple[str, ...]
    points: tuple[str, ...]
    readings: tuple[Reading, ...]
    unpaired: bool


class Mention(NamedTuple):
    """A name in the text, from ``start`` to ``end``."""

    kind: Kind
    id: str
    start: int
    end: int


class _Group(NamedTuple):
    """Names joined to a list; ``point`` tells points from compounds."""

    point: bool
    mentions: tuple[Mention, ...]

    @property
    def start(self) -> int:
        return self.mentions[0].start

    @property
    def end(self) -> int:
        return self.mentions[-1].end


@dataclass(frozen=True, slots=True)
class Vocabulary:
    """The names that a survey's sentences may hold, their case folded, each with what it names."""

    names: Mapping[str, tuple[Kind, str]]
    pattern: re.Pattern[str]


def vocabulary(
    compounds: Mapping[str, Sequence[str]], groups: Mapping[str, Sequence[str]], points: Sequence[str]
) -> Vocabulary:
    """Gather the names of compounds, groups and points; of a name that is used twice the first counts.

    A point whose id is a number alone is left out: a sentence may mean the number.
    """
    kinds: tuple[tuple[Kind, Mapping[str, Sequence[str]]], ...] = (
        ("point", {point: [point] for point in points if is_word(point)}), ("compound", compounds), ("group", groups),
    )  # fmt: skip
    entries = [
        (composed(word.strip()), kind, key) for kind, named in kinds for key, words in named.items() for word in words
    ]
    entries = [one for one in entries if one[0]]
    names = {word.casefold(): (kind, key) for word, kind, key in reversed(entries)}
    pattern = _any_case(rf"(?<![\w-])(?:{any_of(word for word, _, _ in entries)})(?![\w-])")
    return Vocabulary(names, pattern)


def is_word(point: str) -> bool:
    """Tell whether a point's id can be told from a number in a sentence.

    >>> is_word("SG-12"), is_word("12"), is_word("12-3")
    (True, False, False)
    """
    return any(sign.isalpha() for sign in point)


def _any_case(pattern: str) -> re.Pattern[str]:
    return re.compile(pattern, re.IGNORECASE)


_MARKUP = re.compile(r"[*`]|(?<=\])\([^()\s]*\)|[\[\]]|\{\{[^{}]*\}\}")
_PART = re.compile(r"[;:]")


def read(sentence: str, known: Vocabulary) -> Read:
    """Read one sentence: what it names, and what it says of which pairs.

    >>> known = vocabulary({"b": ["Benzene"], "t": ["Toluene"]}, {}, ["P-1", "P-2"])
    >>> [reading[1:4] for reading in read("Benzene is highest at P-2 and toluene at P-1.", known).readings]
    [('b', 'P-2', 'highest'), ('t', 'P-1', 'named')]
    """
    text = _MARKUP.sub(lambda match: " " * len(match[0]), composed(sentence))
    mentions = [
        Mention(*known.names[name], match.start(), match.end())
        for match in known.pattern.finditer(text)
        if (name := match[0].casefold()) in known.names
    ]
    readings: list[Reading] = []
    unpaired = False
    told = _Sentence(text, claim_words())
    for start, end in told.parts(mentions):
        inside = [mention for mention in mentions if start <= mention.start < end]
        pairs = told.part(start, end, told.lists(inside))
        unpaired |= pairs is None
        readings += pairs or []
    named: dict[str, dict[str, None]] = {"compound": {}, "group": {}, "point": {}}
    for mention in mentions:
        named[mention.kind][mention.id] = None
    lists = {kind: tuple(ids) for kind, ids in named.items()}
    return Read(lists["compound"], lists["group"], lists["point"], tuple(dict.fromkeys(readings)), unpaired)


@dataclass(frozen=True, slots=True)
class _Sentence:
    """A sentence without its markup, and the words by which it is read."""

    text: str
    words: ClaimWords

    def parts(self, mentions: Sequence[Mention]) -> Iterator[tuple[int, int]]:
        """Yield the bounds of the parts of a sentence that are read by themselves."""
        ends = [0, *(match.end() for match in _PART.finditer(self.text)), len(self.text)]
        for start, end in pairwise(ends):
            yield from self._cut(start, end, [m for m in mentions if start <= m.start < end])

    def _cut(self, start: int, end: int, mentions: Sequence[Mention]) -> Iterator[tuple[int, int]]:
        """Cut at the first place where both sides name both, as long as there is one.

        A comma or "and" parts two statements only where both begin with the same kind of name,
        and never within a list.
        """
        for pattern in (self.words.strong, self.words.weak):
            for match in pattern.finditer(self.text, start, end):
                left = [mention for mention in mentions if mention.end <= match.start()]
                right = [mention for mention in mentions if mention.start >= match.end()]
                strong = pattern is self.words.strong
                if _has_both(left) and _has_both(right) and self._parts_statements(left, right, strong=strong):
                    yield from self._cut(start, match.start(), left)
                    yield from self._cut(match.end(), end, right)
                    return
        yield start, end

    def _parts_statements(self, left: Sequence[Mention], right: Sequence[Mention], *, strong: bool) -> bool:
        """Tell whether a comma or conjunction between two runs of names parts two statements."""
        if len(self.lists((left[-1], right[0]))) == 1:
            return False
        return strong or (left[0].kind == "point") == (right[0].kind == "point")

    def lists(self, mentions: Sequence[Mention]) -> list[_Group]:
        """Join neighbouring names of one kind to lists."""
        groups: list[_Group] = []
        for mention in mentions:
            point = mention.kind == "point"
            last = groups[-1] if groups else None
            if last and last.point == point and self.words.joiner.fullmatch(self.text[last.end : mention.start]):
                groups[-1] = _Group(point, (*last.mentions, mention))
            else:
                groups.append(_Group(point, (mention,)))
        return groups

    def part(self, start: int, end: int, groups: list[_Group]) -> list[Reading] | None:
        """Return what a part says of its pairs, None where it names both and the two can't be paired."""
        points = [group for group in groups if group.point]
        whats = [group for group in groups if not group.point]
        compared = self._comparison(start, end, groups)
        if compared is not None:
            return compared
        if not points or not whats:
            return []
        if (len(points) > 1 and len(whats) > 1) or (self.words.strict and _list_between(groups)):
            return None
        if self.words.respectively.search(self.text, start, end):
            return self._in_turn(start, end, groups)
        readings = []
        for what, point in product(whats, points):
            relation, limited = self._statement(start, end, groups, what, point)
            count = len({mention.id for mention in point.mentions})
            for one, place in product(what.mentions, point.mentions):
                readings.append(Reading(one.kind, one.id, place.id, relation, count, None, limited))
        return readings

    def _in_turn(self, start: int, end: int, groups: list[_Group]) -> list[Reading] | None:
        """Pair two lists of one length one by one, as "respectively" says; None where they differ in length."""
        if len(groups) != 2 or len(groups[0].mentions) != len(groups[1].mentions):
            return None
        point, what = sorted(groups, key=lambda group: not group.point)
        relation, limited = self._statement(start, end, groups, what, point)
        pairs = zip(what.mentions, point.mentions, strict=True)
        return [Reading(one.kind, one.id, place.id, relation, 1, None, limited) for one, place in pairs]

    def _statement(
        self, start: int, end: int, groups: list[_Group], what: _Group, point: _Group
    ) -> tuple[Relation, bool]:
        """Return what is said of a list of compounds and one of points, and whether other words may limit it.

        The words between the two come first. Those after them, and those before, count as far as
        they are parted by a conjunction from the next list, which they would belong to.
        """
        first, second = sorted((what, point), key=lambda group: group.start)
        one, two = groups.index(first), groups.index(second)
        ahead = self.text[groups[one - 1].end if one else start : first.start]
        behind = self.text[second.end : groups[two + 1].start if two + 1 < len(groups) else end]
        middle = self.text[groups[two - 1].end : second.start]
        if one != two - 1 or (one and groups[one - 1].point == second.point):
            middle = self.words.conjunction.split(middle)[-1]
        last = two + 1 == len(groups)
        before = ahead if not one else self._cut_off(ahead, -1)
        if self.words.strict:
            beside = Beside(middle, self.words.conjunction.split(behind)[0] if last else self._cut_off(behind, 0),
                             before if one == two - 1 else "", behind if last else "")  # fmt: skip
            prior = max((group.end for group in groups if group.end <= what.start), default=start)
            return strictly(beside, self.text[prior : what.start], self.words, self.words.strict)
        after = behind if last else self._cut_off(behind, 0)
        for words in (middle, after, before):
            relation = stated(words, before, self.words)
            if relation != "named":
                around = [part for part in (self.text[start : first.start], behind) if part != words]
                limited = relation == "highest" and may_be_limited(words, " ".join(around), self.words)
                return relation, limited
        return "named", False

    def _cut_off(self, words: str, at: int) -> str:
        """Return the words up to the first conjunction (0), or after the last (-1); none where there is none."""
        parts = self.words.conjunction.split(words)
        return parts[at] if len(parts) > 1 else ""

    def _comparison(self, start: int, end: int, groups: list[_Group]) -> list[Reading] | None:
        """Return the readings of "higher … than …", None where nothing is compared, or not by names."""
        than, word = self._than(start, end)
        if than is None or word is None:
            return None
        right = next((group for group in groups if group.start >= than.end()), None)
        if right is None or not self.words.before_other.fullmatch(self.text[than.end() : right.start]):
            return None
        left = [group for group in groups if group.end <= than.start()]
        whats, points = ([g for g in left if g.point is kind] for kind in (False, True))
        later = [group for group in groups if group.start > right.start]
        twice = (points if not right.point else whats) and any(group.point is not right.point for group in later)
        if right.point:
            whats = whats or [group for group in later if not group.point]
        else:
            points = points or [group for group in later if group.point]
        if not whats or not points:
            return None
        negated = self.words.negated.search(self.text, start, than.start()) is not None
        if strict := self.words.strict:
            weakened = strict.open.search(self.text, start, end) or strict.superlative.search(
                self.text, than.end(), end
            )
            another = strict.of_another.search(self.text[start : whats[-1].start])
            negated |= bool(twice or weakened or (another and another["noun"].lower() not in strict.carries))
        return list(_comparisons(whats[-1], points[-1], right, up=word["up"] is not None, negated=negated))

    def _than(self, start: int, end: int) -> tuple[re.Match[str] | None, re.Match[str] | None]:
        """Return the word of a comparison, and the last word before it that says more or less.

        Where the word of a comparison may be another one as well, those that nothing is compared before are passed.
        """
        for than in self.words.than.finditer(self.text, start, end):
            compared = self.words.compared.finditer(self.text, start, end)
            word = max((one for one in compared if one.end() <= than.start()), key=re.Match.start, default=None)
            if word or not self.words.strict:
                return than, word
        return None, None


def _has_both(mentions: Sequence[Mention]) -> bool:
    return len({mention.kind == "point" for mention in mentions}) == 2


def _list_between(groups: Sequence[_Group]) -> bool:
    """Tell whether a list stands between names of the other kind: a part of it may belong to either."""
    return any(
        len(group.mentions) > 1 and before.point == after.point != group.point
        for before, group, after in zip(groups, groups[1:], groups[2:], strict=False)
    )


def _comparisons(what: _Group, point: _Group, right: _Group, *, up: bool, negated: bool) -> Iterator[Reading]:
    for one, place, other in product(what.mentions, point.mentions, right.mentions):
        relation: Relation = "unread" if negated else "higher"
        if up:
            yield Reading(one.kind, one.id, place.id, relation, 1, (other.kind, other.id))
        elif other.kind == "point":
            yield Reading(one.kind, one.id, other.id, relation, 1, ("point", place.id))
        else:
            yield Reading(other.kind, other.id, place.id, relation, 1, (one.kind, one.id))
