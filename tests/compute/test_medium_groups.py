"""Soil gas and air are judged apart, pairs count with their results, and what the blank rule gives is summarised."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from builders import Change, cells, changed, load, setting, survey_findings, without, without_rows
from situations import AIR_DUPLICATE, air_duplicate, replacement

from sitegen.compute.evaluate import Evaluation, evaluate
from sitegen.compute.quality import air
from sitegen.compute.quality.blanks import as_nondetects
from sitegen.compute.results import screening
from sitegen.compute.results.concentration import from_mass
from sitegen.compute.statistics.rounding import percent
from sitegen.findings.problems import Finding


@cache
def made(*changes: Change) -> Evaluation:
    return evaluate(load(changed(*changes)))


def told(code: str, *changes: Change) -> dict[str, Finding]:
    return {f.subject: f for f in survey_findings(changed(*changes)) if f.code == code}


def test_a_duplicate_in_air_is_converted_and_compared_like_its_primary() -> None:
    """3,000 ng over 18,716 min at 0.82 mL/min: 195 µg/m³, twenty-four times the residential level of 8."""
    ev = made(*air_duplicate(pce="3000"))
    mine = ev.concentrations["04417-062", "pce"]
    (p,) = [p for p in ev.placements if p.sampler_id == AIR_DUPLICATE]
    # 23 Oct 12:36 CDT to 5 Nov 11:32 CST: 13 days less 64 min, plus the hour that the clocks went back.
    assert p.exposure_min == 13 * 1440 - 64 + 60
    assert mine.ug_m3 == pytest.approx(1000 * 3000 / (0.82 * 18716)) == from_mass(3000, 0.82, 18716)
    above = {(one.level.land_use, one.answer) for one in ev.comparisons if one.concentration == mine}
    assert above == {("residential", screening.ABOVE), ("commercial", screening.ABOVE)}


def test_the_higher_of_a_pair_decides() -> None:
    """IA-02's primary is below 8 µg/m³, its duplicate far above: the point is above, and both are told."""
    ev = made(*air_duplicate(pce="3000"))
    (over,) = [one for one in ev.exceedances if (one.location_id, one.analyte_id) == ("IA-02", "pce")]
    assert over.concentration.lab_sample_id == "04417-062"
    assert [one.lab_sample_id for one in over.others] == ["04417-027"]
    assert not [one for one in made().exceedances if (one.location_id, one.analyte_id) == ("IA-02", "pce")]
    finding = told("above-screening-level", *air_duplicate(pce="3000"))["IA-02+pce"]
    assert "by the duplicate (other results there: 7.7)" in finding.found


def test_a_summary_of_air_counts_duplicates_and_one_of_soil_does_not() -> None:
    """Indoor air: two points, three samplers. Soil keeps one result for each point."""
    ev = made(*air_duplicate(pce="3000"))
    assert (ev.summaries["pce", "indoor_air"].analysed, ev.summaries["pce", "indoor_air"].highest) == (3, 3000.0)
    assert made().summaries["pce", "indoor_air"].analysed == 2
    assert ev.summaries["pce", "soil"] == made().summaries["pce", "soil"]


def test_completeness_is_judged_by_medium_group_too() -> None:
    """46 of 52 soil points is 88.5 %, 3 of 3 in air, 49 of 55 in all 89.1 %: two findings, none for air."""
    found = told("completeness-low")
    assert set(found) == {"survey", "soil"}
    assert "49 of 55 planned points usable" in found["survey"].found
    assert "(89.1 %)" in found["survey"].found
    assert "46 of 52 planned points in soil gas" in found["soil"].found
    # An air sampler with a broken cap: 2 of 3 in air, 67 %.
    broken = told("completeness-low", cells("field/deployments.csv", "0047129", condition="cap_damaged"))
    assert "2 of 3 planned points in air" in broken["air"].found


def test_a_share_near_its_limit_prints_as_many_decimals_as_tell_it_apart() -> None:
    """43 of 48 is 89.6 %, never 90 %; 89,999 of 100,000 is not printed as the limit; far away, whole figures."""
    assert percent(43, 48, 90) == "89.6 %"
    assert percent(43, 48) == "90 %"
    assert percent(89_999, 100_000, 90) == "89.999 %"
    assert percent(9, 10, 90) == "90.0 %"
    assert percent(91, 100, 90) == "91.0 %"
    assert percent(4, 5, 90) == "80 %"


def test_duplicates_count_as_pairs_with_results_against_primaries_with_results() -> None:
    """Three pairs; one whose duplicate was never analysed leaves two of 51 soil points and none of 3 in air."""
    sample = _sample_of("0047108")
    lost = without_rows("lab/results.csv", lambda row: row["lab_sample_id"] == sample)
    rates = {rate.group: (rate.pairs, rate.primaries) for rate in made(lost).duplicate_rates}
    assert rates == {"every": (2, 54), "soil": (2, 51), "air": (0, 3)}
    assert {r.group: (r.pairs, r.primaries) for r in made().duplicate_rates} == {
        "every": (3, 54),
        "soil": (3, 51),
        "air": (0, 3),
    }
    found = told("duplicates-few", lost)
    assert found["survey"].found == "2 pairs with results for 54 primaries with results (4 %)"
    assert found["soil"].found == "2 pairs with results for 51 primaries with results in soil gas (4 %)"


def _sample_of(sampler: str) -> str:
    survey = load(changed())
    rows = survey.frame("lab_samples")
    return str(rows.loc[rows["sampler_id"] == sampler, "lab_sample_id"].iloc[0])


def test_before_any_result_the_pairs_placed_are_counted() -> None:
    """With no results on file three duplicates were placed beside 55 primaries: more than one in twenty."""
    empty = without_rows("lab/results.csv", lambda _: True)
    assert told("duplicates-few", empty) == {}
    few = told("duplicates-few", empty, setting("duplicate_rate = 0.05", "duplicate_rate = 0.1"))
    assert few["survey"].found == "3 pairs installed for 55 primaries installed (5 %)"


def test_a_rule_that_makes_nondetects_changes_frequency_and_percentiles() -> None:
    """Toluene: 25 detections, 14 of them touched by RB-2's blank; under the rule U 11 are left."""
    rule = setting('blank = "five_times_estimate"', 'blank = "five_times_nondetect"')
    ev = made(rule)
    base, ruled = ev.summaries["toluene", "soil"], ev.ruled_summaries["toluene", "soil"]
    assert (base.detected, base.unblanked, ruled.detected) == (25, 11, 11)
    assert ruled.analysed == base.analysed
    assert base == made().summaries["toluene", "soil"]
    assert made().ruled_summaries == {}
    touched = {key for hit in ev.blank_hits for key in hit.touched if key[1] == "toluene"}
    soil = ev.primary[(ev.primary["analyte_id"] == "toluene") & ev.primary["medium"].isin(("soil_gas", "sub_slab"))]
    at = [(s, a) in touched for s, a in zip(soil["lab_sample_id"], soil["analyte_id"], strict=True)]
    kept = np.sort(soil.loc[soil["detected"] & ~np.array(at), "value"].to_numpy())
    assert ruled.highest == kept[-1]


def test_what_the_rule_gives_is_a_nondetect_at_its_limit() -> None:
    """A detection of 30 ng made U at 30 has no value and the limit 30, in ordering and in print."""
    rows = made().primary.iloc[:2]
    key = (rows["lab_sample_id"].iloc[0], rows["analyte_id"].iloc[0])
    changed_rows = as_nondetects(rows, {key: 30.0})
    assert not changed_rows["detected"].iloc[0]
    assert np.isnan(changed_rows["value"].iloc[0])
    assert (changed_rows["lod"].iloc[0], changed_rows["rl"].iloc[0]) == (30.0, 30.0)
    assert changed_rows.iloc[1].equals(rows.iloc[1])


def test_indoor_and_outdoor_air_differ_only_beyond_what_duplicates_disagree_by() -> None:
    """The survey's own air duplicates of toluene are 50 % apart: toluene needs more, benzene more than 30 %."""
    # 410 ng at IA-02 and 246 ng beside it: RPD = 200 * 164 / 656 = 50 %.
    ev = made(*air_duplicate(toluene="246", benzene="24"))
    assert ev.air_margins_pct["toluene"] == pytest.approx(50.0)
    assert ev.air_margins_pct["benzene"] == 30.0
    pair = next(p for p in ev.air_pairs if p.analyte_id == "toluene" and p.indoor_at == "IA-02")
    assert pair.indoor.lab_sample_id == "04417-027"
    assert pair.answer in (air.HIGHER_INDOORS, air.HIGHER_OUTDOORS, air.ALIKE)


def test_a_detection_within_a_tenth_of_a_level_is_near_it() -> None:
    """8.8 and 7.2 are near a level of 8.0, 8.81 is not; a non-detect never is."""
    level = screening.Level("set", "pce", "indoor_air", "", 8.0, "source", "")

    def compared(value: float, *, detected: bool = True) -> screening.Comparison:
        found = air.Concentration("L", "pce", "indoor_air", value, 1.0, detected, None)
        return screening.compare(found, level, 10.0)

    assert [(compared(v).answer, compared(v).near) for v in (8.8, 7.2, 8.81, 7.1)] == [
        (screening.ABOVE, True),
        (screening.AT_OR_BELOW, True),
        (screening.ABOVE, False),
        (screening.AT_OR_BELOW, False),
    ]
    assert not compared(8.0, detected=False).near


def test_a_replaced_sampler_leaves_one_result_for_its_point() -> None:
    """Counts are of points: with the replacement 52 soil points have results, each once."""
    ev = made(*replacement(pce="900"))
    soil = ev.primary[(ev.primary["analyte_id"] == "pce") & ev.primary["medium"].isin(("soil_gas", "sub_slab"))]
    assert len(soil) == soil["location_id"].nunique() == made().summaries["pce", "soil"].analysed + 1


def test_the_example_without_air_points_is_judged_once() -> None:
    """Where one medium group is there, its finding is the survey's: nothing is said twice."""
    gone = [
        without("locations/locations.csv", "IA-01", "IA-02", "OA-01"),
        without("field/deployments.csv", "0047127", "0047128", "0047129"),
    ]
    ev = made(*gone)
    assert [stages.group for stages in ev.completeness.planned_by] == ["soil"]
