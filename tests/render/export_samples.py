"""A small report that only exports: hostile texts, ids with leading zeros, non-detects, places of every kind."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from copy_samples import sample_copy
from sample_report import sample_meta, sample_report

from sitegen.report.data.signs import Legend, compound_style, value_style
from sitegen.report.record.exports import ExportField, ExportLink, ExportTable
from sitegen.report.record.pages import Report
from sitegen.report.record.takeaway import NOTHING, TakeAway

HOSTILE = (
    "=cmd|'/c calc'!A1",
    "+1+1",
    "@SUM(A1)",
    "-2",
    "{{ 7*7 }} {% for x in y %}",
    '<script>alert(1)</script> & "quoted"',
    "עברית العربية",
    "地下气体 ガス 🧪",
    "_x0041_ and _x000D_",
    "  blanks around  ",
    "two\r\nlines",
    "00047",
    "7782-50-5",
    "1E5",
    "TRUE",
)
CRS = "EPSG:32614"
X, Y, LON, LAT = 470_020.125, 4_770_040.25, -99.3678912, 43.0812345
AREA = {"type": "Polygon", "coordinates": [[[-99.37, 43.08], [-99.36, 43.08], [-99.36, 43.09], [-99.37, 43.08]]]}
NOTES = ExportTable(
    "columns",
    "Columns",
    "What holds for all files",
    (ExportField("about", "string", "", "file"), ExportField("column", "string", "", "column"),
     ExportField("unit", "string", "", "unit"), ExportField("meaning", "string", "", "what it is")),
    (("all files", "", "", "A non-detect has no value."), ("results", "value", "as in unit", "empty for a non-detect")),
)  # fmt: skip
LOCATIONS = ExportTable(
    "locations",
    "All points",
    "Positions",
    (
        ExportField("location_id", "string", "", "point", required=True),
        ExportField("x", "number", "m", "easting"),
        ExportField("y", "number", "m", "northing"),
        ExportField("lon", "number", "degrees", "longitude"),
        ExportField("lat", "number", "degrees", "latitude"),
    ),
    (("SG-01", X, Y, LON, LAT), ("=SG-02", X + 20, Y, LON + 0.0002, LAT)),
    "lon",
    "lat",
    places=((X, Y), (X + 20, Y)),
    crs=CRS,
    key=("location_id",),
)
_RESULT_FIELDS = (
    ExportField("location_id", "string", "", "point"),
    ExportField("sampler_id", "string", "", "serial", required=True),
    ExportField("text", "string", "", "free text"),
    ExportField("detected", "boolean", "", "whether detected", required=True),
    ExportField("value", "number", "as in unit", "empty for a non-detect"),
    ExportField("unit", "string", "", "unit", required=True, choices=("ng per sampler", "µg/m³")),
    ExportField("row", "integer", "", "row in the file", required=True),
)


def _result_rows() -> tuple[tuple[Any, ...], ...]:
    hostile = ((("SG-01", "=SG-02", "")[at % 3], f"{at:07d}", text, False, None) for at, text in enumerate(HOSTILE))
    plain = (
        ("SG-01", "0047101", "", True, 0.1 + 0.2),
        ("=SG-02", "0047102", "", True, 1250.0),
        ("", "0047103", "", True, 1e-12),
    )
    rows = [(*row, "ng per sampler" if at % 4 else "µg/m³", at + 2) for at, row in enumerate((*hostile, *plain))]
    return tuple(rows)


RESULTS = ExportTable(
    "results",
    "All results",
    "Masses in ng per sampler; a non-detect has no value",
    _RESULT_FIELDS,
    _result_rows(),
    key=("sampler_id",),
    links=(ExportLink("location_id", "locations", "location_id"),),
    apart="unit",
)
AREAS = ExportTable(
    "contours", "Pattern", "Interpolated pattern of mass", (ExportField("name", "string", "", "class"),),
    (("10 to 100",),), shapes=(AREA,),
)  # fmt: skip
_AIR_FIELDS = (
    ExportField("location_id", "string", "", "point", required=True),
    ExportField("shape", "string", "", "shape"),
    ExportField("lon", "number", "degrees", "longitude"),
    ExportField("lat", "number", "degrees", "latitude"),
    ExportField("pce_concentration", "number", "µg/m³", "empty for a non-detect"),
    ExportField("pce_text", "string", "", "as printed"),
    ExportField("pce_class", "string", "", "what a map shows"),
    ExportField("pce_ringed", "integer", "", "1 for a ring"),
)
_LEGEND = Legend("pce", "µg/m³", (), {"star": 'yard <b> & "quay"'}, ("not_analysed", "lost", "planned"))
AIR = ExportTable(
    "by_point_air_ug_m3", "Results by point, air, µg/m³", "A row for each point", _AIR_FIELDS,
    (("SG-01", "star", LON, LAT, 12.5, "12.5 J", "detected", 1),
     ("=SG-02", "star", LON + 0.0002, LAT, None, "<10", "not detected", 0),
     ("<b>&\x07", "star", None, None, None, "", "lost", 0)),
    "lon", "lat", places=((X, Y), (X + 20, Y), None), crs=CRS, key=("location_id",),
    styles=(compound_style("Tetra]]>chloroethene", "=<&> \x01", _LEGEND),
            value_style("second", "another", "pce_concentration")),
)  # fmt: skip
AWAY = TakeAway((AIR,), "For GIS: plain words.\n", "For the office.\n")
FEATURES = (
    {"type": "Feature", "geometry": AREA, "properties": {"kind": "building", "name": "=Laundry", "depth_ft": 3}},
    {
        "type": "Feature",
        "geometry": {"type": "LineString", "coordinates": [[-99.37, 43.08], [-99.36, 43.09]]},
        "properties": {"kind": "utility", "name": "", "utility_type": "<water>"},
    },
)


def export_report(*tables: ExportTable) -> Report:
    """Return a report with these tables, or with all of this module, and with a copy for comments."""
    report = sample_report(exports=tables or (NOTES, RESULTS, LOCATIONS, AREAS))
    return replace(
        report,
        map=replace(report.map, features=FEATURES),
        meta=sample_meta(),
        comment_copy=sample_copy(HOSTILE[5]),
        away=NOTHING if tables else AWAY,
    )
