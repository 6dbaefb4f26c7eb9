"""Pages of patterns: the way of the flow, widest gaps and contours, each from figures put together by hand."""

from __future__ import annotations

from typing import Any

import pytest
import shapely
from builders import Change, Row, cells, changed, load, table

from sitegen.compute.design.surround import NearUtility
from sitegen.compute.evaluate import evaluate
from sitegen.compute.picture.contours import Band, Bounds, Extent, NoContour, Pattern
from sitegen.compute.picture.suggest import Gap
from sitegen.compute.quality.repeatability import Repeatability
from sitegen.compute.results.relate import FlowPath, Related
from sitegen.compute.results.relations import Along, Relation
from sitegen.compute.statistics.kriging import Lag, Spherical
from sitegen.project.survey import Survey
from sitegen.report.record.pages import Callout, Figure, Ref, Table
from sitegen.report.results.contouring import _facts, _number, areas_table, contour_section, contours_export, rings
from sitegen.report.results.gaps import _gaps_table
from sitegen.report.results.mapdata import ground
from sitegen.report.results.patterns import heat_table, shown_flows, transect_figure
from sitegen.report.write.context import Context

FLOW = FlowPath(
    "Way of the water", False, 90.0, (Along("SG-02", 10.2, 3.4), Along("SG-03", 40.0, 1.0), Along("SG-01", 60.7, 0.6))
)
LONE = FlowPath("Ditch", True, 20.0, FLOW.points[:1])
MASSES = {
    ("04417-030", "pce"): "120", ("04417-031", "pce"): "", ("04417-033", "pce"): "450",
    ("04417-030", "tce"): "", ("04417-031", "tce"): "", ("04417-033", "tce"): "",
    ("04417-030", "benzene"): "", ("04417-031", "benzene"): "7.3", ("04417-033", "benzene"): "",
}  # fmt: skip
"""Of SG-01 (30), SG-02 (31) and SG-03 (33); an empty cell is a non-detect at 10."""


def masses() -> Change:
    def edit(rows: list[Row]) -> list[Row]:
        wanted = [row for row in rows if (row["lab_sample_id"], row["analyte_id"]) in MASSES]
        for row in wanted:
            value = MASSES[row["lab_sample_id"], row["analyte_id"]]
            row.update(value=value, result_text=value or "<10", rl="10", mdl="2", lab_qualifier="", unit="ng")
            row.update(detected="yes" if value else "no", validation_qualifier="")
        return wanted

    return table("lab/results.csv", edit)


@pytest.fixture(scope="module")
def context() -> Context:
    return context_with(load(changed(masses())))


def context_with(survey: Survey) -> Context:
    """Return a context in which two flow lines are on record, and nothing else is known of relations."""
    evaluation = evaluate(survey)
    vars(evaluation)["related"] = Related(Relation((), ()), Relation((), ()), (LONE, FLOW), ())
    return Context(survey, evaluation, ())


def texts(table: Table | None) -> list[list[str]]:
    assert table is not None
    assert {len(row) for row in table.rows} == {len(table.columns)}
    return [[cell.text for cell in row] for row in table.rows]


def test_compounds_detected_beside_the_line_are_drawn_along_it(context: Context) -> None:
    """PCE with two detections and benzene with one; TCE was not detected and is left out; points in their order."""
    figure = transect_figure(context, FLOW)
    assert isinstance(figure, Figure)
    assert figure.id == "transect-2"
    assert texts(figure.table) == [
        ["SG-02", "10", "3", "<10", "7.3"],
        ["SG-03", "40", "1", "450", "<10"],
        ["SG-01", "61", "1", "120", "<10"],
    ]
    assert "highest masses are: Tetrachloroethene 450 at SG-03, 40 m along; Benzene 7.3 at SG-02, 10 m along." in (
        figure.description
    )
    assert "3 points within 15 m of the line" in figure.caption


def test_what_no_decade_axis_can_show_is_left_out() -> None:
    """A non-detect at a limit of 0 has no place on a logarithmic scale, a rejected result none anywhere: a dash."""
    limitless = {"value": "", "rl": "0", "mdl": "0", "result_text": "ND", "detected": "no"}
    for cell in (limitless, {"validation_qualifier": "R"}):
        survey = load(changed(masses(), cells("lab/results.csv", "04417-033+pce", **cell)))
        figure = transect_figure(context_with(survey), FLOW)
        assert figure is not None
        assert [row[3] for row in texts(figure.table)] == ["<10", "–", "120"]


def test_a_line_with_one_point_beside_it_is_not_drawn(context: Context) -> None:
    """One point makes no way; a line that is not public is drawn, as this copy is internal."""
    assert shown_flows(context) == (FLOW,)


def test_a_heat_table_has_a_row_for_each_soil_point_with_results(context: Context) -> None:
    """Three points, each compound under its own head; what was not analysed is a dash."""
    heat = heat_table(context)
    at = {column.title: number for number, column in enumerate(heat.columns)}
    rows = {row[0].text: row for row in heat.rows}
    assert list(rows) == ["SG-01", "SG-02", "SG-03"]
    assert [rows[name][at["Tetrachloroethene"]].text for name in rows] == ["120", "<10", "450"]
    assert [rows[name][at["Benzene"]].text for name in rows] == ["<10", "7.3", "<10"]
    assert rows["SG-01"][at["Toluene"]].text == "–"
    assert len(at) == 1 + len(context.evaluation.compounds)


def test_a_gap_names_the_nearest_sampler_or_the_place_before_it(context: Context) -> None:
    """The second place is nearest to the first one: a number is a place, not a point."""
    sewer = NearUtility("Sewer", "sewer", 12.34)
    gaps = (Gap(1, 470100.4, 4768200.6, 31.4, "SG-02", sewer), Gap(2, 470120.0, 4768230.0, 29.6, "1"))
    made = _gaps_table(context, gaps)
    assert texts(made) == [
        ["1", "470100", "4768201", "31", "SG-02", "Sewer (sewer), 12.3 m"],
        ["2", "470120", "4768230", "30", "location 1", "no utility is drawn"],
    ]
    assert [row[4].ref for row in made.rows] == [Ref("location", "SG-02"), None]


# --- contours --------------------------------------------------------------------------------

SQUARE = shapely.box(500_000, 0, 500_100, 100)
RING = shapely.difference(SQUARE, shapely.box(500_040, 40, 500_060, 60))
LAGS = (Lag(5, 12.34, 0.1234), Lag(7, 40.0, 0.0))


def pattern(nugget: float, **more: Any) -> Pattern:  # noqa: ANN401 - any field of the record
    facts: dict[str, Any] = {
        "used": 30, "nondetects": 4, "blank": 2, "lags": LAGS, "model": Spherical(nugget, 0.5, 88.4),
        "error_log10": 0.301, "spread_log10": 0.62, "reach_m": 24.0,
        "bands": (Band(0, shapely.MultiPolygon([RING]), 9600.0, 4321.0), Band(1, shapely.MultiPolygon(), 0.0, 12.6)),
    }  # fmt: skip
    return Pattern(**(facts | more))


def repeat(variance: float | None) -> Repeatability:
    return Repeatability(variance, 17, 3, 3)


def test_numbers_of_the_model_keep_three_figures() -> None:
    """Zeros at the end stay, nothing is 0, and no point stands at the end."""
    assert [_number(x) for x in (0.5, 0.01234, 100.0, 0.0)] == ["0.500", "0.0123", "100", "0"]


def test_what_is_said_of_a_contour_is_what_was_fitted(context: Context) -> None:
    """A left-out error of 0.301 in log10 is a factor of 2.0; the nugget was raised to what the duplicates show."""
    compound = context.compounds["pce"]
    bounds = Bounds(Extent("boundary", SQUARE), repeat(0.0155))
    found = _facts(context, compound, pattern(0.0155, bounds=bounds, outside=1))
    assert (found["error"], found["factor"], found["spread"]) == ("0.30", "2.0", "0.62")
    assert (found["nugget"], found["sill"], found["range"], found["reach"]) == ("0.0155", "0.500", "88", "24")
    assert (found["used"], found["nondetects"], found["blank"], found["outside"]) == (30, 4, 2, 1)
    assert (found["floor"], found["floored"], found["floor_results"], found["floor_pairs"]) == ("0.0155", True, 17, 3)
    assert not _facts(context, compound, pattern(0.2, bounds=bounds))["floored"], "the fitted nugget was larger"
    unknown = _facts(context, compound, pattern(0.0, bounds=Bounds(None, repeat(None))))
    assert (unknown["floor"], unknown["floored"], unknown["floor_least"], unknown["extent"]) == ("", False, 3, "")


def test_areas_stand_beside_those_of_the_other_assumption(context: Context) -> None:
    """A square of 100 m with a hole of 20 m has 9,600 m²; the classes are those of the legends."""
    made = areas_table(context, context.compounds["pce"], pattern(0.1))
    assert [row[1:] for row in texts(made)] == [["9,600", "4,321"], ["0", "13"]]
    assert [row[0] for row in texts(made)] == ["below 10", "10 to 100"]
    assert [(column.unit, column.kind) for column in made.columns[1:]] == [("m²", "number")] * 2


def test_rings_of_a_shape_are_its_edge_and_its_holes() -> None:
    """A line among the parts has no ground."""
    found = rings(shapely.GeometryCollection([RING, shapely.LineString([(0, 0), (1, 1)])]))
    assert [len(ring) for ring in found] == [5, 5]
    assert min(x for x, _ in found[0]) == 500_000.0
    assert {x for x, _ in found[1]} == {500_040.0, 500_060.0}


def test_a_contour_to_download_is_in_degrees_with_both_areas(context: Context) -> None:
    """UTM zone 14: 500,000 m east on the equator is 99° west (false easting and central meridian of the zone).

    A class without ground is left out, and so is a compound whose pattern was refused; outer rings run anticlockwise.
    """
    assert context.crs == "EPSG:32614"
    vars(context)["patterns"] = {"pce": pattern(0.1), "tce": NoContour("detections", 4.0, 10.0)}
    (made,) = contours_export(context)
    assert made.rows == (("pce", "Tetrachloroethene", context.class_labels[0], 9600.0, 4321.0, 0.301),)
    (shape,) = made.shapes
    outer, hole = shape["coordinates"][0]
    assert min(lon for lon, _ in outer) == pytest.approx(-99.0, abs=1e-7)
    assert min(lat for _, lat in outer) == pytest.approx(0.0, abs=1e-7)
    assert shapely.LinearRing(outer).is_ccw
    assert not shapely.LinearRing(hole).is_ccw
    assert "convex hull" in made.note
    vars(context)["patterns"] = {"pce": pattern(0.1, bounds=Bounds(Extent("boundary", SQUARE)))}
    assert "site boundary" in contours_export(context)[0].note


def test_the_section_of_a_compound_shows_its_pattern_or_why_there_is_none(context: Context) -> None:
    """Three parts where it is drawn, with the semivariances as fitted; a reason with its limit; else nothing."""
    vars(context)["patterns"] = {"pce": pattern(0.1), "tce": NoContour("detections", 4.0, 10.0)}
    drawn_on = ground(context)
    made = contour_section(context, context.compounds["pce"], drawn_on)
    assert made is not None
    _, figure, variogram = made.blocks
    assert isinstance(figure, Figure)
    assert isinstance(variogram, Figure)
    assert texts(variogram.table) == [["12.3", "0.123", "5"], ["40.0", "0", "7"]]
    refused = contour_section(context, context.compounds["tce"], drawn_on)
    assert refused is not None
    (callout,) = refused.blocks
    assert isinstance(callout, Callout)
    assert "was detected at 4 usable points; at least 10 are needed" in callout.markdown.replace("\\", "")
    assert contour_section(context, context.compounds["benzene"], drawn_on) is None
    assert contour_section(context, context.compounds["pce"], None) is None
