"""Single defects of the example survey: field work, custody, bags and shipments."""

from __future__ import annotations

from builders import cell, cells, setting, text, without, without_rows
from defects import BAGS, CLEARANCE, CUSTODY, DEPLOYMENTS, DEVIATIONS, SAMPLERS, SHIPMENTS, one, several

FIELD = (
    one("depth-disagrees", "stop", DEPLOYMENTS, 3, cell(DEPLOYMENTS, "0047103", "depth_m", "1.31")),
    one("depth-units-mixed", "flag", DEPLOYMENTS, 3, cells(DEPLOYMENTS, "0047103", depth_ft="", depth_m="0.93")),
    one("depth-missing", "flag", DEPLOYMENTS, 3, cell(DEPLOYMENTS, "0047103", "depth_ft", "")),
    one("condition-missing", "flag", DEPLOYMENTS, 3, cell(DEPLOYMENTS, "0047103", "condition", "")),
    several(
        "glass-damaged",
        "a sampler that comes back otherwise than intact is a departure that deviations.csv should tell",
        (("glass-damaged", "flag", DEPLOYMENTS, 3), ("deviation-unrecorded", "flag", DEPLOYMENTS, 3)),
        cell(DEPLOYMENTS, "0047103", "condition", "glass_damaged"),
    ),
    several(
        "soil-in-sampler",
        "a sampler that comes back otherwise than intact is a departure that deviations.csv should tell",
        (("soil-in-sampler", "flag", DEPLOYMENTS, 3), ("deviation-unrecorded", "flag", DEPLOYMENTS, 3)),
        cell(DEPLOYMENTS, "0047103", "condition", "soil_inside"),
    ),
    several(
        "sampler-disturbed",
        "a sampler that comes back otherwise than intact is a departure that deviations.csv should tell",
        (("sampler-disturbed", "flag", DEPLOYMENTS, 3), ("deviation-unrecorded", "flag", DEPLOYMENTS, 3)),
        cell(DEPLOYMENTS, "0047103", "condition", "disturbed"),
    ),
    one("sleeve-missing", "flag", DEPLOYMENTS, 6, cell(DEPLOYMENTS, "0047106", "sleeve", "no")),
    one("hole-open", "flag", DEPLOYMENTS, 3, cell(DEPLOYMENTS, "0047103", "hole_restored", "no")),
    one(
        "comment-watch-word", "flag", DEPLOYMENTS, 3, cell(DEPLOYMENTS, "0047103", "comment", "Cap cracked on lifting.")
    ),
    one(
        "comment-watch-word",
        "note",
        DEPLOYMENTS,
        3,
        cell(DEPLOYMENTS, "0047103", "comment", "Diesel spill beside the hole."),
        name="comment-ground",
    ),
    one("clearance-not-valid", "flag", CLEARANCE, 3, cell(CLEARANCE, "OB-25-10436", "valid_from", "2025-10-27T08:00")),
    one("clearance-missing", "flag", DEPLOYMENTS, 24, text(CLEARANCE, ";SG-51;", ";")),
    one("deviation-unrecorded", "flag", DEPLOYMENTS, 59, without(DEVIATIONS, "DV-7")),
    one("deviation-incomplete", "flag", DEVIATIONS, 3, cell(DEVIATIONS, "DV-2", "effect", "")),
    several(
        "depth-off-plan",
        "a hole of another depth is a departure from the plan too",
        (("depth-off-plan", "flag", DEPLOYMENTS, 3), ("deviation-unrecorded", "flag", DEPLOYMENTS, 3)),
        cell(DEPLOYMENTS, "0047103", "depth_ft", "4.1"),
    ),
)

CUSTODY_DEFECTS = (
    one("custody-gap", "flag", CUSTODY, 26, cell(CUSTODY, "E-0025", "at", "2025-11-06T07:11")),
    one("custody-overlap", "stop", CUSTODY, 27, cell(CUSTODY, "E-0026", "at", "2025-11-06T07:21")),
    one("hand-over-unsigned", "flag", CUSTODY, 39, cell(CUSTODY, "E-0038", "signature", "none")),
    one("custody-disagrees", "stop", CUSTODY, 13, cell(CUSTODY, "E-0012", "at", "2025-10-28T07:14")),
    one("handed-to-another", "flag", CUSTODY, 24, cell(CUSTODY, "E-0023", "to_role", "LB-1")),
    one("seal-differs", "hold", CUSTODY, 52, cell(CUSTODY, "E-0051", "seal_number", "448261")),
    one("seal-not-whole", "flag", SHIPMENTS, 3, cell(SHIPMENTS, "SH-R1", "seal_condition", "broken")),
    one(
        "seal-missing",
        "flag",
        BAGS,
        3,
        cell(BAGS, "RB-2", "seal_applied", ""),
        cell(CUSTODY, "E-0036", "seal_number", ""),
    ),
    one("seal-not-read", "flag", BAGS, 3, without(CUSTODY, "E-0051")),
    one("sampler-in-two-bags", "stop", CUSTODY, 17, cell(CUSTODY, "E-0016", "comment", "into RB-2")),
    one("bag-count-differs", "hold", BAGS, 2, cell(BAGS, "RB-1", "count_declared", "27")),
    one("bag-overfull", "flag", BAGS, 3, setting("samplers_per_bag = 30", "samplers_per_bag = 28")),
    one("trip-blank-kind", "stop", BAGS, 3, cell(BAGS, "RB-2", "trip_blank_id", "0047160")),
    one("trip-blank-twice", "stop", BAGS, 3, cell(BAGS, "RB-2", "trip_blank_id", "0047101")),
    one("trip-blank-opened", "flag", SAMPLERS, 2, cell(SAMPLERS, "0047101", "note", "Opened by mistake.")),
    one("shipment-short", "hold", SHIPMENTS, 3, cell(SHIPMENTS, "SH-R1", "items_received", "61")),
    one(
        "shipment-count-differs",
        "hold",
        SHIPMENTS,
        2,
        cells(SHIPMENTS, "SH-O1", items_declared="64", items_received="64"),
    ),
    several(
        "shipment-not-received",
        "nobody is on record from the carrier's last scan to what was done at the laboratory",
        (("shipment-not-received", "hold", SHIPMENTS, 3), ("custody-gap", "flag", CUSTODY, 49)),
        cell(SHIPMENTS, "SH-R1", "received_at", ""),
        without_rows(CUSTODY, lambda row: row["event"] == "lab_received"),
    ),
    several(
        "shipment-direction",
        "a spare booked on the other shipment is missing from its own",
        (("shipment-direction", "stop", SAMPLERS, 61), ("shipment-count-differs", "hold", SHIPMENTS, 2)),
        cell(SAMPLERS, "0047160", "shipment_id", "SH-R1"),
    ),
    several(
        "seal-twice",
        "a bag with another bag's seal number was also read differently",
        (("seal-twice", "hold", BAGS, 3), ("seal-differs", "hold", CUSTODY, 52)),
        cell(BAGS, "RB-2", "seal_applied", "448213"),
    ),
    several(
        "sampler-in-no-bag",
        "a sampler in no bag is missing from its bag's and its shipment's count, and no record brings it back",
        (
            ("sampler-in-no-bag", "hold", DEPLOYMENTS, 3),
            ("custody-gap", "flag", DEPLOYMENTS, 3),
            ("bag-count-differs", "hold", BAGS, 2),
            ("shipment-count-differs", "hold", SHIPMENTS, 3),
        ),
        cell(DEPLOYMENTS, "0047103", "bag_id", ""),
    ),
    several(
        "trip-blank-missing",
        "a bag without its blank leaves its shipment one item short, and no record brings the blank back",
        (
            ("trip-blank-missing", "flag", BAGS, 2),
            ("custody-gap", "flag", CUSTODY, 22),
            ("shipment-count-differs", "hold", SHIPMENTS, 3),
        ),
        cell(BAGS, "RB-1", "trip_blank_id", ""),
    ),
)
