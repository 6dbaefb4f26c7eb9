"""Single defects of the example survey, each with the findings that it must give and no other.

A defect that gives more than one finding says why in ``because``.
"""

from __future__ import annotations

from dataclasses import dataclass

from builders import (
    Change,
    Row,
    cell,
    cells,
    column_renamed,
    content,
    every,
    feature_added,
    removed,
    row_added,
    setting,
    settings_added,
    text,
)
from situations import BLANK, LOST, REPLACEMENT, field_blank, replacement

LOCATIONS = "locations/locations.csv"
FEATURES = "locations/features.geojson"
SAMPLERS = "field/samplers.csv"
DEPLOYMENTS = "field/deployments.csv"
BAGS = "field/return_bags.csv"
SHIPMENTS = "field/shipments.csv"
CUSTODY = "field/custody.csv"
CLEARANCE = "field/clearance.csv"
DEVIATIONS = "field/deviations.csv"
WEATHER = "field/weather.csv"
PHOTOS = "field/photos.csv"
ANALYTES = "lab/analytes.csv"
LAB = "lab/lab_samples.csv"
RESULTS = "lab/results.csv"
QC = "lab/lab_qc.csv"
RATES = "reference/uptake_rates.csv"
LEVELS = "reference/screening_levels.csv"
COMMENTS = "review/comments.csv"
DECISIONS = "review/dispositions.csv"
SIGNOFF = "review/signoff.csv"
SETTINGS = "project.toml"

HUGE_PNG = b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR" + (60_000).to_bytes(4, "big") * 2 + b"\x08\0\0\0\0"
"""The header of a picture of 3,600 million pixels, in a few bytes."""

Expected = tuple[str, str, str, int | None]
"""Code, severity, file, row."""


@dataclass(frozen=True)
class Defect:
    """One defect: its changes, and every new finding that they give."""

    name: str
    changes: tuple[Change, ...]
    expected: tuple[Expected, ...]
    because: str = ""


def one(code: str, severity: str, file: str, row: int | None, *changes: Change, name: str = "") -> Defect:
    """Return a defect that gives one finding."""
    return Defect(name or code, changes, ((code, severity, file, row),))


def several(name: str, because: str, expected: tuple[Expected, ...], *changes: Change) -> Defect:
    """Return a defect that can't but give more than one finding."""
    return Defect(name, changes, expected, because)


ND = "04417-001+pce"
BESIDE_SG_24 = {"type": "LineString", "coordinates": [[-99.36764247, 43.08275279], [-99.36764301, 43.08284284]]}
SQUARE = {
    "type": "Polygon",
    "coordinates": [[[-99.4, 43.0], [-99.3, 43.0], [-99.3, 43.1], [-99.4, 43.1], [-99.4, 43.0]]],
}
OUTSIDE_WORLD = {"type": "Point", "coordinates": [470000.0, 4770000.0]}


def _to_the_half_hour(row: Row) -> Row:
    """Round a time of retrieval down to the hour or half hour, the early one left alone."""
    time = row["retrieved_at"]
    if not time.startswith("2025-11"):
        return {}
    return {"retrieved_at": time[:14] + ("00" if int(time[14:16]) < 30 else "30")}


KML, GPX = "locations/features.kml", "locations/gps.gpx"
SG_08 = (-99.3685273, 43.0823545)
"""Where SG-08 lies, by PROJ from its easting and northing."""


def points_from(path: str) -> Change:
    """Name a file of measured positions in the settings."""
    return settings_added(f'[points]\nfile = "{path}"')


def waypoints(*places: tuple[str, float, float]) -> bytes:
    """Return a GPX file of waypoints: name, longitude and latitude."""
    made = "".join(f'<wpt lon="{x}" lat="{y}"><name>{name}</name></wpt>' for name, x, y in places)
    return f"<gpx>{made}</gpx>".encode()


FILES = (
    one("file-missing", "stop", SHIPMENTS, None, removed(SHIPMENTS)),
    one("file-missing", "stop", SETTINGS, None, removed(SETTINGS), name="settings-missing"),
    one("file-absent", "flag", WEATHER, None, removed(WEATHER)),
    one("file-unknown", "note", "field/wether.csv", None, content("field/wether.csv", b"at\n")),
    one("lab-table-unread", "flag", "lab/extra.csv", None, content("lab/extra.csv", b"a,b\n")),
    one("settings-unreadable", "stop", SETTINGS, 5, setting('id = "KD-2025-01"', 'id = "KD-2025-01')),
    one("setting-missing", "stop", SETTINGS, None, setting("time_zone =", "x_time_zone =")),
    one("setting-invalid", "stop", SETTINGS, 10, setting("revision = 1", 'revision = "one"')),
    one(
        "setting-invalid",
        "stop",
        SETTINGS,
        25,
        setting('depth = { value = 3.0, unit = "ft" }', 'depth = { value = 3.0, unit = "yd" }'),
        name="unit-of-depth-unknown",
    ),
    one(
        "setting-unknown",
        "note",
        SETTINGS,
        31,
        setting("[limits.duplicate", "exposure_day_min = 6\n\n[limits.duplicate"),
    ),
    one("csv-unreadable", "stop", BAGS, 2, text(BAGS, "RB-1,", '"RB-1,')),
    one("delimiter-wrong", "stop", "review/changes.csv", 1, content("review/changes.csv", b"revision;key;reason\n")),
    one("row-length", "stop", BAGS, 3, text(BAGS, 'beside the fuel can"', 'beside the fuel can",extra')),
    one("header-twice", "stop", "review/changes.csv", 1, content("review/changes.csv", b"revision,key,key\n")),
    one("header-blank", "stop", "review/changes.csv", 1, content("review/changes.csv", b"revision,,reason\n")),
    one(
        "encoding-wrong",
        "stop",
        DECISIONS,
        2,
        text(DECISIONS, "kept", "k\u00e9pt"),
        Change(DECISIONS, lambda old: old.decode().encode("latin-1")),
    ),
    one("column-missing", "stop", SIGNOFF, 1, content(SIGNOFF, b"revision,statement\n")),
    one("column-unknown", "flag", WEATHER, 1, column_renamed(WEATHER, "station", "statoin")),
    one("cell-blank", "stop", COMMENTS, 4, cell(COMMENTS, "C-3", "text", "")),
    one("number-unreadable", "stop", LEVELS, 14, cell(LEVELS, "EX-1+toluene+indoor_air+residential", "value", "4,000")),
    one("date-unreadable", "stop", COMMENTS, 3, cell(COMMENTS, "C-2", "raised_on", "10/12/2025")),
    one("word-unknown", "stop", COMMENTS, 4, cell(COMMENTS, "C-3", "class", "should fix")),
    one("scan-missing", "flag", SHIPMENTS, 3, cell(SHIPMENTS, "SH-R1", "scan_file", "records/receipt_9.txt")),
    one("path-unsafe", "stop", SHIPMENTS, 3, cell(SHIPMENTS, "SH-R1", "scan_file", "../receipt_1.txt")),
    one("path-private", "stop", SHIPMENTS, 3, cell(SHIPMENTS, "SH-R1", "scan_file", "private/contacts.csv")),
    one("photo-missing", "hold", PHOTOS, 3, removed("photos/sg-37.png")),
    one("photo-unlisted", "note", "photos/sg-99.png", None, content("photos/sg-99.png", b"\x89PNG")),
    one("photo-too-large", "stop", "photos/sg-35.png", None, content("photos/sg-35.png", HUGE_PNG)),
    one("photo-unreadable", "stop", "photos/sg-35.png", None, content("photos/sg-35.png", b"<svg/>")),
    one("photo-without-words", "hold", PHOTOS, 2, cell(PHOTOS, "photos/sg-35.png", "alt_text", "")),
)

IDENTITY = (
    one("duplicate-key", "stop", COMMENTS, 7, row_added(COMMENTS, comment_id="C-1", text="again", state="withdrawn")),
    one("unknown-id", "stop", PHOTOS, 3, cell(PHOTOS, "photos/sg-37.png", "location_id", "SG-73")),
    one("cas-unreadable", "stop", ANALYTES, 2, cell(ANALYTES, "pce", "cas", "see list")),
    one("cas-dashes", "note", ANALYTES, 2, cell(ANALYTES, "pce", "cas", "127\u201318\u20134")),
    one("cas-check-digit", "stop", ANALYTES, 2, cell(ANALYTES, "pce", "cas", "127-18-5")),
    one(
        "cas-twice",
        "stop",
        ANALYTES,
        21,
        cells(ANALYTES, "undecane", name="Solvent", cas="127-18-4", molar_mass_g_mol="165.83"),
    ),
    one("cas-of-another", "stop", ANALYTES, 16, cell(ANALYTES, "mxylene", "cas", "106-42-3")),
    one("molar-mass-off", "flag", ANALYTES, 3, cell(ANALYTES, "tce", "molar_mass_g_mol", "113.38")),
    one("ids-alike", "hold", COMMENTS, 7, row_added(COMMENTS, comment_id="c-01", text="again", state="withdrawn")),
    one("label-twice", "hold", SAMPLERS, 4, cell(SAMPLERS, "0047103", "label", "SG-50")),
    one("trip-blank-placed", "stop", DEPLOYMENTS, 59, cell(SAMPLERS, "0047159", "kind", "trip_blank")),
    one("spare-placed", "stop", DEPLOYMENTS, 59, cell(SAMPLERS, "0047159", "kind", "spare")),
    one("duplicate-of-duplicate", "stop", DEPLOYMENTS, 8, cell(DEPLOYMENTS, "0047108", "duplicate_of", "0047108")),
    one("duplicate-elsewhere", "stop", DEPLOYMENTS, 8, cell(DEPLOYMENTS, "0047108", "duplicate_of", "0047102")),
    one("duplicate-half-said", "stop", DEPLOYMENTS, 8, cell(SAMPLERS, "0047108", "kind", "sample")),
    one("outcome-disagrees", "stop", DEPLOYMENTS, 59, cell(SAMPLERS, "0047159", "outcome", "used")),
    one(
        "lost-and-retrieved", "stop", DEPLOYMENTS, 59, cell(DEPLOYMENTS, "0047159", "retrieved_at", "2025-11-06T13:20")
    ),
    one("result-for-lost", "stop", LAB, 5, cell(LAB, "04417-001", "sampler_id", "0047159")),
    one("result-for-buried", "stop", LAB, 6, cell(DEPLOYMENTS, "0047103", "retrieved_at", "NA")),
    one("result-for-unplaced", "stop", LAB, 5, cell(LAB, "04417-001", "sampler_id", "0047160")),
    one("type-disagrees", "stop", LAB, 5, cell(LAB, "04417-001", "type", "trip_blank")),
    one("sample-without-sampler", "stop", LAB, 5, cell(LAB, "04417-001", "sampler_id", "")),
    one(
        "sampler-unaccounted",
        "hold",
        SAMPLERS,
        65,
        row_added(SAMPLERS, sampler_id="0047164", label="SG-53", kind="sample"),
    ),
    one("sampler-types-mixed", "flag", DEPLOYMENTS, 3, cell(SAMPLERS, "0047103", "sampler_type", "T2")),
    one("placed-without-sampler", "hold", LOCATIONS, 8, cell(LOCATIONS, "SG-07", "status", "placed")),
    one("placed-though-not-done", "stop", LOCATIONS, 9, cell(LOCATIONS, "SG-08", "status", "not_done")),
    one("custody-subject-unknown", "stop", CUSTODY, 13, cell(CUSTODY, "E-0012", "subject_id", "0047501")),
    several(
        "second-primary",
        "a sampler put down at the wrong point leaves the right one without",
        (("second-primary", "stop", DEPLOYMENTS, 4), ("placed-without-sampler", "hold", LOCATIONS, 29)),
        cell(DEPLOYMENTS, "0047103", "location_id", "SG-29"),
    ),
    one(
        "windows-overlap",
        "stop",
        DEPLOYMENTS,
        60,
        *replacement(),
        cell(DEPLOYMENTS, REPLACEMENT, "placed_at", "2025-10-24T13:05"),
        name="replaced-before-the-lost-ones-last-record",
    ),
    one(
        "windows-overlap",
        "stop",
        DEPLOYMENTS,
        60,
        *replacement(),
        cell(DEPLOYMENTS, LOST, "condition", ""),
        cell(SAMPLERS, LOST, "outcome", "used"),
        name="replaced-neither-retrieved-nor-lost",
    ),
    *(
        one(
            "replacement-invalid",
            "stop",
            DEPLOYMENTS,
            60,
            *replacement(),
            cell(DEPLOYMENTS, REPLACEMENT, "replaces", other),
            name=f"replaced-{why}",
        )
        for other, why in (("0047102", "elsewhere"), ("0047160", "never-placed"), (REPLACEMENT, "by-itself"))
    ),
    one(
        "field-blank-role", "stop", DEPLOYMENTS, 60, *field_blank(), cell(DEPLOYMENTS, BLANK, "duplicate_of", "0047103")
    ),
    several(
        "field-blank-unplaced",
        "a field blank that was opened nowhere is in no bag either, and no record brings it back",
        (
            ("field-blank-unplaced", "flag", SAMPLERS, 65),
            ("custody-gap", "flag", CUSTODY, 22),
            ("bag-count-differs", "hold", BAGS, 2),
            ("shipment-count-differs", "hold", SHIPMENTS, 3),
        ),
        *(change for change in field_blank() if change.path != DEPLOYMENTS),
    ),
    several(
        "field-blank-in-no-bag",
        "a field blank in no bag applies to nobody, its bag and shipment are one short, and no record brings it back",
        (
            ("custody-gap", "flag", CUSTODY, 22),
            ("sampler-in-no-bag", "hold", DEPLOYMENTS, 60),
            ("bag-count-differs", "hold", BAGS, 2),
            ("shipment-count-differs", "hold", SHIPMENTS, 3),
        ),
        *field_blank(),
        cell(DEPLOYMENTS, BLANK, "bag_id", ""),
    ),
)

PLACE = (
    one("crs-unknown", "stop", SETTINGS, 17, setting("EPSG:32614", "EPSG:99999")),
    one("crs-not-projected", "stop", SETTINGS, 17, setting("EPSG:32614", "EPSG:4269")),
    one("points-outside-all", "stop", SETTINGS, 17, setting("EPSG:32614", "EPSG:32615")),
    one("axes-swapped", "stop", LOCATIONS, 25, cells(LOCATIONS, "SG-24", easting="4770074.09", northing="470073.99")),
    one(
        "axes-swapped",
        "stop",
        LOCATIONS,
        2,
        every(
            LOCATIONS,
            lambda row: {
                "easting": row["northing"],
                "northing": row["easting"],
                "plan_easting": row["plan_northing"],
                "plan_northing": row["plan_easting"],
            },
        ),
        name="axes-swapped-throughout",
    ),
    one(
        "crs-elsewhere",
        "flag",
        SETTINGS,
        18,
        setting('crs = "EPSG:32614"', 'crs = "EPSG:32614"\nmap_crs = "EPSG:25832"'),
    ),
    one("features-several", "hold", KML, None, content(KML, b"<kml/>")),
    one("points-unusable", "stop", GPX, None, points_from(GPX), content(GPX, b"<kml/>")),
    several(
        "positions-differ",
        "a position of one point lies far from its row, another is of no point, and all others have none",
        (
            ("positions-differ", "flag", LOCATIONS, 3),
            ("points-without-row", "flag", GPX, None),
            ("rows-without-point", "note", LOCATIONS, None),
        ),
        points_from(GPX),
        content(GPX, waypoints(("SG-02", -99.3664, 43.0824), ("Gate", -99.3664, 43.0824))),
    ),
    several(
        "points-supplied",
        "the one point without a surveyed position takes that of the file, and the others are not in it",
        (("points-supplied", "note", GPX, None), ("rows-without-point", "note", LOCATIONS, None)),
        points_from(GPX),
        cells(LOCATIONS, "SG-08", easting="", northing=""),
        content(GPX, waypoints(("SG-08", SG_08[0], SG_08[1]))),
    ),
    one("point-outside", "flag", LOCATIONS, 51, cell(LOCATIONS, "SG-50", "off_site", "no")),
    one(
        "coordinates-disagree",
        "stop",
        LOCATIONS,
        9,
        cells(LOCATIONS, "SG-08", longitude="-99.3687", latitude="43.0825"),
    ),
    one(
        "longitude-sign",
        "stop",
        LOCATIONS,
        25,
        cells(LOCATIONS, "SG-24", longitude="99.3676465", latitude="43.0827896"),
    ),
    one(
        "coordinates-missing",
        "hold",
        LOCATIONS,
        9,
        cells(LOCATIONS, "SG-08", plan_easting="", plan_northing="", easting="", northing=""),
    ),
    one("position-not-surveyed", "flag", LOCATIONS, 9, cells(LOCATIONS, "SG-08", easting="", northing="")),
    one("position-inaccurate", "flag", LOCATIONS, 9, cell(LOCATIONS, "SG-08", "accuracy_m", "8")),
    one("plan-count-differs", "flag", SETTINGS, 22, setting("locations = 55", "locations = 56")),
    several(
        "points-too-close",
        "a point put down at another's place is among the nearest of points that it was far from",
        (("points-too-close", "flag", LOCATIONS, 53), ("local-low", "flag", LOCATIONS, 17)),
        cells(LOCATIONS, "SG-52", easting="470044.54", northing="4770045.95"),
    ),
    one("move-disagrees", "flag", DEPLOYMENTS, 3, cell(DEPLOYMENTS, "0047103", "moved_ft", "12")),
    one("surface-disagrees", "flag", LOCATIONS, 32, cell(LOCATIONS, "SG-31", "surface", "soil")),
    one(
        "surface-disagrees",
        "flag",
        LOCATIONS,
        25,
        cell(LOCATIONS, "SG-24", "surface", "concrete"),
        cell(DEPLOYMENTS, "0047117", "sleeve", "yes"),
        name="paving-not-mapped",
    ),
    one("building-unknown", "flag", LOCATIONS, 54, cell(LOCATIONS, "SS-01", "building", "Laundrey")),
    one("near-utility", "flag", LOCATIONS, 25, feature_added(BESIDE_SG_24, kind="utility", name="Gas pipe")),
    one("feature-doubtful", "hold", FEATURES, None, feature_added(SQUARE, kind="site_boundary")),
    one("feature-unusable", "stop", FEATURES, None, feature_added(OUTSIDE_WORLD, kind="well")),
    several(
        "point-moved",
        "a point that was moved and of which nothing is said lacks all three",
        (
            ("point-moved", "flag", LOCATIONS, 9),
            ("move-disagrees", "flag", DEPLOYMENTS, 46),
            ("deviation-unrecorded", "flag", LOCATIONS, 9),
        ),
        cell(LOCATIONS, "SG-08", "northing", "4770029.09"),
    ),
)

TIME = (
    one("time-unreadable", "stop", CLEARANCE, 2, cell(CLEARANCE, "OB-25-10417", "requested_at", "17.10.2025 09:12")),
    one(
        "time-does-not-exist", "stop", CLEARANCE, 2, cell(CLEARANCE, "OB-25-10417", "requested_at", "2025-03-09T02:30")
    ),
    one("time-occurs-twice", "flag", CLEARANCE, 2, cell(CLEARANCE, "OB-25-10417", "requested_at", "2024-11-03T01:30")),
    one(
        "offset-disagrees",
        "stop",
        CLEARANCE,
        2,
        cell(CLEARANCE, "OB-25-10417", "requested_at", "2025-10-17T09:12-09:00"),
    ),
    one("zone-unknown", "stop", CUSTODY, 59, cell(CUSTODY, "E-0058", "tz", "America/Dever")),
    one(
        "retrieved-before-placed",
        "stop",
        DEPLOYMENTS,
        3,
        cell(DEPLOYMENTS, "0047103", "retrieved_at", "2025-10-05T08:30"),
    ),
    one("shipped-before-prepared", "stop", SAMPLERS, 3, cell(SAMPLERS, "0047102", "prepared_on", "2025-10-27")),
    one(
        "shipped-before-prepared",
        "stop",
        SHIPMENTS,
        2,
        cell(SHIPMENTS, "SH-O1", "packed_at", "2025-10-10T15:12"),
        name="shipped-before-all-prepared",
    ),
    one("placed-before-received", "stop", DEPLOYMENTS, 2, cell(SHIPMENTS, "SH-O1", "received_at", "2025-10-23T08:20")),
    one("sealed-before-retrieved", "stop", BAGS, 2, cell(BAGS, "RB-1", "sealed_at", "2025-11-05T10:17")),
    one(
        "sealed-before-retrieved",
        "stop",
        DEPLOYMENTS,
        3,
        cell(DEPLOYMENTS, "0047103", "retrieved_at", "2025-11-05T18:30"),
        name="retrieved-after-sealing",
    ),
    one("packed-before-sealed", "stop", BAGS, 3, cell(SHIPMENTS, "SH-R1", "packed_at", "2025-11-06T09:14")),
    one("received-before-packed", "stop", SHIPMENTS, 3, cell(SHIPMENTS, "SH-R1", "received_at", "2025-11-01T09:32")),
    one("analysed-before-received", "stop", LAB, 5, cell(LAB, "04417-001", "analysed_at", "2025-11-07T09:10")),
    one("laboratory-before-retrieval", "stop", LAB, 5, cell(LAB, "04417-001", "lab_received_at", "2025-11-01T09:32")),
    one(
        "clearance-reversed",
        "stop",
        CLEARANCE,
        4,
        row_added(
            CLEARANCE, ticket="OB-3", valid_from="2025-10-22T08:00", valid_to="2025-10-02T08:00", location_ids="SG-07"
        ),
    ),
    one("later-than-report", "stop", CUSTODY, 57, cell(CUSTODY, "E-0056", "at", "2025-12-19T14:20")),
    one("times-rounded", "flag", DEPLOYMENTS, 2, every(DEPLOYMENTS, _to_the_half_hour)),
    one("time-at-night", "flag", DEPLOYMENTS, 3, cell(DEPLOYMENTS, "0047103", "placed_at", "2025-10-23T02:23")),
    one("hold-time-exceeded", "flag", LAB, 5, cell(LAB, "04417-001", "analysed_at", "2025-12-08T09:10")),
    one(
        "exposure-off-median", "flag", DEPLOYMENTS, 3, cell(DEPLOYMENTS, "0047103", "retrieved_at", "2025-11-03T08:30")
    ),
    several(
        "exposure-out-of-plan",
        "a sampler pulled early is a departure from the plan too",
        (("exposure-out-of-plan", "flag", DEPLOYMENTS, 3), ("deviation-unrecorded", "flag", DEPLOYMENTS, 3)),
        cell(DEPLOYMENTS, "0047103", "retrieved_at", "2025-10-28T08:30"),
    ),
)
