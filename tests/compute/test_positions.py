"""Which of a point's positions stands for it: as surveyed, else as planned; in a project in degrees those first."""

from __future__ import annotations

import pytest
from builders import Row, changed, load, text
from journeys import folder

from sitegen.compute.place.points import points

PLACE = {"location_id": "P-1", "medium": "soil_gas", "status": "placed"}
DEGREES = {"longitude": "-99.3678", "latitude": "43.0812"}
SURVEYED = {"easting": "470020.5", "northing": "4770040.25"}
HALF = {"easting": "470020.5"}
PLANNED = {"plan_easting": "470010", "plan_northing": "4770030"}
UTM = 'crs = "EPSG:32614"'
IN_DEGREES = 'crs = "EPSG:4326"\nmap_crs = "EPSG:32614"'


@pytest.mark.parametrize(
    ("row", "system", "stated"),
    [
        (SURVEYED | PLANNED, UTM, (("easting", "northing"), 470020.5, 4770040.25, "470020.5", "4770040.25")),
        (PLANNED, UTM, (("plan_easting", "plan_northing"), 470010, 4770030, "470010", "4770030")),
        (HALF | PLANNED, UTM, (("plan_easting", "plan_northing"), 470010, 4770030, "470010", "4770030")),
        (DEGREES, IN_DEGREES, (("longitude", "latitude"), -99.3678, 43.0812, "-99.3678", "43.0812")),
        (DEGREES | PLANNED, UTM, (("plan_easting", "plan_northing"), 470010, 4770030, "470010", "4770030")),
    ],
)  # fmt: skip
def test_the_best_position_on_record_stands_for_a_point(
    row: Row, system: str, stated: tuple[tuple[str, str], float, float, str, str]
) -> None:
    """With its columns, its numbers and its texts as received; half of a position is none."""
    found = points(load(changed(text("project.toml", UTM, system), folder=folder({"locations": [PLACE | row]}))))
    assert [one.given for one in found] == [stated]
