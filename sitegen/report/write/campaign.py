"""What a round is called where its supplements are counted with it."""

from __future__ import annotations

from sitegen.report.write.context import Context
from sitegen.report.write.words import say


def whole_name(one: Context) -> str:
    """Return what a round is called where its supplements are counted with it; "" where it has no name."""
    name, supplements = one.campaign.name, len(one.campaign.supplements)
    return say("rounds.with_its_supplements", name=name, supplements=supplements) if name else ""
