"""All data files together: the same bytes wherever they are made."""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
from pathlib import Path

from export_samples import export_report

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
