"""The invented row that each table of a template workbook begins with, to be written over.

Its ids and texts begin with ``EXAMPLE``: a row that still has one of them is refused, so that
nothing invented stands in a record.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

from sitegen.project.schema import Column, Kind, TableSpec

MARK = "EXAMPLE"
LEFT_OUT = ("longitude", "latitude", "depth_m")
"""Columns that stand in for others, which a template leaves out."""

_IDS = {
    "location_id": "SG-01",
    "sampler_id": "0047102",
    "trip_blank_id": "0047109",
    "shipment_id": "SH-OUT",
    "bag_id": "RB-1",
    "event_id": "E-1",
    "subject_id": "0047102",
    "seal_applied": "448213",
    "deviation_id": "D-1",
    "product_id": "P-1",
    "analyte_id": "pce",
    "lab_sample_id": "L-1",
    "batch_id": "BATCH-1",
    "ticket": "T-1",
    "comment_id": "C-1",
}
_BLANK = frozenset(
    (
        "duplicate_of", "replaces", "tz", "carrier_ref", "seal_outer", "seal_received", "seal_number", "group",
        "synonyms", "analyte_ids", "affected_ids", "modification", "lab_qualifier", "validation_qualifier",
        "validation_reason", "attenuation_source", "response", "responded_by", "licence_ref",
    )
)  # fmt: skip
_BY_NAME = {"cas": "127-18-4", "result_text": f"{MARK} <10", "unit": f"{MARK} unit"}
_BY_KIND = {
    Kind.NUMBER: "1.5",
    Kind.INTEGER: "1",
    Kind.TIME: "2000-01-31T08:11",
    Kind.DATE: "2000-01-31",
    Kind.FLAG: "yes",
    Kind.PATH: f"records/{MARK}.pdf",
    Kind.IDS: f"{MARK}-SG-01;{MARK}-SG-02",
}


def entry_columns(spec: TableSpec) -> tuple[Column, ...]:
    """Return the columns that a template of a table shows."""
    return tuple(column for column in spec.columns if column.name not in LEFT_OUT)


@cache
def example_row(spec: TableSpec) -> Mapping[str, str]:
    """Return the invented row of a table, in the forms of the format.

    >>> from sitegen.project.tables import TABLE
    >>> row = example_row(TABLE["samplers"])
    >>> row["sampler_id"], row["kind"]
    ('EXAMPLE-0047102', 'sample')
    """
    return {column.name: _cell(column) for column in entry_columns(spec)}


def _cell(column: Column) -> str:
    name = column.name
    if name in _BLANK:
        return ""
    if name in _BY_NAME and column.kind is not Kind.CHOICE:
        return _BY_NAME[name]
    if column.kind is Kind.CHOICE:
        return column.choices[0]
    if column.kind is Kind.ID:
        return f"{MARK}-{_IDS.get(name, '1')}"
    return _BY_KIND.get(column.kind, f"{MARK} {name.replace('_', ' ')}")


@cache
def marked_cells(spec: TableSpec) -> Mapping[str, str]:
    """Return the cells of the invented row that no record can hold, by column."""
    return {name: text for name, text in example_row(spec).items() if text.startswith(MARK)}
