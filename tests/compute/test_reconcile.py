"""What became of the samplers sent: each is counted once."""

from __future__ import annotations

from builders import cell, changed, load

from sitegen.checking import Checked
from sitegen.compute.evaluate import evaluate
from sitegen.compute.reconcile import Returned, returned
from sitegen.pipeline import Built


def test_the_examples_samplers_are_accounted_for(checked: Checked) -> None:
    """63 went out: 57 and 2 trip blanks came back in bags, 3 spares beside them, 1 is lost."""
    assert checked.survey is not None
    assert checked.evaluation is not None
    found = returned(checked.survey, checked.evaluation.custody.bag_of, checked.evaluation.deployed)
    assert found == Returned(63, 57, 2, {"spare": 3}, 1, 0, 0, 0)
    assert found.back == 62


def test_every_outcome_is_counted_once() -> None:
    """A spare destroyed, and one of which nothing is on record."""
    survey = load(
        changed(
            cell("field/samplers.csv", "0047160", "outcome", "destroyed"),
            cell("field/samplers.csv", "0047161", "outcome", ""),
        )
    )
    ev = evaluate(survey)
    found = returned(survey, ev.custody.bag_of, ev.deployed)
    assert (found.back, dict(found.outside), found.lost, found.destroyed, found.unknown) == (60, {"spare": 1}, 1, 1, 1)
    assert found.back + found.lost + found.destroyed + found.unknown == found.sent == 63


def test_the_page_on_custody_says_so(built: Built) -> None:
    """The page opens with the counts."""
    page = next(page for page in built.report.pages if page.ref.id == "custody")
    assert page.lead.startswith(
        "63 samplers went out in 1 shipment. 62 came back: 57 samplers and 2 trip blanks in 2 return bags, "
        "3 spares outside a bag. 1 was lost."
    )
