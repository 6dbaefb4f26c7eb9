"""All data files together: the same bytes wherever they are made."""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
from itertools import pairwise
from pathlib import Path

from export_samples import AWAY, LAT, LON, export_report

from sitegen.render.data.downloads import download_files

ELSEWHERE = """
import hashlib, json
from export_samples import export_report
from sitegen.render.data.downloads import download_files
files = download_files(export_report())
print(json.dumps({name: hashlib.sha256(content).hexdigest() for name, content in files.items()}))
"""


def test_another_zone_locale_and_hash_seed_give_the_same_bytes(tmp_path: Path) -> None:
    """Workbook, GeoPackage and copy for comments too depend on nothing but the report."""
    here = Path(__file__).parent
    env = {"TZ": "Pacific/Chatham", "LC_ALL": "C", "LANG": "tr_TR.UTF-8", "PYTHONHASHSEED": "77"}
    paths = os.pathsep.join((str(here), str(here.parents[1])))
    done = subprocess.run(
        [sys.executable, "-c", ELSEWHERE],
        check=True, capture_output=True, text=True, cwd=tmp_path, env=os.environ | env | {"PYTHONPATH": paths},
    )  # fmt: skip
    mine = {name: hashlib.sha256(content).hexdigest() for name, content in download_files(export_report()).items()}
    assert json.loads(done.stdout) == mine
    assert {
        "downloads/for_office/tables.xlsx",
        "downloads/for_gis/survey.gpkg",
        "downloads/datapackage.json",
        "downloads/narrative.docx",
    } <= mine.keys()


def test_every_table_is_in_every_form() -> None:
    """Each table is a CSV; those of places are GeoJSON as well, with the results by point."""
    names = {Path(name).name for name in download_files(export_report())}
    assert names == {
        "columns.csv", "results.csv", "locations.csv", "locations.geojson", "contours.csv", "contours.geojson",
        "tables.xlsx", "survey.gpkg", "datapackage.json", "values.csv", "files.csv", "tick_sheet.csv",
        "narrative.docx", "README.txt", "by_point_air_ug_m3.geojson",
    }  # fmt: skip


def test_features_of_geojson_have_an_id_a_place_in_degrees_and_no_other_system() -> None:
    """A feature's id (RFC 7946, 3.2), longitude before latitude (3.1.1), no crs (4), outer rings anticlockwise (3.1.6).

    A ring is anticlockwise where its area by the shoelace formula is positive.
    """
    made = download_files(export_report())
    files = {name: json.loads(content) for name, content in made.items() if name.endswith(".geojson")}
    by_point = files["downloads/for_gis/by_point_air_ug_m3.geojson"]
    assert [one["id"] for one in by_point["features"]] == ["SG-01", "=SG-02", "<b>&\x07"]
    assert by_point["features"][2]["geometry"] is None
    assert by_point["features"][0]["geometry"]["coordinates"] == [LON, LAT]
    assert by_point["features"][1]["properties"]["pce_concentration"] is None
    for collection in files.values():
        assert collection.keys() == {"type", "features"}
        for feature in collection["features"]:
            if feature["geometry"] and feature["geometry"]["type"] == "Polygon":
                ring = feature["geometry"]["coordinates"][0]
                assert sum(x * t - z * y for (x, y), (z, t) in pairwise(ring)) > 0


def test_the_two_folders_have_a_note_each() -> None:
    """Each is the report's own text; with its GeoPackage or workbook it makes the folder."""
    files = download_files(export_report())
    for folder, text, beside in (
        ("for_gis", AWAY.gis_note, "survey.gpkg"),
        ("for_office", AWAY.office_note, "tables.xlsx"),
    ):
        assert files[f"downloads/{folder}/README.txt"].decode() == text
        assert f"downloads/{folder}/{beside}" in files
