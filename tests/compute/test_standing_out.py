"""Local lows, unit slips and sums: found where they are planted, and nowhere else."""

from __future__ import annotations

import builders
import pandas as pd
import pytest

from sitegen.compute.evaluate import Evaluation, evaluate
from sitegen.compute.limits import DEFAULTS
from sitegen.compute.place.points import Point
from sitegen.compute.quality.locallow import unit_slips
from sitegen.compute.results.totals import detected_sums, soil_sum
from sitegen.project.schema import SOIL_MEDIA, Origin

RESULTS = "lab/results.csv"


def evaluated(*changes: builders.Change) -> Evaluation:
    return evaluate(builders.load(builders.changed(*changes)))


@pytest.fixture(scope="module")
def plain() -> Evaluation:
    return evaluated()


def test_the_wet_vial_and_two_true_lows_are_named(plain: Evaluation) -> None:
    """The example's hidden truth: SG-37 held water, SG-10 and SG-29 are truly low."""
    assert [(low.location_id, low.marked) for low in plain.local_lows] == [
        ("SG-10", False), ("SG-29", False), ("SG-37", True),
    ]  # fmt: skip
    for low in plain.local_lows:
        assert len(low.neighbours) == 3
        assert "SG-37" not in low.neighbours, "a marked point is no measure of others"
        for part in low.compounds:
            assert part.at_most_ng < 0.25 * part.lowest_neighbour_ng


def of_sampler(ev: Evaluation, location_id: str) -> set[str]:
    rows = ev.primary[ev.primary["location_id"] == location_id]
    return set(rows["lab_sample_id"])


def lowered(samples: set[str], names: set[str]) -> builders.Change:
    def edit(rows: list[builders.Row]) -> list[builders.Row]:
        for row in rows:
            if row["lab_sample_id"] in samples and row["analyte_id"] in names:
                row["value"] = repr(float(row["value"]) / 1000)
        return rows

    return builders.table(RESULTS, edit)


def test_one_compound_alone_makes_no_local_low(plain: Evaluation) -> None:
    """SG-36 lowered in PCE alone is not named; in PCE and TCE it is."""
    samples = of_sampler(plain, "SG-36")
    one = evaluated(lowered(samples, {"pce"}))
    two = evaluated(lowered(samples, {"pce", "tce"}))
    assert "SG-36" not in {low.location_id for low in one.local_lows}
    found = {low.location_id: [part.analyte_id for part in low.compounds] for low in two.local_lows}
    assert found["SG-36"] == ["pce", "tce"]


def test_a_value_a_thousand_times_too_high_is_named(plain: Evaluation) -> None:
    """SG-18's trichloroethene in other units stands out against its neighbours; before, nothing does."""
    assert unit_slips(plain.primary, plain.points, plain.limits) == ()
    samples = of_sampler(plain, "SG-18")

    def edit(rows: list[builders.Row]) -> list[builders.Row]:
        for row in rows:
            if row["lab_sample_id"] in samples and row["analyte_id"] == "tce":
                row["value"] = repr(1000 * float(row["value"]))
        return rows

    after = evaluated(builders.table(RESULTS, edit))
    found = unit_slips(after.primary, after.points, after.limits)
    assert [(s.location_id, s.analyte_id) for s in found] == [("SG-18", "tce")]
    assert 500 <= found[0].ratio <= 2000


@pytest.mark.parametrize(
    ("factor", "named"),
    [(1000.0, 1000.0), (499.0, None), (2001.0, None), (1 / 1000, 1 / 1000), (1 / 499, None)],
)
def test_a_slip_is_about_a_thousand_times_or_a_thousandth(factor: float, named: float | None) -> None:
    """Neighbours at 20 and 10, a fourth point without a detection: the ratio is to 20 upwards, to 10 downwards.

    The point at 10, which lies between its neighbours at 20 and a thousandth, is no slip.
    """
    value = factor * (20.0 if factor > 1 else 10.0)
    frame = pd.DataFrame(
        {
            "location_id": ["A", "B", "C", "D"], "sampler_id": ["a", "b", "c", "d"], "medium": "soil_gas",
            "lab_sample_id": ["LA", "LB", "LC", "LD"], "analyte_id": "x", "unit": "ng", "_file": "f.csv",
            "_row": [2, 3, 4, 5], "value": [value, 20.0, 10.0, float("nan")], "detected": [True, True, True, False],
        }
    )  # fmt: skip
    points = tuple(
        Point(n, "soil_gas", "soil", x, 0.0, 0.0, 0.0, None, False, Origin("locations.csv", 2))
        for n, x in (("A", 0.0), ("B", 1.0), ("C", 2.0), ("D", 3.0))
    )
    found = unit_slips(frame, points, {record.name: record for record in DEFAULTS})
    if named is None:
        assert found == ()
    else:
        assert [(slip.location_id, slip.origin) for slip in found] == [("A", Origin("f.csv", 2))]
        assert found[0].ratio == pytest.approx(named)


def test_sums_leave_nondetects_out_and_count_them(plain: Evaluation) -> None:
    """The sums of points add up to that of the survey, and each is counted out of all results."""
    soil = plain.primary[plain.primary["medium"].isin(SOIL_MEDIA)]
    hits = soil[soil["detected"]]
    assert plain.soil_sum.mass_ng == pytest.approx(hits["value"].sum())
    assert (plain.soil_sum.detected, plain.soil_sum.analysed) == (len(hits), len(soil))
    names = set(soil["location_id"])
    parts = [made for name, made in plain.sums.items() if name in names]
    assert sum(made.mass_ng for made in parts) == pytest.approx(plain.soil_sum.mass_ng)
    assert 0 < plain.soil_sum.touched < plain.soil_sum.detected


def test_a_point_without_detections_has_a_sum_of_nothing() -> None:
    """Zero, with none of two: the count says that nothing was found, not that nothing is there."""
    frame = pd.DataFrame(
        {
            "location_id": "A", "lab_sample_id": "L", "analyte_id": ["a", "b"], "unit": "ng", "medium": "soil_gas",
            "rejected": False, "detected": False, "value": float("nan"),
        }
    )  # fmt: skip
    made = detected_sums(frame, frozenset())["A"]
    assert (made.mass_ng, made.detected, made.analysed) == (0.0, 0, 2)
    assert soil_sum(frame.iloc[:0], frozenset()).analysed == 0
