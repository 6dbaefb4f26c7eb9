"""Whom the report speaks to: the project team, or readers who are told of findings but not what to do about them."""

from __future__ import annotations

from sitegen.findings.problems import Severity
from sitegen.report.record.pages import Cell, Ref
from sitegen.report.write.context import Context
from sitegen.report.write.words import say, word

MAJOR = "major"
"""What readers outside the team are told for a hold: it is the team's word for what they must do before issue."""


def grave(context: Context) -> str:
    """Return the tone of what holds an issue: the team's word, or the readers'."""
    return Severity.HOLD.value if context.for_team else MAJOR


def severity_key(context: Context, severity: Severity) -> str:
    """Return the key of a severity's word and tone."""
    return grave(context) if severity is Severity.HOLD else severity.value


def severity_cell(context: Context, severity: Severity, ref: Ref | None = None) -> Cell:
    """Return a severity in words and tone."""
    key = severity_key(context, severity)
    return Cell(word("severity", key), ref, tone=key)


def withheld_comments(context: Context) -> str:
    """Return ``withheld (1 open)`` where review comments are withheld, "" where none is."""
    lacks = context.survey.withheld
    return say("publish.comments", open=lacks.open_comments) if lacks.comments else ""
