"""Whom the report speaks to: what a reader outside the project team is told of what was withheld."""

from __future__ import annotations

from sitegen.report.context import Context
from sitegen.report.words import say


def withheld_comments(context: Context) -> str:
    """Return ``withheld (1 open)`` where review comments are withheld, "" where none is."""
    lacks = context.survey.withheld
    return say("publish.comments", open=lacks.open_comments) if lacks.comments else ""
