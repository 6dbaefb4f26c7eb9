"""The sources of limits and rules as readers meet them: in our words where they are ours."""

from __future__ import annotations

from collections.abc import Iterable

from sitegen.compute.limits import LimitRecord
from sitegen.voice import worded


def source_text(limit: LimitRecord) -> str:
    """Return the source of a limit; as it stands on record where the project set the limit.

    >>> source_text(LimitRecord("hold_days", 30, "d", "hold time", "common practice, no source"))
    'common practice, no source'
    """
    return limit.source if limit.from_project else worded(limit.source)


def source_of_rule(source: str, limits: Iterable[LimitRecord]) -> str:
    """Return the source of what rests on some ``limits``; as it stands where the project gave it with one of them."""
    return source if any(one.from_project and one.source == source for one in limits) else worded(source)
