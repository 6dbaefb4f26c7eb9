"""What stands under sums, duplicates and interpolated patterns says what they rest on."""

from __future__ import annotations

from functools import cache

import pytest
from builders import Change, changed, every, load, setting, without, without_features

from sitegen.compute.evaluate import evaluate
from sitegen.report.quality.page import pairs_table
from sitegen.report.record.pages import Prose
from sitegen.report.results.contouring import contour_section, contours_export
from sitegen.report.results.mapdata import ground
from sitegen.report.results.patterns import sums_table as group_sums_table
from sitegen.report.results.relations import sums_table
from sitegen.report.write.context import Context

CONTOURS = setting("contours = false", "contours = true")
RESULTS = "lab/results.csv"


@cache
def context(*changes: Change) -> Context:
    survey = load(changed(*changes))
    return Context(survey, evaluate(survey), ())


def how(*changes: Change) -> str:
    """Return what is said above the interpolated pattern of tetrachloroethene."""
    found = context(CONTOURS, *changes)
    section = contour_section(found, found.compounds["pce"], ground(found))
    assert section is not None
    first = section.blocks[0]
    assert isinstance(first, Prose)
    return first.markdown.replace("\\", "")


def test_a_pattern_says_that_it_is_median_like_where_it_ends_and_what_its_nugget_rests_on() -> None:
    said = how()
    assert "it is median-like" in said
    assert "not a mean" in said
    assert "Nothing is drawn outside the site boundary. 2 usable points outside it are included" in said
    assert "the variance of a single sampler in log10 mass by 17 results of 3 duplicate pairs" in said
    assert "at or above 5 × RL" in said


def test_without_enough_pairs_no_floor_is_claimed() -> None:
    said = how(without("field/deployments.csv", "0047144"))
    assert "Minimum nugget: none from duplicates was available; 2 duplicate pairs have results" in said
    assert "3 are needed (project default, no published source)" in said


def test_without_a_boundary_the_hull_is_named() -> None:
    said = how(without_features("site_boundary"))
    assert "No site boundary is on record: nothing is drawn outside the convex hull of the soil points." in said
    assert "convex hull" in contours_export(context(CONTOURS, without_features("site_boundary")))[0].note
    assert "Limited to the site boundary" in contours_export(context(CONTOURS))[0].note
    assert "median-like" in contours_export(context(CONTOURS))[0].note


def test_results_above_the_calibration_that_make_most_of_a_sum_are_named_under_it() -> None:
    """SS-01: 53,300 of 57,500 ng, SG-35: 11,100 of 13,000 ng, by the example's results."""
    note = sums_table(context()).note
    assert "account for most of the sum at SG-35 (85 %: Tetrachloroethene 11,100 E); SS-01 (93 %:" in note
    assert "over all points" not in note
    groups = group_sums_table(context()).note
    assert "most of the sum of chlorinated ethenes at SG-35 (86 %: Tetrachloroethene 11,100 E); SS-01 (95 %" in groups
    assert "most of the sum of fuel aromatics at SG-47 (66 %: 1,2,4-Trimethylbenzene 10,300 E)" in groups


def test_a_sum_over_all_points_that_rests_on_one_result_says_so() -> None:
    """Without the E values nothing is said; with a run a thousandfold, of all points as well."""
    calm = every(
        RESULTS, lambda row: {"calibration_top": "1e9", "lab_qualifier": row["lab_qualifier"].replace("E", "")}
    )
    assert "calibration" not in sums_table(context(calm)).note
    huge = every(RESULTS, _huge)
    assert "over all points (" in sums_table(context(huge)).note
    assert "Tetrachloroethene at SS-01 900,000 E) and of those at" in sums_table(context(huge)).note


def _huge(row: dict[str, str]) -> dict[str, str]:
    mine = row["lab_sample_id"] == "04417-019" and row["analyte_id"] == "pce"
    value = {"value": "900000", "result_text": "900000"}
    return value if mine else {"calibration_top": "1e9", "lab_qualifier": row["lab_qualifier"].replace("E", "")}


@pytest.mark.parametrize("limit", ["2", "3"])
def test_the_rule_for_one_detection_beside_a_non_detect_is_printed(limit: str) -> None:
    own = setting(
        "[limits.hold_days]",
        f'[limits.duplicate_difference_rl]\nvalue = {limit}\nunit = "× RL"\nsource = "a plan"\nkind = "plan"\n\n'
        "[limits.hold_days]",
    )
    words = f"A detection paired with a non-detect differs where it exceeds {limit} × RL"
    assert words in pairs_table(context(own)).note
