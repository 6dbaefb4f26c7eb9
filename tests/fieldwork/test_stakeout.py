"""Stake-out files: read back by other readers, every point is where the plan has it, in walking order, by its id."""

from __future__ import annotations

import csv
import io
import json
import math
from collections.abc import Iterable, Mapping
from pathlib import Path
from xml.etree import ElementTree as ET

import numpy as np
import pyproj
import pytest
import shapely
from builders import Change, every, table
from fieldwork.planned_survey import LOCATIONS, planned
from survey_in_feet import degrees, feet

from sitegen.compute.design.fieldplan import FieldPlan
from sitegen.fieldwork.kit.stakeout import stakeout_files
from sitegen.project.place.coordinates import transform
from sitegen.project.place.drawn import Drawn
from sitegen.project.place.geojson import read_geojson
from sitegen.project.place.gpx import waypoints
from sitegen.project.place.kml import read_kml

GPX, KML = "{http://www.topografix.com/GPX/1/1}", "{http://www.opengis.net/kml/2.2}"
CENTIMETRE_M = 0.01
Spots = list[tuple[str, float, float]]


def cut(*keep: str) -> Change:
    """Leave a few points, one of them by an id that is a number."""
    return table(LOCATIONS, lambda rows: [row for row in rows if row["location_id"] in keep])


FEW = cut("SG-01", "SG-12", "SG-33", "IA-01")


def from_csv(content: bytes, x: str, y: str) -> Spots:
    rows = list(csv.DictReader(io.StringIO(content.decode())))
    names = list(rows[0])
    assert (names[2], names[3]) == (x, y)
    return [(row["location_id"], float(row[x]), float(row[y])) for row in rows]


def centre(one: Drawn) -> tuple[float, float]:
    assert isinstance(one.geometry, shapely.Point)
    return one.geometry.x, one.geometry.y


def read_back(files: Mapping[str, bytes]) -> dict[str, Spots]:
    """Return ids, longitudes and latitudes of each file in WGS 84, by readers other than the writer's."""
    degrees_of = from_csv(
        files["stakeout/points_wgs84.csv"], "longitude [degree EPSG:4326]", "latitude [degree EPSG:4326]"
    )
    gpx = [(texts["name"], float(lon), float(lat)) for texts, lon, lat in waypoints(files["stakeout/points.gpx"])]
    drawn = read_geojson(files["stakeout/points.geojson"]), read_kml(files["stakeout/points.kml"])
    spots = {
        name: [(one.properties["location_id"], *centre(one)) for one in drawing.features]
        for name, drawing in zip(("geojson", "kml"), drawn, strict=True)
    }
    return {"csv": degrees_of, "gpx": gpx, **spots}


def assert_in_place(plan: FieldPlan, spots: Spots, source: str, target: str) -> None:
    """Hold positions to the plan's within a centimetre, transformed by PROJ on its own."""
    assert [name for name, _, _ in spots] == [point.location_id for point in plan.points]
    way = pyproj.Transformer.from_crs(source, target, always_xy=True)
    for (name, x, y), point in zip(spots, plan.points, strict=True):
        at = way.transform(x, y)
        assert math.dist(at, (point.x_m, point.y_m)) < CENTIMETRE_M, name


def test_every_file_in_degrees_is_read_back() -> None:
    """CSV, GPX, GeoJSON and KML give every point of the example within a centimetre."""
    survey, plan = planned()
    assert len(plan.points) > 50
    for spots in read_back(stakeout_files(survey, plan)).values():
        assert_in_place(plan, spots, "EPSG:4326", "EPSG:32614")


def test_the_project_system_is_named_with_its_unit() -> None:
    """Metres of the example's own zone, as given."""
    survey, plan = planned(FEW)
    spots = from_csv(
        stakeout_files(survey, plan)["stakeout/points.csv"], "easting [metre EPSG:32614]", "northing [metre EPSG:32614]"
    )
    assert_in_place(plan, spots, "EPSG:32614", "EPSG:32614")


def test_feet_stay_feet() -> None:
    """A project in US survey feet gets its own file in these, and all others agree with it."""
    survey, plan = planned(FEW, *feet("us_survey"))
    files = stakeout_files(survey, plan)
    own = from_csv(
        files["stakeout/points.csv"], "easting [US survey foot EPSG:3455]", "northing [US survey foot EPSG:3455]"
    )
    assert_in_place(plan, own, "EPSG:3455", "EPSG:32614")
    for spots in read_back(files).values():
        assert_in_place(plan, spots, "EPSG:4326", "EPSG:32614")


def test_degrees_are_called_longitude_and_latitude() -> None:
    """A project in degrees has them under their names, longitude first."""
    in_place = every(LOCATIONS, lambda row: {"easting": row["plan_easting"], "northing": row["plan_northing"]})
    survey, plan = planned(FEW, in_place, *degrees())
    spots = from_csv(
        stakeout_files(survey, plan)["stakeout/points.csv"],
        "longitude [degree EPSG:4326]", "latitude [degree EPSG:4326]",
    )  # fmt: skip
    assert_in_place(plan, spots, "EPSG:4326", "EPSG:32614")


def renamed(names: Iterable[str]) -> Change:
    """Give the points that are left other ids."""
    return table(
        LOCATIONS,
        lambda rows: [{**row, "location_id": name} for row, name in zip(rows, names, strict=False)],
    )


def test_ids_stay_text_and_words_stay_words() -> None:
    """Leading zeros, signs of markup and what a spreadsheet would run are read back as they are."""
    survey, plan = planned(FEW, renamed(["007", '<b>&"', "=1+1", "0042"]))
    found = read_back(stakeout_files(survey, plan))
    names = [point.location_id for point in plan.points]
    assert set(names) == {"007", '<b>&"', "=1+1", "0042"}
    for kind in ("gpx", "geojson", "kml"):
        assert [name for name, _, _ in found[kind]] == names
    assert [name for name, _, _ in found["csv"]] == ["'=1+1" if name == "=1+1" else name for name in names]
    ids = [one["id"] for one in json.loads(stakeout_files(survey, plan)["stakeout/points.geojson"])["features"]]
    assert ids == names


def test_no_comment_leaves_with_them() -> None:
    """Neither comments nor rationales stand in any file."""
    survey, plan = planned(FEW)
    whole = b"".join(stakeout_files(survey, plan).values())
    assert all(point.comment == "told in private" for point in plan.points)
    assert b"private" not in whole
    assert b"regular grid" not in whole


def test_gpx_keeps_the_order_of_its_schema() -> None:
    """GPX 1.1: metadata before waypoints; in a waypoint name, desc, type in this order; degrees within bounds."""
    survey, plan = planned(FEW)
    tree = ET.fromstring(stakeout_files(survey, plan)["stakeout/points.gpx"])  # noqa: S314 - our own
    assert (tree.tag, tree.get("version")) == (f"{GPX}gpx", "1.1")
    assert tree.get("creator")
    assert [child.tag for child in tree] == [f"{GPX}metadata"] + [f"{GPX}wpt"] * len(plan.points)
    for mark in tree.findall(f"{GPX}wpt"):
        assert [child.tag for child in mark] == [f"{GPX}{name}" for name in ("name", "desc", "type")]
        assert -90 <= float(mark.attrib["lat"]) <= 90
        assert -180 <= float(mark.attrib["lon"]) < 180


def test_kml_keeps_the_order_of_its_schema() -> None:
    """KML 2.2: a Document; in a Placemark name, description, ExtendedData, Point in this order."""
    survey, plan = planned(FEW)
    tree = ET.fromstring(stakeout_files(survey, plan)["stakeout/points.kml"])  # noqa: S314 - our own
    assert tree.tag == f"{KML}kml"
    marks = tree.findall(f"{KML}Document/{KML}Placemark")
    assert len(marks) == len(plan.points)
    for mark in marks:
        assert [one.tag for one in mark] == [f"{KML}{n}" for n in ("name", "description", "ExtendedData", "Point")]


def test_geojson_keeps_to_its_standard() -> None:
    """RFC 7946: a collection of features with points, no crs member, ids as text."""
    survey, plan = planned(FEW)
    data = json.loads(stakeout_files(survey, plan)["stakeout/points.geojson"])
    assert set(data) == {"type", "features"}
    assert {one["geometry"]["type"] for one in data["features"]} == {"Point"}
    assert all(isinstance(one["id"], str) for one in data["features"])


@pytest.mark.parametrize("kind", ["gpx", "geojson", "kml"])
def test_gdal_reads_them(kind: str, tmp_path: Path) -> None:
    """GDAL's own drivers give the same ids and positions."""
    pyogrio = pytest.importorskip("pyogrio", reason="pyogrio (extra: outside) is not installed")
    survey, plan = planned(FEW)
    path = tmp_path / f"points.{kind}"
    path.write_bytes(stakeout_files(survey, plan)[f"stakeout/points.{kind}"])
    layer = "waypoints" if kind == "gpx" else None
    meta, _, shapes, columns = pyogrio.raw.read(path, layer=layer)
    name = {"gpx": "name", "geojson": "location_id", "kml": "Name"}[kind]
    named = dict(zip(meta["fields"], columns, strict=True))
    places = shapely.from_wkb(shapes)
    spots = [(str(one), place.x, place.y) for one, place in zip(named[name], places, strict=True)]
    assert_in_place(plan, spots, "EPSG:4326", "EPSG:32614")


def test_a_plan_without_positions_has_files_without_points() -> None:
    """Headers and empty collections, that every reader takes."""
    survey, _ = planned(FEW)
    files = stakeout_files(survey, FieldPlan((), (), planned(FEW)[1].allocation))
    assert not list(waypoints(files["stakeout/points.gpx"]))
    assert not read_geojson(files["stakeout/points.geojson"]).features
    assert not read_kml(files["stakeout/points.kml"]).features
    assert files["stakeout/points.csv"].count(b"\n") == 1


def test_a_position_off_by_three_centimetres_would_be_seen() -> None:
    """The measure of these tests itself: 3 cm in longitude is no centimetre."""
    _, plan = planned(FEW)
    one = plan.points[0]
    x, y = transform("EPSG:32614", "EPSG:4326", np.array([one.x_m + 0.03]), np.array([one.y_m]))
    with pytest.raises(AssertionError):
        assert_in_place(
            FieldPlan((one,), (), plan.allocation), [(one.location_id, x[0], y[0])], "EPSG:4326", "EPSG:32614"
        )
