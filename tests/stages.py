"""The example survey as it was before it ended: planned, half placed, half retrieved.

Each folder has what was on record at a moment: rows of what came later are out, cells that are filled
in later are blank, and a table that nobody had a row for has no file.
"""

from __future__ import annotations

from functools import cache, partial

from builders import EXAMPLE, Change, Row, changed, example, removed, rows_of, setting, table

from sitegen.project.folder import Folder, InputFile
from sitegen.project.tables import TABLES

ORDERED = "2025-10-19T12:00"
HALF_PLACED = "2025-10-23T18:00"
HALF_RETRIEVED = "2025-11-05T15:00"
"""Moments of the example: the points are planned and a ticket is asked for; a day of placing; a day of retrieving."""

PLAN = """
placing_from = 2025-10-23
placing_to = 2025-10-24
retrieving_from = 2025-11-05
retrieving_to = 2025-11-06
"""
"""What the plan of the example would have said of its days."""

_BEGINS = {
    "deployments": "placed_at", "shipments": "packed_at", "return_bags": "sealed_at", "custody": "at",
    "clearance": "requested_at", "deviations": "date", "weather": "at", "products": "noted_at", "photos": "taken_at",
    "samplers": "prepared_on", "lab_samples": "lab_received_at",
}  # fmt: skip
"""The column by which a row is later than a moment."""

_AT_THE_END = {
    "shipments": ("received_at", ("tz", "items_received", "seal_received", "seal_condition", "receipt_note")),
    "deployments": (
        "retrieved_at",
        ("condition", "individually_bagged", "bag_id", "hole_restored", "retrieved_by", "comment"),
    ),
}
"""The column by which the end of a row is later than a moment, and those that are filled in with it."""

_SENT = "2025-10-20T15:12"
"""When the laboratory packed the samplers: before, nobody knows their serials."""

_PACKED = "2025-11-07T09:14"
"""When the bags went into their return shipment."""

_LAST_DAY = "2025-11-06T17"
"""When it was known that a sampler was not found."""

_ADDED = "SG-52"
"""The point that was added in the field, with a ticket of its own."""

_SURVEYED = ("easting", "northing", "coordinate_method", "accuracy_m", "comment")
_AFTER_RESULTS = ("lab_samples", "results", "lab_qc", "comments", "dispositions", "signoff", "changes")
_WRITTEN_BEFORE = ("text/objectives.md", "text/setting.md", "text/conceptual_model.md")


@cache
def as_of(moment: str, *, headers: bool = False) -> Folder:
    """Return the example as it was at a moment, its laboratory tables and conclusions not yet written.

    With ``headers`` a table without a row keeps its header, as the template has it.
    """
    placed = {row["location_id"] for row in _rows("field/deployments.csv") if row["placed_at"] <= moment}
    edits = [table(spec.path, partial(_known, spec.name, moment, placed)) for spec in TABLES]
    late = [path for path in example().files if path.startswith("text/") and path not in _WRITTEN_BEFORE]
    day = f"report_date = {moment[:10]}"
    folder = changed(
        *edits, *map(removed, late), setting("report_date = 2025-12-12", day), setting('"review"', '"draft"'),
        setting("spacing = {", f"{PLAN.strip()}\nspacing = {{"),
    )  # fmt: skip
    return folder if headers else _without_empty(folder)


def _rows(path: str) -> list[Row]:
    return rows_of((EXAMPLE / path).read_bytes())[1]


def _known(name: str, moment: str, placed: set[str], rows: list[Row]) -> list[Row]:
    """Return the rows of a table as they were at a moment."""
    if name in _AFTER_RESULTS:
        return []
    if name == "samplers" and moment < _SENT:
        return []
    if column := _BEGINS.get(name):
        rows = [row for row in rows if row[column] <= moment]
    if name == "clearance":
        rows = [row for row in rows if row["location_ids"] != _ADDED or _ADDED in placed]
    if name == "locations":
        rows = [row for row in rows if row["design"] != "added" or row["location_id"] in placed]
    return [_as_it_was(name, row, moment, placed) for row in rows]


def _as_it_was(name: str, row: Row, moment: str, placed: set[str]) -> Row:
    """Return a row as it was at a moment."""
    if name == "locations" and row["location_id"] not in placed:
        return row | dict.fromkeys(_SURVEYED, "") | {"status": "planned"}
    if name == "samplers":
        return row | {"outcome": ""}
    if name == "return_bags" and moment < _PACKED:
        return row | {"shipment_id": ""}
    ends, with_it = _AT_THE_END.get(name, ("", ()))
    if ends and (row[ends] or "NA") > moment and not (row[ends] == "NA" and moment > _LAST_DAY):
        return row | {column: "" for column in (ends, *with_it) if column in row}
    return row


def _without_empty(folder: Folder) -> Folder:
    tables = {spec.path for spec in TABLES}
    kept: dict[str, InputFile] = {
        path: file for path, file in folder.files.items() if path not in tables or rows_of(file.content)[1]
    }
    return Folder(kept, folder.passed_over, folder.findings)


def planned(*changes: Change) -> Folder:
    """Return the example when its points were planned and nothing else was there."""
    return changed(*changes, folder=as_of(ORDERED))


def half_placed(*changes: Change) -> Folder:
    """Return the example after the first day of placing."""
    return changed(*changes, folder=as_of(HALF_PLACED))


def half_retrieved(*changes: Change) -> Folder:
    """Return the example on the first day of retrieving."""
    return changed(*changes, folder=as_of(HALF_RETRIEVED))
