"""The defensibility sheet answers from what is on record: where nothing is, it says so."""

from __future__ import annotations

from collections.abc import Mapping

import pytest
from builders import (
    Change,
    cells,
    changed,
    content,
    every,
    example,
    load,
    removed,
    setting,
    survey_findings,
    without_features,
    without_rows,
)
from longcases import mostly_long
from matrix_survey import STAGES, young
from situations import field_blank

from sitegen.checks.catalogue import catalogue
from sitegen.compute.evaluate import evaluate
from sitegen.compute.evidence.bases import NAMES, Basis, bases
from sitegen.compute.evidence.defence import NO, NO_RECORD, PARTLY, YES, Answer, defence, statements
from sitegen.findings.problems import Finding, Severity, Where
from sitegen.project.folder import Folder
from sitegen.project.tables import TABLE
from sitegen.report.write.words import lexicon

WHOLE = {name: Basis(name, 1, 1) for name in NAMES}


def header_only(name: str) -> Change:
    """Return a change that leaves a table its header alone."""
    return without_rows(TABLE[name].path, lambda _: True)


def answered(folder: Folder) -> dict[str, Answer]:
    """Return the answers by the first three words of each statement."""
    found = defence(survey_findings(folder), bases(evaluate(load(folder))))
    return {" ".join(answer.statement.text.split()[:3]): answer for answer in found}


def told(code: str, severity: Severity) -> Finding:
    return Finding(code, severity, "x", Where("f"), "found", "expected", "do")


def test_each_statement_names_known_checks_and_bases() -> None:
    """Each statement names checks of the catalogue, bases with words, and a page; each basis is one's."""
    assert len(statements()) == 13
    for statement in statements():
        assert set(statement.codes) <= set(catalogue()), statement.text
        assert statement.rests_on, statement.text
        assert {*statement.rests_on, *statement.beside} <= set(NAMES), statement.text
        assert statement.page
    assert set(lexicon("bases")) == set(NAMES)


def test_answers_follow_from_the_worst_finding() -> None:
    """Where all is on record: nothing against it is yes, a flag partly, a hold no; a note counts for nothing."""
    found = defence([told("custody-gap", Severity.FLAG), told("seal-differs", Severity.HOLD)], WHOLE)
    assert sorted(a.answer for a in found) == sorted([PARTLY, NO, *[YES] * 11])
    assert {a.answer for a in defence([told("sampler-lost", Severity.NOTE)], WHOLE)} == {YES}


@pytest.mark.parametrize(
    ("basis", "found", "answer"),
    [
        (Basis("clearance", 0, 0), (), NO_RECORD),
        (Basis("clearance", 0, 52), (), NO_RECORD),
        (Basis("clearance", 0, 52), (told("clearance-missing", Severity.FLAG),), NO_RECORD),
        (Basis("clearance", 51, 52), (), PARTLY),
        (Basis("clearance", 52, 52), (), YES),
        (Basis("clearance", 51, 52), (told("clearance-not-valid", Severity.HOLD),), NO),
    ],
)
def test_an_answer_needs_a_record(basis: Basis, found: tuple[Finding, ...], answer: str) -> None:
    """Nothing on record gives no answer whatever speaks against it; a part gives no yes."""
    mine = [a for a in defence(found, {**WHOLE, "clearance": basis}) if a.statement.rests_on == ("clearance",)]
    assert [a.answer for a in mine] == [answer]


GONE = {
    "clearance": ("Utilities were cleared", NO_RECORD),
    "deviations": ("All deviations from", NO_RECORD),
    "comments": ("All review comments", NO_RECORD),
}


@pytest.mark.parametrize("name", mostly_long(GONE, 2))
@pytest.mark.parametrize("header", [True, False], ids=["header only", "absent"])
def test_a_file_without_rows_gives_no_record(name: str, *, header: bool) -> None:
    """A header alone and an absent file give the same answer, which is neither yes nor partly."""
    statement, answer = GONE[name]
    folder = changed(header_only(name) if header else removed(TABLE[name].path))
    assert answered(folder)[statement].answer == answer
    assert answered(example())[statement].answer != answer


def test_hand_overs_without_rows_leave_custody_without_record() -> None:
    """custody.csv with its header only answers nothing on custody, and seals and signatures in part at most."""
    found = answered(changed(header_only("custody")))
    assert found["The chain of"].answer == NO_RECORD
    assert found["The chain of"].rests_on == (Basis("custody", 0, 63), Basis("hands", 58, 58))
    assert found["All hand-overs on"].answer == PARTLY
    assert found["All hand-overs on"].rests_on[0] == Basis("signatures", 0, 0)
    assert found["All seals were"].rests_on[0] == Basis("seals", 2, 4)


def test_custody_is_not_unbroken_where_nobody_is_on_record_as_placing_or_retrieving() -> None:
    """Without roles no change of role can be found, which is no yes; one sampler's role missing makes it partly too."""
    for column in ("placed_by", "retrieved_by"):
        found = bases(evaluate(load(changed(every("field/deployments.csv", lambda _, name=column: {name: ""})))))
        assert not found["hands"].whole
        assert _custody(found) == PARTLY
    one = bases(evaluate(load(changed(cells("field/deployments.csv", "0047103", retrieved_by="")))))
    assert (one["hands"], _custody(one)) == (Basis("hands", 57, 58), PARTLY)
    assert _custody(bases(evaluate(load(example())))) == YES


def _custody(found: Mapping[str, Basis]) -> str:
    """Return the answer on custody where no finding speaks against it."""
    return next(a.answer for a in defence([], found) if a.statement.rests_on == ("custody",))


def test_quality_control_without_rows_is_never_yes() -> None:
    """lab_qc.csv with its header only leaves the laboratory's controls without record, and says so."""
    found = answered(changed(header_only("lab_qc")))["Laboratory controls, surrogates,"]
    assert found.answer != YES
    assert Basis("controls", 0, 3) in found.rests_on


def test_a_ticket_without_dates_clears_nothing() -> None:
    """A ticket that does not say when it was valid is no record of a hole cleared before it was made."""
    edit = every("field/clearance.csv", lambda _: {"valid_from": "", "valid_to": ""})
    assert answered(changed(edit))["Utilities were cleared"].answer == NO_RECORD
    assert answered(example())["Utilities were cleared"].answer == YES


def test_one_hole_with_a_ticket_clears_no_other() -> None:
    """A ticket that names one point makes partly of yes, and the numbers say how many holes are on record."""
    first = evaluate(load(example())).placements[0].location_id
    found = answered(changed(every("field/clearance.csv", lambda _: {"location_ids": first})))["Utilities were cleared"]
    assert found.answer == PARTLY
    assert found.rests_on == (Basis("clearance", 1, 52), Basis("utilities", 3, None))


@pytest.mark.parametrize("stage", ["new", "one point", "points"])
def test_a_folder_without_field_work_answers_nothing(stage: str) -> None:
    """The template, and a plan alone: no record throughout, save for the texts still to be written."""
    found = answered(young(stage, "internal"))
    assert {answer.answer for answer in found.values()} == {NO_RECORD}


@pytest.mark.parametrize("stage", STAGES)
def test_no_basis_counts_more_than_there_is(stage: str) -> None:
    """At every stage of a project a basis has at most as many records as things that would have one."""
    for basis in bases(evaluate(load(young(stage, "internal")))).values():
        assert basis.on >= 0
        assert basis.of is None or basis.on <= basis.of, basis


NOTHING_BUILT = ("locations", "samplers", "deployments", "return_bags", "shipments", "analytes", "lab_samples")
"""Tables whose rows others name: emptied, they stop a build, and no sheet is made."""


@pytest.mark.parametrize("name", mostly_long(TABLE, 3))
def test_losing_a_file_never_betters_an_answer(name: str) -> None:
    """Whatever table is emptied, no statement is answered yes that was not before."""
    before = {text for text, answer in answered(example()).items() if answer.answer == YES}
    folder = changed(header_only(name))
    stopped = any(finding.severity is Severity.STOP for finding in survey_findings(folder))
    found = {} if stopped else answered(folder)
    assert {text for text, answer in found.items() if answer.answer == YES} <= before
    assert stopped == (name in NOTHING_BUILT)


def test_an_unread_condition_is_no_intact_return() -> None:
    """Without a condition on record nothing is said of how samplers came back."""
    edit = every("field/deployments.csv", lambda _: {"condition": ""})
    found = answered(changed(edit))["All samplers were"]
    assert Basis("conditions", 0, 57) in found.rests_on
    assert found.answer == PARTLY


def test_a_seal_that_nobody_read_is_counted_as_put_on() -> None:
    """A bag whose reading is not on record counts among the seals put on, not among those read."""
    gone = without_rows("field/custody.csv", lambda row: row["event"] == "seal_checked")
    assert answered(changed(gone))["All seals were"].rests_on[0] == Basis("seals", 2, 4)
    bare = cells("field/return_bags.csv", "RB-1", seal_applied="", sealed_at="")
    assert bases(evaluate(load(changed(bare, header_only("custody")))))["seals"] == Basis("seals", 2, 3)


def test_texts_that_state_nothing_are_no_record() -> None:
    """Sections that name no compound at a point, or hold blanks alone, agree with nothing."""
    names = [path for path in example().files if path.startswith("text/")]
    for words in (b"  \n", b"To follow when the survey has been read.\n"):
        found = answered(changed(*(content(name, words) for name in names)))["All statements in"]
        assert (found.answer, found.rests_on) == (NO_RECORD, (Basis("compared", 0, 0),))


def test_a_map_without_utilities_clears_no_hole_from_them() -> None:
    """A hole near a utility speaks against clearance; without one on the map nobody can tell, and it is not yes."""
    near = setting("[limits.utility_distance_m]\nvalue = 1.0", "[limits.utility_distance_m]\nvalue = 4.0")
    assert answered(changed(near))["Utilities were cleared"].answer == PARTLY
    found = answered(changed(near, without_features("utility")))["Utilities were cleared"]
    assert (found.answer, found.rests_on[1]) == (PARTLY, Basis("utilities", 0, None))


DEPLOYMENTS, LOCATIONS = TABLE["deployments"].path, TABLE["locations"].path
ONE_LESS: dict[str, tuple[Change, Basis]] = {
    "whereabouts": (cells("field/samplers.csv", "0047160", outcome=""), Basis("whereabouts", 62, 63)),
    "signatures": (cells("field/custody.csv", "E-0024", signature=""), Basis("signatures", 17, 18)),
    "shipments": (cells("field/shipments.csv", "SH-R1", items_received=""), Basis("shipments", 1, 2)),
    "positions": (cells(LOCATIONS, "SG-01", easting="", northing=""), Basis("positions", 54, 55)),
    "plans": (cells(LOCATIONS, "SG-01", plan_easting="", plan_northing=""), Basis("plans", 53, 54)),
    "surfaces": (cells(LOCATIONS, "SG-01", surface=""), Basis("surfaces", 51, 52)),
    "boundary": (without_features("site_boundary"), Basis("boundary", 0, None)),
    "returns": (cells(DEPLOYMENTS, "0047130", retrieved_at=""), Basis("returns", 57, 58)),
    "depths": (cells(DEPLOYMENTS, "0047130", depth_ft="", depth_m=""), Basis("depths", 53, 54)),
    "conditions": (cells(DEPLOYMENTS, "0047130", condition=""), Basis("conditions", 56, 57)),
    "refusals": (cells(DEPLOYMENTS, "0047130", refusal=""), Basis("refusals", 53, 54)),
    "hands": (cells(DEPLOYMENTS, "0047130", retrieved_by=""), Basis("hands", 57, 58)),
    "seal_conditions": (cells("field/shipments.csv", "SH-R1", seal_condition=""), Basis("seal_conditions", 3, 4)),
    "trip_blanks": (cells(DEPLOYMENTS, "0047130", bag_id=""), Basis("trip_blanks", 56, 57)),
    "method_blanks": (cells("lab/lab_samples.csv", "04417-030", batch_id=""), Basis("method_blanks", 56, 57)),
    "comments": (
        without_rows("review/comments.csv", lambda row: row["comment_id"] == "C-1"),
        Basis("comments", 4, None),
    ),
    "departures": (
        without_rows("field/deviations.csv", lambda row: row["deviation_id"] == "DV-1"),
        Basis("departures", 6, None),
    ),
}


@pytest.mark.parametrize("name", ONE_LESS)
def test_a_basis_counts_one_less_for_one_record_less(name: str) -> None:
    """Emptying one cell, or taking one row away, takes one thing out of the basis that it belongs to."""
    edit, less = ONE_LESS[name]
    assert bases(evaluate(load(changed(edit))))[name] == less
    assert bases(evaluate(load(example())))[name] != less


def test_blanks_of_bags_that_no_sampler_is_in_free_nothing() -> None:
    """Without bags and batches on samplers, blanks have results and speak for none: no record, and not yes."""
    samples = every("lab/lab_samples.csv", lambda row: {"batch_id": ""} if row["type"] == "sample" else {})
    found = answered(changed(every(DEPLOYMENTS, lambda _: {"bag_id": ""}), samples))["No compound was"]
    assert found.answer == NO_RECORD
    assert found.rests_on[:2] == (Basis("trip_blanks", 0, 57), Basis("method_blanks", 0, 57))


def test_values_that_nobody_wrote_down_are_within_no_limits() -> None:
    """Rows of quality control without a value are judged by nothing."""
    found = bases(evaluate(load(changed(every("lab/lab_qc.csv", lambda _: {"value": ""})))))
    assert found["controls"] == Basis("controls", 0, 3)
    assert found["surrogates"].on == 0


def test_a_hand_over_on_the_way_out_is_none_of_the_way_back() -> None:
    """Custody of samplers that came back rests on a hand-over after their retrieval."""
    out = without_rows("field/custody.csv", lambda row: row["at"] > "2025-11-01")
    found = bases(evaluate(load(changed(out))))
    assert found["custody"].on == 63 - 57
    assert found["ways"] == Basis("ways", 1, 2)


def test_a_field_blank_without_results_keeps_blanks_from_a_yes() -> None:
    """A field blank that was opened and has no results is short; a survey that opened none lacks none."""
    assert not bases(evaluate(load(example())))["field_blanks"].short
    opened = changed(*field_blank(toluene="400000"))
    assert bases(evaluate(load(opened)))["field_blanks"] == Basis("field_blanks", 1, 1)
