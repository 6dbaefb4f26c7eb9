"""Positions and shapes from further files lead to these files, and a computed position says how it was made."""

from __future__ import annotations

from builders import Change, cells, changed, content, load, settings_added
from builders import removed as without_file

from sitegen.compute.evaluate import evaluate
from sitegen.report.field.positions import positions_table
from sitegen.report.field.surveyed import surveyed_cell
from sitegen.report.trace.sources import source_files
from sitegen.report.write.context import Context

GPX, LOCATIONS, CORNERS = "locations/gps.gpx", "locations/locations.csv", "locations/corners.csv"
WAYPOINTS = b'<gpx><wpt lat="43.0821387" lon="-99.3682329"><name>SG-02</name></wpt></gpx>'
FROM_FILE = (
    cells(LOCATIONS, "SG-02", easting="", northing=""),
    settings_added(f'[points]\nfile = "{GPX}"'),
    content(GPX, WAYPOINTS),
)
RING = b"""feature,kind,name,order,longitude,latitude
s,site_boundary,Site,1,-99.37,43.08
s,site_boundary,Site,2,-99.36,43.08
s,site_boundary,Site,3,-99.36,43.09
"""


def context(*changes: Change) -> Context:
    """Return what a report of the example with changes is written from."""
    survey = load(changed(*changes))
    return Context(survey, evaluate(survey), ())


def test_a_supplied_position_leads_to_its_waypoint_in_words_and_in_the_table() -> None:
    """The coordinates printed are those of the project's system; file, waypoint and operation stand beside them."""
    made = context(*FROM_FILE)
    point = next(one for one in made.evaluation.points if one.location_id == "SG-02")
    row = next(one for one in made.locations if one.location_id == "SG-02")
    cell = surveyed_cell(made, point, row)
    assert cell.text.startswith("470025.940 E, 4770002.016 N, in EPSG:32614")
    assert cell.text.endswith(
        "computed from longitude -99.3682329, latitude 43.0821387 of locations/gps.gpx, waypoint 1 "
        "by UTM zone 14N (stated accuracy 0 m)"
    )
    assert cell.origin == (GPX, 1, "lon")
    table = positions_table(made)
    origins = {cell.origin for cells in table.rows for cell in cells if cell.origin}
    assert {(GPX, 1, "lon"), (GPX, 1, "lat")} <= origins
    assert (LOCATIONS, 4, "easting") in origins


def test_the_files_behind_points_and_features_are_those_that_were_read() -> None:
    """A page that was computed from them names them."""
    made = context(*FROM_FILE, without_file("locations/features.geojson"), content(CORNERS, RING))
    files = source_files(made)
    assert [one.file for one in files["features"]] == [CORNERS]
    assert [one.file for one in files["locations"]] == [LOCATIONS, GPX]
    plain = source_files(context())
    assert [one.file for one in plain["features"]] == ["locations/features.geojson"]
    assert [one.file for one in plain["locations"]] == [LOCATIONS]
