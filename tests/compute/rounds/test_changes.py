"""What became of a compound at a point: each kind and each reason, worked by hand from two small folders."""

from __future__ import annotations

import pytest
from builders import Change, cells, settings_added, table
from tworounds import At, a_round

from sitegen.compute.evaluate import Evaluation
from sitegen.compute.rounds.changes import REASONS, PointChange, RoundChange, round_change
from sitegen.project.reads import reading


def change(before: str | None, after: str | None, *, medium: str = "soil_gas") -> PointChange:
    """Return what became of tetrachloroethene at a point, with a second compound so that every sampler has one."""
    rounds = [
        a_round(
            At("P-1", medium=medium, tce="<10", **({} if said is None else {"pce": said})), At("P-2", x=50, pce="7")
        )
        for said in (before, after)
    ]
    found = [p for p in round_change(*rounds).points if (p.location_id, p.analyte_id) == ("P-1", "pce")]
    assert len(found) == 1
    return found[0]


@pytest.mark.parametrize(
    ("before", "after", "kind", "factor"),
    [
        ("100", "301", "grew", 3.01),
        ("100", "300", "within", 3.0),  # the default factor is 3, and a change of 3 is not beyond it
        ("100", "110", "within", 1.1),
        ("300", "100", "within", 1 / 3),
        ("301", "100", "shrank", 100 / 301),
        ("0.7", "2.1", "within", 3.0),  # 2.1 / 0.7 is a little more than 3 in binary fractions
        ("0.5 ug", "2 ug", "grew", 4.0),
        ("0.5 ug", "2000", "grew", 4.0),  # 500 ng to 2,000 ng
        ("2000", "0.5 ug", "shrank", 0.25),
        ("100 ug/m3", "500 ug/m3", "grew", 5.0),
    ],
)
def test_two_detections_have_a_factor(before: str, after: str, kind: str, factor: float) -> None:
    """Later by earlier in one unit, judged by the default spread of 3 as there are no duplicates."""
    found = change(before, after)
    assert (found.kind, found.reason, found.below_limit) == (kind, "", False)
    assert found.factor == pytest.approx(factor, rel=1e-12)


@pytest.mark.parametrize(
    ("before", "after", "kind", "below", "order"),
    [
        ("<10", "40", "appeared", False, 1),
        ("<10", "10", "appeared", False, 1),  # at the limit the order is certain
        ("<10", "6/5", "appeared", True, 0),  # below the earlier reporting limit
        ("<50", "40", "appeared", True, 0),  # the earlier round had a higher limit
        ("40", "<10", "vanished", False, -1),
        ("40", "<50", "vanished", True, 0),
        ("40", "<0.05 ug", "vanished", True, 0),  # 50 ng
        ("40", "<0.04 ug", "vanished", False, -1),
        ("<10", "<50", "neither", False, 0),
    ],
)
def test_a_nondetect_has_no_factor_and_an_order_only_against_a_detection_at_its_limit(
    before: str, after: str, kind: str, order: int, *, below: bool
) -> None:
    """Censored cases by hand, RL against detection."""
    found = change(before, after)
    assert (found.kind, found.factor, found.below_limit, found.order) == (kind, None, below, order)


def test_a_nondetect_without_a_limit_on_record_tells_no_order() -> None:
    """Detected later, not detected before, at a limit that nobody knows: it appeared, and no change can be told."""
    unlimited = cells("lab/results.csv", "L-S-P-1+pce", rl="", mdl="")
    (found,) = round_change(a_round(At("P-1", pce="<10"), changes=(unlimited,)), a_round(At("P-1", pce="4000"))).points
    assert (found.kind, found.below_limit, found.order) == ("appeared", True, 0)


def test_where_only_an_mdl_is_on_record_it_is_the_limit() -> None:
    """ND with an MDL of 3 and no RL, then 4 ng."""
    only_mdl = cells("lab/results.csv", "L-S-P-1+pce", rl="", mdl="3")
    before = a_round(At("P-1", pce="<10"), changes=(only_mdl,))
    assert [p.below_limit for p in round_change(before, a_round(At("P-1", pce="4"))).points] == [False]
    assert [p.below_limit for p in round_change(before, a_round(At("P-1", pce="2"))).points] == [True]


def test_the_reporting_limit_decides_where_both_limits_are_on_record() -> None:
    """ND with an MDL of 3 and an RL of 10: 5 ng later lie below the limit that the earlier round reported to."""
    both = cells("lab/results.csv", "L-S-P-1+pce", mdl="3")
    (found,) = round_change(a_round(At("P-1", pce="<10"), changes=(both,)), a_round(At("P-1", pce="5"))).points
    assert (found.kind, found.below_limit) == ("appeared", True)


@pytest.mark.parametrize(
    ("before", "after", "reason"),
    [
        (None, "100", "no_result_before"),
        ("100", None, "no_result_after"),
        ("100 R", "100", "rejected"),
        ("100", "<10 R", "rejected"),
        ("100", "100 ug/m3", "unit"),
        ("100", "0", "no_value"),
    ],
)
def test_what_is_not_compared_says_why(before: str | None, after: str | None, reason: str) -> None:
    """Each reason alone."""
    found = change(before, after)
    assert (found.kind, found.reason, found.factor) == ("not_comparable", reason, None)
    assert found.reason in REASONS
    assert (found.before is None, found.after is None) == (before is None, after is None)


def test_a_mass_in_air_is_compared_with_nothing() -> None:
    """Without an uptake rate a mass of an air sampler is no concentration, and the exposures may differ."""
    assert change("100", "100", medium="indoor_air").reason == "no_concentration"
    found = change("100 ug/m3", "400 ug/m3", medium="indoor_air")
    assert (found.kind, found.factor, found.quantity) == ("grew", 4.0, "concentration")


RATE = table(
    "reference/uptake_rates.csv",
    lambda rows: [
        *rows,
        {"sampler_type": "T", "analyte_id": "pce", "medium": "indoor_air", "rate_ml_min": "0.5", "source_title": "X",
         "source_date": "2020-01-01"},
    ],
    "sampler_type", "analyte_id", "medium", "rate_ml_min", "source_title", "source_date",
)  # fmt: skip
TYPED = table("field/samplers.csv", lambda rows: [row | {"sampler_type": "T"} for row in rows], "sampler_type")


def test_air_is_compared_by_concentrations_of_its_exposures() -> None:
    """100 ng in 8 d against 100 ng in 4 d: the same mass of half the time is twice the concentration."""
    long = At("A-1", medium="indoor_air", pce="100")
    short = At("A-1", medium="indoor_air", pce="100", taken="2025-06-06T08:00")
    found = round_change(a_round(long, changes=(RATE, TYPED)), a_round(short, changes=(RATE, TYPED)))
    (point,) = found.points
    assert (point.factor, point.quantity) == (pytest.approx(2.0), "concentration")
    assert found.compounds == ()
    assert [(c.analyte_id, c.higher) for c in found.air_compounds] == [("pce", 1)]
    assert found.air_spread is not None
    assert found.air_spread.rule == "default"


def typed(name: str) -> Change:
    """Give every sampler a type."""
    return table("field/samplers.csv", lambda rows: [row | {"sampler_type": name} for row in rows], "sampler_type")


def test_masses_of_two_types_of_sampler_are_not_compared() -> None:
    """They take up at different rates; where a type is not on record nothing contradicts, and air has its rates."""
    before, after = At("P-1", pce="100"), At("P-1", pce="500")
    told = {
        (first, second): round_change(
            a_round(before, changes=(typed(first),)), a_round(after, changes=(typed(second),))
        ).points[0].reason
        for first, second in (("T", "T"), ("T", "W"), ("", "W"), ("T", ""))
    }  # fmt: skip
    assert told == {("T", "T"): "", ("T", "W"): "sampler_type", ("", "W"): "", ("T", ""): ""}
    air = [At("A-1", medium="indoor_air", pce=f"{mass} ug/m3") for mass in (1, 9)]
    (point,) = round_change(a_round(air[0], changes=(typed("T"),)), a_round(air[1], changes=(typed("W"),))).points
    assert (point.kind, point.factor) == ("grew", 9)


def test_soil_and_air_are_counted_apart() -> None:
    """One soil point and one air point with tetrachloroethene."""
    rounds = [
        a_round(At("P-1", pce=mass), At("A-1", x=9, medium="outdoor_air", pce=f"{mass} ug/m3")) for mass in ("10", "99")
    ]
    found = round_change(*rounds)
    assert [(c.analyte_id, c.higher) for c in found.compounds] == [("pce", 1)]
    assert [(c.analyte_id, c.higher) for c in found.air_compounds] == [("pce", 1)]
    assert len(found.points) == 2


def test_lists_that_differ_are_told_from_points_without_a_result() -> None:
    """Benzene was analysed for before alone, vinyl chloride after alone, trichloroethene lacks at one point."""
    before = a_round(At("P-1", pce="10", benzene="10", tce="10"), At("P-2", x=50, pce="10", tce="10"))
    after = a_round(At("P-1", pce="10", vc="10"), At("P-2", x=50, pce="10", vc="<10", tce="10"))
    told = {(p.location_id, p.analyte_id): p.reason for p in round_change(before, after).points}
    assert told == {
        ("P-1", "pce"): "", ("P-2", "pce"): "", ("P-2", "tce"): "", ("P-1", "tce"): "no_result_after",
        ("P-1", "vc"): "not_analysed_before", ("P-2", "vc"): "not_analysed_before",
        ("P-1", "benzene"): "not_analysed_after",
    }  # fmt: skip


def test_a_compound_listed_in_both_but_analysed_in_one_round_alone_was_not_analysed_in_the_other() -> None:
    """Two rounds of one folder share a list."""
    before = a_round(At("P-1", pce="10"), cas=(("vc", "75-01-4"),))
    told = {p.analyte_id: p.reason for p in round_change(before, a_round(At("P-1", pce="10", vc="10"))).points}
    assert told == {"pce": "", "vc": "not_analysed_before"}


def test_compounds_are_matched_by_cas_where_their_ids_differ() -> None:
    """The earlier folder calls tetrachloroethene perc; it is told under the later id."""
    before = a_round(At("P-1", perc="100"), cas=(("perc", "127-18-4"),))
    (found,) = round_change(before, a_round(At("P-1", pce="1000"))).points
    assert (found.analyte_id, found.factor) == ("pce", 10)
    assert found.before is not None
    assert found.before.analyte_id == "perc"


def test_one_id_with_two_cas_numbers_is_not_one_compound() -> None:
    """The id dce is the cis isomer in one folder and the trans isomer in the other."""
    before = a_round(At("P-1", dce="100"), cas=(("dce", "156-59-2"),))
    (found,) = round_change(before, a_round(At("P-1", dce="100"), cas=(("dce", "156-60-5"),))).points
    assert found.reason == "compound"
    crossed = a_round(At("P-1", dce="100", cis="500"), cas=(("dce", "156-60-5"), ("cis", "156-59-2")))
    told = {p.analyte_id: (p.factor, p.reason) for p in round_change(before, crossed).points}
    assert told == {"cis": (5.0, ""), "dce": (None, "not_analysed_before")}


def test_of_two_ids_with_one_cas_number_the_first_listed_is_taken() -> None:
    """The earlier folder lists tetrachloroethene twice; the second one has no partner."""
    before = a_round(At("P-1", a="100", b="300"), cas=(("a", "127-18-4"), ("b", "127-18-4")))
    told = {p.analyte_id: (p.factor, p.reason) for p in round_change(before, a_round(At("P-1", pce="500"))).points}
    assert told == {"pce": (5.0, ""), "b": (None, "not_analysed_after")}


def test_a_missing_cas_contradicts_nothing() -> None:
    """One folder gives no CAS number: the id decides."""
    (found,) = round_change(a_round(At("P-1", pce="100"), cas=(("pce", ""),)), a_round(At("P-1", pce="500"))).points
    assert found.factor == 5


def test_the_primary_stands_for_its_point_and_of_two_results_the_first_on_file() -> None:
    """A duplicate is no result of the point; a re-run of 999 after the first reportable one of 200 is not taken."""
    again: tuple[Change, ...] = (
        table("lab/lab_samples.csv", lambda rows: [*rows, rows[0] | {"lab_sample_id": "L-2"}]),
        table("lab/results.csv", lambda rows: [*rows, rows[0] | {"lab_sample_id": "L-2", "value": "999"}]),
    )
    before = a_round(At("P-1", pce="100"), At("P-1", twin="D", pce="5000"))
    (found,) = round_change(before, a_round(At("P-1", pce="200"), changes=again)).points
    assert found.factor == 2


UNDER_U = settings_added('[rules]\nblank = "five_times_nondetect"')


def test_a_detection_that_the_blank_rule_makes_a_nondetect_is_one_under_that_rule_alone() -> None:
    """Blank of 20 ng: 90 ng is within five times, and a non-detect at 90. Under the default rule it is an estimate."""
    before = a_round(At("P-1", pce="400"))
    blank = (("pce", "20"),)
    (ruled,) = round_change(before, a_round(At("P-1", pce="90"), trip_blank=blank, changes=(UNDER_U,))).points
    assert (ruled.kind, ruled.after_by_rule, ruled.before_by_rule, ruled.order) == ("vanished", True, False, -1)
    assert ruled.after is not None
    assert ruled.after.detected  # the result is as reported; its marks travel with it
    (estimated,) = round_change(before, a_round(At("P-1", pce="90"), trip_blank=blank)).points
    assert (estimated.kind, estimated.after_by_rule, estimated.factor) == ("shrank", False, 0.225)


def test_the_later_rounds_blank_rule_holds_for_both() -> None:
    """Before: 90 ng beside a blank of 20 ng, in a folder whose own rule only estimates, and up to twice a blank.

    By the later round's rule, five times, it is a non-detect at 90.
    """
    twice = settings_added('[limits.blank_ratio]\nvalue = 2\nsource = "X"')
    before = a_round(At("P-1", pce="90"), trip_blank=(("pce", "20"),), changes=(twice,))
    later = [a_round(At("P-1", pce=mass), changes=(UNDER_U,)) for mass in ("100", "80")]
    high, low = (round_change(before, one).points[0] for one in later)
    assert (high.kind, high.before_by_rule, high.below_limit) == ("appeared", True, False)
    assert (low.kind, low.before_by_rule, low.below_limit) == ("appeared", True, True)


def rounds_of(pairs: list[tuple[str, str]]) -> RoundChange:
    before, after = (
        a_round(*(At(f"P-{at}", x=50 * at, pce=pair[side]) for at, pair in enumerate(pairs))) for side in (0, 1)
    )
    return round_change(before, after)


def test_a_compound_is_counted_by_kind_and_by_order() -> None:
    """Nine points: 5 higher (one within the spread, one from non-detect), 1 lower, 3 without an order.

    p = 2 (C(6,0) + C(6,1)) / 2⁶ = 14/64.
    """
    (found,) = rounds_of(
        [("10", "90"), ("10", "80"), ("10", "70"), ("10", "11"), ("<10", "20"), ("90", "10"), ("50", "50"),
         ("<10", "<20"), ("<30", "20")]
    ).compounds  # fmt: skip
    assert (found.higher, found.lower, found.ties, found.p) == (5, 1, 3, 14 / 64)
    assert found.kinds == {
        "grew": 3, "shrank": 1, "within": 2, "appeared": 2, "vanished": 0, "neither": 1, "not_comparable": 0,
    }  # fmt: skip


def test_equal_masses_in_two_units_have_no_order() -> None:
    """1.001 µg are 1,000.9999999999999 ng in binary fractions, and no change from 1,001 ng."""
    (found,) = rounds_of([("1.001 ug", "1001"), ("1001", "1.001 ug")]).compounds
    assert (found.higher, found.lower, found.ties, found.p) == (0, 0, 2, None)


def test_what_is_not_compared_is_no_tie() -> None:
    """A rejected result beside a mass that grew: one point with an order, none without."""
    (found,) = rounds_of([("10", "90"), ("10 R", "90")]).compounds
    assert (found.higher, found.lower, found.ties, found.kinds["not_comparable"]) == (1, 0, 0, 1)


def test_exposures_stand_side_by_side_with_their_ratio() -> None:
    """8 d and 12 d, ratio 1.5; 8 d and no retrieval on record, none. Between the rounds lie 82 days."""
    before = a_round(At("P-1", pce="10"), At("P-2", x=50, pce="10"))
    after = a_round(
        At("P-1", pce="10", placed="2025-08-31T08:00", taken="2025-09-12T08:00"),
        At("P-2", x=50, pce="10", placed="2025-08-31T09:00", taken=""),
    )
    found = round_change(before, after)
    assert [(e.location_id, e.before_min, e.after_min, e.ratio) for e in found.exposures] == [
        ("P-1", 8 * 1440, 12 * 1440, 1.5),
        ("P-2", 8 * 1440, None, None),
    ]
    assert found.median_exposure_ratio == 1.5
    assert found.gap_days == 82


def test_depths_stand_beside_the_exposures() -> None:
    """3 ft are 0.9144 m; the earlier round has none on record."""
    deep = cells("field/deployments.csv", "S-P-1", depth_ft="3")
    (found,) = round_change(a_round(At("P-1", pce="10")), a_round(At("P-1", pce="10"), changes=(deep,))).exposures
    assert (found.before_depth_m, found.after_depth_m) == (None, pytest.approx(0.9144))


def test_no_retrieval_on_record_gives_no_gap() -> None:
    """Nor an exposure ratio."""
    found = round_change(a_round(At("P-1", pce="10", taken="")), a_round(At("P-1", pce="10")))
    assert (found.gap_days, found.median_exposure_ratio) == (None, None)


def test_a_point_missing_in_one_round_is_named_and_not_compared() -> None:
    """P-2 was sampled before alone, P-3 after alone."""
    before = a_round(At("P-1", pce="10"), At("P-2", x=50, pce="10"))
    after = a_round(At("P-1", pce="10"), At("P-3", x=90, pce="10"))
    found = round_change(before, after)
    assert (found.only_before, found.only_after) == (("P-2",), ("P-3",))
    assert {p.location_id for p in found.points} == {"P-1"}


def test_rounds_without_a_point_in_common_have_nothing_to_compare() -> None:
    """Every part is empty, and none fails."""
    found = round_change(a_round(At("P-1", pce="10")), a_round(At("Q-1", x=90, pce="10")))
    assert (found.matches, found.points, found.compounds, found.exposures) == ((), (), (), ())
    empty: Evaluation = a_round()
    assert round_change(empty, empty).matches == ()


def test_a_comparison_rests_on_what_both_rounds_were_read_from() -> None:
    """Results, positions, deployments and settings, even where both were computed before."""
    rounds = a_round(At("P-1", pce="10")), a_round(At("P-1", pce="20"))
    round_change(*rounds)
    with reading() as seen:
        round_change(*rounds)
    assert {"results", "lab_samples", "samplers", "deployments", "locations", "analytes", "project"} <= seen


def test_the_order_of_the_rows_in_the_folders_changes_no_kind() -> None:
    """Points in another order give the same changes in the later round's order."""
    ats = [At("P-1", pce="10"), At("P-2", x=50, pce="70"), At("P-3", x=90, pce="<10")]
    after = a_round(*(At(at.name, x=at.x, pce="50") for at in ats))
    told = [
        [(p.location_id, p.kind, p.factor) for p in round_change(a_round(*order), after).points]
        for order in (ats, list(reversed(ats)))
    ]
    assert told[0] == told[1] == [("P-1", "grew", 5), ("P-2", "within", 50 / 70), ("P-3", "appeared", None)]


def test_settings_of_the_later_round_give_the_default_factor() -> None:
    """A project that calls a change at twice the mass."""
    own = settings_added('[limits.round_factor]\nvalue = 2\nsource = "work plan (invented)"')
    found = round_change(a_round(At("P-1", pce="100")), a_round(At("P-1", pce="250"), changes=(own,)))
    assert (found.spread.factor, found.spread.source, found.points[0].kind) == (2, "work plan (invented)", "grew")


def test_a_blank_rule_never_lowers_the_limit_of_the_laboratory() -> None:
    """Beside a blank of 20 ng 9 ng are a non-detect at the reporting limit of 10 ng: 9.5 ng later tell no order."""
    before = a_round(At("P-1", pce="9"), trip_blank=(("pce", "20"),))
    (found,) = round_change(before, a_round(At("P-1", pce="9.5"), changes=(UNDER_U,))).points
    assert (found.kind, found.before_by_rule, found.below_limit, found.order) == ("appeared", True, True, 0)
