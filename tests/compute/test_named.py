"""A point is named by the building on its record, else by the feature that contains it, else by one that is near."""

from __future__ import annotations

import json
from functools import cache

import pytest
from builders import changed, content, load, row_of

from sitegen.compute.place.named import NEAR_M, Place, place_of
from sitegen.compute.place.points import Point
from sitegen.project.schema import Origin
from sitegen.project.survey import Survey
from sitegen.project.tables import Location

LON, LAT = -99.0, 43.0
"""On the central meridian of zone 14: 500,000 m east. A degree of longitude is 81,498 m x 0.9996 there (GRS 80,
from memory: 111,319.49 m x cos 43 degrees / sqrt(1 - 0.00669438 x sin^2 43 degrees) = 81,541 m); of latitude
111,079 m. The distances below are far enough from the limit that a metre does not matter."""


def square(name: str, kind: str, east_m: float, half_m: float, *, public: str = "yes") -> dict[str, object]:
    """Return a square feature around a place so far east of the origin."""
    x, dx, dy = LON + east_m / 81_500, half_m / 81_500, half_m / 111_080
    ring = [[x - dx, LAT - dy], [x + dx, LAT - dy], [x + dx, LAT + dy], [x - dx, LAT + dy], [x - dx, LAT - dy]]
    return {
        "type": "Feature",
        "properties": {"kind": kind, "name": name, "public": public},
        "geometry": {"type": "Polygon", "coordinates": [ring]},
    }


@cache
def survey() -> Survey:
    features = [
        square("Whole site", "site_boundary", 0, 500),
        square("Yard", "paved_area", 0, 30),
        square("Shed", "building", 0, 5),
        square("Secret tank", "tank", 20, 2, public="no"),
        square("Mill", "building", 100, 5),
    ]
    collection = json.dumps({"type": "FeatureCollection", "features": features}).encode()
    return load(changed(content("locations/features.geojson", collection)))


def at(east_m: float) -> Point:
    lon = LON + east_m / 81_500
    return Point(
        "P", "soil_gas", "", 500_000 + east_m, 4_760_814.0, lon, LAT, None, as_planned=False, origin=Origin("x", 2)
    )


@pytest.mark.parametrize(
    ("east_m", "medium", "place"),
    [
        (0, "soil_gas", Place("at", "Shed")),
        (0, "sub_slab", Place("beneath", "Shed")),
        (0, "indoor_air", Place("in", "Shed")),
        (15, "soil_gas", Place("at", "Yard")),
        (20, "soil_gas", Place("at", "Yard")),
        (30 + NEAR_M - 3, "soil_gas", Place("near", "Yard")),
        (30 + NEAR_M + 3, "soil_gas", None),
        (95 - NEAR_M + 3, "sub_slab", Place("near", "Mill")),
    ],
)
def test_the_smallest_feature_that_contains_a_point_names_it_else_the_nearest(
    east_m: float, medium: str, place: Place | None
) -> None:
    """Neither the boundary nor a feature that is not public names a point."""
    assert place_of(survey(), row_of(Location, location_id="P", medium=medium), at(east_m)) == place


def test_the_building_on_its_record_comes_first_unless_it_is_not_public() -> None:
    row = row_of(Location, location_id="P", medium="crawl_space", building="Mill")
    assert place_of(survey(), row, at(0)) == Place("beneath", "Mill")
    assert place_of(survey(), row, None) == Place("beneath", "Mill")
    hidden = row_of(Location, location_id="P", medium="soil_gas", building="Secret tank")
    assert place_of(survey(), hidden, at(20)) == Place("at", "Yard")
    assert place_of(survey(), hidden, None) is None
