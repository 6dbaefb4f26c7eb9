"""The outside checks: which figures from elsewhere the formulas are held to.

The list stands in ``sitegen/data/published.toml``; a test holds it equal to the tests
that do the checking.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

KNOWN = ("read", "computed", "library", "memory")
"""How a figure is known: read at its source, computed with another program, held by a
library that the tests compare with, or from memory and computed again."""


@dataclass(frozen=True, slots=True)
class PublishedCheck:
    """One check: what is held to an outside figure, its source, how it is known, and the test's name."""

    what: str
    source: str
    known: str
    test: str


@cache
def published_checks() -> tuple[PublishedCheck, ...]:
    """Return the outside checks in the order of the file.

    >>> {check.known for check in published_checks()} <= set(KNOWN)
    True
    """
    text = files("sitegen").joinpath("data/published.toml").read_text("utf-8")
    return tuple(PublishedCheck(**entry) for entry in tomllib.loads(text)["check"])
