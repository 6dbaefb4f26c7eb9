"""One site drawn in each kind of file gives the same features, and what a file says wrong is told with what to do."""

from __future__ import annotations

from pathlib import Path
from zipfile import ZIP_DEFLATED

import pytest
from drawn_files import (
    ROWS,
    corners,
    geojson,
    needs_writer,
    of_type,
    packed,
    read,
    same,
    shapefiles,
    written,
)

LAYERS = '[features]\nlayers = ["a_areas", "b_lines", "c_wells"]'
NO_ROUNDING = 0.0
OF_A_COMPUTED_DEGREE = 2e-9
"""A coordinate that was computed there and back: ours is kept to nine decimals (0.1 mm)."""
OF_A_TENTH_MILLIMETRE = 2e-9
"""Metres written with four decimals are read to 0.05 mm, or half a thousand-millionth of a degree."""


@needs_writer
def test_a_geopackage_gives_the_same_features(tmp_path: Path) -> None:
    """The reference writer's GeoPackage of mixed shapes is read to the last bit."""
    made = written(tmp_path / "a.gpkg", "GPKG", ROWS).read_bytes()
    found, told = read({"features.gpkg": made})
    assert told == []
    same(found, read({"features.geojson": geojson()})[0], NO_ROUNDING)
    assert str(found[1].where) == "locations/features.gpkg, column feature 2"


@needs_writer
def test_zipped_shapefiles_give_the_same_features(tmp_path: Path) -> None:
    """Three layers, declared in order, with holes and parts as they were."""
    found, told = read({"features.zip": packed(shapefiles(tmp_path), ZIP_DEFLATED)}, LAYERS)
    assert told == []
    same(found, read({"features.geojson": geojson()})[0], NO_ROUNDING)


@needs_writer
@pytest.mark.parametrize("crs", ["EPSG:32614", "EPSG:3455", "EPSG:26914"])
def test_a_file_in_another_system_is_computed_to_wgs_84_and_told(tmp_path: Path, crs: str) -> None:
    """Zones of UTM and a state's feet come back to the same degrees; the operation is told with its accuracy."""
    expected = read({"features.geojson": geojson()})[0]
    (tmp_path / "s").mkdir()
    zipped, told = read({"features.zip": packed(shapefiles(tmp_path / "s", crs))}, LAYERS)
    same(zipped, expected, OF_A_COMPUTED_DEGREE)
    assert [one.code for one in told] == ["features-converted"]
    assert "stated accuracy" in told[0].found
    made = written(tmp_path / "a.gpkg", "GPKG", ROWS, crs=crs).read_bytes()
    found, told = read({"features.gpkg": made})
    same(found, expected, OF_A_COMPUTED_DEGREE)
    assert [one.code for one in told] == ["features-converted"]


@needs_writer
def test_kml_gives_the_same_features(tmp_path: Path) -> None:
    """The reference writer's KML, its data typed by a schema, is read to the last digit."""
    made = written(tmp_path / "a.kml", "KML", ROWS).read_bytes()
    found, told = read({"features.kml": made})
    assert told == []
    same(found, read({"features.geojson": geojson()})[0], 1e-12)


@pytest.mark.parametrize(
    ("columns", "rounding"),
    [(("longitude", "latitude"), NO_ROUNDING), (("easting", "northing"), OF_A_TENTH_MILLIMETRE)],
)
def test_typed_corners_give_the_same_features(columns: tuple[str, str], rounding: float) -> None:
    """A ring is closed by itself, a utility stays a line and one corner is a point."""
    found, told = read({"corners.csv": corners(columns)})
    assert [one.code for one in told] == ([] if rounding == NO_ROUNDING else ["features-converted"])
    same(found, read({"features.geojson": geojson()})[0], rounding)
    assert str(found[1].where) == "locations/corners.csv, row 6"


@needs_writer
def test_waypoints_and_tracks_of_gpx_are_features(tmp_path: Path) -> None:
    """The reference writer's waypoints have their kind in the element type, which is declared."""
    wells = [({"name": p["name"], "type": p["kind"]}, shape) for p, shape in of_type("Point")]
    made = written(tmp_path / "a.gpx", "GPX", wells, layer="waypoints").read_bytes()
    site = b"""<trk><name>Walked</name><type>fence</type><trkseg>
      <trkpt lat="43.08" lon="-99.37"/><trkpt lat="43.08" lon="-99.36"/><trkpt lat="43.09" lon="-99.36"/>
    </trkseg></trk></gpx>"""
    both = made.replace(b"</gpx>", site)
    found, told = read({"features.gpx": both}, '[features]\nkind = "type"\nwords = { fence = "site_boundary" }')
    assert told == []
    assert [(f.kind, f.name, f.geometry.geom_type) for f in found] == [
        ("well", "MW-1", "Point"), ("site_boundary", "Walked", "Polygon")
    ]  # fmt: skip
