"""What a person types for the survey of :mod:`raw`, in the template's folder: settings, lists, papers, texts.

The crew's log is typed as well; it stands in :mod:`raw` as the workbook that the crew hands over.
"""

from __future__ import annotations

from collections.abc import Mapping

from raw import POINTS, SERIALS, SPARES, TRIP_BLANK

SETTINGS: Mapping[str, str] = {
    'id = "TODO"': 'id = "MR-25-31"',
    'title = "TODO"': 'title = "Passive soil-gas survey, Mill Race Yard (invented)"',
    'site = "TODO"': 'site = "Mill Race Yard (invented)"',
    'client = "TODO"': 'client = "Kettle Bend Water Board (invented)"',
    'prepared_by = "TODO"': 'prepared_by = "Otterbrook Field Group (invented)"',
    "report_date = 2000-01-01": "report_date = 2025-11-14",
    'work_plan = ""': 'work_plan = "Work plan MR-25, 2 October 2025"',
    'time_zone = "Etc/UTC"': 'time_zone = "America/Chicago"',
    "# locations = 40": "locations = 24",
    '# depth = { value = 3.0, unit = "ft" }': 'depth = { value = 3.0, unit = "ft" }',
    "# [points]": "[points]",
    '# file = "locations/gps.gpx"': 'file = "locations/gps.gpx"',
    'name = ""': 'name = "Kettle Bend Laboratory (invented)"',
    "# [defaults.deployments]": "[defaults.deployments]",
    "# hole_diameter_in = 1.0": "hole_diameter_in = 1.0",
    '# hole_method = "slide_hammer"': 'hole_method = "slide_hammer"',
    '# closure = "foil_and_soil"': 'closure = "foil_and_soil"\ndepth_ft = 3.0\nplaced_by = "FS-1"\nretrieved_by = "FS-1"',
    "# [derive]": "[derive]",
    "# samplers = true": "samplers = true",
    "# return_bags = true": "return_bags = true",
    "# bags = true": "bags = true",
    "# serial_ranges = true": "serial_ranges = true",
    "# custody = true": "custody = true",
}
"""The beginning of a line of the template's ``project.toml``, and what stands there then."""

ADDED = (
    "[defaults.locations]",
    'medium = "soil_gas"',
    'design = "grid"',
    'coordinate_method = "GNSS receiver"',
    "accuracy_m = 3.0",
    "[defaults.samplers]",
    'sampler_type = "T1"',
    'lot = "0925-C"',
)
"""Lines that are written below the last of the template."""

Table = tuple[tuple[str, ...], ...]

LOCATIONS: Table = (("location_id",), *((point,) for point in POINTS))
SAMPLERS: Table = (
    ("sampler_id", "kind", "outcome"),
    (f"{SERIALS[0]}-{SERIALS[-1]}", "", ""),
    *((serial, "spare", "returned_unused") for serial in SPARES),
)
BAGS: Table = (
    ("bag_id", "trip_blank_id", "seal_applied", "sealed_at", "sealed_by", "count_declared"),
    ("RB-1", TRIP_BLANK, "660131", "2025-10-24T12:30", "FS-1", "26"),
)
SHIPMENTS: Table = (
    ("shipment_id", "direction", "carrier_ref", "packed_at", "seal_outer", "items_declared", "received_at",
     "items_received", "seal_received", "seal_condition"),
    ("SH-OUT", "out", "CR-2217", "10/9/2025 2:15 PM", "660101", "30", "10/13/2025 9:40 AM", "30", "660101", "intact"),
    ("SH-BACK", "return", "CR-2260", "10/24/2025 1:10 PM", "660140", "30", "10/27/2025 9:15 AM", "30", "660140", "intact"),
)  # fmt: skip
CUSTODY: Table = (
    ("event_id", "subject_id", "event", "at", "by_role", "to_role", "signature", "seal_number"),
    ("E-01", "SH-OUT", "relinquished", "2025-10-09T14:40", "LB-1", "CR", "ink", ""),
    ("E-02", "SH-OUT", "accepted", "2025-10-09T14:40", "CR", "", "electronic", ""),
    ("E-03", "SH-OUT", "relinquished", "2025-10-13T09:40", "CR", "FS-1", "electronic", ""),
    ("E-04", "SH-OUT", "received", "2025-10-13T09:40", "FS-1", "", "ink", ""),
    ("E-05", "SH-BACK", "relinquished", "2025-10-24T14:05", "FS-1", "CR", "ink", ""),
    ("E-06", "SH-BACK", "accepted", "2025-10-24T14:05", "CR", "", "electronic", ""),
    ("E-07", "SH-BACK", "relinquished", "2025-10-27T09:15", "CR", "LB-1", "electronic", ""),
    ("E-08", "SH-BACK", "lab_received", "2025-10-27T09:15", "LB-1", "", "ink", ""),
    ("E-09", "RB-1", "seal_checked", "2025-10-27T09:40", "LB-1", "", "ink", "660131"),
)
CLEARANCE: Table = (
    ("ticket", "requested_at", "valid_from", "valid_to"),
    ("UT-5519", "2025-10-08T10:00", "2025-10-11T00:00", "2025-10-25T00:00"),
)
TYPED: Mapping[str, Table] = {
    "locations/locations.csv": LOCATIONS,
    "field/samplers.csv": SAMPLERS,
    "field/return_bags.csv": BAGS,
    "field/shipments.csv": SHIPMENTS,
    "field/custody.csv": CUSTODY,
    "field/clearance.csv": CLEARANCE,
}
TEXTS: Mapping[str, str] = {
    "summary": "Tetrachloroethene was found at {{ detections.tetrachloroethene }}; the highest mass is"
    " {{ max.tetrachloroethene }}.",
    "objectives": "The survey asks where tetrachloroethene and its products lie in the soil gas of the yard.",
    "setting": "The yard is open grassland. No building stands on it.",
    "conceptual_model": "A former degreasing pit is suspected in the north-west of the yard.",
    "interpretation": "The masses of tetrachloroethene fall off from the pit to all sides.",
    "limitations": "A mass per sampler is not a concentration.",
    "conclusions": "Tetrachloroethene was found at most of the points; the source lies within the grid.",
    "recommendations": "Sample soil at the points with the highest masses.",
}


def as_csv(rows: Table) -> bytes:
    """Return a table as the file that a spreadsheet saves."""
    return "".join(",".join(row) + "\r\n" for row in rows).encode()
