"""A point without a position on record stays in every table, and the map says that it is not on it."""

from __future__ import annotations

import csv
import json
import sqlite3
from contextlib import closing
from pathlib import Path

from builders import cells, changed, load, write
from matrix_survey import young

from sitegen.compute.evaluate import evaluate
from sitegen.pipeline import build
from sitegen.report.bound.front import map_table
from sitegen.report.data.exports import locations_export
from sitegen.report.field.positions import location_words
from sitegen.report.results.mapdata import map_data
from sitegen.report.write.context import Context

LOST = {"easting": "", "northing": "", "plan_easting": "", "plan_northing": ""}


def without_position(*names: str) -> Context:
    survey = load(changed(*(cells("locations/locations.csv", name, **LOST) for name in names)))
    return Context(survey, evaluate(survey), ())


def test_the_table_of_points_has_every_point_its_position_blank() -> None:
    """SG-01 without coordinates keeps its row, its sampler and its counts; only its position is empty."""
    whole, made = (locations_export(without_position(*names)) for names in ((), ("SG-01",)))
    rows = [{field.name: cell for field, cell in zip(t.fields, t.rows[0], strict=True)} for t in (whole, made)]
    assert len(made.rows) == len(whole.rows) == 56
    assert [rows[1][name] for name in ("x", "y", "crs", "longitude", "latitude")] == [None, None, "", None, None]
    blank = {"x", "y", "crs", "longitude", "latitude", *(field.name for field in made.fields[-6:])}
    assert {name for name in rows[0] if rows[0][name] != rows[1][name]} == blank
    assert "1 point has no position on record" in made.note
    assert "no position on record" not in whole.note


def test_the_map_and_its_table_say_how_many_points_they_lack() -> None:
    """Two points without a position are counted under the map's table and in the words of the location map."""
    found = without_position("SG-01", "SG-02")
    assert "with a position (2 points have none on record)" in map_table(found, map_data(found)).caption
    assert "2 points have no position on record and are not drawn." in location_words(found, ())
    assert "on record" not in map_table(without_position(), map_data(without_position())).caption


def test_data_files_hold_points_without_a_position(tmp_path: Path) -> None:
    """In a build of six points without coordinates all have them, without a place; all is read back before."""
    built = build(write(young("little noted", "internal"), tmp_path / "survey"), tmp_path / "out")
    downloads = built.out / "site/downloads"
    with (downloads / "locations.csv").open(encoding="utf-8", newline="") as opened:
        rows = list(csv.DictReader(opened))
    assert [(row["longitude"], row["x"]) for row in rows] == [("", "")] * 6
    features = json.loads((downloads / "for_gis/locations.geojson").read_text("utf-8"))["features"]
    assert [feature["geometry"] for feature in features] == [None] * 6
    with closing(sqlite3.connect(downloads / "for_gis/survey.gpkg")) as base:
        assert base.execute("SELECT count(*), count(geom) FROM locations").fetchone() == (6, 0)
        assert base.execute("SELECT count(*), count(geom) FROM locations_wgs84").fetchone() == (6, 0)
    lead = (built.out / "site/map.html").read_text("utf-8")
    assert "6 points have no position on record and are not on the map." in lead
    assert "No position of a point is on record." in lead
