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
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise, product
from typing import Literal, NamedTuple

from sitegen.compute.text.sentences import any_of

Kind = Literal["compound", "group", "point"]
Relation = Literal["highest", "not detected", "detected", "higher", "unread", "named"]


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
    entries = [(word.strip(), kind, key) for kind, named in kinds for key, words in named.items() for word in words]
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
_STRONG = re.compile(r"(?:,|(?<!\s))\s++(?:but|while|whereas|although|though)\s+")
_WEAK = re.compile(r",\s++and\s+|(?<!\s)\s++and\s+|,\s+")
_JOINER = _any_case(
    r"\s*+(?:,\s*+(?:(?:and|or|nor|as well as|to|&)(?:\s+at)?)?|(?:and|or|nor|as well as|to|&)(?:\s+at)?)\s*+"
    r"(?:the\s+|points?\s+)?"
)
_CONJUNCTION = _any_case(r"[,.]|\b(?:and|but|while|whereas|although|though)\b")

_MISSED = _any_case(r"\b(?:not|never)\b(?:\s+\w+){0,2}?\s+(?:detected|found)\b|\bundetected\b|\bnon-detects?\b")
_DETECTED = _any_case(r"\bdetected\b")
_NONE = _any_case(r"\b(?:no|neither|nor)\s*$")
_HIGHEST = _any_case(r"\b(?:highest|largest|greatest|maximum)\b")
_QUALIFIED = _any_case(
    r"(?:\b(?:not|never|nor|no longer)\b.*|\b(?:second|third|next|nearly|almost)[\s-]+"
    r"|\b(?:among|one of|some of) the\s+)$"
)
_PLAIN = frozenset((
    "mass", "masses", "value", "values", "result", "results", "detection", "detections", "amount", "amounts",
    "reading", "readings", "is", "are", "was", "were", "has", "have", "its", "the", "a", "it", "with", "found",
    "measured", "recorded", "reported", "lies", "occurs", "at", "in", "soil", "gas", "of", "ng", "per", "sampler",
    "point", "points", "location", "under", "beneath", "beside",
))  # fmt: skip
_LIMITING = _any_case(
    r"\b(?:in|along|among|within|outside|inside|around|near|on|after|behind|except|apart|besides|without)\b\s+(?!at\b)"
    r"|\b(?:north|south|east|west|indoors|outdoors|elsewhere)\b"
)
_NO_LIMIT = _any_case(r"\bin (?:this survey|the survey|soil gas|soil|all|air)\b")
_COMPARED = _any_case(r"\b(?P<up>higher|greater|larger|more)\b|\b(?:lower|smaller|less)\b")
_THAN = _any_case(r"(?<!rather )(?<!other )\bthan\b")
_BEFORE_OTHER = _any_case(r"\s*(?:(?:at|the|that|those|of|in|for|point|points|mass|masses)\s+)*")
_RESPECTIVELY = _any_case(r"\brespectively\b")
_NEGATED = _any_case(r"\b(?:not|never|no|nor|neither)\b")


def read(sentence: str, known: Vocabulary) -> Read:
    """Read one sentence: what it names, and what it says of which pairs.

    >>> known = vocabulary({"b": ["Benzene"], "t": ["Toluene"]}, {}, ["P-1", "P-2"])
    >>> [reading[1:4] for reading in read("Benzene is highest at P-2 and toluene at P-1.", known).readings]
    [('b', 'P-2', 'highest'), ('t', 'P-1', 'named')]
    """
    text = _MARKUP.sub(lambda match: " " * len(match[0]), sentence)
    mentions = [
        Mention(*known.names[name], match.start(), match.end())
        for match in known.pattern.finditer(text)
        if (name := match[0].casefold()) in known.names
    ]
    readings: list[Reading] = []
    unpaired = False
    for start, end in _parts(text, mentions):
        inside = [mention for mention in mentions if start <= mention.start < end]
        pairs = _part(text, start, end, _lists(text, inside))
        unpaired |= pairs is None
        readings += pairs or []
    named: dict[str, dict[str, None]] = {"compound": {}, "group": {}, "point": {}}
    for mention in mentions:
        named[mention.kind][mention.id] = None
    lists = {kind: tuple(ids) for kind, ids in named.items()}
    return Read(lists["compound"], lists["group"], lists["point"], tuple(dict.fromkeys(readings)), unpaired)


def _parts(text: str, mentions: Sequence[Mention]) -> Iterator[tuple[int, int]]:
    """Yield the bounds of the parts of a sentence that are read by themselves."""
    ends = [0, *(match.end() for match in _PART.finditer(text)), len(text)]
    for start, end in pairwise(ends):
        yield from _cut(text, start, end, [m for m in mentions if start <= m.start < end])


def _cut(text: str, start: int, end: int, mentions: Sequence[Mention]) -> Iterator[tuple[int, int]]:
    """Cut at the first place where both sides name both, as long as there is one.

    A comma or "and" parts two statements only where both begin with the same kind of name,
    and never within a list.
    """
    for pattern in (_STRONG, _WEAK):
        for match in pattern.finditer(text, start, end):
            left = [mention for mention in mentions if mention.end <= match.start()]
            right = [mention for mention in mentions if mention.start >= match.end()]
            if _has_both(left) and _has_both(right) and _parts_statements(text, left, right, strong=pattern is _STRONG):
                yield from _cut(text, start, match.start(), left)
                yield from _cut(text, match.end(), end, right)
                return
    yield start, end


def _has_both(mentions: Sequence[Mention]) -> bool:
    return len({mention.kind == "point" for mention in mentions}) == 2


def _parts_statements(text: str, left: Sequence[Mention], right: Sequence[Mention], *, strong: bool) -> bool:
    """Tell whether a comma or conjunction between two runs of names parts two statements."""
    if len(_lists(text, (left[-1], right[0]))) == 1:
        return False
    return strong or (left[0].kind == "point") == (right[0].kind == "point")


def _lists(text: str, mentions: Sequence[Mention]) -> list[_Group]:
    """Join neighbouring names of one kind to lists."""
    groups: list[_Group] = []
    for mention in mentions:
        point = mention.kind == "point"
        last = groups[-1] if groups else None
        if last and last.point == point and _JOINER.fullmatch(text[last.end : mention.start]):
            groups[-1] = _Group(point, (*last.mentions, mention))
        else:
            groups.append(_Group(point, (mention,)))
    return groups


def _part(text: str, start: int, end: int, groups: list[_Group]) -> list[Reading] | None:
    """Return what a part says of its pairs, None where it names both and the two can't be paired."""
    points = [group for group in groups if group.point]
    whats = [group for group in groups if not group.point]
    compared = _comparison(text, start, end, groups)
    if compared is not None:
        return compared
    if not points or not whats:
        return []
    if len(points) > 1 and len(whats) > 1:
        return None
    if _RESPECTIVELY.search(text, start, end):
        return _in_turn(text, start, end, groups)
    readings = []
    for what, point in product(whats, points):
        relation, limited = _statement(text, start, end, groups, what, point)
        count = len({mention.id for mention in point.mentions})
        for one, place in product(what.mentions, point.mentions):
            readings.append(Reading(one.kind, one.id, place.id, relation, count, None, limited))
    return readings


def _in_turn(text: str, start: int, end: int, groups: list[_Group]) -> list[Reading] | None:
    """Pair two lists of one length one by one, as "respectively" says; None where they differ in length."""
    if len(groups) != 2 or len(groups[0].mentions) != len(groups[1].mentions):
        return None
    point, what = sorted(groups, key=lambda group: not group.point)
    relation, limited = _statement(text, start, end, groups, what, point)
    pairs = zip(what.mentions, point.mentions, strict=True)
    return [Reading(one.kind, one.id, place.id, relation, 1, None, limited) for one, place in pairs]


def _statement(
    text: str, start: int, end: int, groups: list[_Group], what: _Group, point: _Group
) -> tuple[Relation, bool]:
    """Return what is said of a list of compounds and one of points, and whether other words may limit it.

    The words between the two come first. Those after them, and those before, count as far as
    they are parted by a conjunction from the next list, which they would belong to.
    """
    first, second = sorted((what, point), key=lambda group: group.start)
    one, two = groups.index(first), groups.index(second)
    ahead = text[groups[one - 1].end if one else start : first.start]
    behind = text[second.end : groups[two + 1].start if two + 1 < len(groups) else end]
    middle = text[groups[two - 1].end : second.start]
    if one != two - 1 or (one and groups[one - 1].point == second.point):
        middle = _CONJUNCTION.split(middle)[-1]
    after = behind if two + 1 == len(groups) else _cut_off(behind, 0)
    before = ahead if not one else _cut_off(ahead, -1)
    for words in (middle, after, before):
        relation = _relation(words, before)
        if relation != "named":
            around = [part for part in (text[start : first.start], behind) if part != words]
            return relation, relation == "highest" and _may_be_limited(words, " ".join(around))
    return "named", False


def _cut_off(words: str, at: int) -> str:
    """Return the words up to the first conjunction (0), or after the last (-1); none where there is no conjunction."""
    parts = _CONJUNCTION.split(words)
    return parts[at] if len(parts) > 1 else ""


def _relation(words: str, before: str) -> Relation:
    """Return the relation that some words state; ``before`` are those ahead of the first name."""
    if _MISSED.search(words):
        return "not detected"
    highest = _HIGHEST.search(words)
    if highest:
        return "unread" if _QUALIFIED.search(words[: highest.start()]) else "highest"
    if _DETECTED.search(words):
        return "not detected" if _NONE.search(before) else "detected"
    return "named"


def _may_be_limited(words: str, around: str) -> bool:
    """Tell whether "highest" may be meant of a part of the survey only."""
    match = _HIGHEST.search(words)
    rest = words[match.end() :] if match else ""
    odd = [word for word in re.findall(r"[^\W\d_][\w-]*", rest.lower()) if word not in _PLAIN]
    return bool(odd) or bool(_LIMITING.search(_NO_LIMIT.sub(" ", around)))


def _comparison(text: str, start: int, end: int, groups: list[_Group]) -> list[Reading] | None:
    """Return the readings of "higher … than …", None where nothing is compared, or not by names."""
    than = _THAN.search(text, start, end)
    word = max(_COMPARED.finditer(text, start, than.start()), key=re.Match.start, default=None) if than else None
    if than is None or word is None:
        return None
    right = next((group for group in groups if group.start >= than.end()), None)
    if right is None or not _BEFORE_OTHER.fullmatch(text[than.end() : right.start]):
        return None
    left = [group for group in groups if group.end <= than.start()]
    whats, points = ([g for g in left if g.point is kind] for kind in (False, True))
    later = [group for group in groups if group.start > right.start]
    if right.point:
        whats = whats or [group for group in later if not group.point]
    else:
        points = points or [group for group in later if group.point]
    if not whats or not points:
        return None
    negated = _NEGATED.search(text, start, than.start()) is not None
    return list(_comparisons(whats[-1], points[-1], right, up=word["up"] is not None, negated=negated))


def _comparisons(what: _Group, point: _Group, right: _Group, *, up: bool, negated: bool) -> Iterator[Reading]:
    for one, place, other in product(what.mentions, point.mentions, right.mentions):
        relation: Relation = "unread" if negated else "higher"
        if up:
            yield Reading(one.kind, one.id, place.id, relation, 1, (other.kind, other.id))
        elif other.kind == "point":
            yield Reading(one.kind, one.id, other.id, relation, 1, ("point", place.id))
        else:
            yield Reading(other.kind, other.id, place.id, relation, 1, (one.kind, one.id))
