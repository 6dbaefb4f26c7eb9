"""Single defects of the example survey: laboratory, screening, weather, narrative, review, output."""

from __future__ import annotations

from builders import (
    cell,
    cell_at,
    cells,
    content,
    example,
    load,
    removed,
    row_added,
    sentence,
    setting,
    without,
    without_rows,
)
from defects import (
    COMMENTS,
    DECISIONS,
    LAB,
    LEVELS,
    ND,
    QC,
    RATES,
    RESULTS,
    SETTINGS,
    SIGNOFF,
    WEATHER,
    Defect,
    one,
    several,
)

J = "04417-002+pce"
E_RESULT = "04417-018+pce"
SS_01 = "04417-019"


LABORATORY = (
    one("value-missing", "stop", RESULTS, 46, cell(RESULTS, J, "value", "")),
    one("value-for-nondetect", "stop", RESULTS, 24, cell(RESULTS, ND, "value", "5")),
    one("limit-missing", "stop", RESULTS, 24, cells(RESULTS, ND, rl="", result_text="ND")),
    one("detection-without-limit", "flag", RESULTS, 46, cell(RESULTS, J, "rl", "")),
    one("mdl-above-rl", "hold", RESULTS, 24, cell(RESULTS, ND, "mdl", "20")),
    one("detected-below-mdl", "flag", RESULTS, 46, cells(RESULTS, J, value="1.3", result_text="1.3")),
    one("text-disagrees", "stop", RESULTS, 46, cell(RESULTS, J, "value", "3.6")),
    one("text-disagrees", "stop", RESULTS, 24, cell(RESULTS, ND, "result_text", "<25"), name="text-of-another-limit"),
    one("text-disagrees", "stop", RESULTS, 24, cell(RESULTS, ND, "result_text", "12"), name="text-of-a-detection"),
    one("number-impossible", "stop", RESULTS, 46, cells(RESULTS, J, value="-6.3", result_text="-6.3")),
    one("soil-result-per-volume", "stop", RESULTS, 24, cell(RESULTS, ND, "unit", "ug/m3")),
    one("unit-missing", "stop", RESULTS, 24, cell(RESULTS, ND, "unit", "")),
    one("units-mixed", "stop", RESULTS, 662, cell(RESULTS, "04417-028+pce", "unit", "ug/m3")),
    one("qualifier-unknown", "hold", RESULTS, 46, cell(RESULTS, J, "lab_qualifier", "J,Q")),
    one("validation-unexplained", "hold", RESULTS, 46, cell(RESULTS, J, "validation_qualifier", "J-")),
    one("j-missing", "flag", RESULTS, 46, cell(RESULTS, J, "lab_qualifier", "")),
    one("e-missing", "flag", RESULTS, 398, cell(RESULTS, E_RESULT, "lab_qualifier", "")),
    one("e-without-cause", "flag", RESULTS, 46, cell(RESULTS, J, "lab_qualifier", "J E")),
    one("compound-missing", "hold", LAB, 5, without(RESULTS, ND)),
    one("run-twice-reportable", "stop", LAB, 24, cell(LAB, "04417-019R", "reportable", "yes")),
    one("run-none-reportable", "hold", LAB, 24, cell(LAB, SS_01, "reportable", "no")),
    one("batch-missing", "flag", LAB, 5, cell(LAB, "04417-001", "batch_id", "")),
    one("batch-without-blank", "flag", LAB, 29, cell(LAB, "04417-B2-MB", "batch_id", "B3")),
    one("batch-without-control", "flag", LAB, 29, cell(LAB, "04417-B2-LC", "type", "control_duplicate")),
    one("accreditation-not-valid", "flag", SETTINGS, 64, setting("valid_to = 2026-06-30", "valid_to = 2025-11-18")),
    one("accreditation-not-valid", "flag", SETTINGS, 63, setting("2025-01-01", "2025-11-18"), name="accredited-later"),
    one("method-not-listed", "flag", LAB, 5, cell(LAB, "04417-001", "method", "solvent extraction")),
    one(
        "surrogate-missing",
        "flag",
        LAB,
        5,
        without_rows(QC, lambda row: row["lab_sample_id"] == "04417-001"),
    ),
    one("surrogate-out", "flag", QC, 2, cell_at(QC, 2, "value", "131")),
    one("control-out", "flag", QC, 6, cell_at(QC, 6, "value", "51")),
    one("calibration-check-out", "flag", QC, 12, cell_at(QC, 12, "value", "78")),
    one(
        "internal-standard-out",
        "flag",
        QC,
        26,
        cell_at(QC, 26, "value", "40"),
        cell_at(QC, 26, "qc_type", "internal_standard"),
    ),
    one(
        "results-missing",
        "hold",
        "field/deployments.csv",
        2,
        without_rows(RESULTS, lambda row: row["lab_sample_id"] == "04417-001"),
    ),
    several(
        "duplicates-few",
        "soil gas falls short, and so does the survey; air did before",
        (
            ("duplicates-few", "flag", "field/deployments.csv", 8),
            ("duplicates-few", "flag", "field/deployments.csv", 8),
        ),
        setting("duplicate_rate = 0.05", "duplicate_rate = 0.1"),
    ),
    one(
        "value-outlier",
        "flag",
        RESULTS,
        38,
        cells(
            RESULTS,
            "04417-001+mxylene",
            value="27000",
            result_text="27000",
            detected="yes",
            lab_qualifier="",
            calibration_top="",
        ),
    ),
    one(
        "unit-slip",
        "hold",
        RESULTS,
        717,
        cells(RESULTS, "04417-030+benzene", value="5300", result_text="5300", lab_qualifier=""),
    ),
)

SCREENING = (
    one("level-undated", "flag", LEVELS, 2, cell(LEVELS, "EX-1+pce+indoor_air+residential", "edition_date", "")),
    one("level-old", "flag", LEVELS, 2, cell(LEVELS, "EX-1+pce+indoor_air+residential", "edition_date", "2021-05-01")),
    one(
        "level-not-comparable", "note", LEVELS, 2, cell(LEVELS, "EX-1+pce+indoor_air+residential", "medium", "sub_slab")
    ),
    one(
        "attenuation-unsourced",
        "flag",
        LEVELS,
        4,
        cell(LEVELS, "EX-1+pce+soil_gas+residential", "attenuation_source", ""),
    ),
    one(
        "level-without-rate",
        "note",
        LEVELS,
        17,
        row_added(
            LEVELS,
            level_set="EX-1",
            analyte_id="naphthalene",
            medium="indoor_air",
            land_use="residential",
            value="3",
            unit="ug/m3",
            source_title="Example level set (invented)",
            edition_date="2025-05-01",
        ),
    ),
    one(
        "above-screening-level",
        "flag",
        RESULTS,
        663,
        cell(LEVELS, "EX-1+tce+indoor_air+residential", "value", "1.2"),
    ),
    one("rate-incomplete", "flag", RATES, 2, cell(RATES, "T1+pce+indoor_air", "source_date", "")),
    one("rate-out-of-range", "flag", "field/deployments.csv", 27, cell(RATES, "T1+pce+outdoor_air", "days_max", "12")),
    one("number-impossible", "stop", RATES, 2, cell(RATES, "T1+pce+indoor_air", "rate_ml_min", "0"), name="rate-zero"),
)

WEATHER_DEFECTS = (
    one("weather-short", "flag", WEATHER, 112, without_rows(WEATHER, lambda row: row["at"] > "2025-11-05T20:00")),
    one(
        "weather-gap",
        "flag",
        WEATHER,
        15,
        without_rows(WEATHER, lambda row: "2025-10-24T13" < row["at"] < "2025-10-25T10"),
    ),
    one("weather-implausible", "flag", WEATHER, 2, cell(WEATHER, "2025-10-23T00:00", "pressure_hpa", "28.3")),
    one("pressure-kinds-mixed", "flag", WEATHER, 2, cell(WEATHER, "2025-10-23T00:00", "pressure_kind", "sea_level")),
    one("weather-far", "flag", WEATHER, 2, cell(WEATHER, "2025-10-23T00:00", "distance_km", "84")),
)

NARRATIVE = (
    one("section-missing", "hold", "text/conclusions.md", None, removed("text/conclusions.md")),
    one(
        "section-missing",
        "hold",
        "text/conclusions.md",
        None,
        content("text/conclusions.md", b" \n"),
        name="section-empty",
    ),
    one("token-unknown", "stop", "text/setting.md", 14, sentence("setting", "Of {{ count.location.planned }} points.")),
    one(
        "token-unknown",
        "stop",
        "text/setting.md",
        14,
        sentence("setting", "Of {{ count.bags } bags."),
        name="token-open",
    ),
    one("number-typed", "hold", "text/setting.md", 14, sentence("setting", "The well is 12.5 ft deep.")),
    one("over-claim", "hold", "text/conclusions.md", 15, sentence("conclusions", "The south half is clean.")),
    one(
        "over-claim",
        "hold",
        "text/conclusions.md",
        15,
        sentence("conclusions", "There is no sign of a plume\n  boundary."),
        name="over-claim-over-two-lines",
    ),
    one("template-text", "hold", "text/setting.md", 14, sentence("setting", "TODO")),
    one(
        "settings-template-text",
        "hold",
        SETTINGS,
        8,
        setting('"Ostrel Bend Redevelopment Board (invented)"', '"<name of the client>"'),
    ),
    one("point-unknown-in-text", "hold", "text/setting.md", 14, sentence("setting", "The lowest point is SG-73.")),
)

REVIEW = (
    one("comment-must-fix", "hold", COMMENTS, 5, cells(COMMENTS, "C-4", state="open", **{"class": "must_fix"})),
    one("comment-open", "flag", COMMENTS, 3, cell(COMMENTS, "C-2", "state", "open")),
    one("comment-without-answer", "flag", COMMENTS, 3, cell(COMMENTS, "C-2", "response", "")),
    one("comment-target-unknown", "flag", COMMENTS, 5, cell(COMMENTS, "C-4", "target", "location:SG-73")),
    one("reviewer-is-author", "flag", COMMENTS, 4, cell(COMMENTS, "C-3", "responded_by", "LR-1")),
    one("signoff-missing", "hold", SETTINGS, 11, setting('status = "review"', 'status = "issued"')),
    one("signoff-stale", "hold", SIGNOFF, 2, row_added(SIGNOFF, revision="1", role="LR-1", content_digest="0" * 64)),
    one(
        "signer-did-field-work",
        "flag",
        SIGNOFF,
        2,
        row_added(SIGNOFF, revision="1", role="FS-1", content_digest=load(example()).digest),
    ),
    one("revision-unexplained", "hold", SETTINGS, 10, setting("revision = 1", "revision = 2")),
    one(
        "disposition-unmatched",
        "note",
        DECISIONS,
        3,
        row_added(DECISIONS, finding_key="cap-damaged:0047999", disposition="accepted", reason="none", by_role="LR-1"),
    ),
    one("disposition-incomplete", "hold", DECISIONS, 2, cell(DECISIONS, "water-in-sampler:0047154", "reason", "")),
)

OUTPUT = (
    one("character-not-printable", "flag", COMMENTS, 4, cell(COMMENTS, "C-3", "response", "Bag \u6c34 was wet.")),
    one(
        "character-not-printable",
        "flag",
        "text/setting.md",
        14,
        sentence("setting", "Water (\u6c34) stood in the pit."),
        name="not-printable-in-text",
    ),
    one("personal-data", "flag", COMMENTS, 4, cell(COMMENTS, "C-3", "response", "Ask gate.keeper@example.org.")),
    one(
        "personal-data",
        "flag",
        "text/setting.md",
        14,
        sentence("setting", "Call 555-0199-2200 before you come."),
        name="personal-in-text",
    ),
    one(
        "withhold-misspelt",
        "stop",
        SETTINGS,
        69,
        setting("withhold = []", 'withhold = ["field comments", "cost figures"]'),
    ),
    one(
        "personal-data",
        "stop",
        "field/deployments.csv",
        2,
        setting('level = "internal"', 'level = "client"'),
        name="personal-at-client-level",
    ),
    several(
        "public-label",
        "at public level the private detail of the example stops too",
        (("public-label", "hold", "locations/locations.csv", 9), ("personal-data", "stop", "field/deployments.csv", 2)),
        setting('level = "internal"', 'level = "public"'),
        cell("locations/locations.csv", "SG-08", "public_label", ""),
    ),
    one(
        "setting-invalid",
        "stop",
        SETTINGS,
        68,
        setting('level = "internal"', 'level = "everyone"'),
        name="level-unknown",
    ),
)

ALL: tuple[Defect, ...] = (*LABORATORY, *SCREENING, *WEATHER_DEFECTS, *NARRATIVE, *REVIEW, *OUTPUT)
