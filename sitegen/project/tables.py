"""The tables of the folder format, column by column: each a record that one of its rows becomes.

The fields of a record are the columns, in file order, each with its kind and meaning; a time is
followed by its minutes since 1970-01-01T00:00Z. Text that is blank is "", a blank number NaN.
Each row ends with its ``origin``, by which it is told from every other row of the folder. The
order of the tables is the order in which a person fills them in.
"""

from dataclasses import replace
from typing import Annotated, NamedTuple, get_type_hints

from sitegen.project import limits
from sitegen.project.limits import Bound, Range
from sitegen.project.schema import (
    CONDITIONS,
    MEDIA,
    SURFACES,
    Column,
    Kind,
    Origin,
    Presence,
    TableSpec,
    column_name,
)
from sitegen.units import RESULT_UNITS

_SEALS = ("intact", "broken", "absent")
_HOLE_METHODS = ("rotary_hammer", "slide_hammer", "auger", "core_drill", "hand", "existing_port")
_EVENTS = (
    "released",
    "received",
    "stored",
    "removed",
    "placed",
    "retrieved",
    "bagged",
    "sealed",
    "relinquished",
    "accepted",
    "carrier_scan",
    "lab_received",
    "seal_checked",
    "analysed",
    "disposed",
)
_EVENT_MEANING = (
    "the event. `released`, `relinquished`: by_role gives up custody, to to_role. `accepted`, `received`, "
    "`lab_received`, `carrier_scan`: by_role takes custody; `retrieved`, `removed`: from the point, from "
    "storage. `bagged`, `sealed`, `analysed`: done by the custodian. `stored`: put into storage by the custodian. "
    "`placed`: installed in soil or deployed in a room. `seal_checked`: a seal is read, custody is unchanged. "
    "`disposed`: the end. Within one minute, release precedes receipt, and the recipient's other events follow it. "
    "Between release and receipt there is no custodian, sealed or not: enter both. Custody lasts until the next receipt"
)
_SAMPLE_TYPES = ("sample", "trip_blank", "field_blank", "method_blank", "control", "control_duplicate")
_QC_TYPES = ("surrogate", "internal_standard", "control", "control_duplicate", "calibration_check")


def _id(meaning: str, *, required: bool = False, refers: str = "", needed: bool = False) -> Column:
    return Column("", Kind.ID, meaning, required=required, refers=refers, needed=needed, longest=limits.ID)


def _ids(meaning: str, *, refers: str = "") -> Column:
    return Column("", Kind.IDS, meaning, refers=refers, longest=limits.IDS)


def _text(meaning: str, *, required: bool = False, longest: Bound = limits.TEXT) -> Column:
    return Column("", Kind.TEXT, meaning, required=required, longest=longest)


def _name(meaning: str, *, required: bool = False) -> Column:
    return _text(meaning, required=required, longest=limits.NAME)


def _number(meaning: str, values: Range, unit: str = "", *, required: bool = False, needed: bool = False) -> Column:
    return Column("", Kind.NUMBER, meaning, required=required, unit=unit, needed=needed, range=values)


def _count(meaning: str, values: Range = limits.COUNT, *, required: bool = False) -> Column:
    return Column("", Kind.INTEGER, meaning, required=required, range=values)


def _time(meaning: str, *, required: bool = False, zone: str = "", needed: bool = False) -> Column:
    return Column("", Kind.TIME, meaning, required=required, zone=zone, needed=needed)


def _date(meaning: str) -> Column:
    return Column("", Kind.DATE, meaning)


def _flag(meaning: str) -> Column:
    return Column("", Kind.FLAG, meaning)


def _choice(meaning: str, choices: tuple[str, ...], *, required: bool = False) -> Column:
    return Column("", Kind.CHOICE, meaning, required=required, choices=choices)


def _path(meaning: str, *, required: bool = False) -> Column:
    return Column("", Kind.PATH, meaning, required=required, longest=limits.PATH)


def _cas(meaning: str, *, required: bool = False) -> Column:
    return Column("", Kind.CAS, meaning, required=required)


_ROUND = _id("the round it belongs to, an id of [[rounds]] in project.toml; blank where there is one round")
_TZ = _name("IANA zone of this row's receipt-side time, where it is not the project's")


def _table(row: type[NamedTuple], name: str, path: str, presence: Presence, key: tuple[str, ...]) -> TableSpec:
    """Return the table whose rows are records of ``row``: its fields are the columns, its docstring the meaning."""
    hints = get_type_hints(row, include_extras=True)
    columns = tuple(
        replace(spec, name=column_name(field))
        for field in row._fields
        for spec in getattr(hints[field], "__metadata__", ())
    )
    return TableSpec(name, path, presence, key, (row.__doc__ or "").strip(), columns)


class Location(NamedTuple):
    """One row per planned or added point."""

    location_id: Annotated[str, _id("the point's id", required=True)]
    medium: Annotated[str, _choice("what is sampled", MEDIA, required=True)]
    design: Annotated[str, _choice("type of design", ("grid", "targeted", "background", "added"))]
    rationale: Annotated[str, _text("purpose of the point")]
    plan_easting: Annotated[float, _number("planned position", limits.COORDINATE, "m or ft of the CRS")]
    plan_northing: Annotated[float, _number("planned position", limits.COORDINATE, "m or ft of the CRS")]
    easting: Annotated[float, _number("surveyed position", limits.COORDINATE, "m or ft of the CRS")]
    northing: Annotated[float, _number("surveyed position", limits.COORDINATE, "m or ft of the CRS")]
    longitude: Annotated[float, _number("position where the CRS is EPSG:4326", limits.LONGITUDE, "degrees")]
    latitude: Annotated[float, _number("position where the CRS is EPSG:4326", limits.LATITUDE, "degrees")]
    coordinate_method: Annotated[str, _text("how the position was measured")]
    accuracy_m: Annotated[
        float, _number("stated accuracy of the position; a smaller offset is not flagged", limits.ACCURACY_M, "m")
    ]
    surface: Annotated[str, _choice("surface at the point", SURFACES)]
    surface_thickness_in: Annotated[float, _number("thickness of paving or slab", limits.THICKNESS_IN, "in")]
    building: Annotated[str, _name("the building it is in or next to")]
    status: Annotated[str, _choice("status of the point", ("planned", "placed", "not_done", "abandoned"))]
    off_site: Annotated[str, _flag("yes if it is intentionally outside the boundary")]
    public_label: Annotated[str, _name("the label for public outputs")]
    round: Annotated[
        str,
        _id("the round or supplement that first plans it, an id of [[rounds]]; blank for the first round"),
    ]
    comment: Annotated[str, _text("field or planning comment")]
    origin: Origin


LOCATIONS = _table(Location, "locations", "locations/locations.csv", Presence.REQUIRED, ("location_id",))


class Sampler(NamedTuple):
    """Every sampler sent by the laboratory, including blanks and spares."""

    sampler_id: Annotated[str, _id("the serial on the sampler", required=True)]
    label: Annotated[str, _name("the field sample id written on the cap")]
    kind: Annotated[
        str,
        _choice(
            "use of the sampler", ("sample", "field_duplicate", "trip_blank", "field_blank", "spare"), required=True
        ),
    ]
    sampler_type: Annotated[str, _name("type code, as in the uptake-rate table")]
    lot: Annotated[str, _name("preparation lot")]
    prepared_on: Annotated[str, _date("day of preparation at the laboratory")]
    shipment_id: Annotated[str, _id("its outward shipment", refers="shipments")]
    outcome: Annotated[str, _choice("outcome of the sampler", ("used", "lost", "returned_unused", "destroyed"))]
    note: Annotated[str, _text("remark")]
    origin: Origin


SAMPLERS = _table(Sampler, "samplers", "field/samplers.csv", Presence.REQUIRED, ("sampler_id",))


class Deployment(NamedTuple):
    """One row per sampler installed and per field blank opened: times, depth, surface, closure, condition."""

    sampler_id: Annotated[str, _id("the sampler installed", required=True, refers="samplers")]
    location_id: Annotated[str, _id("the point where it was installed, or opened", required=True, refers="locations")]
    duplicate_of: Annotated[str, _id("the primary sampler it duplicates", refers="samplers")]
    replaces: Annotated[str, _id("the sampler it replaces at the point, in the same round", refers="samplers")]
    round: Annotated[str, _ROUND]
    placed_at: Annotated[
        str, _time("time of installation; for a field blank, when it was opened", required=True, zone="tz")
    ]
    placed_at_utc: float
    retrieved_at: Annotated[
        str, _time("time of retrieval; for a field blank, when it was closed", zone="tz", needed=True)
    ]
    retrieved_at_utc: float
    tz: Annotated[str, _TZ]
    depth_ft: Annotated[float, _number("depth of the sampler", limits.DEPTH, "ft")]
    depth_m: Annotated[float, _number("depth of the sampler", limits.DEPTH, "m")]
    hole_diameter_in: Annotated[float, _number("diameter of the hole", limits.DIAMETER_IN, "in")]
    hole_method: Annotated[str, _choice("how the hole was made", _HOLE_METHODS)]
    sleeve: Annotated[str, _flag("yes if the upper hole was sleeved")]
    closure: Annotated[str, _choice("how the hole was closed", ("foil_and_soil", "foil_and_patch", "cap", "other"))]
    refusal: Annotated[str, _flag("yes if refusal was met before the target depth")]
    moved_ft: Annotated[float, _number("offset from the planned position", limits.MOVED_FT, "ft")]
    soil_type: Annotated[str, _text("soil encountered")]
    moisture: Annotated[str, _choice("moisture of the soil", ("dry", "moist", "wet", "saturated", "frozen"))]
    odour: Annotated[str, _text("odour observed, if any")]
    condition: Annotated[str, _choice("condition on retrieval", CONDITIONS)]
    individually_bagged: Annotated[str, _flag("yes if individually bagged first")]
    bag_id: Annotated[str, _id("its return bag", refers="return_bags", needed=True)]
    hole_restored: Annotated[str, _choice("state of the hole afterwards", ("yes", "temporary", "no"))]
    placed_by: Annotated[str, _name("role code of the person who installed it")]
    retrieved_by: Annotated[str, _name("role code of the person who retrieved it")]
    scan_file: Annotated[str, _path("scan of the field sheet")]
    scan_page: Annotated[float, _count("page in the scan")]
    comment: Annotated[str, _text("field comment, verbatim")]
    origin: Origin


DEPLOYMENTS = _table(Deployment, "deployments", "field/deployments.csv", Presence.REQUIRED, ("sampler_id",))


class ReturnBag(NamedTuple):
    """Return bags with their trip blank, seal and count."""

    bag_id: Annotated[str, _id("the bag's id", required=True)]
    trip_blank_id: Annotated[str, _id("the sampler that is its trip blank", refers="samplers")]
    seal_applied: Annotated[str, _id("seal number applied")]
    sealed_at: Annotated[str, _time("when it was sealed")]
    sealed_at_utc: float
    sealed_by: Annotated[str, _name("role code of the person who sealed it")]
    count_declared: Annotated[float, _count("samplers in it, excluding the trip blank")]
    shipment_id: Annotated[str, _id("its return shipment", refers="shipments")]
    round: Annotated[str, _ROUND]
    note: Annotated[str, _text("remark")]
    origin: Origin


RETURN_BAGS = _table(ReturnBag, "return_bags", "field/return_bags.csv", Presence.REQUIRED, ("bag_id",))


class Shipment(NamedTuple):
    """Outward and return shipments with seals and counts."""

    shipment_id: Annotated[str, _id("the shipment's id", required=True)]
    direction: Annotated[str, _choice("out to the field or return to the laboratory", ("out", "return"), required=True)]
    carrier_ref: Annotated[str, _id("the carrier's reference")]
    packed_at: Annotated[
        str, _time("time of packing; from then until receipt, the shipment and its contents have one custody record")
    ]
    packed_at_utc: float
    seal_outer: Annotated[str, _id("seal number on the outside")]
    items_declared: Annotated[float, _count("number of items in it")]
    received_at: Annotated[str, _time("when it was received", zone="tz")]
    received_at_utc: float
    tz: Annotated[str, _TZ]
    items_received: Annotated[float, _count("items counted at receipt")]
    seal_received: Annotated[str, _id("seal number read at receipt")]
    seal_condition: Annotated[str, _choice("state of the seal at receipt", _SEALS)]
    receipt_note: Annotated[str, _text("remark at receipt")]
    chilled: Annotated[str, _flag("yes if shipped on ice or cold packs, no if at ambient temperature")]
    round: Annotated[str, _ROUND]
    scan_file: Annotated[str, _path("scan of the form")]
    origin: Origin


SHIPMENTS = _table(Shipment, "shipments", "field/shipments.csv", Presence.REQUIRED, ("shipment_id",))


class CustodyEvent(NamedTuple):
    """Chain-of-custody events of samplers, bags and shipments."""

    event_id: Annotated[str, _id("the event's id", required=True)]
    subject_kind: Annotated[str, _choice("kind of item", ("sampler", "bag", "shipment"), required=True)]
    subject_id: Annotated[str, _id("id of the sampler, bag or shipment", required=True)]
    event: Annotated[str, _choice(_EVENT_MEANING, _EVENTS, required=True)]
    at: Annotated[str, _time("when", required=True, zone="tz")]
    at_utc: float
    tz: Annotated[str, _TZ]
    by_role: Annotated[str, _name("role code of the person acting")]
    organisation: Annotated[str, _name("that person's organisation")]
    to_role: Annotated[str, _name("role code of the recipient; the receipt is a separate row")]
    signature: Annotated[str, _choice("how it was signed", ("ink", "electronic", "none"))]
    seal_number: Annotated[str, _id("seal number applied or read")]
    seal_condition: Annotated[str, _choice("state of the seal", _SEALS)]
    place: Annotated[str, _text("where")]
    scan_file: Annotated[str, _path("scan of the form")]
    comment: Annotated[str, _text("remark")]
    origin: Origin


CUSTODY = _table(CustodyEvent, "custody", "field/custody.csv", Presence.REQUIRED, ("event_id",))


class Ticket(NamedTuple):
    """Utility clearance tickets and their validity."""

    ticket: Annotated[str, _id("ticket number", required=True)]
    requested_at: Annotated[str, _time("time of the request")]
    requested_at_utc: float
    valid_from: Annotated[str, _time("start of validity")]
    valid_from_utc: float
    valid_to: Annotated[str, _time("end of validity")]
    valid_to_utc: float
    scope: Annotated[str, _text("what it covers")]
    location_ids: Annotated[str, _ids("points that it covers; blank for all", refers="locations")]
    origin: Origin


CLEARANCE = _table(Ticket, "clearance", "field/clearance.csv", Presence.EXPECTED, ("ticket",))


class Departure(NamedTuple):
    """Deviations from the work plan and their effect."""

    deviation_id: Annotated[str, _id("the deviation's id", required=True)]
    date: Annotated[str, _date("the day")]
    plan_ref: Annotated[str, _text("the part of the work plan concerned")]
    what: Annotated[str, _text("what was done instead", required=True)]
    why: Annotated[str, _text("the reason")]
    effect: Annotated[str, _text("the effect on the data")]
    affected_ids: Annotated[str, _ids("points or samplers affected")]
    agreed_by_role: Annotated[str, _name("role that agreed")]
    agreed_on: Annotated[str, _date("day of agreement")]
    origin: Origin


DEVIATIONS = _table(Departure, "deviations", "field/deviations.csv", Presence.EXPECTED, ("deviation_id",))


class WeatherReading(NamedTuple):
    """Rain, temperature and pressure over the exposure."""

    at: Annotated[str, _time("time of the reading", required=True)]
    at_utc: float
    rain_mm: Annotated[float, _number("rain since the previous row", limits.RAIN_MM, "mm")]
    temperature_c: Annotated[float, _number("air temperature", limits.WEATHER_C, "°C")]
    pressure_hpa: Annotated[float, _number("air pressure", limits.PRESSURE_HPA, "hPa")]
    pressure_kind: Annotated[str, _choice("station or reduced to sea level", ("station", "sea_level"))]
    source: Annotated[str, _text("source of the reading")]
    station: Annotated[str, _name("station name")]
    distance_km: Annotated[float, _number("distance of the station from the site", limits.DISTANCE_KM, "km")]
    origin: Origin


WEATHER = _table(WeatherReading, "weather", "field/weather.csv", Presence.EXPECTED, ("at",))


class Product(NamedTuple):
    """Household and workplace products present where air was sampled."""

    product_id: Annotated[str, _id("a number for the product", required=True)]
    location_id: Annotated[str, _id("the air point it was near", required=True, refers="locations")]
    product: Annotated[str, _text("description in plain words; no brand", required=True)]
    analyte_ids: Annotated[str, _ids("compounds listed on its label", refers="analytes")]
    state: Annotated[str, _choice("as found", ("closed", "open", "in_use", "removed_before"))]
    noted_at: Annotated[str, _time("when it was recorded")]
    noted_at_utc: float
    comment: Annotated[str, _text("remark")]
    origin: Origin


PRODUCTS = _table(Product, "products", "field/products.csv", Presence.OPTIONAL, ("product_id",))


class Photo(NamedTuple):
    """Captions and alternative text of the photographs."""

    file: Annotated[str, _path("the photograph, below photos/", required=True)]
    location_id: Annotated[str, _id("the point it shows", refers="locations")]
    taken_at: Annotated[str, _time("when it was taken")]
    taken_at_utc: float
    direction: Annotated[str, _text("view direction")]
    caption: Annotated[str, _text("caption")]
    alt_text: Annotated[str, _text("alternative text: what the picture shows")]
    publish: Annotated[str, _flag("yes if it may be published")]
    origin: Origin


PHOTOS = _table(Photo, "photos", "field/photos.csv", Presence.OPTIONAL, ("file",))


class Analyte(NamedTuple):
    """The compounds analysed for."""

    analyte_id: Annotated[str, _id("the compound's id", required=True)]
    name: Annotated[str, _name("name to print", required=True)]
    cas: Annotated[str, _cas("CAS registry number", required=True)]
    group: Annotated[str, _name("chemical group")]
    molar_mass_g_mol: Annotated[float, _number("molar mass", limits.MOLAR_MASS, "g/mol")]
    map: Annotated[str, _flag("yes if it is mapped in the report")]
    order: Annotated[float, _count("position in tables", limits.ORDER)]
    synonyms: Annotated[str, _ids("other spellings")]
    common_lab_contaminant: Annotated[str, _flag("yes for a common laboratory contaminant")]
    origin: Origin


ANALYTES = _table(Analyte, "analytes", "lab/analytes.csv", Presence.REQUIRED, ("analyte_id",))


class LabSample(NamedTuple):
    """Laboratory ids, the sampler of each, batch, receipt and analysis."""

    lab_sample_id: Annotated[str, _id("the laboratory's id", required=True)]
    sampler_id: Annotated[
        str, _id("the sampler analysed; blank for method blanks and controls", refers="samplers", needed=True)
    ]
    type: Annotated[str, _choice("what it is", _SAMPLE_TYPES, required=True)]
    lab_received_at: Annotated[str, _time("receipt at the laboratory", zone="tz")]
    lab_received_at_utc: float
    tz: Annotated[str, _TZ]
    analysed_at: Annotated[str, _time("when it was analysed", zone="tz")]
    analysed_at_utc: float
    batch_id: Annotated[str, _id("analysis batch")]
    method: Annotated[str, _name("method")]
    modification: Annotated[str, _text("modification of the method")]
    dilution: Annotated[float, _number("dilution factor", limits.DILUTION)]
    reportable: Annotated[str, _flag("no for a superseded run")]
    round: Annotated[str, _ROUND]
    origin: Origin


LAB_SAMPLES = _table(LabSample, "lab_samples", "lab/lab_samples.csv", Presence.REQUIRED, ("lab_sample_id",))


class Result(NamedTuple):
    """Results, one row per laboratory sample and compound."""

    lab_sample_id: Annotated[str, _id("the laboratory's id", required=True, refers="lab_samples")]
    analyte_id: Annotated[str, _id("the compound", required=True, refers="analytes")]
    result_text: Annotated[str, _name("the result exactly as reported by the laboratory")]
    value: Annotated[float, _number("the number, blank for a non-detect", limits.AMOUNT, needed=True)]
    unit: Annotated[str, _choice("unit of value and limits", tuple(RESULT_UNITS))]
    rl: Annotated[float, _number("reporting limit, in the unit of the row", limits.LIMIT_OF_AMOUNT, needed=True)]
    mdl: Annotated[float, _number("method detection limit, in the unit of the row", limits.DETECTION_LIMIT)]
    lab_qualifier: Annotated[str, _name("the laboratory's qualifier")]
    validation_qualifier: Annotated[str, _name("reviewer-assigned qualifier")]
    validation_reason: Annotated[str, _text("why")]
    detected: Annotated[str, _flag("yes or no")]
    calibration_top: Annotated[
        float, _number("upper end of the calibration range, in the unit of the row", limits.LIMIT_OF_AMOUNT)
    ]
    origin: Origin


RESULTS = _table(Result, "results", "lab/results.csv", Presence.REQUIRED, ("lab_sample_id", "analyte_id"))


class LabControl(NamedTuple):
    """Surrogates, control samples and calibration checks."""

    lab_sample_id: Annotated[str, _id("the laboratory's id", required=True, refers="lab_samples")]
    qc_type: Annotated[str, _choice("what it is", _QC_TYPES, required=True)]
    name: Annotated[str, _name("compound measured")]
    value: Annotated[float, _number("the measured value", limits.CONTROL)]
    unit: Annotated[str, _name("its unit, usually %")]
    lower: Annotated[float, _number("lower limit", limits.CONTROL)]
    upper: Annotated[float, _number("upper limit", limits.CONTROL)]
    limit_source: Annotated[str, _text("source of the limits")]
    origin: Origin


LAB_QC = _table(LabControl, "lab_qc", "lab/lab_qc.csv", Presence.EXPECTED, ())


class StatedRate(NamedTuple):
    """Uptake rate per compound, sampler type and medium, with source."""

    sampler_type: Annotated[str, _name("type code", required=True)]
    analyte_id: Annotated[str, _id("the compound", required=True, refers="analytes")]
    medium: Annotated[str, _choice("the medium in which the rate was measured", MEDIA, required=True)]
    rate_ml_min: Annotated[float, _number("uptake rate", limits.RATE_ML_MIN, "mL/min", required=True)]
    temperature_c: Annotated[float, _number("temperature of the rate", limits.RATE_C, "°C")]
    days_min: Annotated[float, _number("shortest exposure it is valid for", limits.DAYS, "d")]
    days_max: Annotated[float, _number("longest exposure it is valid for", limits.DAYS, "d")]
    uncertainty_pct: Annotated[float, _number("relative standard uncertainty of the rate", limits.UNCERTAINTY_PCT, "%")]
    source_title: Annotated[str, _text("source", required=True)]
    source_date: Annotated[str, _date("date of the source")]
    origin: Origin


UPTAKE_RATES = _table(
    StatedRate,
    "uptake_rates",
    "reference/uptake_rates.csv",
    Presence.OPTIONAL,
    ("sampler_type", "analyte_id", "medium"),
)


class StatedLevel(NamedTuple):
    """Screening levels with medium, unit, basis, source and edition."""

    level_set: Annotated[str, _name("name of the set", required=True)]
    analyte_id: Annotated[str, _id("the compound", required=True, refers="analytes")]
    medium: Annotated[str, _choice("the medium of the level", MEDIA, required=True)]
    land_use: Annotated[str, _name("land use")]
    value: Annotated[float, _number("the level", limits.LEVEL, required=True)]
    unit: Annotated[str, _choice("its unit", tuple(RESULT_UNITS), required=True)]
    basis: Annotated[str, _text("basis of the level")]
    source_title: Annotated[str, _text("source", required=True)]
    edition_date: Annotated[str, _date("date of the edition")]
    retrieved_on: Annotated[str, _date("day it was looked up")]
    attenuation_factor: Annotated[float, _number("attenuation factor between media, if applied", limits.FACTOR)]
    attenuation_source: Annotated[str, _text("its source")]
    origin: Origin


SCREENING_LEVELS = _table(
    StatedLevel,
    "screening_levels",
    "reference/screening_levels.csv",
    Presence.OPTIONAL,
    ("level_set", "analyte_id", "medium", "land_use"),
)


class ReviewComment(NamedTuple):
    """Review comments and their answers."""

    comment_id: Annotated[str, _id("the comment's id", required=True)]
    revision: Annotated[float, _count("revision commented on", limits.REVISION)]
    target: Annotated[str, _text("target of the comment: a page, a location, a compound, a table")]
    class_: Annotated[str, _choice("weight", ("must_fix", "should_fix", "question", "editorial"))]
    text: Annotated[str, _text("the comment", required=True)]
    by_role: Annotated[str, _name("role code of the reviewer")]
    raised_on: Annotated[str, _date("day")]
    response: Annotated[str, _text("the response")]
    responded_by: Annotated[str, _name("role code of the respondent")]
    state: Annotated[str, _choice("state", ("open", "answered", "accepted", "withdrawn"))]
    origin: Origin


COMMENTS = _table(ReviewComment, "comments", "review/comments.csv", Presence.OPTIONAL, ("comment_id",))


class Disposition(NamedTuple):
    """Decisions on findings, by whom and why."""

    finding_key: Annotated[
        str, _text("the finding's key, code:subject; code:* covers every finding of a code", required=True)
    ]
    disposition: Annotated[str, _text("the decision")]
    reason: Annotated[str, _text("why")]
    by_role: Annotated[str, _name("role code of the decision maker")]
    on: Annotated[str, _date("day")]
    origin: Origin


DISPOSITIONS = _table(Disposition, "dispositions", "review/dispositions.csv", Presence.OPTIONAL, ("finding_key",))


class ChangeReason(NamedTuple):
    """Reasons for changes from one revision to the next."""

    revision: Annotated[float, _count("the newer revision", limits.REVISION, required=True)]
    key: Annotated[str, _text("what changed", required=True)]
    reason: Annotated[str, _text("why")]
    origin: Origin


CHANGES = _table(ChangeReason, "changes", "review/changes.csv", Presence.OPTIONAL, ("revision", "key"))


class SignOff(NamedTuple):
    """Sign-off records, bound to a content digest."""

    revision: Annotated[float, _count("the revision signed", limits.REVISION, required=True)]
    role: Annotated[str, _name("role that signs", required=True)]
    statement: Annotated[str, _text("the statement signed")]
    signed_at: Annotated[str, _time("when")]
    signed_at_utc: float
    content_digest: Annotated[str, _name("the digest signed")]
    licence_ref: Annotated[str, _name("licence reference")]
    origin: Origin


SIGNOFF = _table(SignOff, "signoff", "review/signoff.csv", Presence.OPTIONAL, ("revision", "role"))


TABLES: tuple[TableSpec, ...] = (
    LOCATIONS,
    SAMPLERS,
    DEPLOYMENTS,
    RETURN_BAGS,
    SHIPMENTS,
    CUSTODY,
    CLEARANCE,
    DEVIATIONS,
    WEATHER,
    PRODUCTS,
    PHOTOS,
    ANALYTES,
    LAB_SAMPLES,
    RESULTS,
    LAB_QC,
    UPTAKE_RATES,
    SCREENING_LEVELS,
    COMMENTS,
    DISPOSITIONS,
    CHANGES,
    SIGNOFF,
)
"""Every table of the folder, in the order in which a person fills them in."""

TABLE: dict[str, TableSpec] = {spec.name: spec for spec in TABLES}

ROW_TYPE: dict[str, type[NamedTuple]] = {
    "locations": Location,
    "samplers": Sampler,
    "deployments": Deployment,
    "return_bags": ReturnBag,
    "shipments": Shipment,
    "custody": CustodyEvent,
    "clearance": Ticket,
    "deviations": Departure,
    "weather": WeatherReading,
    "products": Product,
    "photos": Photo,
    "analytes": Analyte,
    "lab_samples": LabSample,
    "results": Result,
    "lab_qc": LabControl,
    "uptake_rates": StatedRate,
    "screening_levels": StatedLevel,
    "comments": ReviewComment,
    "dispositions": Disposition,
    "changes": ChangeReason,
    "signoff": SignOff,
}
"""The record of a row, by the table's name."""

NAME_OF: dict[type[NamedTuple], str] = {row: name for name, row in ROW_TYPE.items()}
