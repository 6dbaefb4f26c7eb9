"""The pictures of the quality review: what they count, in which order they draw, and when there are none."""

from __future__ import annotations

import re

import byhand_survey as survey

from sitegen.report.record.pages import Block, Figure, Report, Section

RESULTS = "lab/results.csv"


def pictures(report: Report, start: str) -> list[Figure]:
    (page,) = (page for page in report.pages if page.ref.id == "quality")
    return [one for one in _figures(page.blocks) if one.id.startswith(start)]


def _figures(blocks: tuple[Block, ...]) -> list[Figure]:
    own = [block for block in blocks if isinstance(block, Figure)]
    return own + [one for block in blocks if isinstance(block, Section) for one in _figures(block.blocks)]


def labels(figure: Figure) -> list[str]:
    """Return the texts that are turned by a quarter, which are the labels of samples."""
    return re.findall(r'<text[^>]*font-size="8.5"[^>]*>([^<]*)</text>', figure.svg)


def test_samples_of_a_bag_are_drawn_by_retrieval_and_those_of_a_batch_by_analysis() -> None:
    """In bag RB-1 SG-2 was retrieved last; taken out before SG-1 it is drawn first, and batch B2 stays as it is."""
    (before,) = pictures(survey.report(), "blank-samples")
    changed = ("field/deployments.csv", "2025-11-06T11:06", "2025-11-06T10:06")
    (after,) = pictures(survey.report(changed), "blank-samples")
    batch = ["SG-3", "SG-5", "IA-1", "SG-4"]
    assert labels(before) == ["SG-1", "SG-1-D", "SG-2", *batch, "SG-1", "SG-1-D", "SG-2"]
    assert labels(after) == ["SG-2", "SG-1", "SG-1-D", *batch, "SG-2", "SG-1", "SG-1-D"]


def test_a_blank_that_affects_nothing_is_not_drawn() -> None:
    """5 ng in the trip blank reach up to 25, and no result of its bag is that low."""
    (figure,) = pictures(survey.report((RESULTS, "L-09,pce,32,32,", "L-09,pce,5,5,")), "blank-samples")
    assert "Tetrachloroethene" not in figure.description
    assert "2 of 5 detections" in figure.caption


def test_a_blank_in_no_bag_is_not_drawn_against_any_sample() -> None:
    """Where no bag names the trip blank nothing is known of what it applies to."""
    (figure,) = pictures(survey.report(("field/return_bags.csv", "RB-1,0111,", "RB-1,NA,")), "blank-samples")
    assert "TB-1" not in figure.description


CONTROLS, SAMPLES = "lab/lab_qc.csv", "lab/lab_samples.csv"


def test_recoveries_outside_are_counted_over_those_with_limits() -> None:
    """A second surrogate at 140 % is outside as well; the controls are counted by themselves."""
    (before,) = pictures(survey.report(), "control-charts")
    (after,) = pictures(
        survey.report((CONTROLS, "L-01,surrogate,Toluene-d8,97,", "L-01,surrogate,Toluene-d8,140,")), "control-charts"
    )
    assert "Surrogate recoveries: 1 of 8 outside" in before.caption
    assert "Surrogate recoveries: 2 of 8 outside" in after.caption
    assert "Control samples and calibration checks: 0 of 2 outside" in after.caption
    assert "L-01 Toluene-d8 140 %" in after.description


def test_runs_are_drawn_by_their_time_and_not_by_their_place_in_the_file() -> None:
    """L-06 is out of its limits: analysed a day earlier than the rest of its batch it moves to the left."""

    def place(figure: Figure) -> float:
        found = re.search(r'<text x="([\d.]+)"[^>]*>L-06</text>', figure.svg)
        assert found
        return float(found[1])

    (before,) = pictures(survey.report(), "control-charts")
    (after,) = pictures(survey.report((SAMPLES, "2025-11-21T10:15", "2025-11-18T10:15")), "control-charts")
    assert place(after) < place(before)


def test_a_recovery_without_a_time_of_analysis_is_counted_and_not_drawn() -> None:
    """The chart says how many it leaves out."""
    (figure,) = pictures(survey.report((SAMPLES, "2025-11-21T10:15", "NA")), "control-charts")
    assert "1 recovery without a time of analysis on record is not drawn" in figure.description
    assert "0 of 7 outside" in figure.caption


def test_results_of_pairs_are_drawn_by_the_multiple_of_the_larger_limit() -> None:
    """Without a limit at the duplicate PCE has no place; the sentence counts it, and three results are drawn."""
    (before,) = pictures(survey.report(), "duplicate-limits")
    (after,) = pictures(
        survey.report((RESULTS, "L-02,pce,480,480,ng,10,", "L-02,pce,480,480,ng,,")), "duplicate-limits"
    )
    assert "1 of 4 compound results in 1 pair differs" in before.caption
    assert "1 of 3 compound results in 1 pair differs" in after.caption
    assert "1 result without a reporting limit on record" in after.description
    assert "without a reporting limit" not in before.description


def test_completeness_counts_planned_points_by_medium_and_not_those_added() -> None:
    """With SG-5 planned one point more is counted, in soil, and none is left to be told as added."""
    (before,) = pictures(survey.report(), "completeness-stages")
    (after,) = pictures(survey.report(("locations/locations.csv", "added", "grid")), "completeness-stages")
    assert "5 of 8 planned points have results, and 3 are usable" in before.caption
    assert "6 of 9 planned points have results, and 4 are usable" in after.caption
    assert "1 point added in the field is not included" in before.description
    assert "added" not in after.description
