"""What is said of a detection in a blank agrees with itself, keeps its qualifier, and asks for what can be done."""

from __future__ import annotations

import pytest
from builders import cell, cells, changed, example_findings, setting, survey_findings

from sitegen.findings.problems import Finding, Severity

RESULTS = "lab/results.csv"
MECL2, TOLUENE = "trip-blank-detection:04417-029+mecl2", "trip-blank-detection:04417-059+toluene"


def finding_of(found: tuple[Finding, ...], key: str) -> Finding:
    return next(finding for finding in found if finding.key == key)


def test_a_detection_below_the_limit_is_not_held_against_the_limit() -> None:
    """9.0 J of methylene chloride, RL 25: the J stays, and what is expected is no detection, not less than 25."""
    finding = finding_of(example_findings(), MECL2)
    assert finding.found == (
        "9.0 J ng per sampler of Methylene chloride in TB-1; of 28 samples, 4 have a detection "
        "of at most 5 times the blank"
    )
    assert finding.expected == "no detection in a blank"
    assert finding.severity is Severity.FLAG
    assert len(finding.touches) == 4


def test_a_blank_that_marks_nothing_is_a_note_and_asks_for_no_reading() -> None:
    """2.6 of toluene in TB-2: no detection of its bag is at most 13, so there is none to be read with care."""
    change = cells(RESULTS, "04417-059+toluene", value="2.6", result_text="2.6", lab_qualifier="J")
    finding = finding_of(survey_findings(changed(change)), TOLUENE)
    assert finding.severity is Severity.NOTE
    assert finding.touches == ()
    assert "2.6 J ng per sampler" in finding.found
    assert "none has a detection of at most 5 times the blank" in finding.found
    assert "detections" not in finding.do.replace("no detection of its samples", "")


def test_a_blank_without_a_bag_asks_for_its_bag() -> None:
    """TB-2 named by no bag: what it is a blank for is asked for, and it stays a flag."""
    change = cell("field/return_bags.csv", "RB-2", "trip_blank_id", "")
    finding = finding_of(survey_findings(changed(change)), TOLUENE)
    assert finding.severity is Severity.FLAG
    assert "no record of its bag" in finding.found
    assert "record the bag that the blank applies to" in finding.do


@pytest.mark.parametrize("rule", ["five_times_estimate", "five_times_nondetect", "mark_only"])
def test_the_multiple_told_is_the_rules(rule: str) -> None:
    """Each of the five-times rules tells 5 ×, whatever it proposes."""
    change = setting('blank = "five_times_estimate"', f'blank = "{rule}"')
    assert "at most 5 times the blank" in finding_of(survey_findings(changed(change)), TOLUENE).found
