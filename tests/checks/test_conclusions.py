"""Conclusions beside the record: one finding for each claim, exceedance and objective, with a key that stays."""

from __future__ import annotations

from time import process_time

import pytest
from builders import Change, cells, changed, content, example_findings, load, removed, sentence, survey_findings, text
from situations import air_duplicate

from sitegen.checks.conclusions import OVER_A_LEVEL, exceedances_concluded
from sitegen.compute.evaluate import evaluate
from sitegen.findings.problems import Finding

SILENT_SUMMARY = text(
    "text/summary.md",
    "In the indoor air of the occupied office, tetrachloroethene at IA-01 and benzene\n"
    "at IA-01 and IA-02 are above the residential screening level on record. This\n"
    "requires",
    "This requires",
)
SILENT_CONCLUSIONS = text(
    "text/conclusions.md",
    "* In the indoor air of the office, tetrachloroethene at IA-01 and benzene at IA-01 and IA-02 are above\n"
    "  the residential screening level on record. Outdoor air",
    "* Outdoor air",
)
SILENT = (SILENT_SUMMARY, SILENT_CONCLUSIONS)


def findings_of(code: str, *changes: Change) -> list[Finding]:
    return [finding for finding in survey_findings(changed(*changes)) if finding.code == code]


def test_the_example_s_own_text_agrees_with_its_record() -> None:
    for code in ("claim-differs", "exceedance-not-concluded", "exceedance-not-stated", "objective-not-concluded"):
        assert findings_of(code) == []


def test_each_exceedance_that_nothing_is_said_of_holds_the_issue() -> None:
    """The three results that the summary names above a level: two compounds at IA-01, one at IA-02."""
    silent = findings_of("exceedance-not-concluded", *SILENT)
    assert [finding.subject for finding in silent] == ["IA-01+benzene", "IA-01+pce", "IA-02+benzene"]
    assert {finding.severity.value for finding in silent} == {"hold"}
    assert "mentions Benzene with IA-02 or indoor air" in silent[2].found


@pytest.mark.parametrize(
    ("change", "section"),
    [(SILENT_SUMMARY, "summary"), (SILENT_CONCLUSIONS, "conclusions")],
    ids=lambda one: str(one)[:9],
)
def test_an_exceedance_that_one_of_the_two_sections_leaves_out_is_flagged_there(change: Change, section: str) -> None:
    """The other section names all three, so that nothing holds; the section that is silent is told of each."""
    assert findings_of("exceedance-not-concluded", change) == []
    found = findings_of("exceedance-not-stated", change)
    above = ("IA-01+benzene", "IA-01+pce", "IA-02+benzene")
    assert [one.subject for one in found] == [f"{section}+{name}" for name in above]
    assert {(one.severity.value, one.where.file) for one in found} == {("flag", f"text/{section}.md")}
    assert (
        f"no sentence of the {section} names Benzene together with IA-02 or the indoor air of Office" in found[2].found
    )


def test_a_compound_is_stated_with_its_building_and_not_with_its_medium_alone() -> None:
    """The air of the office is that of both points; "indoor air" leaves the building open, and "beside" is no air."""
    by_building = sentence("summary", "In the air of the office, tetrachloroethene and benzene are above their levels.")
    beside = sentence("summary", "Tetrachloroethene and benzene were detected beside the office.")
    by_medium = sentence("summary", "In indoor air, tetrachloroethene and benzene are above their levels.")
    assert findings_of("exceedance-not-stated", SILENT_SUMMARY, by_building) == []
    for other in (beside, by_medium):
        assert len(findings_of("exceedance-not-stated", SILENT_SUMMARY, other)) == 3
    apart = cells(
        "locations/locations.csv", "IA-01", building="", easting="", northing="", plan_easting="", plan_northing=""
    )
    assert [one.subject for one in findings_of("exceedance-not-stated", SILENT_SUMMARY, by_medium, apart)] == [
        "summary+IA-02+benzene"
    ]


def test_a_duplicate_above_a_level_is_no_second_exceedance_of_its_point() -> None:
    """Primary and duplicate at IA-02 lie above the level of benzene, the duplicate alone above that of PCE."""
    survey = load(changed(*SILENT, *air_duplicate(pce="400", benzene="60")))
    subjects = [finding.subject for finding in exceedances_concluded(survey, evaluate(survey))]
    assert len(subjects) == len(set(subjects)) == 4


def test_a_false_claim_in_any_section_holds_with_its_line_and_what_is_so() -> None:
    for section in ("summary", "interpretation", "conclusions", "recommendations"):
        (finding,) = findings_of("claim-differs", sentence(section, "Tetrachloroethene was not detected at SS-01."))
        assert (finding.severity.value, finding.where.file) == ("hold", f"text/{section}.md")
        assert finding.found == (
            "Tetrachloroethene stated to be not detected at SS-01: 53,300 ng per sampler, rank 1 of 41 detections"
        )
        assert finding.key == f"claim-differs:{section}+pce+SS-01+not-detected"


def test_a_false_comparison_shows_both_sides() -> None:
    (finding,) = findings_of("claim-differs", sentence("summary", "PCE is higher at SG-37 than at SG-36."))
    assert (
        "stated to be higher at SG-37 than at SG-36: 120 ng per sampler, rank 27 of 41 detections compared with 6,920"
        in finding.found
    )
    (finding,) = findings_of("claim-differs", sentence("summary", "At SS-01 benzene is higher than tetrachloroethene."))
    assert finding.found.startswith("Benzene stated to be higher than Tetrachloroethene at SS-01: ")


def test_a_claim_of_a_point_without_results_has_nothing_behind_it() -> None:
    (finding,) = findings_of("claim-differs", sentence("conclusions", "Benzene was not detected at SG-21."))
    assert finding.found.endswith("no usable result")


def test_an_objective_is_told_by_its_words_and_line() -> None:
    (finding,) = findings_of(
        "objective-not-concluded", content("text/objectives.md", b"Survey to\n\n1. find mercury\n2. find PCE\n")
    )
    assert (finding.where.row, finding.severity.value) == (3, "flag")
    assert "any of: mercury" in finding.found


def test_words_of_the_template_are_no_objective() -> None:
    """They are told once, as words of the template; beside them a stated objective is told."""
    placeholder = b"TODO: Objectives of the remediation.\n"
    assert findings_of("objective-not-concluded", content("text/objectives.md", placeholder)) == []
    assert len(findings_of("template-text", content("text/objectives.md", placeholder))) == 1
    (finding,) = findings_of(
        "objective-not-concluded", content("text/objectives.md", placeholder + b"Describe the remediation.\n")
    )
    assert finding.where.row == 2


@pytest.mark.parametrize("path", ["reference/uptake_rates.csv", "reference/screening_levels.csv"])
def test_a_level_that_nothing_was_compared_with_is_not_exceeded_in_words(path: str) -> None:
    """The example's texts name levels that are exceeded: without rates, or levels, no record bears that."""
    found = [f for f in survey_findings(changed(removed(path))) if f.code == "level-claimed"]
    assert {(f.where.file, f.severity.value) for f in found} == {
        ("text/conclusions.md", "flag"),
        ("text/recommendations.md", "flag"),
        ("text/summary.md", "flag"),
    }
    assert not [f for f in example_findings() if f.code == "level-claimed"]


def test_a_long_sentence_about_levels_is_read_in_its_own_length() -> None:
    """Many words of comparison without a level: an unbounded reach would take some ten seconds, a bounded one none."""
    began = process_time()
    assert OVER_A_LEVEL.search("above " * 20_000) is None
    assert process_time() - began < 2
    assert OVER_A_LEVEL.search("benzene is above the residential level")
