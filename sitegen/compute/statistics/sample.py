"""A sample that anyone can draw again: by hash, with the project's id as the seed."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterable


def draw(names: Iterable[str], seed: str, share: float) -> tuple[str, ...]:
    """Draw a share (0 to 1) of the names, at least one, and return them in their order.

    Drawn are those with the lowest SHA-256 of ``seed``, a line feed and the name.

    >>> draw(["a", "b", "c", "d"], "KD-1", 0.5) == draw(["a", "b", "c", "d"], "KD-1", 0.5)
    True
    >>> len(draw(map(str, range(95)), "KD-1", 0.1))
    10
    """
    every = tuple(dict.fromkeys(names))
    ranked = sorted(every, key=lambda name: hashlib.sha256(f"{seed}\n{name}".encode()).digest())
    chosen = frozenset(ranked[: math.ceil(share * len(every))])
    return tuple(name for name in every if name in chosen)
