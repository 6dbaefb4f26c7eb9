"""Two revisions side by side: a revision as it was read and computed, and one change from one to the next."""

from __future__ import annotations

import math
from dataclasses import dataclass

from sitegen.compute.evaluate import Evaluation
from sitegen.compute.text.changed_words import Words
from sitegen.findings.problems import Finding
from sitegen.project.survey import Survey

KINDS = (
    "value", "detection", "qualifier", "unit", "limit", "added", "removed", "moved", "cell",
    "text", "setting", "feature", "file",
)  # fmt: skip
VALUE_KINDS = ("value", "detection", "qualifier", "unit", "limit")


@dataclass(frozen=True, slots=True)
class Revision:
    """One revision: the folder as read, what was computed from it, its findings, the tool."""

    survey: Survey
    evaluation: Evaluation
    findings: tuple[Finding, ...]
    tool: str


@dataclass(frozen=True, slots=True)
class Change:
    """One change. ``key`` (table and row, setting, section, file) is what a reason attaches to.

    ``factor`` is new by old where both are detections; ``moved_m`` a distance in m;
    ``location_id`` the point that it is about; ``in_summary`` whether the value is one of
    the lowest and highest detections that the summary prints.
    """

    kind: str
    key: str
    path: str
    subject: str
    column: str
    old: str
    new: str
    factor: float | None = None
    moved_m: float | None = None
    location_id: str = ""
    in_summary: bool = False
    words: Words = ()


def plain(value: object) -> str:
    """Write a typed cell so that equal cells give equal text; blank for a missing number.

    >>> plain(10.0), plain(float("nan")), plain("010")
    ('10', '', '010')
    """
    if isinstance(value, float):
        return "" if math.isnan(value) else f"{value:.15g}"
    return str(value)
