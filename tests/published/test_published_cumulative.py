"""The steps that are drawn of a distribution, against published data with non-detects at several limits."""

from __future__ import annotations

import pytest
from outside import outside_rows
from test_published_censored import SIMULATED, data_set

from sitegen.compute.results.cumulative import distribution


@pytest.mark.published
@pytest.mark.parametrize("name", SIMULATED)
def test_drawn_steps_agree_with_a_survival_library(name: str) -> None:
    """values/simulated_cumulative.csv (lifelines 0.30.3, left-censoring fit), and every value stands at a level."""
    values, detected = data_set(name, "simulated", "value_or_limit")
    theirs = {float(r["at"]): float(r["value"]) for r in outside_rows("simulated_cumulative") if r["dataset"] == name}
    found = distribution(values, detected)
    assert dict(found.steps) == pytest.approx(
        {mass: theirs[mass] for mass in set(values[detected].tolist())}, abs=1e-12
    )
    assert sum(level.detections for level in found.levels) == int(detected.sum())
    assert sum(level.nondetects for level in found.levels) == len(values) - int(detected.sum())


@pytest.mark.published
def test_the_median_of_the_arsenic_of_oahu_is_the_published_one() -> None:
    """Helsel 2005: 0.7 µg/L, of 24 values with 13 non-detects at 0.9, 1 and 2 (values/censored_answers.csv)."""
    (row,) = [
        r for r in outside_rows("censored_answers") if (r["dataset"], r["statistic"]) == ("oahu_arsenic", "km_median")
    ]
    values, detected = data_set("oahu_arsenic")
    found = distribution(values, detected)
    assert found.median == float(row["published_value"])
    assert {level.mass for level in found.levels if level.nondetects} == {0.9, 1.0, 2.0}
    assert sum(level.nondetects for level in found.levels) == 13
