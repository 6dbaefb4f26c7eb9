"""What a person types for the survey of :mod:`raw`, in the template's folder: settings, lists, papers, texts.

The crew's log is typed as well; it stands in :mod:`raw` as the workbook that the crew hands over.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping
from typing import NamedTuple

from tests.messy.raw import POINTS, SERIALS, SPARES, TRIP_BLANK

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
    '# closure = "foil_and_soil"': 'closure = "foil_and_soil"\ndepth_ft = 3.0\n'
    'placed_by = "FS-1"\nretrieved_by = "FS-1"',
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
    ("SH-BACK", "return", "CR-2260", "10/24/2025 1:10 PM", "660140", "30", "10/27/2025 9:15 AM", "30", "660140",
     "intact"),
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


Files = dict[str, bytes]
SETTINGS_FILE, LAB, LAB_AGAIN, MAPPING = "project.toml", "lab/K5117.xlsx", "lab/K5117-rev1.xlsx", "lab/K5117.map.toml"


def settings(template: bytes) -> bytes:
    """Return the template's settings as the person leaves them."""
    lines = template.decode().splitlines()
    for old, new in SETTINGS.items():
        at = next(at for at, line in enumerate(lines) if line.startswith(old))
        lines[at] = new
    return "\n".join((*lines, *ADDED, "")).encode()


class Correction(NamedTuple):
    """What a person does about a finding: its code, words of its message that say so, and the change."""

    code: str
    says: str
    change: Callable[[Files], None]


def replaced(path: str, old: str, new: str) -> Callable[[Files], None]:
    """Write something in place of what stands in a file once."""

    def change(files: Files) -> None:
        text = files[path].decode()
        assert text.count(old) == 1, (path, old)
        files[path] = text.replace(old, new).encode()

    return change


def added(*lines: str) -> Callable[[Files], None]:
    """Write lines below the last of project.toml."""

    def change(files: Files) -> None:
        files[SETTINGS_FILE] += "".join(f"{line}\n" for line in lines).encode()

    return change


def gone(path: str) -> Callable[[Files], None]:
    """Take a file away."""

    def change(files: Files) -> None:
        del files[path]

    return change


def _nothing(_: Files) -> None:
    """Change nothing: the mapping is drafted by the program."""


def _confirmed(files: Files) -> None:
    for key in ("mapping", "control"):
        replaced(MAPPING, f'{key} = ""', f'{key} = "PM-1"')(files)


def _kind(files: Files) -> None:
    replaced(SETTINGS_FILE, "# [features] ", "[features] ")(files)
    replaced(SETTINGS_FILE, '# kind = "TYPE" ', 'kind = "layer" ')(files)


def _words(files: Files) -> None:
    new = 'words = { "Yard" = "site_boundary", "Suspected" = "suspected_source" }'
    replaced(SETTINGS_FILE, '# words = { "BLDG" = "building" } ', new)(files)


def _again(files: Files) -> None:
    """Name the re-issue in the mapping, and move the first issue to records/."""
    old = [line for line in files[MAPPING].decode().splitlines() if line.startswith(("file =", "sha256 ="))]
    digest = hashlib.sha256(files[LAB_AGAIN]).hexdigest()
    replaced(MAPPING, old[0], f'file = "{LAB_AGAIN}"\nreplaces = "records/K5117.xlsx"')(files)
    replaced(MAPPING, old[1], f'sha256 = "{digest}"')(files)
    files["records/K5117.xlsx"] = files.pop(LAB)


def _totals(files: Files) -> None:
    """Type the totals of the re-issue's signed report."""
    replaced(MAPPING, "detected_rows = 119", "detected_rows = 120")(files)
    replaced(MAPPING, "sum_detected = 43260", "sum_detected = 44710")(files)


US_DATES = 'dates = "month/day/year hour12:minute ampm"'
LOGGER_DATES = 'dates = "day.month.year hour:minute"'
WEATHER = '[files."field/weather.csv"]\nencoding = "cp1252"\n'
ROUNDS: tuple[tuple[Correction, ...], ...] = (
    (
        Correction(
            "crs-elsewhere",
            'crs = "EPSG:32614"',
            replaced(SETTINGS_FILE, '\ncrs = "EPSG:32633"', '\ncrs = "EPSG:32614"'),
        ),
        Correction("features-several", "keep the one that contains the features", gone("locations/features.geojson")),
        Correction("table-twice", "remove field/deployments.csv", gone("field/deployments.csv")),
        Correction("time-unreadable", US_DATES, added('[files."field/shipments.csv"]', US_DATES)),
        Correction("encoding-wrong", 'encoding = "cp1252"', added(*WEATHER.splitlines())),
        Correction("lab-table-unread", "sitegen draft-mapping", _nothing),
    ),
    (
        Correction(
            "delimiter-wrong", 'delimiter = ";"', replaced(SETTINGS_FILE, WEATHER, WEATHER + 'delimiter = ";"\n')
        ),
        Correction("feature-unusable", 'kind = "…", one of ["name", "layer"]', _kind),
        Correction("mapping-unconfirmed", "[confirmed]", _confirmed),
    ),
    (
        Correction("number-unreadable", 'decimal = ","', replaced(SETTINGS_FILE, WEATHER, WEATHER + 'decimal = ","\n')),
        Correction("time-unreadable", LOGGER_DATES, replaced(SETTINGS_FILE, WEATHER, WEATHER + LOGGER_DATES + "\n")),
        Correction("feature-unusable", 'words = { "Yard" = "…", "Suspected" = "…" }', _words),
    ),
)
"""Rounds of check and correct until nothing stops a build; ``lab-table-unread`` is answered by drafting the mapping."""
ROUNDS_AGAIN: tuple[tuple[Correction, ...], ...] = (
    (Correction("deliverable-reissued", 'replaces = "records/K5117.xlsx"', _again),),
    (Correction("control-total-differs", "compare the file with the signed report", _totals),),
)
"""Rounds after the re-issue has come."""
