"""Sums by group: only detections add up, and every sum says of how many compounds."""

from __future__ import annotations

import pandas as pd

from sitegen.compute.results.groupsums import group_sums

GROUPS = {"pce": "ethenes", "tce": "ethenes", "benzene": "fuels", "mtbe": "oxygenates", "toluene": "fuels"}


def result(location: str, analyte: str, value: float | None, **changes: object) -> dict[str, object]:
    row = {
        "location_id": location,
        "sampler_id": f"s-{location}",
        "lab_sample_id": f"l-{location}",
        "analyte_id": analyte,
        "unit": "ng",
        "rejected": False,
        "detected": value is not None,
        "value": float("nan") if value is None else value,
    }
    return row | changes


FRAME = pd.DataFrame(
    [
        result("A", "pce", 100.0),
        result("A", "tce", 20.0),
        result("A", "benzene", None),
        result("A", "toluene", 7.0, rejected=True),
        result("B", "pce", 5.0),
        result("B", "tce", None),
        result("B", "mtbe", 9.0),
        result("B", "benzene", 3.0, unit="ug/m3"),
    ]
)


def test_sums_hold_detections_alone_and_count_what_was_looked_for() -> None:
    found = group_sums(FRAME, GROUPS)
    a, b = found["ethenes"]["A"], found["ethenes"]["B"]
    assert (a.mass_ng, a.detected, a.analysed) == (120.0, 2, 2)
    assert (b.mass_ng, b.detected, b.analysed) == (5.0, 1, 2)
    assert a.detections == (("s-A", "l-A", "pce"), ("s-A", "l-A", "tce"))


def test_nothing_detected_is_no_number() -> None:
    fuels = group_sums(FRAME, GROUPS)["fuels"]["A"]
    assert (fuels.mass_ng, fuels.detected, fuels.analysed) == (None, 0, 1)


def test_rejected_results_other_units_and_lone_compounds_stay_out() -> None:
    found = group_sums(FRAME, GROUPS)
    assert list(found) == ["ethenes", "fuels"]
    assert "B" not in found["fuels"]
