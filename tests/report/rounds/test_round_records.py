"""The record of every round is handed out: each row of the folder under the round that it belongs to."""

from __future__ import annotations

import csv
import io
import json
from collections import Counter
from dataclasses import replace
from functools import cache
from typing import Any

import pyproj
import pytest
from hand_rounds import FILES, report
from rounds_survey import MISSING, UNLISTED, read, two_rounds

from sitegen.checking import check_snapshot
from sitegen.pipeline import prepare
from sitegen.render.data.datapackage import package_bytes
from sitegen.render.map.layers import map_layers
from sitegen.report.data.exports import export_tables
from sitegen.report.data.over import over_rounds
from sitegen.report.record.exports import ExportField, ExportLink, ExportTable
from sitegen.report.write.context import Context

Row = dict[str, Any]


@cache
def context() -> Context:
    """Return what the report of both rounds and the supplement is written from."""
    return prepare(check_snapshot(two_rounds()))[1].context


@cache
def exports() -> dict[str, ExportTable]:
    """Return the tables to download of both rounds and the supplement."""
    made = prepare(check_snapshot(two_rounds()))[1]
    return {one.name: one for one in export_tables(made.context, made.raw.meta)}


def rows(table: ExportTable) -> list[Row]:
    return [dict(zip((field.name for field in table.fields), row, strict=True)) for row in table.rows]


ONE_EACH = [
    ("quality_control", "lab/lab_qc.csv"),
    ("departures", "field/deviations.csv"),
    ("results", "lab/results.csv"),
]
"""Tables of which each row of the folder belongs to one round, with their file."""


@pytest.mark.parametrize(("name", "path"), ONE_EACH)
def test_each_row_of_the_folder_is_handed_out_under_one_round(name: str, path: str) -> None:
    """Every row of the file once, none left out; the header is row 1."""
    found = sorted(row["source_row"] for row in rows(exports()[name]))
    assert found == list(range(2, len(read(two_rounds(), path)) + 2))


def test_each_event_of_custody_is_handed_out_under_its_round() -> None:
    """The ids of the made-up rows tell their round: 2- and S- are of the second and its supplement."""
    found = rows(exports()["custody_events"])
    assert {row["source_row"] for row in found} == set(range(2, len(read(two_rounds(), "field/custody.csv")) + 2))
    for row in found:
        assert row["round"] == ("R2" if row["event_id"].startswith(("2-", "S-")) else "R1"), row
        assert row["source_file"] == "field/custody.csv"


def test_every_table_of_the_record_has_the_round_first_and_keys_that_tell_rows_apart() -> None:
    """So that two rounds' rows of one id stand beside each other."""
    told = {"results", "locations", "compounds", "air", "quality_control", "duplicates", "blanks", "departures"}
    for name in (*told, "custody_events", "limits"):
        table = exports()[name]
        assert table.fields[0].name == "round", name
        assert {row[0] for row in table.rows} == {"R1", "R2"}, name
        if table.key:
            assert max(Counter(table.cells(table.key)).values()) == 1, name


def test_points_and_compounds_of_an_earlier_round_alone_are_there() -> None:
    """SG-03 and toluene are of the first round alone; each result leads to its point and compound in its round."""
    places, compounds = rows(exports()["locations"]), rows(exports()["compounds"])
    assert [row["round"] for row in places if row["location_id"] == MISSING] == ["R1"]
    assert {row["round"] for row in compounds if row["analyte_id"] == UNLISTED} == {"R1"}
    at = {(row["round"], row["location_id"]) for row in places}
    listed = {(row["round"], row["analyte_id"]) for row in compounds}
    for row in rows(exports()["results"]):
        assert not row["location_id"] or (row["round"], row["location_id"]) in at
        assert (row["round"], row["analyte_id"]) in listed


def test_links_are_told_where_a_key_of_two_can_be() -> None:
    """A blank has no point, and Table Schema knows no key of two of which one is empty: there one column links."""
    package = json.loads(package_bytes(report()))
    schema = {one["name"]: one["schema"] for one in package["resources"]}
    links = {one["reference"]["resource"]: one["fields"] for one in schema["results"]["foreignKeys"]}
    assert links == {"locations": ["location_id"], "compounds": ["round", "analyte_id"]}
    assert schema["locations"]["primaryKey"] == ["round", "location_id"]


def test_a_link_that_a_round_breaks_is_not_told() -> None:
    """A compound that has summaries in another round alone is no end of a link."""
    held = {one.name: one for one in report().exports}
    fewer = replace(held["compounds"], rows=tuple(row for row in held["compounds"].rows if row[0] != "R1"))
    made = replace(report(), exports=(held["results"], held["locations"], fewer))
    schema = {one["name"]: one["schema"] for one in json.loads(package_bytes(made))["resources"]}
    assert [one["reference"]["resource"] for one in schema["results"]["foreignKeys"]] == ["locations"]


def test_a_result_stands_at_its_point_as_it_lay_in_its_round() -> None:
    """Moved by five metres in the second round's row of A alone, the first round's results stay where they were."""
    held = {one.name: one for one in report().exports}
    places = held["locations"]
    name = places.at("location_id")
    moved = tuple(
        (at[0] + 5, at[1]) if at and (row[0], row[name]) == ("R2", "A") else at
        for row, at in zip(places.rows, places.places, strict=True)
    )
    made = replace(report(), exports=(held["results"], replace(places, places=moved)))
    (layer,) = [one for one in map_layers(made) if one.name == "results_ng_per_sampler"]
    at = [field.name for field in layer.fields].index("location_id")
    found = {(row[0], shape.x) for row, shape in zip(layer.rows, layer.shapes, strict=True) if row[at] == "A" and shape}
    assert found == {("R1", 470000.0), ("R2", 470005.0)}


def test_a_pair_and_a_blank_are_handed_out_with_their_round() -> None:
    """By hand: a pair at A in each round with three compounds; the trip blank of the second one holds 6 ng."""
    held = {one.name: one for one in report().exports}
    pairs = [(row["round"], row["duplicate_id"]) for row in rows(held["duplicates"])]
    assert pairs == [("R1", "102")] * 3 + [("R2", "202")] * 3
    assert [(row["round"], row["lab_sample_id"], row["value"]) for row in rows(held["blanks"])] == [("R2", "L-207", 6)]
    days = [row.split(",")[4][:10] for row in FILES["field/custody.csv"].splitlines()[1:]]
    assert [row["at"][:10] for row in rows(held["custody_events"])] == days


def test_a_column_that_a_round_lacks_is_empty_there_and_notes_that_differ_are_named() -> None:
    """Rows are joined by the names of columns, whatever their order; a note of one round is told as that round's."""
    fields = (ExportField("id", "string", "", "id"), ExportField("n", "integer", "", "number"))
    own = ExportTable("t", "T", "Second", fields, (("x", 1),), key=("id",), links=(ExportLink("id", "t", "id"),))
    old = ExportTable("t", "T", "First", (fields[0]._replace(name="old"), fields[0]), (("o", "y"),))
    made = over_rounds(context(), lambda given: own if given is context() else old)
    assert [field.name for field in made.fields] == ["round", "id", "n", "old"]
    assert made.rows == (("R1", "y", None, "o"), ("R2", "x", 1, ""))
    assert (made.key, made.links[0].fields) == (("round", "id"), ("round", "id"))
    assert made.note == "Results of 2 rounds, identified in the column round. R1: First. R2: Second"


def test_the_points_of_all_rounds_stand_on_one_grid() -> None:
    """An earlier round whose own grid is another comes out on that of the report: as pyproj has it from WGS 84."""
    from sitegen.report.data.places import _locations_of  # noqa: PLC0415

    space = context().survey.settings.space.model_copy(update={"crs": "EPSG:32613"})
    settings = context().survey.settings.model_copy(update={"space": space})
    reported = replace(context(), survey=replace(context().survey, settings=settings))
    table = _locations_of(context().earlier[0], reported)
    assert table.places == tuple((row["x"], row["y"]) for row in rows(table))
    move = pyproj.Transformer.from_crs("EPSG:4326", "EPSG:32613", always_xy=True)
    for row in rows(table):
        east, north = move.transform(row["longitude"], row["latitude"])
        assert (row["x"], row["y"]) == (pytest.approx(east, abs=0.02), pytest.approx(north, abs=0.02))
        assert row["crs"] == "EPSG:32613"
    assert table.crs == "EPSG:32613"


def test_cells_of_the_made_up_folder_come_from_its_files() -> None:
    """The value handed out is the laboratory's, for each round: read again from the row that it names."""
    lines = list(csv.DictReader(io.StringIO(two_rounds().files["lab/results.csv"].content.decode())))
    for row in rows(exports()["results"])[::97]:
        line = lines[row["source_row"] - 2]
        assert (line["lab_sample_id"], line["analyte_id"]) == (row["lab_sample_id"], row["analyte_id"])
        assert row["value"] is None or row["value"] == float(line["value"])
