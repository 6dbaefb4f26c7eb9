"""What became of the samplers sent: each is counted once."""

from __future__ import annotations

from builders import Change, cell, changed, every, load, without_rows

from sitegen.checking import Checked
from sitegen.compute.evaluate import evaluate
from sitegen.compute.field.reconcile import Fates, Step, count_fates, reconcile
from sitegen.pipeline import Built
from sitegen.project.reads import reading

BAGS, DEPLOYMENTS, SHIPMENTS = "field/return_bags.csv", "field/deployments.csv", "field/shipments.csv"


def test_the_examples_samplers_are_accounted_for(checked: Checked) -> None:
    """63 went out: 57 and 2 trip blanks came back in bags, 3 spares beside them, 1 is lost."""
    assert checked.survey is not None
    assert checked.evaluation is not None
    found = count_fates(checked.survey, checked.evaluation.custody.bag_of, checked.evaluation.deployed)
    assert found == Fates(63, 57, 2, {"spare": 3}, 1, 0, 0, 0, bags=2)
    assert found.back == 62


def test_the_counts_rest_on_the_tables_that_were_counted_and_no_other(checked: Checked) -> None:
    """Weather, photographs and the review have no part in them."""
    assert checked.survey is not None
    assert checked.evaluation is not None
    with reading() as seen:
        reconcile(checked.survey, checked.evaluation.deployed, checked.evaluation.store)
    counted = {"samplers", "deployments", "return_bags", "shipments", "results"}
    assert seen == counted | {"locations", "lab_samples", "project"}


def test_every_outcome_is_counted_once() -> None:
    """A spare destroyed, and one of which nothing is on record."""
    survey = load(
        changed(
            cell("field/samplers.csv", "0047160", "outcome", "destroyed"),
            cell("field/samplers.csv", "0047161", "outcome", ""),
        )
    )
    ev = evaluate(survey)
    found = count_fates(survey, ev.custody.bag_of, ev.deployed)
    assert (found.back, dict(found.outside), found.lost, found.destroyed, found.unknown) == (60, {"spare": 1}, 1, 1, 1)
    assert found.back + found.lost + found.destroyed + found.unknown == found.sent == 63


def test_the_page_on_custody_says_so(built: Built) -> None:
    """The page opens with the counts."""
    page = next(page for page in built.report.pages if page.ref.id == "custody")
    assert page.lead.startswith(
        "63 samplers were sent out in 1 shipment. 62 were returned: 57 samplers and 2 trip blanks in 2 return bags, "
        "3 spares with no return bag on record. 1 was lost."
    )


def test_a_bag_is_counted_where_a_sampler_on_record_is_in_it() -> None:
    """Where no row names RB-2, what came back in bags came in one, however many bags have a row."""
    survey = load(
        changed(
            every(DEPLOYMENTS, lambda row: {"bag_id": ""} if row["bag_id"] == "RB-2" else {}),
            cell(BAGS, "RB-2", "trip_blank_id", ""),
        )
    )
    ev = evaluate(survey)
    assert count_fates(survey, ev.custody.bag_of, ev.deployed).bags == 1


def counts(*changes: Change) -> dict[str, Step]:
    """Return the steps of the example with changes, by title."""
    survey = load(changed(*changes))
    ev = evaluate(survey)
    return {step.title: step for step in reconcile(survey, ev.deployed, ev.store)}


def test_what_no_row_states_is_not_nought() -> None:
    """Blank in every row, or no row at all: not recorded; blank in one row, the sum of the other and of how many."""
    found = counts(
        every(BAGS, lambda _: {"count_declared": ""}),
        every(DEPLOYMENTS, lambda _: {"bag_id": "", "retrieved_at": "", "condition": ""}),
        without_rows(SHIPMENTS, lambda _: True),
    )
    for title in ("declared in return bags", "items counted at receipt", "in a return bag", "recovered"):
        assert found[title].count is None
    assert (found["issued"].count, found["field blanks opened"].count) == (63, 0)
    half = counts(cell(BAGS, "RB-2", "count_declared", ""))["declared in return bags"]
    assert (half.count, half.on, half.of) == (28, 1, 2)
