"""The drawing of indoor air against levels: what it counts, and when there is none."""

from __future__ import annotations

import byhand_survey as survey

from sitegen.report.record.pages import Figure, Report

RESULTS, LEVELS = "lab/results.csv", "reference/screening_levels.csv"


def pictures(report: Report) -> list[Figure]:
    (page,) = (page for page in report.pages if page.ref.id == "air")
    return [one for one in page.blocks if isinstance(one, Figure)]


def test_a_result_above_two_levels_counts_once() -> None:
    """300 ng are 41 µg/m³, above the levels of both land uses, and one result of two."""
    (figure,) = pictures(survey.report((RESULTS, "L-07,pce,36,36,", "L-07,pce,300,300,")))
    assert "1 of 2 indoor air results is above" in figure.caption
    assert ">41</text>" in figure.svg


def test_a_limit_that_is_below_the_level_is_not_told_as_unknown() -> None:
    """A level of 5 for TCE is above the limit of 0.92."""
    told = "the reporting limit is above a level"
    (before,) = pictures(survey.report())
    (after,) = pictures(survey.report((LEVELS, "tce,indoor_air,residential,0.50", "tce,indoor_air,residential,5.0")))
    assert told in before.description
    assert told not in after.description


def test_an_outdoor_point_is_no_comparison() -> None:
    """With its point outdoors nothing is compared with levels for indoor air, and nothing is drawn."""
    assert pictures(survey.report(("locations/locations.csv", "indoor_air", "outdoor_air"))) == []


def test_without_levels_there_is_no_drawing() -> None:
    """Levels of soil gas alone are compared with nothing."""
    moved = [
        (LEVELS, f"{compound},indoor_air,{use}", f"{compound},crawl_space,{use}")
        for compound, use in (("pce", "residential"), ("pce", "commercial"), ("tce", "residential"))
    ]
    assert pictures(survey.report(*moved)) == []
