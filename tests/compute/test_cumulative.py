"""The cumulative distribution over points: its steps by hand, and those of published data."""

from __future__ import annotations

import byhand_survey as survey
import numpy as np
import pytest
from builders import load

from sitegen.compute.evaluate import evaluate
from sitegen.compute.results.cumulative import Cumulative, Level, cumulative, distribution
from sitegen.compute.results.store import StoredResult, stored_results


def rows(analyte_id: str) -> list[StoredResult]:
    """Return the results of a compound at the five soil points of the survey worked by hand."""
    primary = evaluate(load(survey.folder(survey.FILES))).primary
    wanted = (primary["analyte_id"] == analyte_id) & (primary["medium"] == "soil_gas")
    return stored_results(primary[wanted])


def test_a_non_detect_counts_below_each_detection_at_or_above_its_limit() -> None:
    """Benzene 26, 55, 140, <5, <50: at 140 1 of 5 steps, at 55 1 of 4, at 26 1 of the 2 at or below it.

    From the top 1, then 4/5 = 0.8, then 0.8 × 3/4 = 0.6, and 0.6 × 1/2 = 0.3 below: the <50 has no step.
    """
    found = cumulative(rows("benzene"))
    assert found is not None
    expected = [(5, 0, 1, None), (26, 1, 0, 0.6), (50, 0, 1, None), (55, 1, 0, 0.8), (140, 1, 0, 1.0)]
    assert [level[:3] for level in found.levels] == [level[:3] for level in expected]
    assert dict(found.steps) == pytest.approx({26: 0.6, 55: 0.8, 140: 1.0})
    assert (found.below, found.median) == (pytest.approx(0.3), 26)


def test_too_few_detections_or_a_limit_of_nothing_give_no_distribution() -> None:
    """One detection of cis-1,2-DCE is too few, and so are two; a limit of 0 has no place on a scale of decades."""
    assert cumulative(rows("cis12dce")) is None
    benzene = rows("benzene")
    nothing = [row if row.detected else row._replace(lod=0.0) for row in benzene]
    assert cumulative(nothing) is None
    rejected = [row._replace(rejected=True, detected=False) if row.value == 140 else row for row in benzene]
    assert cumulative(rejected) is None


def test_a_rejected_result_is_no_part_of_the_distribution() -> None:
    """Without the non-detect of 50, which a person rejects, four results are left: steps of a quarter above 26."""
    benzene = [row._replace(rejected=row.lod == 50) for row in rows("benzene")]
    found = cumulative(benzene)
    assert found is not None
    assert dict(found.steps) == pytest.approx({26: 0.5, 55: 0.75, 140: 1.0})
    assert found.below == pytest.approx(0.25)


def test_equal_masses_and_limits_stand_at_one_level() -> None:
    """2 and 2 of four, with a non-detect at 2: 3/4 at the level below the highest, 0.75 × 1/3 under it."""
    found = distribution(np.array([2.0, 2.0, 2.0, 4.0]), np.array([True, False, True, True]))
    assert found == Cumulative((Level(2.0, 2, 1, 0.75), Level(4.0, 1, 0, 1.0)), pytest.approx(0.25), 2.0)  # type: ignore[arg-type]
