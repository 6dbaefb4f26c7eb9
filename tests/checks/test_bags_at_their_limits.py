"""Rules on bags, shipments and what became of samplers, where they begin to tell and just before."""

from __future__ import annotations

import pytest
from builders import Row
from few_rows import deployed, sampler, survey_of, told

from sitegen.checks import bags, handling, samplers
from sitegen.checks.rows import departures


def bagged(number: int, **others: str) -> Row:
    row = deployed("2025-06-02T08:00", "2025-06-10T08:00", condition="intact", bag_id="B-1")
    return row | {"sampler_id": f"S-{number}"} | others


@pytest.mark.parametrize(("inside", "tells"), [(30, False), (31, True)])
def test_a_bag_has_thirty_samplers_at_most(inside: int, *, tells: bool) -> None:
    """One that was not recovered is in no bag, whatever its row says."""
    rows = [bagged(n) for n in range(inside)] + [bagged(99, condition="not_recovered")]
    survey = survey_of({"deployments": rows, "return_bags": [{"bag_id": "B-1", "count_declared": f"{inside}"}]})
    found = list(bags.bag_contents(survey))
    assert told(found) == ["bag B-1 (2 bag_id): 31 samplers"] * tells
    assert {f.expected for f in found} <= {"at most 30 (common practice, no source)"}


@pytest.mark.parametrize(
    ("declared", "expected"),
    [
        ("2", []),
        ("", []),
        ("3", [("3 declared", "2, the number in deployments.csv, trip blank not counted")]),
        ("1", [("1 declared", "2, the number in deployments.csv, trip blank not counted")]),
    ],
)
def test_a_bag_declares_what_is_in_it(declared: str, expected: list[tuple[str, str]]) -> None:
    survey = survey_of({
        "deployments": [bagged(1), bagged(2)],
        "return_bags": [{"bag_id": "B-1", "count_declared": declared, "trip_blank_id": "S-9"}],
    })  # fmt: skip
    assert [(f.found, f.expected) for f in bags.bag_contents(survey)] == expected


def test_every_sampler_that_came_back_is_in_a_bag() -> None:
    """S-1 has none; S-2 was not recovered, S-3 is in the ground; a field blank needs one even before it is closed."""
    rows = [
        bagged(1, bag_id=""), bagged(2, bag_id="", condition="not_recovered"), bagged(3, bag_id="", retrieved_at=""),
        bagged(4, bag_id="", retrieved_at=""), bagged(5),
    ]  # fmt: skip
    roster = [sampler("field_blank" if n == 4 else "sample", sampler_id=f"S-{n}") for n in range(1, 6)]
    found = told(bags.every_sampler_bagged(survey_of({"samplers": roster, "deployments": rows})))
    words = "a retrieved sampler with no return bag on record"
    assert found == [f"sampler S-1 (2 bag_id): {words}", f"sampler S-4 (5 bag_id): {words}"]


def test_a_bag_that_was_used_has_a_blank_of_its_own_kind() -> None:
    """B-2 has none, B-3 that of B-1, B-4 a sampler of another kind; B-5 has none and was not used."""
    blanks = {"B-1": "S-91", "B-2": "", "B-3": "S-91", "B-4": "S-4", "B-5": ""}
    roster = [sampler("trip_blank", sampler_id="S-91"), sampler(sampler_id="S-4")]
    survey = survey_of({
        "samplers": roster,
        "deployments": [bagged(n, bag_id=f"B-{n}") for n in range(1, 5)],
        "return_bags": [{"bag_id": name, "trip_blank_id": blank} for name, blank in blanks.items()],
    })  # fmt: skip
    assert told(bags.trip_blanks(survey)) == [
        "bag B-2 (3 trip_blank_id): no trip blank on record",
        "bag B-3 (4 trip_blank_id): the trip blank of another bag",
        "bag B-4 (5 trip_blank_id): a sampler of another kind",
    ]


def test_an_opened_trip_blank_is_told_by_its_note_or_by_an_event() -> None:
    """``unopened`` and ``not opened`` say the contrary, and a sample is meant to be opened."""
    notes = {"S-1": "Unopened.", "S-2": "not opened", "S-3": "opened in error", "S-4": "", "S-5": ""}
    roster = [sampler("trip_blank", sampler_id=name, note=note) for name, note in notes.items()]
    event = {"event": "stored", "at": "2025-06-02T08:00", "subject_kind": "sampler"}
    custody = [
        event | {"event_id": "E-1", "subject_id": "S-5", "comment": "found open"},
        event | {"event_id": "E-2", "subject_id": "S-6", "comment": "opened"},
    ]
    found = told(bags.trip_blanks(survey_of({"samplers": [*roster, sampler(sampler_id="S-6")], "custody": custody})))
    assert found == [
        "sampler S-3 (4 note): a trip blank that was opened: opened in error",
        "sampler S-5 (6 note): a trip blank that was opened: see custody.csv",
    ]


def test_a_shipment_arrives_with_what_it_declares_and_goes_the_right_way() -> None:
    """One count more is as wrong as one less; a blank one says nothing."""
    counts = {"A": ("3", "3"), "B": ("3", "2"), "C": ("3", "4"), "D": ("3", ""), "E": ("", "3")}
    rows = [
        {"shipment_id": name, "direction": "out", "items_declared": declared, "items_received": received}
        for name, (declared, received) in counts.items()
    ]
    assert told(bags.shipments(survey_of({"shipments": rows}))) == [
        "shipment B (3 items_received): 2 items received",
        "shipment C (4 items_received): 4 items received",
    ]
    ways = survey_of({
        "shipments": [{"shipment_id": "O", "direction": "out"}, {"shipment_id": "R", "direction": "return"}],
        "samplers": [sampler(shipment_id="O"), sampler(sampler_id="S-2", shipment_id="R"), sampler(sampler_id="S-3")],
        "return_bags": [{"bag_id": "B-1", "shipment_id": "R"}, {"bag_id": "B-2", "shipment_id": "O"}],
    })  # fmt: skip
    assert told(bags.directions(ways)) == [
        "sampler S-2 (3 shipment_id): R, a shipment with the direction return",
        "bag B-2 (3 shipment_id): O, a shipment with the direction out",
    ]


def test_loose_samplers_and_temporary_closures_are_told_once() -> None:
    """Two of B-1 and one of no bag; two holes at one point are one point."""
    rows = [
        bagged(1, individually_bagged="no", hole_restored="yes"),
        bagged(2, individually_bagged="no", hole_restored="temporary"),
        bagged(3, individually_bagged="yes", hole_restored="temporary"),
        bagged(4, individually_bagged="no", bag_id="", location_id="P-2", hole_restored="temporary"),
    ]
    survey = survey_of({"deployments": rows})
    found = list(handling.bags_of_their_own(survey))
    assert told(found) == [
        "bag B-1 (2 individually_bagged): 2 samplers not individually bagged in return bag B-1: S-1, S-2",
        " no bag (5 individually_bagged): 1 sampler not individually bagged, no return bag on record: S-4",
    ]
    assert [[t.sampler_id for t in f.touches] for f in found] == [["S-1", "S-2"], ["S-4"]]
    assert told(handling.closures_for_good(survey)) == [
        " survey (3 hole_restored): temporary closure at 2 points: P-1, P-2"
    ]


# --- samplers ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("outcome", "retrieved", "condition", "tells"),
    [
        ("used", "2025-06-10T08:00", "intact", False),
        ("lost", "2025-06-10T08:00", "intact", True),
        ("lost", "", "not_recovered", False),
        ("used", "", "not_recovered", True),
        ("returned_unused", "", "", True),
        ("destroyed", "2025-06-10T08:00", "intact", False),
        ("used", "", "", False),
    ],
)
def test_an_outcome_fits_the_placement(outcome: str, retrieved: str, condition: str, *, tells: bool) -> None:
    survey = survey_of({
        "samplers": [sampler(outcome=outcome)],
        "deployments": [deployed("2025-06-02T08:00", retrieved, condition=condition)],
    })  # fmt: skip
    found = [f for f in samplers.outcomes(survey) if f.code == "outcome-disagrees"]
    words = f"retrieval {retrieved or 'not recorded'}, condition {condition.replace('_', ' ') or 'not recorded'}"
    assert told(found) == [f"sampler S-1 (2 retrieved_at): {words}"] * tells


def test_a_sampler_for_a_point_is_accounted_for() -> None:
    """Used or nothing said, and placed nowhere: told of a sample and of a duplicate, not of a spare."""
    kinds = {"S-1": ("sample", "used"), "S-2": ("field_duplicate", ""), "S-3": ("spare", ""), "S-4": ("sample", "lost"),
             "S-5": ("sample", "used")}  # fmt: skip
    roster = [sampler(kind, sampler_id=name, outcome=outcome) for name, (kind, outcome) in kinds.items()]
    placed = [deployed("2025-06-02T08:00", "", sampler_id="S-5")]
    assert told(samplers.outcomes(survey_of({"samplers": roster, "deployments": placed}))) == [
        "sampler S-1 (2 outcome): a sample with no deployment on record, outcome used",
        "sampler S-2 (3 outcome): a field duplicate with no deployment on record, outcome not recorded",
    ]


def test_the_samplers_of_a_medium_are_of_one_type_and_the_rarer_is_shown() -> None:
    """Soil gas: two of T1, one of T2; air has a type of its own; one type is not stated."""
    types = {"S-1": ("T1", "P-1"), "S-2": ("T2", "P-1"), "S-3": ("T1", "P-1"), "S-4": ("T3", "P-2"), "S-5": ("", "P-1")}
    survey = survey_of({
        "locations": [{"location_id": "P-1", "medium": "soil_gas"}, {"location_id": "P-2", "medium": "indoor_air"}],
        "samplers": [sampler(sampler_id=name, sampler_type=kind) for name, (kind, _) in types.items()],
        "deployments": [
            deployed("2025-06-02T08:00", "", sampler_id=name, location_id=at) for name, (_, at) in types.items()
        ],
    })  # fmt: skip
    assert told(samplers.one_type(survey)) == [
        "medium soil_gas (3 sampler_id): 2 samplers of type T1, 1 sampler of type T2"
    ]


def test_results_of_a_sampler_that_did_not_come_back_are_told_with_what_is_on_record() -> None:
    """S-1 came back; S-2 and S-3 are lost, by the field or by its own row; S-4 is in the ground, S-5 was not placed.

    S-6 has no results, S-7 is a blank, and S-8 is not listed.
    """
    placed = {"S-1": ("2025-06-10T08:00", "intact"), "S-2": ("", "not_recovered"), "S-3": ("2025-06-10T08:00", ""),
              "S-4": ("", ""), "S-6": ("", "")}  # fmt: skip
    survey = survey_of({
        "samplers": [
            sampler("trip_blank" if n == 7 else "sample", sampler_id=f"S-{n}", outcome="lost" if n == 3 else "")
            for n in range(1, 8)
        ],
        "deployments": [
            deployed("2025-06-02T08:00", out, condition=condition, sampler_id=name)
            for name, (out, condition) in placed.items()
        ],
        "lab_samples": [
            {"lab_sample_id": f"L-{n}", "sampler_id": f"S-{n}", "type": "trip_blank" if n == 7 else "sample"}
            for n in range(1, 9)
        ],
        "results": [{"lab_sample_id": f"L-{n}", "analyte_id": "pce"} for n in range(1, 9) if n != 6],
    })  # fmt: skip
    found = list(samplers.results_of_the_lost(survey))
    lost = "which is lost according to the field records"
    assert [f"{f.code} {line}" for f, line in zip(found, told(found), strict=True)] == [
        f"result-for-lost lab_sample L-2 (3 sampler_id): results for sampler S-2, {lost}",
        f"result-for-lost lab_sample L-3 (4 sampler_id): results for sampler S-3, {lost}",
        "result-for-buried lab_sample L-4 (5 sampler_id): results for sampler S-4, for which no retrieval is on record",
        (
            "result-for-unplaced lab_sample L-5 (6 sampler_id): "
            "results for sampler S-5, for which no deployment is on record"
        ),
    ]
    assert [[t.sampler_id for t in f.touches] for f in found] == [["S-2"], ["S-3"], ["S-4"], ["S-5"]]


def test_a_departure_is_on_record_where_it_says_its_effect_and_who_agreed() -> None:
    """The first of two rows about a point stands; a row without either stands for nothing."""
    whole = {"what": "w", "effect": "none", "agreed_by_role": "PM-1"}
    rows = [
        whole | {"deviation_id": "D-1", "affected_ids": "P-1; S-1", "effect": ""},
        whole | {"deviation_id": "D-2", "affected_ids": "P-2", "agreed_by_role": ""},
        whole | {"deviation_id": "D-3", "affected_ids": "P-1;P-3;"},
        whole | {"deviation_id": "D-4", "affected_ids": "P-3", "effect": "low"},
    ]
    words = "D-3 states the effect (none), agreed by PM-1"
    assert departures(survey_of({"deviations": rows})) == {"P-1": words, "P-3": words}
