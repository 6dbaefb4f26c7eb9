"""What the terminal shows of findings: the worst last, nothing broken, points and samplers by name."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import replace

import pytest
from builders import cell, changed, content, example_findings, load, removed, row_added, survey_findings
from rich.console import Console

from sitegen.checks.dispositions import dispositions
from sitegen.checks.naming import row_names
from sitegen.findings.problems import Finding, Severity, Where
from sitegen.telling import summary, tell

DEPLOYMENTS, DECISIONS = "field/deployments.csv", "review/dispositions.csv"


def lines(findings: Sequence[Finding], width: int = 80, **options: bool) -> list[str]:
    """Return what is printed of findings, without names and decisions."""
    out = io.StringIO()
    tell(Console(file=out, width=width, highlight=False), findings, {}, {}, **options)
    return out.getvalue().splitlines()


def of(severity: Severity, file: str = "a.csv", subject: str = "s", **others: object) -> Finding:
    parts = {"where": Where(file, 2, "x"), "found": "this", "expected": "that", "do": "mend it"} | others
    return Finding(code=f"some-{severity.value}", severity=severity, subject=subject, **parts)  # type: ignore[arg-type]


def test_stops_stand_last_above_the_counts() -> None:
    told = lines([of(severity, f"{severity.value}.csv") for severity in Severity], notes=True)
    heads = [line.split()[0] for line in told if not line.startswith(" ")]
    assert [head for head in heads if head in ("note", "flag", "hold")] == ["note", "flag", "hold"]
    assert heads[-2:] == ["stop", "findings:"]


@pytest.mark.parametrize("width", [40, 72, 109, 110, 200])
def test_no_word_path_or_key_is_broken_at_any_width(width: int) -> None:
    """Whatever has no blank in a finding stands whole on one line, and so do a path with blanks and a key."""
    path = "lab/a deliverable of the laboratory, with a name as long as they are made there.csv"
    finding = of(Severity.HOLD, path, "an id with blanks, which goes on and on beyond a line of any terminal we know")
    told = lines([finding], width)
    assert any(path in line for line in told)
    assert any(line.endswith(finding.key) and line.split()[0] == "key" for line in told)
    words = {word for line in lines(example_findings(), width, notes=True, each=True) for word in line.split()}
    for one in example_findings():
        assert set(f"{one.found} {one.expected} {one.do}".split()) <= words


def test_lines_of_more_than_one_word_fit_a_narrow_terminal() -> None:
    told = lines(example_findings(), 72, notes=True)
    long = [line for line in told if len(line) > 72 and line.split()[0] not in ("key", "decided", "where")]
    assert all(len(line.split()) <= 2 for line in long), long


def test_all_shows_each_finding_and_the_rest_is_counted_without() -> None:
    found = [of(Severity.FLAG, subject=str(at), where=Where("a.csv", at, "x")) for at in range(2, 12)]
    told = "\n".join(lines(found))
    assert "some-flag: 10 findings" in told
    assert "a.csv, rows 2–11, column x" in told
    assert "and 7 more; --all lists each" in told
    every_one = lines(found, each=True)
    assert sum(line.startswith("flag") for line in every_one) == 10


def test_what_differs_between_findings_of_a_cause_is_told_with_each() -> None:
    told = "\n".join(lines([of(Severity.STOP, do="write A"), of(Severity.STOP, subject="t", do="write B")]))
    assert "do: write A" in told
    assert "do: write B" in told


def test_a_row_is_told_by_its_point_and_its_sampler() -> None:
    folder = changed(cell(DEPLOYMENTS, "0047103", "hole_restored", "no"))
    found = [finding for finding in survey_findings(folder) if finding.code == "hole-open"]
    out = io.StringIO()
    tell(Console(file=out, width=80), found, row_names(load(folder), found), {})
    assert "(SG-28, sampler 0047103)" in " ".join(out.getvalue().split())


def test_rows_of_the_laboratory_are_told_by_the_point_that_they_are_of() -> None:
    found = [finding for finding in example_findings() if finding.where.row is not None]
    names = row_names(load(changed()), found)
    assert names["lab/results.csv", 172] == "SG-45, sampler 0047108"
    assert names["field/custody.csv", 51] == "bag RB-1"
    assert ("review/comments.csv", 2) not in names


def test_a_row_of_several_samplers_has_no_name() -> None:
    """A laboratory's file with compounds down has a column for each sampler, and one row number for all of them."""
    survey = load(changed())
    results = survey.tables["results"]
    flat = replace(results, frame=results.frame.assign(_row=7))
    finding = of(Severity.STOP, "lab/results.csv", where=Where("lab/results.csv", 7, "value"))
    assert row_names(replace(survey, tables={**survey.tables, "results": flat}), [finding]) == {}


def test_a_file_of_another_name_is_told_before_the_stop_without_asking() -> None:
    folder = changed(content("field/return_bgs.csv", b"bag_id\n"), removed("field/return_bags.csv"))
    told = lines(survey_findings(folder))
    assert "note  file-unknown" in told
    assert told.index("note  file-unknown") < next(at for at, line in enumerate(told) if line.startswith("stop"))


def test_the_decision_on_a_finding_stands_in_place_of_its_key() -> None:
    words = {"disposition": "accepted", "reason": "seen", "by_role": "LR-1"}
    survey = load(changed(row_added(DECISIONS, finding_key="above-calibration:*", **words)))
    found = [finding for finding in example_findings() if finding.code == "above-calibration"]
    out = io.StringIO()
    tell(Console(file=out, width=80), found, {}, dispositions(survey, found))
    assert "decided   above-calibration:*" in out.getvalue()
    assert "key" not in out.getvalue().split()


def test_cases_are_counted_not_entries() -> None:
    assert summary([of(Severity.STOP, count=30), of(Severity.STOP)]) == "findings: 31 stop, 0 hold, 0 flag, 0 note"


def test_a_text_that_would_steer_the_terminal_is_shown_harmless() -> None:
    told = "\n".join(lines([of(Severity.FLAG, "a\x1b[2J.csv", "k\x1b]0;x\x07", found="b\x1b[1m [red]c[/red]")]))
    assert "\x1b" not in told
    assert "[red]c[/red]" in told
