"""Which columns may have a default in project.toml, and why: a closed list.

A default stands for what was the same for a day, a crew or a whole survey: how holes were made, who
worked, by which method. Never for an id, a moment, a serial, a result, a count, a signature, or what
somebody saw at one point or on one sampler.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from sitegen.project.schema import Kind
from sitegen.project.tables import TABLE


@dataclass(frozen=True, slots=True)
class Allowed:
    """A column that may have a default, and why.

    Without a value in the column ``beside`` a row is not filled: the default would say what nobody
    recorded. A column of the ``hole`` is filled at points of soil gas alone, unless a where row names
    another medium, and never of a field blank. ``within`` is a condition that a where row must name.
    """

    why: str
    beside: str = ""
    hole: bool = False
    within: str = ""


_DRILLED = "one method and tool are used for the holes"
_WORKED = "one crew works a whole day"
_ZONE = "the work or laboratory is in one time zone"

ALLOWED: Mapping[str, Mapping[str, Allowed]] = {
    "locations": {
        "medium": Allowed("most surveys sample one medium"),
        "design": Allowed("most points share one purpose"),
        "rationale": Allowed("points of one grid share one purpose"),
        "coordinate_method": Allowed("one instrument is used"),
        "accuracy_m": Allowed("one instrument is used"),
    },
    "samplers": {
        "sampler_type": Allowed("one type is ordered for a survey"),
        "lot": Allowed("one lot is sent for a survey"),
    },
    "deployments": {
        "tz": Allowed(_ZONE),
        "depth_ft": Allowed("holes are advanced to one depth; not used where `refusal` is `yes`", hole=True),
        "depth_m": Allowed("holes are advanced to one depth; not used where `refusal` is `yes`", hole=True),
        "hole_diameter_in": Allowed(_DRILLED, hole=True),
        "hole_method": Allowed(_DRILLED, hole=True),
        "sleeve": Allowed(_DRILLED, hole=True),
        "closure": Allowed("holes are closed in one way", hole=True),
        "individually_bagged": Allowed("samplers are bagged in one way", beside="bag_id"),
        "placed_by": Allowed(_WORKED, beside="placed_at"),
        "retrieved_by": Allowed(_WORKED, beside="retrieved_at"),
        "scan_file": Allowed("one field sheet covers a day"),
    },
    "return_bags": {"sealed_by": Allowed("one person seals the bags of a day", beside="sealed_at")},
    "shipments": {"tz": Allowed(_ZONE)},
    "custody": {
        "tz": Allowed(_ZONE),
        "organisation": Allowed("a role belongs to one organisation", beside="by_role", within="by_role"),
    },
    "weather": {
        "pressure_kind": Allowed("a station reports one kind of pressure", beside="pressure_hpa"),
        "source": Allowed("readings come from one station"),
        "station": Allowed("readings come from one station"),
        "distance_km": Allowed("readings come from one station"),
    },
    "lab_samples": {
        "tz": Allowed(_ZONE),
        "method": Allowed("one method is run for a survey"),
        "modification": Allowed("one method is run for a survey"),
    },
}

CONDITIONS: Mapping[str, Mapping[str, str]] = {
    "locations": {"medium": "", "design": ""},
    "samplers": {"lot": "", "shipment_id": ""},
    "deployments": {
        "placed_on": "placed_at", "retrieved_on": "retrieved_at", "placed_by": "", "retrieved_by": "",
        "bag_id": "", "medium": "",
    },
    "return_bags": {"sealed_on": "sealed_at"},
    "shipments": {"direction": ""},
    "custody": {"on": "at", "by_role": "", "subject_kind": ""},
    "weather": {"on": "at", "station": ""},
    "lab_samples": {"analysed_on": "analysed_at", "batch_id": "", "type": ""},
}  # fmt: skip
"""What a where row may ask for, by table; of a day, the time that is meant. A placement's ``medium`` is its point's."""

OTHER_UNIT: Mapping[str, str] = {"depth_ft": "depth_m", "depth_m": "depth_ft"}
"""Columns of one quantity: where one is filled in, the other has no default."""


def refusal(table: str, column: str) -> str:
    """Say why a column has no default.

    >>> refusal("deployments", "condition")
    'it is recorded row by row, as observed, counted or decided'
    >>> refusal("deployments", "placed_at")
    'a time is read from a clock or a form'
    """
    kind = TABLE[table].column(column).kind
    if column == "signature":
        return "a signature is one person's, made once"
    if kind in (Kind.ID, Kind.IDS):
        return "an id is read from its label"
    if kind in (Kind.TIME, Kind.DATE):
        return "a time is read from a clock or a form"
    return "it is recorded row by row, as observed, counted or decided"


def defaults_guide() -> Iterator[str]:
    """Yield the lines of a Markdown table of the columns that may have a default, each with its reason."""
    yield "| table | column | reason | not filled in |\n| --- | --- | --- | --- |"
    for table, columns in ALLOWED.items():
        yield from (f"| `{table}` | `{name}` | {one.why} | {_limits(one)} |" for name, one in columns.items())


def _limits(one: Allowed) -> str:
    """Say in which rows a column stays blank whatever the default."""
    if one.within:
        return f"rows not covered by a where row with `{one.within}`"
    if one.hole:
        return "media other than soil gas, unless a where row gives the medium; field blanks"
    return f"rows without `{one.beside}`" if one.beside else ""
