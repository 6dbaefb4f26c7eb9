"""Sums that rest on results above the calibration: more than half, named from the highest down."""

from __future__ import annotations

import pandas as pd
import pytest

from sitegen.compute.quality.overrange import above_calibration, resting, resting_groups, resting_points

_ROW = {"lab_sample_id": "L", "detected": True, "rejected": False, "unit": "ng", "lab_qualifier": "",
        "calibration_top": 1000.0}  # fmt: skip


def rows(*made: tuple[str, str, float | None, str], **other: object) -> pd.DataFrame:
    """Return results from (point, compound, mass or None for a non-detect, the laboratory's qualifier)."""
    return pd.DataFrame(
        [
            _ROW | {"location_id": point, "analyte_id": name, "value": value, "detected": value is not None,
                    "lab_qualifier": qualifier} | other
            for point, name, value, qualifier in made
        ]
    )  # fmt: skip


def test_more_than_half_is_named_and_half_is_not() -> None:
    """1,500 of 2,900 ng is 52 %; 1,500 of 3,000 is a half."""
    found = resting(rows(("A", "b", 1500, ""), ("A", "t", 900, ""), ("B", "b", 500, "")))
    assert found is not None
    assert found.share == pytest.approx(1500 / 2900)
    assert found.results == (("A", "L", "b"),)
    assert resting(rows(("A", "b", 1500, ""), ("A", "t", 900, ""), ("B", "b", 600, ""))) is None


def test_several_together_are_named_from_the_highest_down() -> None:
    found = resting(rows(("B", "t", 1100, ""), ("A", "b", 1100, ""), ("C", "b", 4000, ""), ("A", "t", 1000, "")))
    assert found is not None
    assert [one[0::2] for one in found.results] == [("C", "b"), ("A", "b"), ("B", "t")]


def test_the_laboratory_s_e_counts_where_no_calibration_top_is_given() -> None:
    frame = rows(("A", "b", 50, "E"), ("A", "t", 40, "J E"), ("A", "x", 30, "NE"), calibration_top=float("nan"))
    assert above_calibration(frame).tolist() == [True, True, False]


def test_rejected_results_non_detects_and_other_units_take_no_part() -> None:
    assert resting(rows(("A", "b", 5000, "E"), rejected=True)) is None
    assert resting(rows(("A", "b", 5000, "E"), unit="ug/m3")) is None
    assert resting(rows(("A", "b", None, "U"))) is None


def test_points_and_groups_are_told_apart() -> None:
    frame = rows(
        ("A", "b", 5000, ""), ("A", "t", 900, ""), ("B", "b", 400, ""), ("B", "p", 2000, ""), ("B", "q", 9000, "")
    )
    assert list(resting_points(frame)) == ["A", "B"]
    groups = {"b": "fuel", "t": "fuel", "p": "chlor", "q": "chlor"}
    assert {g: list(points) for g, points in resting_groups(frame, groups, ("fuel", "chlor")).items()} == {
        "fuel": ["A"],
        "chlor": ["B"],
    }
