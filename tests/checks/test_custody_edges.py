"""Rules on custody at their edges: a bag without samplers, a role between two others, a hand-over without a role."""

from __future__ import annotations

from collections.abc import Mapping

import pytest
from builders import Row, cell, changed, survey_findings
from journeys import folder

from sitegen.checks.custody import custody_gaps, some_holder
from sitegen.compute.evaluate import Evaluation, evaluate
from sitegen.project.load import load_folder
from sitegen.project.survey import Survey


@pytest.mark.parametrize(("role", "words"), [("PM-1", "PM-1"), ("", "a role not recorded")])
def test_a_hand_over_that_nobody_signed_names_the_role(role: str, words: str) -> None:
    """Event E-0024 of the example is PM-1's; without a role none is made up."""
    found = survey_findings(changed(cell("field/custody.csv", "E-0024", "by_role", role)))
    said = [f.found for f in found if f.code == "hand-over-unsigned" and f.subject == "E-0024"]
    assert said == [f"no signature of {words} for bag RB-1"]


def test_a_bag_of_its_own_has_its_own_gap() -> None:
    """No sampler is on record in B-3: given on 11 June at 10:00 and taken a day later, a day with no holder."""
    tables = {
        "return_bags": [{"bag_id": "B-3"}],
        "custody": [
            event(1, "bag", "B-3", "relinquished", "2025-06-11T10:00", "FS-1"),
            event(2, "bag", "B-3", "accepted", "2025-06-12T10:00", "PM-1"),
        ],
    }
    (found,) = custody_gaps(*evaluated(tables))
    assert (found.code, found.subject_kind) == ("custody-gap", "bag")
    assert found.found.startswith(
        "no custodian recorded for 1 d between FS-1 and PM-1, in transit from 11 June 2025, 10:00"
    )


def test_a_role_that_took_and_gave_before_the_laboratory_held_it() -> None:
    """FS-2 had the sampler from 11 to 12 June; of whoever had it before and after nothing is on record."""
    tables = {
        "samplers": [{"sampler_id": "S-1", "kind": "sample"}],
        "locations": [{"location_id": "P-1", "medium": "soil_gas"}],
        "deployments": [
            {"sampler_id": "S-1", "location_id": "P-1", "placed_at": "2025-06-02T08:00",
             "retrieved_at": "2025-06-10T08:00", "condition": "intact"}
        ],
        "custody": [
            event(1, "sampler", "S-1", "accepted", "2025-06-11T10:00", "FS-2"),
            event(2, "sampler", "S-1", "relinquished", "2025-06-12T10:00", "FS-2"),
        ],
    }  # fmt: skip
    assert [f.code for f in some_holder(*evaluated(tables))] == []
    assert [f.code for f in some_holder(*evaluated(tables | {"custody": []}))] == ["custody-none"]


def event(number: int, kind: str, name: str, what: str, at: str, by: str) -> Row:
    return {"event_id": f"E-{number}", "subject_kind": kind, "subject_id": name, "event": what, "at": at, "by_role": by}


def evaluated(tables: Mapping[str, list[Row]]) -> tuple[Survey, Evaluation]:
    """Return a folder of a few rows as read, and what is computed from it."""
    survey, _ = load_folder(folder(tables))
    assert survey is not None
    return survey, evaluate(survey)
