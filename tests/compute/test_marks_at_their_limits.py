"""Marks, verdicts and states at the limit where they begin, and just before it, worked by hand."""

from __future__ import annotations

import pandas as pd
import pytest
from builders import Row, changed, load, settings_added
from journeys import folder

from sitegen.compute.evaluate import evaluate
from sitegen.compute.field.exposure import IN_PLACE, LOST, NOT_RETRIEVED, RETRIEVED, placements
from sitegen.compute.field.reconcile import Fates, count_fates
from sitegen.compute.limits import DEFAULTS
from sitegen.compute.quality.blanks import blank_rule, propose
from sitegen.compute.quality.duplicates import (
    AGREES,
    DIFFERENCE,
    DIFFERS,
    ONE_DETECTED,
    RPD,
    DuplicateRate,
    compare,
    duplicate_rates,
)
from sitegen.compute.quality.overrange import resting
from sitegen.compute.results.concentration import Concentration
from sitegen.compute.results.screening import ABOVE, AT_OR_BELOW, CANNOT_TELL, Level, exceedances
from sitegen.compute.results.screening import compare as beside
from sitegen.project.survey import Survey

IN_FORCE = {limit.name: limit for limit in DEFAULTS}
PLAN = "[plan.depth]\nvalue = 1.0\nunit = 'm'"


def survey_of(settings: str = "", **tables: list[Row]) -> Survey:
    return load(changed(settings_added(settings), folder=folder(tables)))


def in_ground(*exposures: str, **others: str) -> list[Row]:
    """Return samplers placed on 2 June at 08:00, with the times at which they came out."""
    return [
        {"sampler_id": f"S-{n}", "location_id": "P-1", "placed_at": "2025-06-02T08:00", "retrieved_at": out,
         "condition": "intact"} | others
        for n, out in enumerate(exposures, start=1)
    ]  # fmt: skip


def codes(settings: str, rows: list[Row], medium: str = "soil_gas") -> dict[str, list[str]]:
    """Return the codes of each sampler's own marks."""
    roster = [{"sampler_id": row["sampler_id"], "kind": "sample"} for row in rows]
    places = [{"location_id": "P-1", "medium": medium}]
    marks = evaluate(survey_of(settings, samplers=roster, locations=places, deployments=rows)).marks.by_sampler
    return {name: [mark.code for mark in some if mark.scope == "sampler"] for name, some in marks.items()}


@pytest.mark.parametrize(
    ("out", "marked"),
    [
        ("2025-06-09T08:00", False),
        ("2025-06-09T07:59", True),
        ("2025-06-16T08:00", False),
        ("2025-06-16T08:01", True),
    ],
)
def test_an_exposure_of_seven_days_or_of_fourteen_is_within_the_plan(out: str, *, marked: bool) -> None:
    """A minute less, or a minute more, is not."""
    assert codes("", in_ground(out)).get("S-1", []) == ["exposure-out-of-plan"] * marked


@pytest.mark.parametrize(("out", "marked"), [("2025-06-13T08:00", False), ("2025-06-13T08:01", True)])
def test_an_exposure_is_within_a_tenth_of_the_median(out: str, *, marked: bool) -> None:
    """Three samplers were out for 10 days: 11 days are 10 % more, the limit itself."""
    usual = "2025-06-12T08:00"
    assert codes("", in_ground(usual, usual, usual, out)).get("S-4", []) == ["exposure-off-median"] * marked


def test_what_did_not_come_back_has_no_mark_of_its_own() -> None:
    """Six days, and a depth off the plan, of a sampler that was not recovered."""
    assert codes(PLAN, in_ground("2025-06-08T08:00", depth_m="2", condition="not_recovered")).get("S-1", []) == []


@pytest.mark.parametrize(
    ("depth", "medium", "expected"),
    [
        ("1.15", "soil_gas", []),
        ("1.16", "soil_gas", ["depth-off-plan"]),
        ("0.85", "soil_gas", []),
        ("0.84", "soil_gas", ["depth-off-plan"]),
        ("0.84", "sub_slab", []),
        ("", "soil_gas", []),
    ],
)
def test_a_depth_is_within_15_cm_of_the_plan(depth: str, medium: str, expected: list[str]) -> None:
    """1.00 m ± 0.15 m in soil gas; a slab has a thickness of its own, and a refused hole is told as refused."""
    assert codes(PLAN, in_ground("2025-06-12T08:00", depth_m=depth), medium).get("S-1", []) == expected
    refused = in_ground("2025-06-12T08:00", depth_m=depth, refusal="yes")
    assert codes(PLAN, refused, medium)["S-1"] == ["hole-refused"]


@pytest.mark.parametrize(
    ("condition", "code"),
    [
        ("water_inside", "water-in-sampler"),
        ("cap_damaged", "cap-damaged"),
        ("glass_damaged", "glass-damaged"),
        ("soil_inside", "soil-in-sampler"),
        ("disturbed", "sampler-disturbed"),
    ],
)
def test_a_condition_other_than_intact_is_a_mark(condition: str, code: str) -> None:
    assert codes("", in_ground("2025-06-12T08:00", condition=condition))["S-1"] == [code]


@pytest.mark.parametrize(
    ("placed", "out", "condition", "outcome", "state"),
    [
        ("2025-12-17T08:00", "", "", "", IN_PLACE),
        ("2025-12-16T23:59", "", "", "", NOT_RETRIEVED),
        ("2025-12-17T08:00", "2025-12-24T08:00", "", "", RETRIEVED),
        ("2025-12-17T08:00", "2025-12-24T08:00", "not_recovered", "", LOST),
        ("2025-12-17T08:00", "", "", "lost", LOST),
    ],
)
def test_a_sampler_is_in_place_until_its_longest_exposure_ends(
    placed: str, out: str, condition: str, outcome: str, state: str
) -> None:
    """14 days from 17 December end with the day of the report, the 31st."""
    row = {"sampler_id": "S-1", "location_id": "P-1", "placed_at": placed, "retrieved_at": out, "condition": condition}
    roster = [{"sampler_id": "S-1", "kind": "sample", "outcome": outcome}]
    (placement,) = placements(survey_of(samplers=roster, deployments=[row]))
    assert placement.state == state


# --- duplicates --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("a", "b", "measure", "figure", "verdict"),
    [
        (50.0, 50.0, RPD, 0.0, AGREES),
        (49.9, 500.0, DIFFERENCE, 450.1, DIFFERS),
        (115.0, 85.0, RPD, 30.0, AGREES),
        (115.1, 84.9, RPD, 30.2, DIFFERS),
        (20.0, 40.0, DIFFERENCE, 20.0, AGREES),
        (20.0, 40.1, DIFFERENCE, 20.1, DIFFERS),
        (20.0, None, ONE_DETECTED, 20.0, AGREES),
        (None, 20.1, ONE_DETECTED, 20.1, DIFFERS),
    ],
)
def test_a_pair_agrees_at_its_limit_and_differs_beyond(
    a: float | None, b: float | None, measure: str, figure: float, verdict: str
) -> None:
    """RL 10: RPD of at most 30 % from 5 × RL on, below that a difference of at most 2 × RL."""
    assert compare(a, b, 10.0, IN_FORCE) == (measure, pytest.approx(figure), verdict)


@pytest.mark.parametrize(
    ("a", "b", "rl", "verdict"),
    [
        (0.7, 1.1, 0.2, AGREES),
        (0.7, 1.11, 0.2, DIFFERS),
        (5.1, 6.9, 1.0, AGREES),
        (5.1, 6.91, 1.0, DIFFERS),
    ],
)
def test_a_pair_at_its_limit_agrees_whatever_the_digits_of_a_binary_fraction(
    a: float, b: float, rl: float, verdict: str
) -> None:
    """1.1 − 0.7 is 0.4, 2 × 0.2; 200 × 1.8 / 12 is 30: in binary fractions either is a little more."""
    assert compare(a, b, rl, IN_FORCE)[2] == verdict


@pytest.mark.parametrize(("result", "qualifier"), [(0.45, "J+"), (0.4501, "")])
def test_a_result_of_five_times_a_blank_is_within_the_rule(result: float, qualifier: str) -> None:
    """5 × 0.09 = 0.45; under the rule with two ratios a common contaminant has ten times, 0.9."""
    five = blank_rule("five_times_estimate", IN_FORCE)
    assert propose(five, result, 0.01, 0.09).qualifier == qualifier
    ten = blank_rule("five_ten_times", IN_FORCE)
    assert propose(ten, 2 * result, 0.01, 0.09, common=True).qualifier == ("U" if qualifier else "")
    assert propose(ten, 2 * result, 0.01, 0.09).qualifier == ""
    frame = [("trip_blank", "L-0", 0.09), ("sample", "L-1", result)]
    survey = survey_of(
        samplers=[{"sampler_id": "S-0", "kind": "trip_blank"}, {"sampler_id": "S-1", "kind": "sample"}],
        locations=[{"location_id": "P-1", "medium": "soil_gas"}],
        deployments=in_ground("2025-06-12T08:00", bag_id="B-1"),
        return_bags=[{"bag_id": "B-1", "trip_blank_id": "S-0"}],
        analytes=[{"analyte_id": "pce", "name": "PCE", "cas": "127-18-4"}],
        lab_samples=[
            {"lab_sample_id": name, "sampler_id": f"S-{name[-1]}", "type": kind} for kind, name, _ in frame
        ],
        results=[
            {"lab_sample_id": name, "analyte_id": "pce", "value": f"{value}", "unit": "ng", "rl": "0.05"}
            for _, name, value in frame
        ],
    )  # fmt: skip
    (hit,) = evaluate(survey).blank_hits
    assert hit.touched == ((("L-1", "pce"),) if qualifier else ())


@pytest.mark.parametrize(
    ("pairs", "primaries", "short"), [(1, 10, False), (0, 10, True), (1, 11, True), (2, 20, False)]
)
def test_a_pair_for_every_ten_primaries_is_enough(pairs: int, primaries: int, *, short: bool) -> None:
    """0.1 × 10 is 1, whatever the digits of a binary fraction."""
    assert DuplicateRate("every", pairs, primaries).short_of(0.1) is short
    assert not DuplicateRate("every", 3, 30).short_of(0.1)


def test_rates_are_given_of_the_survey_and_of_the_groups_that_have_results() -> None:
    """Two points of soil and no air, then with an air point; a rejected result makes none."""
    rows = [("P-1", "soil_gas", False), ("P-2", "sub_slab", False), ("P-3", "indoor_air", True)]
    frame = pd.DataFrame(rows, columns=["location_id", "medium", "rejected"])
    assert duplicate_rates((), frame) == (DuplicateRate("every", 0, 2), DuplicateRate("soil", 0, 2))
    every, soil, air = duplicate_rates((), frame.assign(rejected=False))
    assert (every.primaries, soil.primaries, air.primaries) == (3, 2, 1)


# --- sums and levels ---------------------------------------------------------------------------


def measured(*values: tuple[float, float, str]) -> pd.DataFrame:
    """Return detections at a point: value, top of the calibration, the laboratory's qualifier."""
    rows = [
        {"location_id": "P", "lab_sample_id": "L", "analyte_id": f"a{n}", "value": value, "calibration_top": top,
         "lab_qualifier": mark, "detected": True, "rejected": False, "unit": "ng"}
        for n, (value, top, mark) in enumerate(values)
    ]  # fmt: skip
    return pd.DataFrame(rows)


def test_a_sum_rests_on_what_makes_more_than_half_of_it() -> None:
    """60 above the calibration beside 60, then beside 59: 60 of 119 are 50.4 %; at the top itself none is above."""
    assert resting(measured((60.0, 50.0, ""), (60.0, 100.0, ""))) is None
    found = resting(measured((60.0, 50.0, ""), (59.0, 100.0, "")))
    assert found is not None
    assert (found.share, found.results) == (pytest.approx(60 / 119), (("P", "L", "a0"),))
    assert resting(measured((60.0, 60.0, ""), (59.0, 100.0, ""))) is None


def test_several_results_together_and_the_laboratory_s_own_mark_count_the_highest_first() -> None:
    """30 and 40 of 100; the 40 by its E alone, and BE is another mark."""
    found = resting(measured((30.0, 20.0, "J"), (40.0, 50.0, "J, E"), (30.0, 50.0, "BE")))
    assert found is not None
    assert (found.share, found.results) == (pytest.approx(0.7), (("P", "L", "a1"), ("P", "L", "a0")))


def of_air(value: float, sample: str = "L-1", *, detected: bool = True) -> Concentration:
    """Return a concentration in indoor air, or (not detected) its reporting limit."""
    shown = (value, 0.5) if detected else (float("nan"), value)
    return Concentration(sample, "pce", "indoor_air", *shown, detected, None)


EIGHT = Level("EX", "pce", "indoor_air", "residential", 8.0, "invented", "2025-01-01")


@pytest.mark.parametrize(
    ("value", "detected", "answer", "near"),
    [
        (8.0, True, AT_OR_BELOW, True),
        (8.01, True, ABOVE, True),
        (8.8, True, ABOVE, True),
        (8.81, True, ABOVE, False),
        (7.2, True, AT_OR_BELOW, True),
        (7.19, True, AT_OR_BELOW, False),
        (8.0, False, AT_OR_BELOW, False),
        (8.01, False, CANNOT_TELL, False),
    ],
)
def test_a_level_is_exceeded_beyond_itself_and_near_within_a_tenth(
    value: float, answer: str, *, detected: bool, near: bool
) -> None:
    """A level of 8 µg/m³; a non-detect is compared by its limit and has no ratio."""
    found = beside(of_air(value, detected=detected), EIGHT, 10.0)
    assert (found.answer, found.near) == (answer, near)
    assert found.ratio == (pytest.approx(value / 8) if detected else None)


def test_of_two_results_at_a_point_the_highest_detection_decides() -> None:
    """9 and 12 detected, and a limit of 20; below the level there is no exceedance at all."""
    nine, twelve, limit = of_air(9, "L-1"), of_air(12, "L-2"), of_air(20, "L-3", detected=False)
    places = {"L-1": "P-1", "L-2": "P-1", "L-3": "P-1", "L-4": "P-2"}
    compared = [beside(one, EIGHT, 10.0) for one in (nine, limit, twelve, of_air(8, "L-4"))]
    (found,) = exceedances(compared, places)
    assert (found.location_id, found.analyte_id, found.concentration) == ("P-1", "pce", twelve)
    assert found.others == (nine, limit)


# --- what became of samplers -------------------------------------------------------------------


def test_each_sampler_sent_is_counted_once_by_the_first_that_is_on_record() -> None:
    """S-1 in a bag, S-2 its trip blank, S-3 lost by its row, S-4 by the field, S-5 destroyed, S-6 in place.

    S-7 came back unused, S-8 was at the laboratory, S-9 is a field blank without a bag; a bag counts before an outcome.
    """
    kinds = dict.fromkeys((f"S-{n}" for n in range(1, 10)), "sample") | {"S-2": "trip_blank", "S-9": "field_blank"}
    outcomes = {"S-1": "lost", "S-3": "lost", "S-5": "destroyed", "S-7": "returned_unused"}
    placed = {"S-1": "2025-06-10T08:00", "S-4": "", "S-6": "", "S-9": ""}
    survey = survey_of(
        samplers=[{"sampler_id": n, "kind": kind, "outcome": outcomes.get(n, "")} for n, kind in kinds.items()],
        deployments=[
            {"sampler_id": name, "location_id": "P-1", "placed_at": "2025-12-20T08:00", "retrieved_at": out,
             "condition": "not_recovered" if name == "S-4" else ""}
            for name, out in placed.items()
        ],
        return_bags=[{"bag_id": "B-1", "trip_blank_id": "S-2"}],
        lab_samples=[{"lab_sample_id": "L-8", "sampler_id": "S-8", "type": "sample"}],
    )  # fmt: skip
    found = count_fates(survey, {"S-1": "B-1", "S-2": "B-1"}, placements(survey))
    assert found == Fates(
        sent=9, bagged=1, trip_blanks=1, outside={"sample": 2}, lost=2, destroyed=1, in_place=1, unknown=1, bags=1
    )
    assert found.back == 4
