"""A small survey that is planned and not begun, invented, and the same a few days into its field work.

A yard of 120 m by 90 m: an occupied shop with a sump, an unoccupied store, a parking area of asphalt, a tank, a
sewer and a water line. Planned are 14 points of soil gas (nine on a grid, four targeted, one background), two
below the shop's floor, one in its air and one of outdoor air. Three tickets cover them, one of which ends before
the planned retrieval. The clocks go back by an hour on 2 November 2025, between placing and retrieval.

Positions are metres from the south-west corner of the yard, (470000, 4770000) in EPSG:32614.
"""

from __future__ import annotations

import csv
import hashlib
import io
import json
from collections.abc import Container, Mapping, Sequence

import numpy as np

from sitegen.project.folder import Folder, InputFile
from sitegen.project.place.coordinates import transform

CORNER = (470000.0, 4770000.0)
CRS = "EPSG:32614"

SETTINGS = """\
[project]
id = "PL-1"
title = "Soil-gas survey of Planned Yard (invented)"
site = "Planned Yard (invented)"
client = "Planned Trust (invented)"
prepared_by = "Plan Field Group (invented)"
revision = 0
status = "draft"
report_date = 2025-10-13
work_plan = "Work plan PL-P (invented)"
time_zone = "America/Chicago"

[space]
crs = "EPSG:32614"

[publish]
spelling = "uk"

[plan]
locations = 18
duplicate_rate = 0.1
samplers_per_bag = 12
depth = { value = 3.0, unit = "ft" }
depth_tolerance = { value = 0.5, unit = "ft" }
exposure_days_min = 7
exposure_days_max = 14
spacing = { value = 25.0, unit = "m" }
field_blanks = 1
spares = 2
placing_from = 2025-10-27
placing_to = 2025-10-28
retrieving_from = 2025-11-06
retrieving_to = 2025-11-07
closed_days = [2025-11-04]

[plan.keep_off]
buildings = { value = 1.0, unit = "m" }
utilities = { value = 1.5, unit = "m" }

[lab]
name = "Plan Laboratory (invented)"
accreditation = "PL-0 (invented)"
valid_from = 2025-01-01
valid_to = 2026-12-31
methods = ["PL-M1 (invented)"]

[signoff]
roles_required = ["PM-1"]

[roles]
PM-1 = "project_lead"
"""

POINTS: tuple[tuple[str, str, str, str, float, float, str, str, str], ...] = (
    ("SG-01", "soil_gas", "grid", "grid", 15, 15, "vegetation", "", ""),
    ("SG-02", "soil_gas", "grid", "grid", 40, 15, "vegetation", "", ""),
    ("SG-03", "soil_gas", "grid", "grid", 65, 15, "asphalt", "3", ""),
    ("SG-04", "soil_gas", "grid", "grid", 90, 15, "asphalt", "3", ""),
    ("SG-05", "soil_gas", "grid", "grid", 15, 40, "vegetation", "", ""),
    ("SG-06", "soil_gas", "grid", "grid", 40, 40, "vegetation", "", ""),
    ("SG-07", "soil_gas", "grid", "grid", 15, 65, "gravel", "", ""),
    ("SG-08", "soil_gas", "grid", "grid", 40, 65, "gravel", "", ""),
    ("SG-09", "soil_gas", "grid", "grid", 90, 78, "vegetation", "", ""),
    ("SG-10", "soil_gas", "targeted", "north of the fuel tank", 20, 77, "gravel", "", ""),
    ("SG-11", "soil_gas", "targeted", "south of the fuel tank", 20, 71, "gravel", "", ""),
    ("SG-12", "soil_gas", "targeted", "along the sewer", 66, 33, "asphalt", "3", ""),
    ("SG-13", "soil_gas", "targeted", "along the sewer", 86, 33, "asphalt", "3", ""),
    ("SG-14", "soil_gas", "background", "upgradient corner", 112, 84, "vegetation", "", ""),
    ("SS-1", "sub_slab", "targeted", "below the work room of the shop", 72, 50, "interior_slab", "5", "Shop"),
    ("SS-2", "sub_slab", "targeted", "below the office of the shop", 88, 56, "interior_slab", "5", "Shop"),
    ("IA-1", "indoor_air", "targeted", "air of the office", 88, 57, "", "", "Shop"),
    ("OA-1", "outdoor_air", "background", "outdoor air beside the shop", 58, 52, "", "", ""),
)
"""Each point: id, medium, design, rationale, metres east and north, surface, its thickness in inches, building."""

FEATURES: tuple[tuple[dict[str, str | float], str, Sequence[tuple[float, float]]], ...] = (
    ({"kind": "site_boundary", "name": "Planned Yard"}, "Polygon", ((0, 0), (120, 0), (120, 90), (0, 90))),
    (
        {"kind": "building", "name": "Shop", "occupied": "yes", "basement": "no"},
        "Polygon",
        ((65, 45), (100, 45), (100, 63), (65, 63)),
    ),
    (
        {"kind": "building", "name": "Store", "occupied": "no", "basement": "no"},
        "Polygon",
        ((45, 74), (65, 74), (65, 86), (45, 86)),
    ),
    (
        {"kind": "paved_area", "name": "Parking area", "surface": "asphalt"},
        "Polygon",
        ((55, 5), (115, 5), (115, 40), (55, 40)),
    ),
    ({"kind": "tank", "name": "Fuel tank"}, "Polygon", ((17, 73), (23, 73), (23, 75), (17, 75))),
    (
        {"kind": "utility", "name": "Sewer", "utility_type": "sewer", "depth_ft": 6.0},
        "LineString",
        ((0, 30), (120, 30)),
    ),
    ({"kind": "utility", "name": "Water line", "utility_type": "water"}, "LineString", ((50, 0), (50, 90))),
)

TICKETS = """\
ticket,requested_at,valid_from,valid_to,scope,location_ids
UT-1,2025-10-20T09:00,2025-10-24T08:00,2025-11-14T23:59,public utilities,
UT-2,2025-10-20T09:10,2025-10-24T08:00,2025-11-03T23:59,private locator: yard,SG-01;SG-02;SG-05;SG-06
UT-3,2025-10-21T10:00,2025-10-24T08:00,2025-11-14T23:59,private locator: shop,SS-1;SS-2
"""

_HEADS = {
    "field/samplers.csv": "sampler_id,label,kind,sampler_type,lot,prepared_on,shipment_id,outcome,note",
    "field/deployments.csv": (
        "sampler_id,location_id,duplicate_of,placed_at,retrieved_at,depth_ft,condition,bag_id,placed_by,retrieved_by,"
        "comment"
    ),
    "field/return_bags.csv": "bag_id,trip_blank_id,seal_applied,sealed_at,sealed_by,count_declared,shipment_id,note",
    "field/shipments.csv": (
        "shipment_id,direction,carrier_ref,packed_at,seal_outer,items_declared,received_at,tz,items_received,"
        "seal_received,seal_condition,receipt_note,scan_file"
    ),
    "field/custody.csv": (
        "event_id,subject_kind,subject_id,event,at,tz,by_role,organisation,to_role,signature,seal_number,"
        "seal_condition,place,scan_file,comment"
    ),
    "lab/analytes.csv": (
        "analyte_id,name,cas,group,molar_mass_g_mol,map,order,synonyms,common_lab_contaminant\n"
        "pce,Tetrachloroethene,127-18-4,chlorinated_ethenes,165.822,yes,1,PCE,no\n"
        "tce,Trichloroethene,79-01-6,chlorinated_ethenes,131.38,yes,2,TCE,no\n"
        "benzene,Benzene,71-43-2,fuel_aromatics,78.114,yes,3,,no"
    ),
    "lab/lab_samples.csv": (
        "lab_sample_id,sampler_id,type,lab_received_at,tz,analysed_at,batch_id,method,modification,dilution,reportable"
    ),
    "lab/results.csv": (
        "lab_sample_id,analyte_id,result_text,value,unit,rl,mdl,lab_qualifier,validation_qualifier,"
        "validation_reason,detected,calibration_top"
    ),
}
_COLUMNS = (
    *("location_id", "medium", "design", "rationale", "plan_easting", "plan_northing", "surface"),
    *("surface_thickness_in", "building", "status", "off_site", "public_label", "comment"),
)
_OBJECTIVES = """\
The survey is planned to show

* where chlorinated solvents and fuel compounds are present in soil gas below the yard,
* whether the sewer trench carries vapour towards the shop,
* whether there is vapour below the floor of the shop.
"""
_PLACED = (
    ("0201", "SG-01", "NA", "2025-10-27T08:40", "2025-11-06T09:05", "RB-1"),
    ("0202", "SG-02", "NA", "2025-10-27T09:15", "2025-11-06T09:31", "RB-1"),
    ("0203", "SG-02", "0202", "2025-10-27T09:21", "2025-11-06T09:34", "RB-1"),
    ("0204", "SG-05", "NA", "2025-10-27T10:02", "", ""),
    ("0205", "SG-06", "NA", "2025-10-27T10:44", "", ""),
    ("0206", "IA-1", "NA", "2025-10-28T08:12", "", ""),
)
"""Samplers in the field: serial, point, primary of a duplicate, placed, retrieved, return bag."""


def texts() -> dict[str, str]:
    """Return the files of the planned survey, as text by path."""
    return {
        "project.toml": SETTINGS,
        "locations/locations.csv": _locations(()),
        "locations/features.geojson": _features(),
        "field/clearance.csv": TICKETS,
        "text/objectives.md": _OBJECTIVES,
        **{path: f"{head}\n" for path, head in _HEADS.items()},
    }


def in_field() -> dict[str, str]:
    """Return the files of the same survey while samplers are in place: six placed, three of them retrieved."""
    made = texts()
    made["project.toml"] = SETTINGS.replace("report_date = 2025-10-13", "report_date = 2025-11-06")
    made["locations/locations.csv"] = _locations({point for _, point, *_ in _PLACED})
    kinds = [(name, point, "sample" if of == "NA" else "field_duplicate") for name, point, of, *_ in _PLACED]
    labels = [f"{name},{point}{'-D' if kind != 'sample' else ''},{kind}" for name, point, kind in kinds]
    samplers = [*labels, "0207,TB-1,trip_blank", "0208,SPARE-1,spare"]
    made["field/samplers.csv"] += "".join(f"{row},T1,LOT-1,2025-10-22,SH-1,,\n" for row in samplers)
    made["field/deployments.csv"] += "".join(_placement(*row) for row in _PLACED)
    made["field/return_bags.csv"] += "RB-1,0207,5501,2025-11-06T12:10,FS-1,3,,\n"
    made["field/shipments.csv"] += (
        "SH-1,out,CR-1,2025-10-23T14:00,7001,8,2025-10-27T07:30,America/Chicago,8,7001,intact,,\n"
    )
    return made


def _placement(name: str, point: str, of: str, placed: str, retrieved: str, bag: str) -> str:
    air = point.startswith("IA")
    back = "intact" if retrieved else ""
    by = "FS-1" if retrieved else ""
    return f"{name},{point},{of},{placed},{retrieved},{'NA' if air else '3.0'},{back},{bag},FS-1,{by},\n"


def planned() -> Folder:
    """Return the folder of the planned survey, in memory."""
    return folder(texts())


def folder(files: Mapping[str, str]) -> Folder:
    """Return a folder of files in memory."""
    return Folder({path: _file(path, text) for path, text in sorted(files.items())}, (), ())


def _file(path: str, text: str) -> InputFile:
    content = text.encode()
    return InputFile(path, hashlib.sha256(content).hexdigest(), content)


def _locations(placed: Container[str]) -> str:
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(_COLUMNS)
    for name, medium, design, rationale, east, north, surface, thickness, building in POINTS:
        at = (f"{CORNER[0] + east:.2f}", f"{CORNER[1] + north:.2f}")
        row = (name, medium, design, rationale, *at, surface or "NA", thickness or "NA", building or "NA")
        writer.writerow((*row, "placed" if name in placed else "planned", "no", name, ""))
    return out.getvalue()


def _features() -> str:
    made = []
    for properties, kind, corners in FEATURES:
        ring = [*corners, corners[0]] if kind == "Polygon" else list(corners)
        easting, northing = np.array(ring, dtype=float).T + np.array(CORNER)[:, None]
        lon, lat = transform(CRS, "EPSG:4326", easting, northing)
        path = [[round(float(x), 9), round(float(y), 9)] for x, y in zip(lon, lat, strict=True)]
        geometry = {"type": kind, "coordinates": [path] if kind == "Polygon" else path}
        made.append({"type": "Feature", "properties": {**properties, "public": "yes"}, "geometry": geometry})
    return json.dumps({"type": "FeatureCollection", "features": made}, indent=1) + "\n"
