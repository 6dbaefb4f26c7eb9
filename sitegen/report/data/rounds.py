"""What the rounds of a survey are called in data to download."""

from __future__ import annotations

from sitegen.report.write.context import Context


def round_id(context: Context) -> str:
    """Return the id of the round that a context is about, else its title."""
    return context.campaign.id or context.campaign.title
