"""The form of a mapping file: what ``lab/<name>.map.toml`` may say, and what it lacks.

A mapping file says how a laboratory's own CSV or XLSX file maps on to ``results`` (and
``lab_qc``). Nothing that it leaves out is guessed. Its tables:

``[source]``
    ``file`` (from the project folder on), ``sha256``, ``sheet`` (XLSX; may stay blank where
    one sheet alone is visible), ``header_row`` (default 1), ``layout`` (``long``,
    ``crosstab`` or one that a plug-in adds), ``skip_rows`` (row numbers as a spreadsheet shows them),
    ``skip_containing`` (rows with a cell that contains one of these texts are passed over),
    ``joined_qualifiers`` (true where a qualifier stands behind its number, as in ``12 J``),
    ``blank`` (``stop``, or ``not_reported`` where a blank result means that there is none),
    ``thousands`` and ``decimal`` (signs inside numbers; by default none and a point),
    ``qc_column`` (the column whose words, listed in ``[qc]``, tell QC rows from results).
``[columns]``
    our column = the laboratory's name for it, or a list of names of which the first
    present wins. Ours are the columns of ``results`` and ``cas``, ``reportable`` (``no``
    for a row that another run replaces), ``sampler_id`` (compared with ``lab_samples``)
    and, for QC rows, ``lower``, ``upper`` and ``limit_source``.
``[constants]``
    our column = a text that holds for every row, such as ``unit = "ng"``.
``[crosstab]``
    ``across`` says what the columns right of the mapped ones are: ``samples`` (compounds
    go down the side, ``[columns]`` names ``analyte_id`` or ``cas``) or ``analytes``
    (samples go down, ``[columns]`` names ``lab_sample_id``). ``ignore`` lists columns to
    pass over; ``rows`` gives our column = number of a row that holds it for each column
    across (``rl = 4``); ``suffixes`` gives our column = what is added to a column's header
    for it (``lab_qualifier = " Q"``).
``[units]``
    the laboratory's spelling = factor to ng, or ``{ factor = 1, unit = "ug/m3" }``.
    Every spelling is declared, ``ng`` too.
``[nondetect]``
    ``tokens`` (texts such as ``ND``) and ``less_than_prefix`` (default ``<``).
``[names]``
    the laboratory's spelling = our ``analyte_id``; asked after the CAS number.
``[qualifiers]``
    theirs = ours; our own words need no entry.
``[qc]``
    a word of ``qc_column`` = ``result``, ``skip`` or one of our kinds of QC rows.
``[control]``
    ``rows``, ``detected_rows`` and ``sum_detected`` (in the laboratory's own unit), typed
    by a person from the laboratory's signed report: of the rows (cells, in a cross-tab)
    that become results.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from decimal import Decimal
from difflib import get_close_matches
from typing import Annotated, Any, Literal, TypeAlias

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, ValidationError
from pydantic_core import PydanticCustomError

from sitegen.findings.problems import Finding, Severity, Where
from sitegen.plugins import LAYOUTS, plugins
from sitegen.project.limits import LIST, SHEET_ROWS, TOTAL, UNIT_FACTOR
from sitegen.project.read.textsafe import plain
from sitegen.project.schema import QUALIFIERS
from sitegen.project.settingkinds import FilePath, Id, Name, within
from sitegen.project.settings import capped, line_of
from sitegen.project.tables import TABLE
from sitegen.project.tomltext import Excess, read_toml
from sitegen.units import CONCENTRATION_UNITS, MASS_UNITS, NANOGRAM, RESULT_UNITS

EXTRA_COLUMNS = ("cas", "reportable", "sampler_id", "lower", "upper", "limit_source")
"""What may be mapped beside the columns of ``results``."""
OUR_COLUMNS = (*TABLE["results"].column_names, *EXTRA_COLUMNS)
QC_TYPES = TABLE["lab_qc"].column("qc_type").choices
OWN_LAYOUTS = ("long", "crosstab")
_PER_VOLUME = re.compile(r"(/|per )\s*[cdmµu]?(l\b|\^?3|³)|m(-3|⁻³)|pp[bmt]")


def _number(value: object) -> object:
    if isinstance(value, bool) or not isinstance(value, int | Decimal):
        raise ValueError("write a number")  # noqa: TRY004 - pydantic gathers ValueError
    exact = Decimal(value)
    if not exact.is_finite():
        raise ValueError("write a number")
    return exact


def _names(value: object) -> object:
    return [value] if isinstance(value, str) else value


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


Exact = Annotated[Decimal, BeforeValidator(_number)]
Names = Annotated[list[Name], BeforeValidator(_names)]
Row = Annotated[int, Field(ge=1, le=SHEET_ROWS.value)]


class Part(BaseModel):
    """A table of the mapping file; a key that it does not know is told as a fault."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)


class SourcePart(Part):
    """The laboratory's file and how to read it."""

    file: FilePath = Field(min_length=1)
    sha256: Id = ""
    sheet: Name = ""
    header_row: Row = 1
    layout: Annotated[str, AfterValidator(_layout)]
    skip_rows: list[Row] = Field(default_factory=list)
    skip_containing: list[Annotated[Name, Field(min_length=1)]] = Field(default_factory=list, max_length=LIST.value)
    joined_qualifiers: bool = False
    blank: Literal["stop", "not_reported"] = "stop"
    thousands: Literal["", ",", ".", " ", "'"] = ""
    decimal: Literal[".", ","] = "."
    qc_column: Name = ""


class CrosstabPart(Part):
    """What goes across, and where the other columns stand."""

    across: Literal["samples", "analytes"] = "samples"
    ignore: list[Name] = Field(default_factory=list)
    rows: dict[str, Row] = Field(default_factory=dict)
    suffixes: dict[str, Annotated[Name, Field(min_length=1)]] = Field(default_factory=dict)


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


class ControlPart(Part):
    """Totals typed from the laboratory's signed report."""

    rows: Annotated[int, within(TOTAL)] | None = None
    detected_rows: Annotated[int, within(TOTAL)] | None = None
    sum_detected: Annotated[Exact, within(TOTAL)] | None = None


class MappingForm(Part):
    """The whole of a mapping file."""

    source: SourcePart
    columns: dict[str, Names]
    constants: dict[str, Name] = Field(default_factory=dict)
    crosstab: CrosstabPart = CrosstabPart()
    units: dict[str, Annotated[UnitPart, BeforeValidator(_unit)]] = Field(default_factory=dict)
    nondetect: NondetectPart = NondetectPart()
    names: dict[str, Name] = Field(default_factory=dict)
    qualifiers: dict[str, Name] = Field(default_factory=dict)
    qc: dict[str, Name] = Field(default_factory=dict)
    control: ControlPart = ControlPart()


Fault: TypeAlias = tuple[str, str, str, str]
"""Key, found, expected, do."""


def read_form(path: str, content: bytes) -> tuple[MappingForm | None, list[Finding]]:
    """Read a mapping file; return what it says (None where it can't be used) and findings."""
    try:
        text, data = read_toml(content, Decimal)
    except Excess as error:
        where = Where(path, error.line, error.key or None)
        do = "take out what the mapping does not need"
        return None, [_finding("mapping-unreadable", path, where, error.found, error.expected, do)]
    except (ValueError, ArithmeticError) as error:
        line = re.search(r"line (\d+)", str(error))
        where = Where(path, int(line[1]) if line else None)
        found = f"text that is not TOML in UTF-8 ({error})"
        return None, [_finding("mapping-unreadable", path, where, found, "a TOML 1.0 file", "correct that line")]
    try:
        form = MappingForm.model_validate(data)
    except ValidationError as error:
        told = (_told(path, text, _invalid(problem, data)) for problem in error.errors())
        return None, capped(told, error.error_count())
    faults = list(_faults(form))
    told = (_told(path, text, fault) for fault in faults)
    return (None if faults else form), capped(told, len(faults))


def _finding(code: str, subject: str, where: Where, found: str, expected: str, do: str) -> Finding:
    shown = found if len(found) <= 90 else found[:87] + "…"
    return Finding(code, Severity.STOP, subject, where, shown, expected, do, "file")


def _told(path: str, text: str, fault: Fault) -> Finding:
    key, found, expected, do = fault
    where = Where(path, line_of(key, text), key)
    return _finding("mapping-invalid", f"{path}+{key}", where, found, expected, do)


def _invalid(problem: Mapping[str, Any], data: Mapping[str, Any]) -> Fault:
    key = ".".join(str(part) for part in problem["loc"])
    if problem["type"] == "missing":
        return key, "nothing", "a value", f"write {key}"
    if problem["type"] == "extra_forbidden":
        nearest = get_close_matches(str(problem["loc"][-1]), _keys(problem["loc"][:-1], data), n=1, cutoff=0.6)
        do = f"rename it to {nearest[0]}" if nearest else "remove it"
        return key, f"the key {key}", "a key of the mapping format", do
    message: str = problem["msg"]
    return key, repr(problem["input"]), message[0].lower() + message[1:], f"correct {key}"


def _keys(location: tuple[int | str, ...], data: Mapping[str, Any]) -> list[str]:
    """Return the keys that the table at a location may have and has not."""
    part = MappingForm.model_fields[str(location[0])].annotation if location else MappingForm
    there = data[str(location[0])] if location else data
    return [name for name in getattr(part, "model_fields", ()) if name not in there]


def _faults(form: MappingForm) -> Iterator[Fault]:
    """Yield what the form lacks or says of things that do not exist."""
    yield from _unknown_columns(form)
    yield from _layout_faults(form)
    yield from _unit_faults(form)
    for theirs, ours in form.qualifiers.items():
        if any(part not in QUALIFIERS for part in ours.split(";") if part):
            yield f"qualifiers.{theirs}", repr(ours), f"some of {', '.join(QUALIFIERS)}", "use our qualifiers"
    for word, kind in form.qc.items():
        if kind not in ("result", "skip", *QC_TYPES):
            choices = ", ".join(("result", "skip", *QC_TYPES))
            yield f"qc.{word}", repr(kind), f"one of {choices}", "use one of these words"
    if bool(form.qc) != bool(form.source.qc_column):
        yield "source.qc_column", "one of qc_column and [qc] alone", "both or neither", "write the other too"
    if form.source.thousands == form.source.decimal:
        yield "source.thousands", "the same sign twice", "two different signs", "correct thousands or decimal"


def _unknown_columns(form: MappingForm) -> Iterator[Fault]:
    tables: dict[str, Iterable[str]] = {
        "columns": form.columns,
        "constants": form.constants,
        "crosstab.rows": form.crosstab.rows,
        "crosstab.suffixes": form.crosstab.suffixes,
    }
    for table, entries in tables.items():
        free = [other for other in OUR_COLUMNS if other not in entries]
        for name in entries:
            if name not in OUR_COLUMNS:
                nearest = get_close_matches(name, free, n=1, cutoff=0.6)
                do = f"rename it to {nearest[0]}" if nearest else "remove it"
                yield f"{table}.{name}", f"the column {name}", "a column of results.csv", do


def _layout_faults(form: MappingForm) -> Iterator[Fault]:
    if form.source.layout not in OWN_LAYOUTS:
        return
    named = set(form.columns)
    across = form.crosstab.across if form.source.layout == "crosstab" else ""
    if across != "samples" and "lab_sample_id" not in named:
        yield "columns.lab_sample_id", "nothing", "the column of laboratory ids", "name that column"
    if across != "analytes" and not named & {"analyte_id", "cas"}:
        yield "columns.analyte_id", "nothing", "the column of compounds, or cas", "name that column"
    if not across and not named & {"result_text", "value"}:
        yield "columns.result_text", "nothing", "the column of results", "name that column"
    if not across and "crosstab" in form.model_fields_set:
        yield (
            "crosstab",
            "a table [crosstab]",
            "none in a long layout",
            "remove it, or set layout to crosstab",
        )


def _unit_faults(form: MappingForm) -> Iterator[Fault]:
    places = (form.columns, form.constants, form.crosstab.rows, form.crosstab.suffixes)
    if form.source.layout in OWN_LAYOUTS and not any("unit" in place for place in places):
        yield (
            "columns.unit",
            "nothing",
            "where the unit stands",
            "map the unit, or write it under [constants]",
        )
    if not form.units:
        yield "units", "nothing", "each spelling of a unit with its factor", "write them under [units]"
    for spelling, leads in form.units.items():
        if bool(_PER_VOLUME.search(plain(spelling).lower())) != (leads.unit in CONCENTRATION_UNITS):
            found = f"{spelling!r} leading to {leads.unit}"
            expected = (
                f"a mass leading to {' or '.join(MASS_UNITS)}, a concentration to {' or '.join(CONCENTRATION_UNITS)}"
            )
            yield f"units.{spelling}", found, expected, "correct the unit: mass is not concentration"
