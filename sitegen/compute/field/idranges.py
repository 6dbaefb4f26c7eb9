"""Long lists of ids written as ranges."""

from __future__ import annotations

import re
from collections.abc import Iterable
from itertools import groupby

from sitegen.compute.formats import spanned

LEAST_RUN = 3
"""Fewer ids in a row than this are named one by one."""

_NUMBERED = re.compile(r"(.*?)(?<!\d)(\d++)")


def id_ranges(ids: Iterable[str]) -> tuple[str, ...]:
    """Return ids in their order, three and more that count up by one as a range.

    Only ids of the same words and the same number of digits count on from each other.

    >>> id_ranges(["SG-01", "SG-02", "SG-03", "SG-05", "SS-01"])
    ('SG-01 to SG-03', 'SG-05', 'SS-01')
    >>> id_ranges(["P-9", "P-10", "P-11"])
    ('P-9', 'P-10', 'P-11')
    """
    numbered = [(_key(name, at), name) for at, name in enumerate(ids)]
    written: list[str] = []
    for _, group in groupby(numbered, key=lambda pair: pair[0]):
        run = [name for _, name in group]
        written += [spanned(run[0], run[-1])] if len(run) >= LEAST_RUN else run
    return tuple(written)


def _key(name: str, at: int) -> tuple[str, int, int]:
    """Return what ids of one run share: their words, their digits, and number less place in the list."""
    match = _NUMBERED.fullmatch(name)
    return (match[1], len(match[2]), int(match[2]) - at) if match else (name, 0, at)
