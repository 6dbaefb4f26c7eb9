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
from sitegen.checks.dispositions import (
    check_dispositions,
    dispositions,
    drafted,
    issue_blockers,
    open_findings,
    overrides,
)
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


def starred(*keys: str, **words: str) -> Survey:
    """Return the example with dispositions of these keys and no other."""
    row = {"disposition": "accepted", "reason": "looked into", "by_role": "LR-1"} | words
    return load(changed(table(DECISIONS, lambda _: [{"finding_key": key} | row for key in keys])))


def unmatched(survey: Survey) -> list[tuple[str, str]]:
    """Return key and advice of each decision that is about no finding."""
    found = check_dispositions(survey, example_findings())
    return [(finding.subject, finding.do) for finding in found if finding.code == "disposition-unmatched"]


def test_a_star_decides_every_finding_of_its_code_and_no_other() -> None:
    survey = starred("above-calibration:*")
    decided = dispositions(survey, example_findings())
    of_code = {finding.key for finding in example_findings() if finding.code == "above-calibration"}
    assert len(of_code) > 3
    assert set(decided) == of_code
    assert not of_code & {f.key for f in open_findings(example_findings(), decided)}
    assert not of_code & {f.subject for f in issue_blockers(example_findings(), survey)}
    assert unmatched(survey) == []


def test_a_star_behind_the_beginning_of_a_subject_decides_those_that_begin_so() -> None:
    decided = dispositions(starred("above-screening-level:IA-01+*"), example_findings())
    assert set(decided) == {"above-screening-level:IA-01+benzene", "above-screening-level:IA-01+pce"}


def test_a_decision_of_its_own_goes_before_a_star_and_a_long_star_before_a_short_one() -> None:
    keys = ("above-screening-level:*", "above-screening-level:IA-01+*", "above-screening-level:IA-01+pce")
    decided = dispositions(starred(*keys), example_findings())
    assert decided["above-screening-level:IA-01+pce"].finding_key == keys[2]
    assert decided["above-screening-level:IA-01+benzene"].finding_key == keys[1]
    assert decided["above-screening-level:IA-02+benzene"].finding_key == keys[0]


@pytest.mark.parametrize("key", ["above-*", "*", "above-calibration*", "above-calibratio:*"])
def test_a_star_needs_the_whole_of_a_code(key: str) -> None:
    survey = starred(key)
    assert dispositions(survey, example_findings()) == {}
    assert [subject for subject, _ in unmatched(survey)] == [key]


def test_a_star_whose_code_is_mistyped_is_told_the_one_meant() -> None:
    assert unmatched(starred("above-calibratoin:*")) == [("above-calibratoin:*", "write above-calibration:*")]


def test_a_star_is_never_about_a_stop() -> None:
    """Neither alone, where it is about nothing, nor beside a flag of the same code."""
    flag = of(Severity.FLAG)[0]
    stop = replace(flag, severity=Severity.STOP, subject="other")
    survey = starred(f"{flag.code}:*")
    assert set(dispositions(survey, [flag, stop])) == {flag.key}
    assert issue_blockers([flag, stop], survey) == (stop,)
    codes = [finding.code for finding in check_dispositions(survey, [stop])]
    assert codes == ["disposition-unmatched"]


def test_a_star_without_a_reason_decides_nothing() -> None:
    survey = starred("above-calibration:*", reason="")
    assert [f.code for f in check_dispositions(survey, example_findings())] == ["disposition-incomplete"]
    assert any(f.subject.startswith("above-calibration") for f in issue_blockers(example_findings(), survey))


def test_a_subject_that_ends_with_a_star_is_decided_alone() -> None:
    """A key that is a finding's own is about that one, as it was before there were stars."""
    flag = of(Severity.FLAG)[0]
    odd, longer = replace(flag, subject="SG*"), replace(flag, subject="SG-1")
    assert set(dispositions(starred(odd.key), [odd, longer])) == {odd.key}


def test_the_rows_that_are_wanted_are_those_of_open_holds_and_flags() -> None:
    """Many of a code are one star; filled in, they leave nothing open but what no decision mends."""
    survey = starred("seal-differs:RB-1", reason="")
    keys = drafted(example_findings(), survey)
    assert "above-calibration:*" in keys
    assert "comment-must-fix:C-1" in keys
    assert not [key for key in keys if key.startswith(("seal-differs", "disposition-"))]
    filled = starred(*keys, "seal-differs:RB-1")
    assert issue_blockers(example_findings(), filled) == ()
    assert unmatched(filled) == []
    assert drafted(example_findings(), filled) == ()


def test_a_star_is_not_drafted_where_a_code_has_findings_of_two_severities() -> None:
    """A hold must not be decided by the way with flags."""
    flags = [replace(of(Severity.FLAG)[0], subject=str(at)) for at in range(5)]
    hold = replace(flags[0], severity=Severity.HOLD, subject="hold")
    survey = starred()
    assert drafted(flags, survey) == (f"{flags[0].code}:*",)
    assert drafted([hold, *flags], survey) == (hold.key, *(flag.key for flag in flags))


def test_a_revision_with_the_date_of_the_one_before_is_told(tmp_path: Path) -> None:
    write(example(), tmp_path / "before")
    revision = setting("revision = 1", 'revision = 2\nprevious = "../before"')
    same = check(write(changed(revision), tmp_path / "same")).findings
    (told,) = [finding for finding in same if finding.code == "report-date-unchanged"]
    assert (told.key, told.where.column) == ("report-date-unchanged:project.report_date", "project.report_date")
    later = setting("report_date = 2025-12-12", "report_date = 2025-12-13")
    assert "report-date-unchanged" not in {
        finding.code for finding in check(write(changed(revision, later), tmp_path / "later")).findings
    }
