"""A point is moved where it lies further from its plan than the limit and its own stated accuracy."""

from __future__ import annotations

from math import hypot

import pytest
from builders import Change, cells, changed, load, new_findings, survey_findings, without

from sitegen.compute.evaluate import evaluate
from sitegen.project.tables import Deployment, Location
from sitegen.report.field.positions import location_words
from sitegen.report.write.context import Context

LOCATIONS, DEPLOYMENTS = "locations/locations.csv", "field/deployments.csv"
MOVES = ("point-moved", "deviation-unrecorded", "move-disagrees")


def moved_by(east: float, north: float, accuracy: str) -> Change:
    """Return SG-08 surveyed so far from its plan, with a stated accuracy."""
    plan = next(row for row in load(changed()).rows(Location) if row.location_id == "SG-08")
    place = {"easting": f"{plan.plan_easting + east:.2f}", "northing": f"{plan.plan_northing + north:.2f}"}
    return cells(LOCATIONS, "SG-08", **place, accuracy_m=accuracy)


def moves(*changes: Change) -> dict[str, tuple[str, str]]:
    """Return what is found of moves, the example's own findings aside."""
    return {f.code: (f.found, f.expected) for f in new_findings(changed(*changes)) if f.code in MOVES}


def test_a_move_within_the_stated_accuracy_is_no_flag_and_no_departure() -> None:
    """2.4 east and 1.0 north are 2.6 m: within a handheld receiver's 3 m, beyond a limit of 1 m alone."""
    assert hypot(2.4, 1.0) == pytest.approx(2.6)
    assert moves(moved_by(2.4, 1.0, "3.0")) == {}


def test_the_same_move_known_more_sharply_is_flagged() -> None:
    found = moves(moved_by(2.4, 1.0, "0.03"))
    assert found["point-moved"] == ("2.6 m from the planned position", "at most 1 m")
    assert set(found) == set(MOVES)  # nothing was noted of a move, and none is on record as a departure


def test_a_stated_accuracy_that_is_still_too_small_is_named_as_the_limit() -> None:
    """With 2.5 m, a move of 2.6 m is a move; the notes' 0.0 ft disagree by more than the accuracy."""
    found = moves(moved_by(2.4, 1.0, "2.5"))
    assert found["point-moved"][1] == "at most 2.5 m, the stated accuracy (limit 1 m)"
    assert found["move-disagrees"][1] == "agreement within 2.5 m, the stated accuracy (limit 1 m)"


def test_a_better_accuracy_than_the_limit_leaves_the_limit() -> None:
    assert moves(moved_by(0.6, 0.0, "0.01")) == {}
    assert "point-moved" in moves(moved_by(1.2, 0.0, ""))


def test_notes_that_say_nothing_of_a_move_disagree_with_no_coordinates() -> None:
    sampler = next(row.sampler_id for row in load(changed()).rows(Deployment) if row.location_id == "SG-08")
    found = moves(moved_by(2.4, 1.0, "0.03"), cells(DEPLOYMENTS, sampler, moved_ft=""))
    assert set(found) == {"point-moved", "deviation-unrecorded"}


def test_a_move_that_the_notes_tell_is_a_departure_though_coordinates_can_not_show_it() -> None:
    """6 ft by the tape (1.8 m) at a point surveyed to 3 m: no flag of the place, but a row is missing."""
    sampler = next(row.sampler_id for row in load(changed()).rows(Deployment) if row.location_id == "SG-08")
    found = survey_findings(changed(moved_by(0.0, 0.0, "3.0"), cells(DEPLOYMENTS, sampler, moved_ft="6.0")))
    new = [f for f in found if f.code in MOVES and f.subject.startswith("SG-08")]
    assert [(f.code, f.where.file, f.where.column) for f in new] == [("deviation-unrecorded", DEPLOYMENTS, "moved_ft")]


def test_the_location_map_says_the_rule_and_whose_accuracy_decides() -> None:
    survey = load(changed(moved_by(2.4, 1.0, "3.0"), without("field/deviations.csv", "DV-1")))
    evaluation = evaluate(survey)
    moved = [point for point in evaluation.points if point.is_off_plan(evaluation.limits["moved_m"].value)]
    said = location_words(Context(survey, evaluation, ()), moved)
    assert "SG-27 is further from its planned position than the limit: " in said
    rule = "1 m (project default, no published source), or a point's stated accuracy where that is larger (SG-08)"
    assert rule in said
