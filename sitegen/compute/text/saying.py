"""What words beside a compound and a point say of the two."""

from __future__ import annotations

import re
from typing import Literal, NamedTuple

from sitegen.compute.text.claimwords import ClaimWords, Strict

Relation = Literal["highest", "not detected", "detected", "higher", "unread", "named"]


class Beside(NamedTuple):
    """The words that may say something of a pair: between, after and before, and all that follows a last name."""

    middle: str
    after: str
    before: str
    behind: str


def strictly(beside: Beside, ahead_of_what: str, words: ClaimWords, strict: Strict) -> tuple[Relation, bool]:
    """Return what is said of a pair where words stand in many orders: one thing only, and nothing that turns it.

    ``ahead_of_what`` are the words before the compound, which may make it belong to something else.
    """
    told = [part for part in beside[:3] if part.strip()]
    relations = {stated(part, beside.before, words) for part in told} - {"named"}
    left = [words.detected.sub(" ", words.missed.sub(" ", part)) for part in told]
    if not relations:
        weak = strict.open.search(beside.middle) or any(map(strict.superlative.search, told))
        return "unread" if weak else "named", False
    (relation, *others) = relations
    another = strict.of_another.search(ahead_of_what)
    turned = any(map(strict.open.search, left)) or strict.excepting.search(beside.behind)
    if others or turned or (another and another["noun"].lower() not in strict.carries):
        return "unread", False
    if relation == "highest":
        clauses = (words.conjunction.split(beside.before)[-1], beside.after)
        near = (beside.middle, *(clause for clause in clauses if words.highest.search(clause)))
        around = (beside.before, beside.middle, beside.behind or beside.after)
        limited = any(_odd_words(_unlimited(part, words), words) for part in near)
        return relation, limited or any(words.limiting.search(_unlimited(part, words)) for part in around)
    if any(map(strict.superlative.search, told)) or _of_something_else(beside.before, words):
        return "unread", False
    return relation, False


def _unlimited(part: str, words: ClaimWords) -> str:
    """Return words without "highest", and without those that name the whole survey."""
    return words.no_limit.sub(" ", words.highest.sub(" ", part))


def _of_something_else(before: str, words: ClaimWords) -> bool:
    """Tell whether what was (not) detected, by the words before a pair, is something else than the compound."""
    match = words.missed.search(before) or words.detected.search(before)
    return match is not None and _odd_words(before[match.end() :], words)


def stated(words: str, before: str, known: ClaimWords) -> Relation:
    """Return the relation that some words state; ``before`` are those ahead of the first name."""
    if known.missed.search(words):
        return "not detected"
    highest = known.highest.search(words)
    if highest:
        return "unread" if known.qualified.search(words[: highest.start()]) else "highest"
    if known.detected.search(words):
        return "not detected" if known.none.search(before) else "detected"
    return "named"


def may_be_limited(words: str, around: str, known: ClaimWords) -> bool:
    """Tell whether "highest" may be meant of a part of the survey only."""
    match = known.highest.search(words)
    rest = words[match.end() :] if match else ""
    return _odd_words(rest, known) or bool(known.limiting.search(known.no_limit.sub(" ", around)))


def _odd_words(words: str, known: ClaimWords) -> bool:
    """Tell whether any word is none of those that may stand beside "highest"."""
    return any(word not in known.plain for word in re.findall(r"[^\W\d_][\w-]*", words.lower()))
