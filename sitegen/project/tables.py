"""The tables of the folder format, column by column.

The order of the tables is the order in which a person fills them in.
"""

from __future__ import annotations

from sitegen.project.schema import CONDITIONS, MEDIA, SURFACES, Column, Kind, Presence, TableSpec

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
    "what happened. `released`, `relinquished`: by_role gives it out of hand, to to_role. `accepted`, `received`, "
    "`lab_received`, `carrier_scan`: by_role takes it in hand; `retrieved`, `removed`: out of the ground, out of a "
    "store. `bagged`, `sealed`, `analysed`: done by whoever has it in hand. `stored`: put away by its keeper. "
    "`placed`: put into the ground or the room. `seal_checked`: a seal is read, the holder stays. `disposed`: the "
    "end. In one minute giving comes before taking, and whoever takes acts after it. Between giving and taking "
    "nobody holds it, sealed or not: enter both. Whoever took it holds it until another takes it"
)
_SAMPLE_TYPES = ("sample", "trip_blank", "field_blank", "method_blank", "control", "control_duplicate")
_QC_TYPES = ("surrogate", "internal_standard", "control", "control_duplicate", "calibration_check")


def _id(name: str, meaning: str, *, required: bool = False, refers: str = "", needed: bool = False) -> Column:
    return Column(name, Kind.ID, meaning, required=required, refers=refers, needed=needed)


def _ids(name: str, meaning: str, *, refers: str = "") -> Column:
    return Column(name, Kind.IDS, meaning, refers=refers)


def _text(name: str, meaning: str, *, required: bool = False) -> Column:
    return Column(name, Kind.TEXT, meaning, required=required)


def _number(name: str, meaning: str, unit: str = "", *, required: bool = False, needed: bool = False) -> Column:
    return Column(name, Kind.NUMBER, meaning, required=required, unit=unit, needed=needed)


def _count(name: str, meaning: str) -> Column:
    return Column(name, Kind.INTEGER, meaning)


def _time(name: str, meaning: str, *, required: bool = False, zone: str = "", needed: bool = False) -> Column:
    return Column(name, Kind.TIME, meaning, required=required, zone=zone, needed=needed)


def _date(name: str, meaning: str) -> Column:
    return Column(name, Kind.DATE, meaning)


def _flag(name: str, meaning: str) -> Column:
    return Column(name, Kind.FLAG, meaning)


def _choice(name: str, meaning: str, choices: tuple[str, ...], *, required: bool = False) -> Column:
    return Column(name, Kind.CHOICE, meaning, required=required, choices=choices)


def _path(name: str, meaning: str) -> Column:
    return Column(name, Kind.PATH, meaning)


_TZ = Column("tz", Kind.TEXT, "IANA zone of this row's receipt-side time, where it is not the project's")

LOCATIONS = TableSpec(
    "locations",
    "locations/locations.csv",
    Presence.REQUIRED,
    ("location_id",),
    "One row per planned or added point.",
    (
        _id("location_id", "the point's id", required=True),
        _choice("medium", "what is sampled", MEDIA, required=True),
        _choice("design", "why it stands in the plan", ("grid", "targeted", "background", "added")),
        _text("rationale", "what the point is to find out"),
        _number("plan_easting", "planned position", "m or ft of the CRS"),
        _number("plan_northing", "planned position", "m or ft of the CRS"),
        _number("easting", "surveyed position", "m or ft of the CRS"),
        _number("northing", "surveyed position", "m or ft of the CRS"),
        _number("longitude", "position where the CRS is EPSG:4326", "degrees"),
        _number("latitude", "position where the CRS is EPSG:4326", "degrees"),
        _text("coordinate_method", "how the position was measured"),
        _number("accuracy_m", "stated accuracy of the position; a smaller move is no flag", "m"),
        _choice("surface", "what lies on the ground there", SURFACES),
        _number("surface_thickness_in", "thickness of paving or slab", "in"),
        _text("building", "the building it is in or beside"),
        _choice("status", "what became of the point", ("planned", "placed", "not_done", "abandoned")),
        _flag("off_site", "yes if it is meant to lie outside the boundary"),
        _text("public_label", "the label for public outputs"),
        _text("comment", "field or planning comment"),
    ),
)

SAMPLERS = TableSpec(
    "samplers",
    "field/samplers.csv",
    Presence.REQUIRED,
    ("sampler_id",),
    "Every sampler that the laboratory sent, blanks and spares included.",
    (
        _id("sampler_id", "the serial on the sampler", required=True),
        _text("label", "the field sample id written on the cap"),
        _choice(
            "kind",
            "what it serves as",
            ("sample", "field_duplicate", "trip_blank", "field_blank", "spare"),
            required=True,
        ),
        _text("sampler_type", "type code, as in the uptake-rate table"),
        _text("lot", "preparation lot"),
        _date("prepared_on", "day of preparation at the laboratory"),
        _id("shipment_id", "the outward shipment it came in", refers="shipments"),
        _choice("outcome", "what became of it", ("used", "lost", "returned_unused", "destroyed")),
        _text("note", "anything else"),
    ),
)

DEPLOYMENTS = TableSpec(
    "deployments",
    "field/deployments.csv",
    Presence.REQUIRED,
    ("sampler_id",),
    "One row per sampler placed, and per field blank opened: in, out, depth, surface, closure, condition.",
    (
        _id("sampler_id", "the sampler placed", required=True, refers="samplers"),
        _id("location_id", "the point it was placed at, or opened at", required=True, refers="locations"),
        _id("duplicate_of", "the primary sampler beside it", refers="samplers"),
        _id("replaces", "the sampler whose place at the point this one takes, in the same round", refers="samplers"),
        _time("placed_at", "when it went in; of a field blank, when it was opened", required=True, zone="tz"),
        _time("retrieved_at", "when it came out; of a field blank, when it was closed", zone="tz", needed=True),
        _TZ,
        _number("depth_ft", "depth of the sampler", "ft"),
        _number("depth_m", "depth of the sampler", "m"),
        _number("hole_diameter_in", "diameter of the hole", "in"),
        _choice("hole_method", "how the hole was made", _HOLE_METHODS),
        _flag("sleeve", "yes if the upper hole was sleeved"),
        _choice("closure", "how the hole was closed", ("foil_and_soil", "foil_and_patch", "cap", "other")),
        _flag("refusal", "yes if the hole could not be made to depth"),
        _number("moved_ft", "distance moved from the planned position", "ft"),
        _text("soil_type", "soil met"),
        _choice("moisture", "moisture of the soil", ("dry", "moist", "wet", "saturated", "frozen")),
        _text("odour", "odour noticed, if any"),
        _choice("condition", "condition on retrieval", CONDITIONS),
        _flag("individually_bagged", "yes if put in a bag of its own first"),
        _id("bag_id", "the return bag it went into", refers="return_bags", needed=True),
        _choice("hole_restored", "state of the hole afterwards", ("yes", "temporary", "no")),
        _text("placed_by", "role code of the person who placed it"),
        _text("retrieved_by", "role code of the person who retrieved it"),
        _path("scan_file", "scan of the field sheet"),
        _count("scan_page", "page in the scan"),
        _text("comment", "field comment, verbatim"),
    ),
)

RETURN_BAGS = TableSpec(
    "return_bags",
    "field/return_bags.csv",
    Presence.REQUIRED,
    ("bag_id",),
    "Return bags with their trip blank, seal and count.",
    (
        _id("bag_id", "the bag's id", required=True),
        _id("trip_blank_id", "the sampler that travels as its blank", refers="samplers"),
        _id("seal_applied", "seal number put on"),
        _time("sealed_at", "when it was sealed"),
        _text("sealed_by", "role code of the person who sealed it"),
        _count("count_declared", "samplers in it, trip blank left out"),
        _id("shipment_id", "the return shipment it went in", refers="shipments"),
        _text("note", "anything else"),
    ),
)

SHIPMENTS = TableSpec(
    "shipments",
    "field/shipments.csv",
    Presence.REQUIRED,
    ("shipment_id",),
    "Outward and return shipments with seals and counts.",
    (
        _id("shipment_id", "the shipment's id", required=True),
        _choice("direction", "out to the field or return to the laboratory", ("out", "return"), required=True),
        _id("carrier_ref", "the carrier's reference"),
        _time(
            "packed_at", "when it was packed; from then until its receipt it and its contents have one custody record"
        ),
        _id("seal_outer", "seal number on the outside"),
        _count("items_declared", "everything in it"),
        _time("received_at", "when it was received", zone="tz"),
        _TZ,
        _count("items_received", "items counted at receipt"),
        _id("seal_received", "seal number read at receipt"),
        _choice("seal_condition", "state of the seal at receipt", _SEALS),
        _text("receipt_note", "remark at receipt"),
        _path("scan_file", "scan of the form"),
    ),
)

CUSTODY = TableSpec(
    "custody",
    "field/custody.csv",
    Presence.REQUIRED,
    ("event_id",),
    "Hand-over events of samplers, bags and shipments.",
    (
        _id("event_id", "the event's id", required=True),
        _choice("subject_kind", "what it is about", ("sampler", "bag", "shipment"), required=True),
        _id("subject_id", "id of the sampler, bag or shipment", required=True),
        _choice("event", _EVENT_MEANING, _EVENTS, required=True),
        _time("at", "when", required=True, zone="tz"),
        _TZ,
        _text("by_role", "role code of the person acting"),
        _text("organisation", "that person's organisation"),
        _text("to_role", "role code of the person it is given to; the taking is a row of its own"),
        _choice("signature", "how it was signed", ("ink", "electronic", "none")),
        _id("seal_number", "seal number put on or read"),
        _choice("seal_condition", "state of the seal", _SEALS),
        _text("place", "where"),
        _path("scan_file", "scan of the form"),
        _text("comment", "remark"),
    ),
)

CLEARANCE = TableSpec(
    "clearance",
    "field/clearance.csv",
    Presence.EXPECTED,
    ("ticket",),
    "Utility clearance tickets and their validity.",
    (
        _id("ticket", "ticket number", required=True),
        _time("requested_at", "when it was asked for"),
        _time("valid_from", "start of validity"),
        _time("valid_to", "end of validity"),
        _text("scope", "what it covers"),
        _ids("location_ids", "points that it covers; blank for all", refers="locations"),
    ),
)

DEVIATIONS = TableSpec(
    "deviations",
    "field/deviations.csv",
    Presence.EXPECTED,
    ("deviation_id",),
    "Departures from the work plan and their effect.",
    (
        _id("deviation_id", "the deviation's id", required=True),
        _date("date", "the day"),
        _text("plan_ref", "the part of the plan departed from"),
        _text("what", "what was done instead", required=True),
        _text("why", "the reason"),
        _text("effect", "the effect on the data"),
        _ids("affected_ids", "points or samplers affected"),
        _text("agreed_by_role", "role that agreed"),
        _date("agreed_on", "day of agreement"),
    ),
)

WEATHER = TableSpec(
    "weather",
    "field/weather.csv",
    Presence.EXPECTED,
    ("at",),
    "Rain, temperature and pressure over the exposure.",
    (
        _time("at", "time of the reading", required=True),
        _number("rain_mm", "rain since the previous row", "mm"),
        _number("temperature_c", "air temperature", "°C"),
        _number("pressure_hpa", "air pressure", "hPa"),
        _choice("pressure_kind", "station or reduced to sea level", ("station", "sea_level")),
        _text("source", "where the reading is from"),
        _text("station", "station name"),
        _number("distance_km", "distance of the station from the site", "km"),
    ),
)

PRODUCTS = TableSpec(
    "products",
    "field/products.csv",
    Presence.OPTIONAL,
    ("product_id",),
    "Household and workplace products found where air was sampled.",
    (
        _id("product_id", "a number for the product", required=True),
        _id("location_id", "the air point it stood near", required=True, refers="locations"),
        _text("product", "what it is, in plain words; no brand", required=True),
        _ids("analyte_ids", "compounds that its label names", refers="analytes"),
        _choice("state", "as found", ("closed", "open", "in_use", "removed_before")),
        _time("noted_at", "when it was noted"),
        _text("comment", "remark"),
    ),
)

PHOTOS = TableSpec(
    "photos",
    "field/photos.csv",
    Presence.OPTIONAL,
    ("file",),
    "Captions and alternative text of the photographs.",
    (
        Column("file", Kind.PATH, "the photograph, below photos/", required=True),
        _id("location_id", "the point it shows", refers="locations"),
        _time("taken_at", "when it was taken"),
        _text("direction", "view direction"),
        _text("caption", "caption"),
        _text("alt_text", "what the picture shows, for those who can't see it"),
        _flag("publish", "yes if it may leave the project"),
    ),
)

ANALYTES = TableSpec(
    "analytes",
    "lab/analytes.csv",
    Presence.REQUIRED,
    ("analyte_id",),
    "The compounds looked for.",
    (
        _id("analyte_id", "the compound's id", required=True),
        _text("name", "name to print", required=True),
        Column("cas", Kind.CAS, "CAS registry number", required=True),
        _text("group", "chemical group"),
        _number("molar_mass_g_mol", "molar mass", "g/mol"),
        _flag("map", "yes if it is mapped in the report"),
        _count("order", "place in tables"),
        _ids("synonyms", "other spellings"),
        _flag("common_lab_contaminant", "yes for a common laboratory contaminant"),
    ),
)

LAB_SAMPLES = TableSpec(
    "lab_samples",
    "lab/lab_samples.csv",
    Presence.REQUIRED,
    ("lab_sample_id",),
    "Laboratory ids, the sampler behind each, batch, receipt and analysis.",
    (
        _id("lab_sample_id", "the laboratory's id", required=True),
        _id(
            "sampler_id",
            "the sampler analysed; blank for method blanks and controls",
            refers="samplers",
            needed=True,
        ),
        _choice("type", "what it is", _SAMPLE_TYPES, required=True),
        _time("lab_received_at", "receipt at the laboratory", zone="tz"),
        _TZ,
        _time("analysed_at", "when it was analysed", zone="tz"),
        _id("batch_id", "analysis batch"),
        _text("method", "method"),
        _text("modification", "modification of the method"),
        _number("dilution", "dilution factor"),
        _flag("reportable", "no for a run that is replaced by another"),
    ),
)

RESULTS = TableSpec(
    "results",
    "lab/results.csv",
    Presence.REQUIRED,
    ("lab_sample_id", "analyte_id"),
    "Results, one row per laboratory sample and compound.",
    (
        _id("lab_sample_id", "the laboratory's id", required=True, refers="lab_samples"),
        _id("analyte_id", "the compound", required=True, refers="analytes"),
        _text("result_text", "exactly what the laboratory wrote"),
        _number("value", "the number, blank for a non-detect", needed=True),
        _choice("unit", "unit of value and limits", ("ng", "ug/m3")),
        _number("rl", "reporting limit, in the unit of the row", needed=True),
        _number("mdl", "method detection limit, in the unit of the row"),
        _text("lab_qualifier", "the laboratory's qualifier"),
        _text("validation_qualifier", "a person's qualifier after review"),
        _text("validation_reason", "why"),
        _flag("detected", "yes or no"),
        _number("calibration_top", "top of the calibration, in the unit of the row"),
    ),
)

LAB_QC = TableSpec(
    "lab_qc",
    "lab/lab_qc.csv",
    Presence.EXPECTED,
    (),
    "Surrogates, control samples and calibration checks.",
    (
        _id("lab_sample_id", "the laboratory's id", required=True, refers="lab_samples"),
        _choice("qc_type", "what it is", _QC_TYPES, required=True),
        _text("name", "compound measured"),
        _number("value", "what was found"),
        _text("unit", "its unit, usually %"),
        _number("lower", "lower limit"),
        _number("upper", "upper limit"),
        _text("limit_source", "where the limits come from"),
    ),
)

UPTAKE_RATES = TableSpec(
    "uptake_rates",
    "reference/uptake_rates.csv",
    Presence.OPTIONAL,
    ("sampler_type", "analyte_id", "medium"),
    "Uptake rate per compound, sampler type and medium, with source.",
    (
        _text("sampler_type", "type code", required=True),
        _id("analyte_id", "the compound", required=True, refers="analytes"),
        _choice("medium", "the medium that the rate was measured in", MEDIA, required=True),
        _number("rate_ml_min", "uptake rate", "mL/min", required=True),
        _number("temperature_c", "temperature of the rate", "°C"),
        _number("days_min", "shortest exposure that it holds for", "d"),
        _number("days_max", "longest exposure that it holds for", "d"),
        _number("uncertainty_pct", "relative standard uncertainty of the rate", "%"),
        _text("source_title", "source", required=True),
        _date("source_date", "date of the source"),
    ),
)

SCREENING_LEVELS = TableSpec(
    "screening_levels",
    "reference/screening_levels.csv",
    Presence.OPTIONAL,
    ("level_set", "analyte_id", "medium", "land_use"),
    "Screening levels with medium, unit, basis, source and edition.",
    (
        _text("level_set", "name of the set", required=True),
        _id("analyte_id", "the compound", required=True, refers="analytes"),
        _choice("medium", "the medium that the level is for", MEDIA, required=True),
        _text("land_use", "land use"),
        _number("value", "the level", required=True),
        _choice("unit", "its unit", ("ug/m3", "ng"), required=True),
        _text("basis", "what it protects against"),
        _text("source_title", "source", required=True),
        _date("edition_date", "date of the edition"),
        _date("retrieved_on", "day it was looked up"),
        _number("attenuation_factor", "factor between media, if one was applied"),
        _text("attenuation_source", "its source"),
    ),
)

COMMENTS = TableSpec(
    "comments",
    "review/comments.csv",
    Presence.OPTIONAL,
    ("comment_id",),
    "Review comments and their answers.",
    (
        _id("comment_id", "the comment's id", required=True),
        _count("revision", "revision commented on"),
        _text("target", "what it is about: a page, a location, a compound, a table"),
        _choice("class", "weight", ("must_fix", "should_fix", "question", "editorial")),
        _text("text", "the comment", required=True),
        _text("by_role", "role code of the reviewer"),
        _date("raised_on", "day"),
        _text("response", "the answer"),
        _text("responded_by", "role code of who answered"),
        _choice("state", "state", ("open", "answered", "accepted", "withdrawn")),
    ),
)

DISPOSITIONS = TableSpec(
    "dispositions",
    "review/dispositions.csv",
    Presence.OPTIONAL,
    ("finding_key",),
    "What was decided about findings, by whom and why.",
    (
        _text("finding_key", "the finding's key, code:subject", required=True),
        _text("disposition", "what was decided"),
        _text("reason", "why"),
        _text("by_role", "role code of who decided"),
        _date("on", "day"),
    ),
)

CHANGES = TableSpec(
    "changes",
    "review/changes.csv",
    Presence.OPTIONAL,
    ("revision", "key"),
    "Reasons for changes from one revision to the next.",
    (
        Column("revision", Kind.INTEGER, "the newer revision", required=True),
        _text("key", "what changed", required=True),
        _text("reason", "why"),
    ),
)

SIGNOFF = TableSpec(
    "signoff",
    "review/signoff.csv",
    Presence.OPTIONAL,
    ("revision", "role"),
    "Sign-off records, bound to a content digest.",
    (
        Column("revision", Kind.INTEGER, "the revision signed", required=True),
        _text("role", "role that signs", required=True),
        _text("statement", "what is stated"),
        _time("signed_at", "when"),
        _text("content_digest", "the digest signed"),
        _text("licence_ref", "licence reference"),
    ),
)

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
