"""The GeoPackage: the tables and marks that the standard asks for, and layers that a GIS reads."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from math import isnan
from pathlib import Path

import pyproj
import pytest
import shapely
from export_samples import AREA, CRS, LAT, LON, RESULTS, X, Y, export_report
from sample_report import sample_meta

from sitegen.render.data.geopackage import APPLICATION_ID, VERSION, geopackage_bytes
from sitegen.render.map.layers import Layer, map_layers, reproject
from sitegen.report.record.takeaway import TakeAway

REPORT = export_report()
LAYERS = tuple(map_layers(REPORT))
NAMES = [layer.name for layer in LAYERS]


@pytest.fixture(scope="module")
def package(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("map") / "survey.gpkg"
    path.write_bytes(geopackage_bytes(LAYERS, sample_meta()))
    return path


@pytest.fixture
def base(package: Path) -> Iterator[sqlite3.Connection]:
    with closing(sqlite3.connect(package)) as opened:
        yield opened


def test_the_file_says_what_it_is(package: Path, base: sqlite3.Connection) -> None:
    """It bears the application id and version of the standard, is sound, and tells of no SQLite of its own."""
    assert base.execute("PRAGMA application_id").fetchone() == (APPLICATION_ID,)
    assert base.execute("PRAGMA user_version").fetchone() == (VERSION,)
    assert base.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    assert base.execute("PRAGMA foreign_key_check").fetchall() == []
    assert package.read_bytes()[96:100] == bytes(4)
    assert package.read_bytes() == geopackage_bytes(LAYERS, sample_meta())


def test_every_table_is_listed_with_its_system_and_the_reports_date(base: sqlite3.Connection) -> None:
    """Contents, geometry columns and systems agree; the three systems of the standard are there."""
    listed = dict(base.execute("SELECT table_name, last_change FROM gpkg_contents"))
    assert list(listed) == [*NAMES, "layer_styles"]
    assert set(listed.values()) == {f"{sample_meta().report_date}T00:00:00.000Z"}
    systems = dict(base.execute("SELECT srs_id, definition FROM gpkg_spatial_ref_sys"))
    assert set(systems) == {-1, 0, 4326, 32614}
    assert pyproj.CRS.from_wkt(systems[32614]) == pyproj.CRS(CRS)
    placed = dict(base.execute("SELECT table_name, srs_id FROM gpkg_geometry_columns"))
    assert placed == {layer.name: int(layer.crs[5:]) for layer in LAYERS if layer.crs}
    box = base.execute("SELECT min_x, max_x FROM gpkg_contents WHERE table_name = 'locations'").fetchone()
    assert box == (X, X + 20)


def test_points_areas_and_features_stand_in_both_systems_and_units_apart() -> None:
    """Each layer of places is there twice, results in a layer for each unit, with a point or without one."""
    for name in ("locations", "contours", "features_building", "features_utility", "by_point_air_ug_m3"):
        assert {name, f"{name}_wgs84"} <= set(NAMES)
    units = ["results_ug_m3", "results_ng_per_sampler"]
    assert [name for name in NAMES if name.startswith("results")] == [*units, *(f"{name}_wgs84" for name in units)]
    assert "columns" in NAMES


def test_every_column_says_its_meaning_and_unit(base: sqlite3.Connection) -> None:
    """The schema extension is named, and describes the columns as the tables do."""
    assert {row[0] for row in base.execute("SELECT extension_name FROM gpkg_extensions")} == {"gpkg_schema"}
    told = base.execute("SELECT description FROM gpkg_data_columns WHERE table_name LIKE 'results%' AND name = 'value'")
    assert set(told) == {("empty for a non-detect; unit: as in unit",)}
    note = base.execute("SELECT description FROM gpkg_contents WHERE table_name = 'results_ng_per_sampler'").fetchone()
    assert note == (RESULTS.note,)


def test_a_geometry_moved_there_and_back_is_where_it_was() -> None:
    """Rounding to the millimetre moves no corner by more than about a centimetre."""
    shape = shapely.geometry.shape(AREA)
    there = reproject([shape, None], "EPSG:4326", CRS)
    back = reproject(there, CRS, "EPSG:4326")
    assert back[1] is None
    assert shapely.equals_exact(shape, back[0], 1e-7)
    assert not shapely.equals_exact(shape, there[0], 1e-7)


def test_a_report_without_places_still_has_its_tables() -> None:
    """Tables alone make a file with attribute tables."""
    bare = replace(export_report(RESULTS), map=replace(REPORT.map, features=()))
    layers = tuple(map_layers(bare))
    assert [(layer.name, layer.crs) for layer in layers] == [("results", "")]
    assert geopackage_bytes(layers, sample_meta()).startswith(b"SQLite format 3\0")


def test_a_gis_library_reads_every_layer_with_its_system_rows_and_places(package: Path) -> None:
    """GDAL, through pyogrio, finds the layers, and gives back the rows and places of the report."""
    pyogrio = pytest.importorskip("pyogrio", reason="pyogrio (extra: outside) is not installed")
    assert {name for name, _ in pyogrio.list_layers(package)} == {*NAMES, "layer_styles"}
    for layer in LAYERS:
        meta, _, geometries, columns = pyogrio.raw.read(package, layer=layer.name)
        assert meta["crs"] == (layer.crs or None)
        assert list(meta["fields"]) == [field.name for field in layer.fields]
        for at, field in enumerate(layer.fields):
            meant = [row[at] for row in layer.rows]
            got = [None if isinstance(value, float) and isnan(value) else value for value in columns[at].tolist()]
            assert got == meant, (layer.name, field.name)
        if layer.crs:
            assert [None if wkb is None else shapely.from_wkb(wkb) for wkb in geometries] == list(layer.shapes)


def test_a_point_of_the_report_is_read_where_it_lies(package: Path) -> None:
    """The first point is at its easting and northing, and at its longitude and latitude."""
    pyogrio = pytest.importorskip("pyogrio", reason="pyogrio (extra: outside) is not installed")
    for layer, place in (("locations", (X, Y)), ("locations_wgs84", (LON, LAT)), ("results_ug_m3", (X, Y)),
                         ("results_ug_m3_wgs84", (LON, LAT))):  # fmt: skip
        _, _, geometries, _ = pyogrio.raw.read(package, layer=layer, max_features=1)
        assert shapely.from_wkb(geometries[0]).coords[0] == place


FEET = "EPSG:3455"
"""NAD83 / South Dakota South in US survey feet (EPSG register)."""


def in_feet() -> tuple[Layer, ...]:
    """Return the report's layers with its points in a system in feet."""
    move = pyproj.Transformer.from_crs(CRS, FEET, always_xy=True).transform
    tables = [replace(one, crs=FEET, places=tuple(place and move(*place) for place in one.places)) if one.crs else one
              for one in (*REPORT.exports, *REPORT.away.tables)]  # fmt: skip
    away = TakeAway(tuple(tables[len(REPORT.exports) :]))
    return tuple(map_layers(replace(REPORT, exports=tuple(tables[: len(REPORT.exports)]), away=away)))


def test_a_survey_in_feet_is_read_in_its_feet(tmp_path: Path) -> None:
    """The foot of the definition is 1200/3937 m (24 FR 5348); GDAL finds the system, and the points where they lie."""
    pyogrio = pytest.importorskip("pyogrio", reason="pyogrio (extra: outside) is not installed")
    path = tmp_path / "survey.gpkg"
    path.write_bytes(geopackage_bytes(in_feet(), sample_meta()))
    with closing(sqlite3.connect(path)) as base:
        wanted = (
            "SELECT organization, organization_coordsys_id, definition FROM gpkg_spatial_ref_sys WHERE srs_id = 3455"
        )
        organization, code, definition = base.execute(wanted).fetchone()
        assert base.execute("PRAGMA foreign_key_check").fetchall() == []
    assert (organization, code) == ("EPSG", 3455)
    assert definition.startswith("PROJCS[")
    assert pyproj.CRS.from_wkt(definition).axis_info[0].unit_conversion_factor == pytest.approx(1200 / 3937, rel=1e-12)
    for layer in ("locations", "by_point_air_ug_m3", "results_ug_m3", "features_building"):
        meta, _, geometries, _ = pyogrio.raw.read(path, layer=layer, max_features=1)
        assert meta["crs"] == FEET
        back = pyproj.Transformer.from_crs(FEET, CRS, always_xy=True).transform(
            *shapely.from_wkb(geometries[0]).centroid.coords[0]
        )
        assert back == pytest.approx((X, Y), abs=0.01 if layer != "features_building" else 1000)


def test_geographic_coordinates_of_another_datum_keep_their_figures() -> None:
    """A system in degrees is rounded as degrees are, not as metres: a millimetre is 1e-8 degrees."""
    (there,) = reproject([shapely.Point(-99.123456789, 43.0)], "EPSG:4326", "EPSG:4267")
    assert shapely.get_x(there) != round(shapely.get_x(there), 3)
