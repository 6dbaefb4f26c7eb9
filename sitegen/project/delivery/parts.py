"""The tables of a mapping file as frozen records: what ``lab/<name>.map.toml`` may say.

The format is told, with worked cases, in the folder's README under "The laboratory's own file".
What of it contradicts itself is told by :mod:`sitegen.project.delivery.form`.
"""

from __future__ import annotations

from decimal import Decimal
from itertools import pairwise
from typing import Annotated, Literal

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field
from pydantic_core import PydanticCustomError

from sitegen.plugins import LAYOUTS, plugins
from sitegen.project.dateforms import date_form
from sitegen.project.limits import LIST, SHEET_ROWS, TOTAL, UNIT_FACTOR
from sitegen.project.settingkinds import FilePath, Id, Name, within
from sitegen.project.tables import TABLE
from sitegen.units import NANOGRAM, RESULT_UNITS

EXTRA_COLUMNS = ("cas", "reportable", "sampler_id", "lower", "upper", "limit_source")
"""What may be mapped beside the columns of ``results``."""
OUR_COLUMNS = (*TABLE["results"].column_names, *EXTRA_COLUMNS)
QC_TYPE = "qc_type"
QC_TYPES = TABLE["lab_qc"].column(QC_TYPE).choices
QC_COLUMNS = (
    "result_text",
    *(name for name in TABLE["lab_qc"].column_names if name not in ("lab_sample_id", QC_TYPE, "name")),
)
SAMPLE_COLUMNS = tuple(name for name in TABLE["lab_samples"].column_names if name != "lab_sample_id")
ANALYTE_COLUMNS = tuple(name for name in TABLE["analytes"].column_names if name != "analyte_id")
OWN_LAYOUTS = ("long", "crosstab")
HEADER_ROWS = 10
"""A header has at most this many rows: project default, no published source."""
SERIAL_DIGITS = 20
"""A serial has at most this many digits: project default, no published source."""


def _number(value: object) -> object:
    if isinstance(value, bool) or not isinstance(value, int | Decimal):
        raise ValueError("write a number")  # noqa: TRY004 - pydantic gathers ValueError
    exact = Decimal(value)
    if not exact.is_finite():
        raise ValueError("write a number")
    return exact


def _names(value: object) -> object:
    return [value] if isinstance(value, str) else value


def _numbers(value: object) -> object:
    return [value] if isinstance(value, int) else value


def layouts() -> tuple[str, ...]:
    """Return the layouts that a mapping may name: our own, then those of plug-ins."""
    outside = plugins(LAYOUTS)
    for plugin in outside:
        if plugin.name in OWN_LAYOUTS:
            raise plugin.fault("has the name of a layout of the program")
    return (*OWN_LAYOUTS, *(plugin.name for plugin in outside))


def _layout(value: str) -> str:
    if value not in layouts():
        *first, last = map(repr, layouts())
        raise PydanticCustomError("layout", "input should be {names}", {"names": f"{', '.join(first)} or {last}"})
    return value


def _rising(rows: list[int]) -> list[int]:
    if any(first >= second for first, second in pairwise(rows)):
        raise ValueError("row numbers from top to bottom, each once")
    return rows


def _date_form(text: str) -> str:
    return date_form(text) if text else text


Exact = Annotated[Decimal, BeforeValidator(_number)]
Names = Annotated[list[Name], BeforeValidator(_names)]
Row = Annotated[int, Field(ge=1, le=SHEET_ROWS.value)]
Rows = Annotated[
    list[Row], BeforeValidator(_numbers), Field(min_length=1, max_length=HEADER_ROWS), AfterValidator(_rising)
]
Text = Annotated[Name, Field(min_length=1)]
Texts = Annotated[list[Text], Field(max_length=LIST.value)]


class Part(BaseModel):
    """A table of the mapping file; a key that it does not know is told as a fault."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)


class SourcePart(Part):
    """The laboratory's file and how to read it."""

    file: FilePath = Field(min_length=1)
    sha256: Id = ""
    sheet: Name = ""
    header_row: Rows = [1]
    header_fill: Literal["merged", "right", "none"] = "merged"
    repeated_header: bool = False
    layout: Annotated[str, AfterValidator(_layout)]
    holds: Literal["results", "qc", "lists"] = "results"
    skip_rows: list[Row] = Field(default_factory=list)
    skip_containing: Texts = Field(default_factory=list)
    end_containing: Texts = Field(default_factory=list)
    joined_qualifiers: bool = False
    blank: Literal["stop", "not_reported"] = "stop"
    thousands: Literal["", ",", ".", " ", "'"] = ""
    decimal: Literal[".", ","] = "."
    dates: Annotated[Name, AfterValidator(_date_form)] = ""
    qc_column: Name = ""
    replaces: FilePath = ""

    @property
    def header_end(self) -> int:
        """The last row of the header: the body begins below it."""
        return self.header_row[-1]


class CrosstabPart(Part):
    """What goes across, and where the other columns stand; ``qc`` has the kind of those samples that are QC rows."""

    across: Literal["samples", "analytes"] = "samples"
    ignore: list[Name] = Field(default_factory=list)
    qc: dict[str, Name] = Field(default_factory=dict)
    rows: dict[str, Row] = Field(default_factory=dict)
    suffixes: dict[str, Text] = Field(default_factory=dict)


def _known_unit(code: str) -> str:
    if code not in RESULT_UNITS:
        raise ValueError(f"write one of {', '.join(RESULT_UNITS)}")
    return code


class UnitPart(Part):
    """A factor and the unit that it leads to."""

    factor: Annotated[Exact, within(UNIT_FACTOR)]
    unit: Annotated[str, AfterValidator(_known_unit)] = NANOGRAM.code


def _unit(value: object) -> object:
    return value if isinstance(value, dict) else {"factor": value}


class NondetectPart(Part):
    """How the laboratory writes a non-detect."""

    tokens: list[Name] = Field(default_factory=list)
    less_than_prefix: Names = Field(default=["<"])


class AnalytesPart(Part):
    """Where the file itself tells of its compounds: columns, texts that hold for all, rows above columns."""

    columns: dict[str, Names] = Field(default_factory=dict)
    constants: dict[str, Name] = Field(default_factory=dict)
    rows: dict[str, Row] = Field(default_factory=dict)


class LabSamplesPart(AnalytesPart):
    """Where the file itself tells of its laboratory samples; ``words`` leads from its kinds of samples to ours."""

    words: dict[str, Name] = Field(default_factory=dict)
    serial_digits: Annotated[int, Field(ge=1, le=SERIAL_DIGITS)] | None = None


class LabQcPart(Part):
    """Columns and texts that hold for QC rows in place of those of results."""

    columns: dict[str, Names] = Field(default_factory=dict)
    constants: dict[str, Name] = Field(default_factory=dict)


class ControlPart(Part):
    """Totals of the rows that become results, typed by a person or counted when the mapping was drafted."""

    rows: Annotated[int, within(TOTAL)] | None = None
    detected_rows: Annotated[int, within(TOTAL)] | None = None
    sum_detected: Annotated[Exact, within(TOTAL)] | None = None

    @property
    def given(self) -> bool:
        """Whether there are any totals."""
        return any(total is not None for total in (self.rows, self.detected_rows, self.sum_detected))


class ConfirmedPart(Part):
    """Role codes of who compared a drafted mapping, and its totals, with the laboratory's signed report."""

    mapping: Id = ""
    control: Id = ""


class MappingForm(Part):
    """The whole of a mapping file; ``confirmed`` is None where a person wrote it by hand."""

    source: SourcePart
    columns: dict[str, Names]
    constants: dict[str, Name] = Field(default_factory=dict)
    crosstab: CrosstabPart = CrosstabPart()
    units: dict[str, Annotated[UnitPart, BeforeValidator(_unit)]] = Field(default_factory=dict)
    nondetect: NondetectPart = NondetectPart()
    names: dict[str, Name] = Field(default_factory=dict)
    qualifiers: dict[str, Name] = Field(default_factory=dict)
    qc: dict[str, Name] = Field(default_factory=dict)
    lab_samples: LabSamplesPart | None = None
    analytes: AnalytesPart | None = None
    lab_qc: LabQcPart = LabQcPart()
    control: ControlPart = ControlPart()
    confirmed: ConfirmedPart | None = None

    @property
    def across(self) -> str:
        """What goes across in a cross-tab, "" in other layouts."""
        return self.crosstab.across if self.source.layout == "crosstab" else ""
