"""The defensibility sheet: plain statements, each yes, partly, no or no record, and no score.

A statement is answered by the findings that speak against it and by what it rests on. It is
*no record* where nothing at all is on record that it could rest on, whatever speaks against it; *no* where a
finding that holds the issue speaks against it; *partly* where a finding that a reader must know
does, or where a part of what it rests on has no record; else *yes*. The statements, the checks
behind each and what each rests on stand in ``sitegen/data/statements.toml``.

That no hand-over was written down is not that custody was broken: no record is an answer of its
own. Comments and claims are two statements, for they rest on different records. What stands
``beside`` a statement can only lower a yes, and counts for nothing where there is nothing of its kind.
A copy for client or public counts the whole record (``Evaluation.whole``), so that an answer does
not depend on who may read it.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from sitegen.compute.evidence.bases import Basis
from sitegen.findings.problems import Finding, Severity

YES, PARTLY, NO, NO_RECORD = "yes", "partly", "no", "no record"
ANSWERS = (YES, PARTLY, NO, NO_RECORD)


@dataclass(frozen=True, slots=True)
class Statement:
    """A statement: its words, the page that holds the evidence, the checks behind it, the bases that it rests on.

    ``beside`` are bases that a yes needs as well, but that are no record of what it says.
    """

    text: str
    page: str
    codes: tuple[str, ...]
    rests_on: tuple[str, ...]
    beside: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Answer:
    """A statement's answer, the findings that speak against it, and what it rests on."""

    statement: Statement
    answer: str
    against: tuple[Finding, ...]
    rests_on: tuple[Basis, ...]


@cache
def statements() -> tuple[Statement, ...]:
    """Return the statements, in order."""
    text = files("sitegen").joinpath("data/statements.toml").read_text("utf-8")
    entries = tomllib.loads(text)["statement"]
    return tuple(
        Statement(one["text"], one["page"], tuple(one["checks"]), tuple(one["rests_on"]), tuple(one.get("beside", ())))
        for one in entries
    )


def defence(findings: Iterable[Finding], bases: Mapping[str, Basis]) -> tuple[Answer, ...]:
    """Answer every statement from the findings and what is on record; notes speak against nothing."""
    serious = [finding for finding in findings if finding.severity is not Severity.NOTE]
    answers = []
    for statement in statements():
        against = tuple(finding for finding in serious if finding.code in statement.codes)
        rests_on, beside = (tuple(bases[name] for name in names) for names in (statement.rests_on, statement.beside))
        given = _answer(against, rests_on, beside)
        answers.append(Answer(statement, given, against, (*rests_on, *beside)))
    return tuple(answers)


def _answer(against: tuple[Finding, ...], rests_on: tuple[Basis, ...], beside: tuple[Basis, ...]) -> str:
    if all(basis.silent for basis in rests_on):
        return NO_RECORD
    if any(finding.severity.rank <= Severity.HOLD.rank for finding in against):
        return NO
    lacking = not all(basis.whole for basis in rests_on) or any(basis.short for basis in beside)
    return PARTLY if against or lacking else YES
