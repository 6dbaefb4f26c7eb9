"""A survey of 24 points typed in full, and the same with what is constant or follows typed once.

Both are invented: the example's north-west, with one crew and one way of making holes.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from builders import Change, Row, changed, content, every, example, removed, rows_of, setting, settings_added, table

from sitegen.project.folder import Folder
from sitegen.project.tables import TABLE

SAMPLERS = [f"{number:07d}" for number in range(47130, 47155)]
BLANK, SPARE = "0047163", "0047160"
LOCATIONS, ROSTER, PLACED = "locations/locations.csv", "field/samplers.csv", "field/deployments.csv"
BAGS, SHIPMENTS, CUSTODY = "field/return_bags.csv", "field/shipments.csv", "field/custody.csv"
TYPED = (LOCATIONS, ROSTER, PLACED, BAGS, SHIPMENTS, CUSTODY)

_POINT = ("location_id", "medium", "design", "rationale", "plan_easting", "plan_northing", "easting", "northing",
          "coordinate_method", "accuracy_m", "surface")  # fmt: skip
_SAMPLER = ("sampler_id", "kind", "sampler_type", "lot", "prepared_on", "shipment_id", "outcome")
_PLACEMENT = ("sampler_id", "location_id", "duplicate_of", "placed_at", "retrieved_at", "tz", "depth_ft",
              "hole_diameter_in", "hole_method", "sleeve", "closure", "refusal", "condition", "individually_bagged",
              "bag_id", "placed_by", "retrieved_by", "scan_file")  # fmt: skip
_EVENT = ("event_id", "subject_kind", "subject_id", "event", "at", "tz", "by_role", "organisation", "to_role",
          "signature", "seal_number", "seal_condition")  # fmt: skip

CONSTANTS: Mapping[str, Mapping[str, str | float]] = {
    "locations": {
        "medium": "soil_gas", "design": "grid", "rationale": "regular grid, 24 m",
        "coordinate_method": "GNSS, corrected live", "accuracy_m": 0.03,
    },
    "samplers": {"sampler_type": "T1", "lot": "0925-B"},
    "deployments": {
        "tz": "America/Chicago", "depth_ft": 3.0, "hole_diameter_in": 1.0, "hole_method": "slide_hammer",
        "sleeve": "no", "closure": "foil_and_soil", "individually_bagged": "yes",
        "scan_file": "records/field_sheet_2.txt",
    },
}  # fmt: skip
ROLES: Mapping[str, Mapping[str, str]] = {
    "FS-1": {"tz": "America/Chicago", "organisation": "Example Field Group (invented)"},
    "PM-1": {"tz": "America/Chicago", "organisation": "Example Field Group (invented)"},
    "LB-1": {"tz": "America/Denver", "organisation": "Example Laboratory (invented)"},
    "CR": {"organisation": "Carrier (invented)"},
}
"""What is the same in every event of a role."""
CREW: Mapping[str, str] = {"placed_by": "FS-1", "retrieved_by": "FS-1"}
EXCEPTIONS: Mapping[str, Mapping[str, str]] = {
    "0047133": {"depth_ft": "2.4", "refusal": "yes"},
    "0047140": {"hole_diameter_in": "1.5", "hole_method": "rotary_hammer", "closure": "foil_and_patch"},
    "0047141": {"closure": "NA"},
}
"""Samplers that were placed otherwise."""
ASKED = """
[derive]
serial_ranges = true
samplers = true
return_bags = true
custody = true
"""


def _only(path: str, columns: Iterable[str], rows: Iterable[Mapping[str, str]]) -> Change:
    """Give a table these columns and rows."""
    names = tuple(columns)
    lines = [
        ",".join(names),
        *(",".join(f'"{row.get(name, "")}"' if row.get(name) else "" for name in names) for row in rows),
    ]
    return content(path, ("\n".join(lines) + "\n").encode())


def _rows(path: str) -> list[Row]:
    return rows_of(example().files[path].content)[1]


def _plain(values: Mapping[str, str | float]) -> dict[str, str]:
    return {name: str(value) for name, value in values.items()}


def placements() -> list[Row]:
    """Return the rows of deployments.csv typed in full."""
    found = []
    for row in _rows(PLACED):
        if row["sampler_id"] in SAMPLERS:
            own = EXCEPTIONS.get(row["sampler_id"], {})
            duplicate = row["duplicate_of"] if row["duplicate_of"] != "NA" else ""
            seen = {"condition": row["condition"], "bag_id": "RB-2", "duplicate_of": duplicate, "refusal": ""}
            found.append(row | seen | _plain(CONSTANTS["deployments"]) | dict(CREW) | dict(own))
    return found


def samplers() -> list[Row]:
    """Return the rows of samplers.csv typed in full: those placed, then a spare and the trip blank."""
    kept = [*SAMPLERS, SPARE, BLANK]
    return [row for row in _rows(ROSTER) if row["sampler_id"] in kept]


def _hand_overs() -> list[Row]:
    """Return the events of custody.csv that no other table states: hand-overs, and the seal as it was read."""
    events = ("relinquished", "accepted", "received", "lab_received", "seal_checked")
    kept = [row for row in _rows(CUSTODY) if row["subject_id"] in ("RB-2", "SH-O1", "SH-R1") and row["event"] in events]
    return [row | ROLES[row["by_role"]] for row in kept]


def _restated() -> list[Row]:
    """Return events that restate deployments.csv and return_bags.csv, as a careful person would type them."""
    events = []
    for row in placements():
        for event in ("placed", "retrieved"):
            about = {"subject_kind": "sampler", "subject_id": row["sampler_id"], "event": event}
            by = {"at": row[f"{event}_at"], "tz": row["tz"], "by_role": row[f"{event}_by"]}
            events.append({"event_id": f"F-{len(events) + 1:03d}"} | about | by)
    bag = next(row for row in _rows(BAGS) if row["bag_id"] == "RB-2")
    sealed = {"event": "sealed", "at": bag["sealed_at"], "by_role": bag["sealed_by"]}
    return [*events, {"event_id": "F-000", "subject_kind": "bag", "subject_id": "RB-2"} | sealed]


def full() -> Folder:
    """Return the survey with every cell typed."""
    points = {row["location_id"] for row in placements()}
    wanted = {*SAMPLERS, SPARE, BLANK, ""}
    runs = {row["lab_sample_id"] for row in _rows("lab/lab_samples.csv") if row["sampler_id"] in wanted}
    kept_runs = [
        table(path, lambda rows: [row for row in rows if row["lab_sample_id"] in runs])
        for path in ("lab/lab_samples.csv", "lab/results.csv", "lab/lab_qc.csv")
    ]
    sites = [row | _plain(CONSTANTS["locations"]) for row in _rows(LOCATIONS) if row["location_id"] in points]
    counts = {"SH-O1": "27", "SH-R1": "27"}
    gone = [path for path in example().files if path.startswith(("text/", "photos/", "review/"))]
    gone += [f"field/{name}.csv" for name in ("photos", "products", "clearance", "deviations")]
    return changed(
        *kept_runs,
        *(removed(path) for path in gone),
        _only(LOCATIONS, _POINT, sites),
        _only(ROSTER, _SAMPLER, samplers()),
        _only(PLACED, _PLACEMENT, placements()),
        _only(CUSTODY, _EVENT, [*_hand_overs(), *_restated()]),
        table(
            BAGS, lambda rows: [row | {"count_declared": "25", "note": ""} for row in rows if row["bag_id"] == "RB-2"]
        ),
        every(SHIPMENTS, lambda row: dict.fromkeys(("items_declared", "items_received"), counts[row["shipment_id"]])),
        setting("locations = 55", "locations = 24"),
    )


def short(asked: str = ASKED) -> Folder:
    """Return the same survey with defaults, derived values and a range of serials."""
    plain = {name: _plain(values) for name, values in CONSTANTS.items()}
    typed = placements()
    for row in typed:
        own = EXCEPTIONS.get(row["sampler_id"], {})
        row.update({name: "" for name in (*plain["deployments"], *CREW) if name not in own})
    rest = {"0047154": {}, SPARE: {"kind": "spare", "outcome": "returned_unused"}, BLANK: {}}
    ids = {"0047154": f"{SAMPLERS[0]}-{SAMPLERS[-1]}", SPARE: SPARE, BLANK: BLANK}
    day = samplers()[0]["prepared_on"]
    roster = [{"sampler_id": ids[name], "prepared_on": day} | dict(own) for name, own in rest.items()]
    columns = {
        name: [column for column in own if column not in plain[name]]
        for name, own in (("locations", _POINT), ("deployments", _PLACEMENT))
    }
    sites = rows_of(full().files[LOCATIONS].content)[1]
    needed = [column for column in _PLACEMENT if column in columns["deployments"] or any(row[column] for row in typed)]
    return changed(
        _only(LOCATIONS, columns["locations"], sites),
        _only(ROSTER, ("sampler_id", "kind", "prepared_on", "outcome"), roster),
        _only(PLACED, [column for column in needed if column not in CREW], typed),
        _only(CUSTODY, _EVENT, [row | dict.fromkeys(ROLES[row["by_role"]], "") for row in _hand_overs()]),
        every(BAGS, lambda _: {"shipment_id": ""}),
        settings_added(asked + stated()),
        folder=full(),
    )


def stated() -> str:
    """Return the defaults as project.toml states them."""
    lines = []
    for name, values in CONSTANTS.items():
        lines += [f"[defaults.{name}]", *(f"{column} = {_toml(value)}" for column, value in values.items())]
    crew = ", ".join(f"{column} = {_toml(value)}" for column, value in CREW.items())
    lines += ["[[defaults.deployments.where]]", "placed_on = 2025-10-24", f"set = {{ {crew} }}"]
    for role, values in ROLES.items():
        told = ", ".join(f"{column} = {_toml(value)}" for column, value in values.items())
        lines += ["[[defaults.custody.where]]", f'by_role = "{role}"', f"set = {{ {told} }}"]
    return "\n".join(lines)


def _toml(value: str | float) -> str:
    return f'"{value}"' if isinstance(value, str) else str(value)


def typed_cells(folder: Folder) -> dict[str, int]:
    """Count the cells that a person filled, by file; and in project.toml the values of defaults and of derive."""
    count = {
        path: sum(bool(cell) for row in rows_of(folder.files[path].content)[1] for cell in row.values())
        for path in TYPED
    }
    settings = folder.files["project.toml"].content.decode()
    asked = settings.partition("[derive]")[2]
    return count | {"project.toml": asked.count(" = ") - asked.count("set = ")}


KEYS = {path: next(spec.name for spec in TABLE.values() if spec.path == path) for path in TYPED}
"""The names of the tables that a person types."""
