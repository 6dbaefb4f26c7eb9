"""What GIS takes away: results by point in each system, the record behind them, rounds apart, nothing withheld."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from typing import Any

import pytest
from builders import Change, cells, changed, load, setting
from survey_in_feet import SOUTH_DAKOTA_FT, degrees, feet

from sitegen.compute.evaluate import evaluate
from sitegen.compute.rounds.campaigns import Campaign
from sitegen.figures.look import CLASS_COLOURS, INK, PAPER
from sitegen.report.assemble import assemble, draft
from sitegen.report.data.away import custody_marks, deployments, levels, rates, take_away
from sitegen.report.data.exports import export_tables
from sitegen.report.data.places import locations_export
from sitegen.report.data.wide import wide_tables
from sitegen.report.record.exports import ExportTable
from sitegen.report.record.styles import Condition, Sign
from sitegen.report.write.context import Context
from sitegen.report.write.publish import guarded_texts, publishable

SOIL = "by_point_soil_gas_ng_per_sampler"


@cache
def context(*changes: Change) -> Context:
    survey = publishable(load(changed(*changes)))
    return Context(survey, evaluate(survey), ())


@cache
def wide(*changes: Change) -> dict[str, ExportTable]:
    return {table.name: table for table in wide_tables(context(*changes))}


def dicts(table: ExportTable) -> Iterator[dict[str, Any]]:
    names = [field.name for field in table.fields]
    return (dict(zip(names, row, strict=True)) for row in table.rows)


def test_the_wide_tables_say_what_the_long_one_says() -> None:
    """Each number, text and qualifier of a mapped compound is that of the long row that stands for the point."""
    long = next(table for table in export_tables(context(), draft_meta()) if table.name == "results")
    found = {
        (row["location_id"], row["analyte_id"]): row
        for row in dicts(long)
        if row["stands_for_point"] and row["reportable"]
    }
    seen = 0
    for table in wide().values():
        for row in dicts(table):
            for name in ("pce", "tce", "vc", "benzene", "naphthalene"):
                there = found.get((row["location_id"], name))
                seen += there is not None
                assert row[f"{name}_mass"] == (there["value"] if there else None)
                assert row[f"{name}_text"] == (there["shown"] if there else "")
                assert row[f"{name}_qualifier"] == (there["qualifier"] if there else "")
                assert not there or there["unit"] == "ng per sampler"
    assert seen > 200


def test_a_non_detect_has_a_limit_in_its_text_and_no_number() -> None:
    """Of each compound the class says not detected where, and only where, a text has a limit and no number is there."""
    for row in dicts(wide()[SOIL]):
        if row["pce_class"] == "not detected":
            assert row["pce_mass"] is None
            assert "<" in row["pce_text"]
        else:
            assert (row["pce_mass"] is None) == (row["pce_text"] == "")


def test_every_point_of_a_medium_is_one_row_in_a_table_for_its_unit() -> None:
    """The media of the example, each with all its points, and no column of concentrations beside one of masses."""
    points = [row.medium for row in context().locations]
    counted = {table.name: len(table.rows) for table in wide().values()}
    media = ("soil_gas", "sub_slab", "indoor_air", "outdoor_air")
    assert counted == {f"by_point_{one}_ng_per_sampler": points.count(one) for one in media}
    for table in wide().values():
        assert not [field.name for field in table.fields if field.name.endswith("_concentration")]


def test_a_concentration_stands_in_a_table_of_its_own() -> None:
    """Where a laboratory gives µg/m³ for one air compound, its number is in no table of masses."""
    key = next(row.key for row in context().results if row.location_id.startswith("IA") and row.analyte_id == "pce")
    made = wide(cells("lab/results.csv", "+".join(key), unit="ug/m3"))
    apart = made["by_point_indoor_air_ug_m3"]
    assert {field.unit for field in apart.fields if field.name.endswith("_concentration")} == {"µg/m³"}
    assert not [field for field in apart.fields if field.name.endswith("_mass")]
    place = context().by_key[key].location_id
    (row,) = (row for row in dicts(apart) if row["location_id"] == place)
    assert row["pce_concentration"] is not None or row["pce_class"] == "not detected"
    (same,) = (row for row in dicts(made["by_point_indoor_air_ng_per_sampler"]) if row["location_id"] == place)
    assert same["pce_mass"] is None


def holds(one: Condition, row: dict[str, Any]) -> bool:
    value = row[one.column]
    known = value is not None
    return {"known": known, "unknown": not known, "equal": value == one.value, "differs": value != one.value}[
        one.relation
    ]


def matched(signs: tuple[Sign, ...], row: dict[str, Any]) -> list[Sign]:
    return [sign for sign in signs if all(holds(one, row) for one in sign.conditions)]


def test_each_point_gets_the_sign_of_the_report_and_a_ring_where_it_has_one() -> None:
    """For each compound just one sign; the colour is that of the decade of the mass (1, 10, 100, … on a log scale)."""
    table = wide()[SOIL]
    coloured = 0
    for style in table.styles:
        name = style.signs[0].conditions[0].column.removesuffix("_class")
        for row in dicts(table):
            signs = matched(style.signs, row)
            rings = [
                sign for sign in signs if len(sign.conditions) > 1 and sign.conditions[1].column.endswith("ringed")
            ]
            assert len(rings) == row[f"{name}_ringed"]
            (body,) = (sign for sign in signs if sign not in rings)
            mass = row[f"{name}_mass"]
            if mass is not None:
                decade = max(0, min(6, len(str(int(mass))) - 1))
                assert body.figures[0].fill == CLASS_COLOURS[decade]
                assert body.figures[0].shape == row["shape"]
                coloured += 1
            elif row[f"{name}_class"] == "not detected":
                assert (body.figures[0].fill, body.figures[0].stroke) == (PAPER, INK)
    assert coloured > 50


def test_a_survey_in_us_survey_feet_lies_where_it_was_surveyed() -> None:
    """Its layers are in the system of the survey, in its feet, to the last figure received."""
    for table in (wide(*feet("us_survey"))[SOIL], locations_export(context(*feet("us_survey")))):
        assert table.crs == SOUTH_DAKOTA_FT
        first, place = next(dicts(table)), table.places[0]
        assert place == (first["surveyed_easting"], first["surveyed_northing"])
        assert first["surveyed_crs"] == SOUTH_DAKOTA_FT
        assert "US survey feet" in first["surveyed_unit"]
    results = next(one for one in export_tables(context(*feet("us_survey")), draft_meta()) if one.name == "results")
    row = next(row for row in dicts(results) if row["location_id"] == "SG-01")
    assert (row["surveyed_easting"], row["surveyed_crs"]) == (first["surveyed_easting"], SOUTH_DAKOTA_FT)
    assert {row["surveyed_crs"] for row in dicts(results) if not row["location_id"]} == {""}


def test_a_survey_in_degrees_lies_on_the_map_grid_and_in_degrees() -> None:
    """Of EPSG:4326 there are not two layers in degrees: beside them stands one in metres."""
    table = wide(*degrees())[SOIL]
    first, place = next(dicts(table)), table.places[0]
    assert table.crs == "EPSG:32614"
    assert place == pytest.approx((470_002, 4_770_002), abs=1)
    given = (first["surveyed_easting"], first["surveyed_northing"])
    assert given == pytest.approx((first["longitude"], first["latitude"]), abs=1e-7)
    assert (first["surveyed_crs"], first["surveyed_unit"]) == ("EPSG:4326", "degrees")


def test_a_point_without_a_survey_lies_where_it_was_planned_and_says_so() -> None:
    """It has a place, and no coordinates as surveyed."""
    (row,) = (row for row in dicts(wide()[SOIL]) if row["location_id"] == "SG-07")
    assert (row["position"], row["surveyed_easting"], row["surveyed_crs"]) == ("planned", None, "")


def test_compounds_whose_names_are_alike_get_columns_of_their_own() -> None:
    """A layer's columns are told apart without regard to case (SQLite, sqlite.org/lang_createtable.html)."""
    for table in wide(cells("lab/analytes.csv", "tce", map="yes")).values():
        names = [field.name.lower() for field in table.fields]
        assert len(set(names)) == len(names)


def draft_meta() -> Any:  # noqa: ANN401 - the report's own head
    one = context()
    return draft(one.survey, one.evaluation, ()).bound.meta


def test_the_record_behind_the_results_stands_beside_them() -> None:
    """Samplers, marks of custody, rates and levels are tables as large as the record."""
    one = context()
    assert len(deployments(one).rows) == len(one.survey.frame("deployments"))
    assert len(rates(one).rows) == len(one.survey.frame("uptake_rates"))
    assert len(levels(one).rows) == len(one.survey.frame("screening_levels"))
    chains = [m for marks in one.evaluation.marks.by_sampler.values() for m in marks if m.scope == "chain"]
    assert len(custody_marks(one).rows) == len(chains) > 0
    first = next(dicts(deployments(one)))
    assert not {"comment", "scan_file"} & first.keys()
    assert isinstance(first["depth_ft"], float)


def test_two_rounds_make_a_layer_each_and_rows_that_name_theirs() -> None:
    """The same survey twice over, as two rounds: long tables are twice as long, wide ones have a layer each."""
    alone = context()
    early = replace(alone, campaign=Campaign("2025 spring"))
    both = replace(alone, campaign=Campaign("2025 Spring"), earlier=(early,))
    names = [table.name for table in wide_tables(both) if "soil_gas" in table.name]
    assert names == ["by_point_2025_spring_2_soil_gas_ng_per_sampler", "by_point_2025_spring_soil_gas_ng_per_sampler"]
    one = {table.name: table for table in export_tables(alone, draft_meta())}
    for table in export_tables(both, draft_meta()):
        if table.name in ("results", "locations", "compounds", "air", "duplicates", "blanks", "quality_control"):
            assert table.fields[0].name == "round"
            assert [row["round"] for row in dicts(table)].count("2025 spring") == len(one[table.name].rows)
            assert len(table.rows) == 2 * len(one[table.name].rows)
            assert len(table.places) == 2 * len(one[table.name].places)
    away = take_away(both, draft_meta(), export_tables(both, draft_meta()))
    assert "2 rounds: 2025 spring; 2025 Spring" in " ".join(away.gis_note.split())


def test_what_the_client_does_not_see_is_in_none_of_it() -> None:
    """Role codes, remarks of the field and private features stay out of tables and notes of a client's copy."""
    shown = (setting('level = "internal"', 'level = "public"'),)
    whole = load(changed(*shown))
    survey = publishable(whole)
    report = assemble(draft(survey, evaluate(survey), ()))
    told = [report.away.gis_note, report.away.office_note]
    told += [str(cell) for table in report.away.tables for row in table.rows for cell in row]
    text = "\n".join(told)
    remarks = guarded_texts(whole)
    assert remarks
    assert [remark for remark in remarks if remark in text] == []
    roles = set(whole.frame("deployments")["placed_by"]) - {""}
    assert roles
    assert not roles & set(told)


def test_the_notes_say_what_mass_a_non_detect_and_the_system_are() -> None:
    """Each layer by its name, each rule in plain words, lines of at most 78 characters."""
    one = context()
    away = take_away(one, draft_meta(), export_tables(one, draft_meta()))
    said = " ".join(away.gis_note.split())
    for words in (
        "not a concentration",
        "A non-detect has no numerical value",
        "EPSG:32614",
        "_wgs84",
        "layer_styles",
        SOIL,
    ):
        assert words in said
    for table in away.tables:
        assert f"{table.name}" in said
    assert "tables.xlsx" in away.office_note
    assert "A non-detect has no numerical value" in " ".join(away.office_note.split())
    assert max(map(len, away.gis_note.splitlines())) <= 78
