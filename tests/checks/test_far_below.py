"""What is said of a point far below its neighbours: its lowest compound, and whether that was detected."""

from __future__ import annotations

from types import SimpleNamespace

import pytest
from few_rows import survey_of

from sitegen.checks.patterns import far_below_neighbours
from sitegen.compute.quality.locallow import LocalLow, LowCompound
from sitegen.project.schema import Origin
from sitegen.units import NANOGRAM

NAMES = {"analytes": [{"analyte_id": "pce", "name": "PCE"}, {"analyte_id": "tce", "name": "TCE"}]}


@pytest.mark.parametrize(
    ("detected", "here"),
    [(True, "5.0 ng per sampler, the lowest there 100"), (False, "<5.0 ng per sampler, the lowest there 100")],
)
def test_the_lowest_compound_is_told_as_a_value_or_as_a_limit(*, detected: bool, here: str) -> None:
    """Of 5 against 100 and 20 against 200 the first is lower: a twentieth against a tenth. Two figures are written."""
    compounds = LowCompound("tce", 20.0, not detected, 200.0), LowCompound("pce", 5.0, detected, 100.0)
    low = LocalLow("P-1", "S-1", ("P-2", "P-3", "P-4"), compounds, marked=False)
    evaluation = SimpleNamespace(
        limits={"local_low_share": SimpleNamespace(value=0.2, source="by hand")},
        points=[SimpleNamespace(location_id="P-1", origin=Origin("locations/locations.csv", 2))],
        local_lows=(low,),
        mass_unit=NANOGRAM,
    )
    (finding,) = far_below_neighbours(survey_of(NAMES), evaluation)  # type: ignore[arg-type]
    assert (finding.subject, finding.where.row) == ("P-1", 2)
    assert finding.found.startswith("2 compounds at P-1 far below P-2, P-3, P-4 (TCE, PCE); PCE ")
    assert finding.found.endswith(f"; PCE {here}")
    around = "the three nearest points without a sample-specific qualification"
    assert finding.expected == f"at least 0.2 of the lowest result at {around} (by hand)"
    assert [(touch.sampler_id, touch.analyte_id) for touch in finding.touches] == [("S-1", "tce"), ("S-1", "pce")]
