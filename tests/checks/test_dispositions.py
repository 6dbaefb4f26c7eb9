"""A disposition explains and never hides; an issue waits for holds and undecided flags."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from builders import (
    Row,
    cell,
    changed,
    example,
    example_findings,
    load,
    row_added,
    setting,
    survey_findings,
    table,
    write,
)

from sitegen.checking import check
from sitegen.checks.dispositions import dispositions, issue_blockers, open_findings, overrides
from sitegen.findings.problems import Finding, Severity
from sitegen.project.survey import Survey

DECISIONS, DEPLOYMENTS = "review/dispositions.csv", "field/deployments.csv"


def with_decisions(*findings: Finding, **missing: str) -> Survey:
    """Return the example with dispositions of findings; ``missing`` blanks a column of each."""

    def edit(rows: list[Row]) -> list[Row]:
        kept = [row for row in rows if row["finding_key"] not in {finding.key for finding in findings}]
        made = {"disposition": "accepted", "reason": "looked into", "by_role": "LR-1", "on": "2025-12-11"} | missing
        return [*kept, *({"finding_key": finding.key} | made for finding in findings)]

    return load(changed(table(DECISIONS, edit)))


def of(severity: Severity) -> list[Finding]:
    """Return the example's findings of a severity."""
    return [finding for finding in example_findings() if finding.severity is severity]


def test_the_example_waits_for_its_holds_and_for_every_undecided_flag() -> None:
    blockers = issue_blockers(example_findings(), load(example()))
    assert [f.key for f in blockers if f.code != "flag-undecided"] == [f.key for f in of(Severity.HOLD)]
    undecided = {f.subject for f in blockers if f.code == "flag-undecided"}
    assert undecided == {f.key for f in of(Severity.FLAG)} - {"water-in-sampler:0047154"}
    assert all(f.severity is Severity.HOLD for f in blockers)


def test_a_note_never_keeps_an_issue_back() -> None:
    assert of(Severity.NOTE)
    assert issue_blockers(of(Severity.NOTE), load(example())) == ()


def test_with_every_hold_and_flag_decided_the_issue_may_go() -> None:
    both = [*of(Severity.HOLD), *of(Severity.FLAG)]
    survey = with_decisions(*both)
    assert issue_blockers(example_findings(), survey) == ()
    assert [finding.key for finding, _ in overrides(example_findings(), survey)] == [f.key for f in of(Severity.HOLD)]


def test_a_disposition_without_a_reason_decides_nothing() -> None:
    flag = of(Severity.FLAG)[0]
    survey = with_decisions(flag, reason="")
    assert flag in open_findings([flag], dispositions(survey, [flag]))
    assert [f.code for f in issue_blockers([flag], survey)] == ["flag-undecided"]


def test_a_stop_cannot_be_disposed_of() -> None:
    stop = replace(of(Severity.FLAG)[0], severity=Severity.STOP)
    assert issue_blockers([stop], with_decisions(stop)) == (stop,)


def test_a_disposition_hides_no_finding() -> None:
    flag = of(Severity.FLAG)[0]
    words = {"disposition": "accepted", "reason": "looked into", "by_role": "LR-1"}
    found = survey_findings(changed(row_added(DECISIONS, finding_key=flag.key, **words)))
    assert flag in found


@pytest.mark.parametrize(
    ("key", "do"),
    [
        ("Cap damaged: 0047115", "write cap-damaged:0047115"),
        ("cap-damgaed:0047115", "write cap-damaged:0047115"),
        ("cap-damaged:0047151", "correct the key, or remove the row"),
        ("cap-damaged:0047116", "correct the key, or remove the row"),
        ("glass-damaged:0047115", "correct the key, or remove the row"),
    ],
)
def test_a_key_mistyped_is_told_with_the_one_meant_and_with_no_other(key: str, do: str) -> None:
    """A decision must not slip to another sampler or to another finding, however alike their keys are."""
    words = {"disposition": "accepted", "reason": "looked into", "by_role": "LR-1"}
    found = survey_findings(changed(row_added(DECISIONS, finding_key=key, **words)))
    (unmatched,) = [finding for finding in found if finding.code == "disposition-unmatched"]
    assert unmatched.do == do


def test_a_decision_about_a_change_from_the_previous_revision_has_its_finding(tmp_path: Path) -> None:
    """Findings of the comparison come last, and decisions on them are held against them as well."""
    words = {"disposition": "accepted", "reason": "looked into", "by_role": "LR-1"}
    revision = setting("revision = 1", 'revision = 2\nprevious = "../before"')
    key = "change-without-reason:deployments:0047103"
    write(example(), tmp_path / "before")
    now = changed(
        revision, cell(DEPLOYMENTS, "0047103", "depth_ft", "2.8"), row_added(DECISIONS, finding_key=key, **words)
    )
    found = check(write(now, tmp_path / "now")).findings
    assert key in {finding.key for finding in found}
    assert "disposition-unmatched" not in {finding.code for finding in found}
