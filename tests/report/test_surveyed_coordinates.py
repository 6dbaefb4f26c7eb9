"""Coordinates as surveyed stand in the methods, on location pages, in the table of positions and in the data files."""

from __future__ import annotations

import csv
import json
import sqlite3
from functools import cache
from pathlib import Path

import pytest
from builders import Change, cells, changed, load, write
from survey_in_feet import SOUTH_DAKOTA_FT, degrees, feet

from sitegen.compute.evaluate import evaluate
from sitegen.pipeline import build
from sitegen.report.data.exports import locations_export
from sitegen.report.evidence.methods import methods_blocks
from sitegen.report.field.positions import positions_table
from sitegen.report.points.location import location_pages
from sitegen.report.record.pages import Cell, Facts, Prose, Section
from sitegen.report.write.context import Context

METRES = ("470002.04", "4770002.03")


@cache
def context(*changes: Change) -> Context:
    survey = load(changed(*changes))
    return Context(survey, evaluate(survey), ())


def in_us_feet() -> Context:
    return context(*FEET)


FEET, DEGREES = feet("us_survey"), degrees()


def methods(of: Context) -> str:
    sections = [block for block in methods_blocks(of, "sitegen") if isinstance(block, Section)]
    mapping = next(one for one in sections if one.title == "Positions and mapping")
    return " ".join(b.markdown for b in mapping.blocks if isinstance(b, Prose)).replace("\\", "")


def fact(of: Context, point: str) -> Cell:
    page = next(page for page in location_pages(of, {}) if page.ref.id == point)
    record = next(b for b in page.blocks if isinstance(b, Section) and b.id == "record")
    return next(dict(block.rows) for block in record.blocks if isinstance(block, Facts))["Coordinates as surveyed"]


def received(of: Context, point: str, column: str) -> str:
    table = of.survey.tables["locations"]
    at = table.frame["location_id"].tolist().index(point)
    return str(table.received[column][at])


def test_the_methods_name_system_unit_and_the_way_of_each_transformation() -> None:
    said = methods(in_us_feet())
    assert "surveyed in EPSG:3455 (NAD83 / South Dakota South (ftUS)), in US survey feet (1 ft = 1200/3937 m)" in said
    assert "Maps, distances and areas use EPSG:32614 (WGS 84 / UTM zone 14N), in metres." in said
    assert "Points: from EPSG:3455 to EPSG:32614 (WGS 84 / UTM zone 14N), by “Inverse of SPCS83 South Dakota" in said
    assert "NAD83 to WGS 84 (1) + UTM zone 14N” (accuracy according to PROJ: 4 m)" in said
    assert "Site features: from EPSG:4326 to EPSG:32614" in said
    assert "55 points; 1 point is known by the planned position only" in said


def test_one_system_for_all_is_said_to_be_one() -> None:
    said = methods(context())
    assert "surveyed in EPSG:32614 (WGS 84 / UTM zone 14N), in metres" in said
    assert "Maps, distances and areas use the same system." in said
    assert "Points: from EPSG:32614 to EPSG:4326 (WGS 84)" in said


def test_a_survey_in_degrees_is_one() -> None:
    said = methods(context(*DEGREES))
    assert "surveyed in EPSG:4326 (WGS 84), in degrees" in said
    assert "Points: from EPSG:4326 to EPSG:32614" in said
    assert "Points: from EPSG:4326 to EPSG:4326" not in said
    text = fact(context(*DEGREES), "SG-01").text
    assert text.startswith(f"{received(context(*DEGREES), 'SG-01', 'longitude')} longitude, ")


def test_a_location_has_its_coordinates_as_received_with_the_way_to_the_row() -> None:
    found = in_us_feet()
    cell = fact(found, "SG-01")
    east, north = (received(found, "SG-01", column) for column in ("easting", "northing"))
    assert cell.text.startswith(
        f"{east} E, {north} N, in EPSG:3455 (NAD83 / South Dakota South (ftUS)), US survey feet"
    )
    assert cell.text.endswith("GNSS, corrected live; stated accuracy 0.03 m")
    assert cell.origin == ("locations/locations.csv", 2, "easting")
    assert fact(found, "SG-07").text == "no surveyed position on record"


def test_a_trailing_zero_is_kept_where_it_was_received() -> None:
    found = context(cells("locations/locations.csv", "SG-01", easting="470002.10", northing="4770002.00"))
    assert fact(found, "SG-01").text.startswith("470002.10 E, 4770002.00 N, in EPSG:32614")


def test_the_table_has_both_systems_where_there_are_two() -> None:
    one, two = positions_table(context()), positions_table(in_us_feet())
    heads = [(column.key, column.unit) for column in two.columns]
    assert ("surveyed_easting", "EPSG:3455, US survey ft") in heads
    assert ("easting", "m") in heads
    assert "easting" not in [column.key for column in one.columns]
    assert one.caption == "Positions as surveyed, in EPSG:32614 (WGS 84 / UTM zone 14N), and as planned."
    row = next(row for row in two.rows if row[0].text == "SG-01")
    assert row[2].text == received(in_us_feet(), "SG-01", "easting")


def test_the_data_have_the_coordinates_as_surveyed_and_their_unit() -> None:
    table = locations_export(in_us_feet())
    rows = [dict(zip([field.name for field in table.fields], row, strict=True)) for row in table.rows]
    first = next(row for row in rows if row["location_id"] == "SG-01")
    assert first["surveyed_easting"] == float(received(in_us_feet(), "SG-01", "easting"))
    assert (first["surveyed_crs"], first["surveyed_unit"]) == (SOUTH_DAKOTA_FT, "US survey feet (1 ft = 1200/3937 m)")
    assert (first["crs"], first["accuracy_m"]) == ("EPSG:32614", 0.03)
    undone = next(row for row in rows if row["location_id"] == "SG-07")
    assert [undone[field.name] for field in table.fields[-6:]] == [None, None, "", "", "", None]
    assert [field.name for field in table.fields[:15]][-1] == "compounds_analysed"  # what was there stays where it was


@pytest.mark.long
def test_every_data_file_of_a_build_has_them(tmp_path: Path) -> None:
    """A whole build reads all files back; CSV, GeoJSON, GeoPackage and description agree on the first point."""
    built = build(write(changed(*FEET), tmp_path / "survey"), tmp_path / "out")
    downloads = built.out / "site/downloads"
    with (downloads / "locations.csv").open(encoding="utf-8", newline="") as opened:
        first = next(row for row in csv.DictReader(opened) if row["location_id"] == "SG-01")
    east = float(first["surveyed_easting"])
    geojson = json.loads((downloads / "for_gis/locations.geojson").read_text("utf-8"))
    told = next(f["properties"] for f in geojson["features"] if f["properties"]["location_id"] == "SG-01")
    assert (told["surveyed_easting"], told["surveyed_crs"]) == (east, SOUTH_DAKOTA_FT)
    with sqlite3.connect(downloads / "for_gis/survey.gpkg") as base:
        (row,) = base.execute("SELECT surveyed_easting FROM locations WHERE location_id = 'SG-01'")
    assert row[0] == east
    package = json.loads((downloads / "datapackage.json").read_text("utf-8"))
    listed = next(r for r in package["resources"] if r["name"] == "locations")["schema"]["fields"]
    assert "surveyed_unit" in [field["name"] for field in listed]
