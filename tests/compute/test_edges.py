"""Counts at their edges: what a basis counts, what is measured, when a mean is refused."""

from __future__ import annotations

from types import SimpleNamespace
from typing import cast

import numpy as np
import pandas as pd
import pytest
from builders import cells, changed, load

from sitegen.compute.evaluate import Evaluation, evaluate
from sitegen.compute.evidence.bases import bases
from sitegen.compute.evidence.worked import Facts, _ordering
from sitegen.compute.results.relate import flow_paths
from sitegen.compute.statistics.intervals import DEMANDS, refusal_of
from sitegen.compute.text.claims import Record

DEPLOYMENTS = "field/deployments.csv"


@pytest.fixture(scope="module")
def plain() -> Evaluation:
    return evaluate(load(changed()))


def test_a_basis_counts_what_is_on_record_of_what_would_be(plain: Evaluation) -> None:
    """58 samplers were placed, one was lost: 57 came back, each with a condition; three duplicates, all compared."""
    found = bases(plain)
    assert {name: (found[name].on, found[name].of) for name in ("returns", "conditions", "duplicates")} == {
        "returns": (58, 58),
        "conditions": (57, 57),
        "duplicates": (3, 3),
    }
    fewer = bases(evaluate(load(changed(cells(DEPLOYMENTS, "0047103", condition="")))))
    assert (fewer["conditions"].on, fewer["conditions"].of) == (56, 57)


def test_nothing_is_measured_of_a_compound_without_results(plain: Evaluation) -> None:
    """A compound that nobody analysed has no mass anywhere; one that was has one at its point."""
    record = Record(plain)
    assert record.result_at("compound", "unheard-of", "SG-01") is None
    assert record.result_at("group", "unheard-of", "SG-01") is None
    assert record.result_at("compound", "pce", "SG-01") is not None


@pytest.mark.parametrize(
    ("values", "detected", "refusal"),
    [
        ([5.0] * 8, [True] * 8, "one detected value"),
        ([5.0] * 7 + [6.0], [True] * 8, ""),
        ([5.0] * 7 + [6.0], [True] * 7 + [False], "one detected value"),
        ([5.0] * 6 + [6.0], [True] * 7, "too few results"),
        ([1.0, 2.0, 3.0, 4.0] * 2, [True, False] * 4, ""),
        ([1.0, 2.0, 3.0, 4.0] * 2, [True, False] * 3 + [False] * 2, "too many non-detects"),
    ],
)
def test_a_mean_wants_eight_results_half_of_them_detected_and_two_values(
    values: list[float], detected: list[bool], refusal: str
) -> None:
    """Kaplan–Meier: at least 8 results, at most 50 % non-detects, and detections that differ."""
    (demand,) = (d for d in DEMANDS if d.estimator == "kaplan_meier")
    assert refusal_of(demand, np.array(values), np.array(detected)) == refusal


def test_flow_lines_are_lines(plain: Evaluation) -> None:
    """The example's map has one line of the water's way, drawn past several points."""
    (flow,) = flow_paths(plain.survey, plain.points, 15.0)
    assert flow.length_m > 0
    assert len(flow.points) > 2


def ordered(*masses: float) -> Facts | None:
    """Return what is shown of the ordering of one compound: detections, and a non-detect at 0.5."""
    rows = [{"value": mass, "detected": True, "lod": 0.1} for mass in masses]
    rows.append({"value": np.nan, "detected": False, "lod": 0.5})
    primary = pd.DataFrame(rows).assign(medium="soil_gas", rejected=False, analyte_id="a")
    compounds = (SimpleNamespace(analyte_id="a", name="A"),)
    return _ordering(cast("Evaluation", SimpleNamespace(primary=primary, compounds=compounds)))


def test_the_step_at_the_median_is_shown_where_a_value_stands_on_either_side() -> None:
    """Of 1 to 5 and a non-detect below, F(1) is 2/6, F(2) 3/6 and F(3) 4/6: the median is 2, and 4 results reach to 3.

    F(2) = F(3) × (1 − 1/4). Where the median is the lowest or the highest detection, no step is shown.
    """
    found = ordered(1, 2, 3, 4, 5)
    assert found is not None
    numbers = {name: float(text) for name, text in found.items() if name != "compound"}
    assert numbers == pytest.approx(
        {"median": 2, "next": 3, "steps": 1, "risk": 4, "f_next": 4 / 6, "f_median": 3 / 6, "f_before": 2 / 6}, abs=1e-3
    )
    assert ordered(1, 2, 2, 2, 2) is None
    assert ordered(1, 1, 1, 1, 2) is None
