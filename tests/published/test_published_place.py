"""Projected coordinates, distances and directions against figures from elsewhere."""

from __future__ import annotations

import re

import numpy as np
import pyproj
import pytest
from outside import outside_rows

from sitegen.project.place.coordinates import transform
from sitegen.units import INTERNATIONAL_FOOT, US_SURVEY_FOOT

CRS = {
    "WGS84 to UTM zone 31N EPSG:32631": ("EPSG:4326", "EPSG:32631"),
    "UTM zone 32N": ("EPSG:4326", "EPSG:32632"),
    "UTM zone 59S": ("EPSG:4326", "EPSG:32759"),
    "UTM zone 18, Clarke 1866": ("EPSG:4267", "EPSG:26718"),
}


def _degrees(text: str) -> float:
    """Read ``-2``, ``73d30W`` or ``45d31N``."""
    parts = re.fullmatch(r"(-?[\d.]+)(?:d(\d+))?([NSEW]?)", text)
    assert parts is not None
    value = float(parts[1]) + float(parts[2] or 0) / 60
    return -value if parts[3] in ("S", "W") else value


PROJECTED = [row for row in outside_rows("coordinates") if row["what"] in CRS]


@pytest.mark.published
@pytest.mark.parametrize("row", PROJECTED, ids=lambda r: f"{r['what']} {r['input']}")
def test_projected_coordinates_are_those_published(row: dict[str, str]) -> None:
    """GIGS 5101, PROJ's examples and Snyder 1987, through our own transformation."""
    found = re.fullmatch(r"lon (\S+) lat (\S+)", row["input"])
    assert found is not None
    lon, lat = (_degrees(part) for part in found.groups())
    east, north = transform(*CRS[row["what"]], np.array([lon]), np.array([lat]))
    expected = [float(part) for part in row["expected"].split("|")]
    assert [east[0], north[0]] == pytest.approx(expected, abs=float(row["tolerance"] or 0.1))


@pytest.mark.published
def test_the_geodesic_from_boston_to_portland_is_that_of_the_manual() -> None:
    """PROJ's geod page: azimuth −66°31'50.141", back azimuth 75°39'13.083", 2,587.504 US miles."""
    row = next(r for r in outside_rows("coordinates") if r["what"].startswith("Geodesic Boston"))
    out, back, miles = row["expected"].split(" | ")
    line = pyproj.Geod(ellps="clrk66").inv(-(71 + 7 / 60), 42.25, -(123 + 41 / 60), 45 + 31 / 60)
    assert line[0] == pytest.approx(_dms(out), abs=1e-6)
    assert line[1] == pytest.approx(_dms(back), abs=1e-6)
    assert line[2] / (5280 * US_SURVEY_FOOT.value) == pytest.approx(float(miles), abs=float(row["tolerance"]))


def _dms(text: str) -> float:
    degrees, minutes, seconds = re.findall(r"[\d.]+", text)
    value = float(degrees) + float(minutes) / 60 + float(seconds) / 3600
    return -value if text.startswith("-") else value


@pytest.mark.published
def test_the_geodesic_from_flinders_peak_to_buninyong_is_that_of_the_datum_manual() -> None:
    """Geoscience Australia's worked example on GRS80: 54,972.271 m, 306°52'05.37", 127°10'25.07".

    Read in a program's tests, which quote www.ga.gov.au/geodesy/datums/vincenty_inverse.jsp.
    """
    start = (144 + 25 / 60 + 29.52440 / 3600, -(37 + 57 / 60 + 3.72030 / 3600))
    end = (143 + 55 / 60 + 35.38390 / 3600, -(37 + 39 / 60 + 10.15610 / 3600))
    out, back, metres = pyproj.Geod(ellps="GRS80").inv(*start, *end)
    assert metres == pytest.approx(54_972.271, abs=0.0005)
    assert out % 360 == pytest.approx(306 + 52 / 60 + 5.37 / 3600, abs=0.005 / 3600)
    assert back % 360 == pytest.approx(127 + 10 / 60 + 25.07 / 3600, abs=0.005 / 3600)


@pytest.mark.published
def test_a_state_plane_in_survey_feet_is_that_of_the_guidance_note() -> None:
    """EPSG guidance note 7-2, Lambert conic with two parallels: NAD27 / Texas South Central.

    28°30'N 96°W gives 2,963,503.91 E 254,759.80 N, US survey feet (figures read in the
    tests of several programs that cite the note).
    """
    east, north = transform("EPSG:4267", "EPSG:32040", np.array([-96.0]), np.array([28.5]))
    assert [east[0], north[0]] == pytest.approx([2_963_503.91, 254_759.80], abs=0.01)
    unit = pyproj.CRS("EPSG:32040").axis_info[0].unit_conversion_factor
    assert unit == pytest.approx(US_SURVEY_FOOT.value, rel=1e-12)
    assert unit != pytest.approx(INTERNATIONAL_FOOT.value, rel=1e-6)


@pytest.mark.published
def test_the_british_grid_is_that_of_the_guidance_note() -> None:
    """EPSG guidance note 7-2, transverse Mercator: 50°30'N 0°30'E, 577,274.99 E 69,740.50 N (from memory)."""
    east, north = transform("EPSG:4277", "EPSG:27700", np.array([0.5]), np.array([50.5]))
    assert [east[0], north[0]] == pytest.approx([577_274.99, 69_740.50], abs=0.01)
