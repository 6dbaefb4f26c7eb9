"""The figures of shares as intervals: which families have one, and what is said of it."""

from __future__ import annotations

from dataclasses import replace

import byhand_survey as survey
from builders import load

from sitegen.compute.evaluate import evaluate
from sitegen.report.results.intervals import MOST_ROWS, _row, interval_figures
from sitegen.report.write.context import Context


def context() -> Context:
    made = load(survey.folder(survey.FILES))
    return Context(made, evaluate(made), ())


def test_rows_have_the_bounds_and_the_qualification_of_their_point() -> None:
    """At SG-2 TCE and cis-1,2-DCE were not detected: PCE 83.045 to 100 %, TCE to 6.307 %, cis-1,2-DCE to 12.037 %.

    A blank affects PCE there; the duplicate differs at SG-1.
    """
    here = context()
    family = here.evaluation.related.ethenes
    row = _row(here, family, next(one for one in family.makeups if one.location_id == "SG-2"))
    assert [(round(low, 3), round(high, 3), seen) for low, high, seen in row.spans] == [
        (83.045, 100.0, True),
        (0.0, 6.307, False),
        (0.0, 12.037, False),
    ]
    assert row.marked


def test_a_family_without_points_or_with_too_many_has_no_figure() -> None:
    """One fuel aromatic is no family; more points than rows that can be read are left to the table."""
    here = context()
    related = here.evaluation.related
    assert interval_figures(here, "fuels", related.fuels) == ()
    (figure,) = interval_figures(here, "ethenes", related.ethenes)
    assert figure.caption.startswith("Molar shares of the chlorinated ethenes")
    assert "At 1 of the 4 soil points all of these compounds were detected" in figure.description
    makeup = related.ethenes.makeups[0]
    many = replace(related.ethenes, makeups=(makeup,) * MOST_ROWS)
    assert interval_figures(here, "ethenes", many)
    assert interval_figures(here, "ethenes", replace(many, makeups=(makeup,) * (MOST_ROWS + 1))) == ()
