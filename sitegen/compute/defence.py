"""The defensibility sheet: twelve statements, each yes, partly or no, and no score.

A statement is *yes* where no finding speaks against it, *no* where one that holds the
issue does, and *partly* where findings that a reader must know do. The statements and
the checks behind each stand in ``sitegen/data/statements.toml``.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from sitegen.problems import Finding, Severity

YES, PARTLY, NO = "yes", "partly", "no"


@dataclass(frozen=True, slots=True)
class Statement:
    """A statement: its words, the page that holds the evidence, and the checks behind it."""

    text: str
    page: str
    codes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Answer:
    """A statement's answer and the findings that speak against it."""

    statement: Statement
    answer: str
    against: tuple[Finding, ...]


@cache
def statements() -> tuple[Statement, ...]:
    """Return the statements, in order."""
    text = files("sitegen").joinpath("data/statements.toml").read_text("utf-8")
    listed = tomllib.loads(text)["statement"]
    return tuple(Statement(entry["text"], entry["page"], tuple(entry["checks"])) for entry in listed)


def defence(findings: Iterable[Finding]) -> tuple[Answer, ...]:
    """Answer every statement from the findings; notes speak against nothing."""
    told = [finding for finding in findings if finding.severity is not Severity.NOTE]
    answers = []
    for statement in statements():
        against = tuple(finding for finding in told if finding.code in statement.codes)
        worst = min((finding.severity.rank for finding in against), default=None)
        answer = YES if worst is None else NO if worst <= Severity.HOLD.rank else PARTLY
        answers.append(Answer(statement, answer, against))
    return tuple(answers)
