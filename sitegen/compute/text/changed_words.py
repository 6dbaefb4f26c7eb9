"""Words that changed from one text to another."""

from __future__ import annotations

from difflib import SequenceMatcher
from typing import TypeAlias

AROUND = 5
"""Unchanged words kept on either side of a change."""

Words: TypeAlias = tuple[tuple[str, str], ...]
"""Runs of words: ("same", "added" or "removed", text)."""


def word_changes(old: str, new: str) -> Words:
    r"""Compare two texts word by word; line ends and spaces are no change.

    >>> word_changes("the mass is high", "the mass was high")
    (('same', 'the mass'), ('removed', 'is'), ('added', 'was'), ('same', 'high'))
    >>> word_changes("a\nb", "a\r\n b")
    ()
    """
    before, after = old.split(), new.split()
    if before == after:
        return ()
    runs: list[tuple[str, str]] = []
    for what, a, b, c, d in SequenceMatcher(None, before, after, autojunk=False).get_opcodes():
        if what == "equal":
            runs.append(("same", _shorten(before[a:b])))
            continue
        runs += [("removed", " ".join(before[a:b]))] if b > a else []
        runs += [("added", " ".join(after[c:d]))] if d > c else []
    return tuple(runs)


def _shorten(words: list[str]) -> str:
    if len(words) <= 2 * AROUND:
        return " ".join(words)
    return " ".join([*words[:AROUND], "…", *words[-AROUND:]])
