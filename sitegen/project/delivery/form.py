"""Reading a mapping file: its tables as records, and each thing in it that does not hold.

The tables themselves stand in :mod:`sitegen.project.delivery.parts`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal
from typing import Any, NamedTuple

from pydantic import ValidationError

from sitegen.findings.problems import Finding, Severity, Where
from sitegen.project.delivery.keys import allowed, line_at, nearest
from sitegen.project.delivery.parts import (
    ANALYTE_COLUMNS,
    OUR_COLUMNS,
    OWN_LAYOUTS,
    QC_COLUMNS,
    QC_TYPE,
    QC_TYPES,
    SAMPLE_COLUMNS,
    AnalytesPart,
    LabSamplesPart,
    MappingForm,
)
from sitegen.project.read.textsafe import plain
from sitegen.project.schema import QUALIFIERS
from sitegen.project.settings import capped
from sitegen.project.tables import TABLE
from sitegen.project.tomltext import Excess, read_toml
from sitegen.units import CONCENTRATION_UNITS, MASS_UNITS

_PER_VOLUME = re.compile(r"(/|per )\s*[cdmµu]?(l\b|\^?3|³)|m(-3|⁻³)|pp[bmt]")
_SAMPLE_TYPES = TABLE["lab_samples"].column("type").choices


class Fault(NamedTuple):
    """What is wrong at a key of the mapping, and what to do."""

    at: tuple[str, ...]
    found: str
    expected: str
    do: str


def read_form(path: str, content: bytes) -> tuple[MappingForm | None, list[Finding]]:
    """Read a mapping file; return what it says (None where it can't be used) and findings."""
    try:
        text, data = read_toml(content, Decimal)
    except Excess as error:
        where = Where(path, error.line, error.key or None)
        do = "remove what the mapping does not need"
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
    key = ".".join(fault.at)
    where = Where(path, line_at(fault.at, text), key)
    return _finding("mapping-invalid", f"{path}+{key}", where, fault.found, fault.expected, fault.do)


def _invalid(problem: Mapping[str, Any], data: Mapping[str, Any]) -> Fault:
    at = tuple(str(part) for part in problem["loc"])
    key = ".".join(at)
    if problem["type"] == "missing":
        return Fault(at, "nothing", "a value", f"write {key}")
    if problem["type"] == "extra_forbidden":
        return _unknown_key(at, data)
    message: str = problem["msg"].removeprefix("Value error, ")
    return Fault(at, repr(problem["input"]), message[0].lower() + message[1:], f"correct {key}")


def _unknown_key(at: tuple[str, ...], data: Mapping[str, Any]) -> Fault:
    """Tell a key that the format lacks, with those that its table may have."""
    there: Any = data
    for name in at[:-1]:
        there = there[name]
    names = allowed(at[:-1])
    table = f"a key of [{'.'.join(at[:-1])}]" if at[:-1] else "a table of the mapping format"
    return Fault(at, f"the key {'.'.join(at)}", f"{table}: {', '.join(names)}", nearest(at[-1], names, list(there)))


def _faults(form: MappingForm) -> Iterator[Fault]:
    """Yield what the form lacks or says of things that do not exist."""
    yield from _unknown_columns(form)
    yield from _layout_faults(form)
    yield from _unit_faults(form)
    yield from _qc_faults(form)
    yield from _list_faults(form)
    for theirs, ours in form.qualifiers.items():
        if any(part not in QUALIFIERS for part in ours.split(";") if part):
            at = ("qualifiers", theirs)
            yield Fault(at, repr(ours), f"some of {', '.join(QUALIFIERS)}", "use the qualifiers of the folder format")
    if form.source.thousands == form.source.decimal:
        do = "correct thousands or decimal"
        yield Fault(("source", "thousands"), "the same sign twice", "two different signs", do)
    if form.source.replaces == form.source.file:
        do = "give the former issue in records/, or remove replaces"
        yield Fault(("source", "replaces"), "the file itself", "the file that it replaces", do)


def _unknown_columns(form: MappingForm) -> Iterator[Fault]:
    """Yield names that are no columns of the table that they are to fill."""
    constants = (*OUR_COLUMNS, QC_TYPE) if form.source.holds == "qc" else OUR_COLUMNS
    yield from _strangers(("columns",), form.columns, OUR_COLUMNS)
    yield from _strangers(("constants",), form.constants, constants)
    yield from _strangers(("crosstab", "rows"), form.crosstab.rows, OUR_COLUMNS)
    yield from _strangers(("crosstab", "suffixes"), form.crosstab.suffixes, OUR_COLUMNS)
    yield from _strangers(("lab_qc", "columns"), form.lab_qc.columns, QC_COLUMNS, "lab_qc.csv")
    yield from _strangers(("lab_qc", "constants"), form.lab_qc.constants, QC_COLUMNS, "lab_qc.csv")
    lists = (("lab_samples", form.lab_samples, SAMPLE_COLUMNS), ("analytes", form.analytes, ANALYTE_COLUMNS))
    for name, part, columns in lists:
        for table in ("columns", "constants", "rows") if part else ():
            yield from _strangers((name, table), getattr(part, table), columns, f"{name}.csv")


def _strangers(
    table: tuple[str, ...], entries: Mapping[str, object], columns: Sequence[str], file: str = "results.csv"
) -> Iterator[Fault]:
    for name in entries:
        if name not in columns:
            do = nearest(name, columns, list(entries))
            yield Fault((*table, name), f"the column {name}", f"a column of {file}: {', '.join(columns)}", do)


def _layout_faults(form: MappingForm) -> Iterator[Fault]:
    if form.source.layout not in OWN_LAYOUTS:
        return
    named, across, holds = set(form.columns), form.across, form.source.holds
    if across != "samples" and "lab_sample_id" not in named and (holds != "lists" or form.lab_samples):
        yield Fault(("columns", "lab_sample_id"), "nothing", "the column of laboratory ids", "give that column")
    compounds = named & {"analyte_id", "cas"} or (holds == "lists" and not form.analytes)
    if across != "analytes" and not compounds:
        yield Fault(("columns", "analyte_id"), "nothing", "the column of compounds, or cas", "give that column")
    results = named & {"result_text", "value"} or holds == "lists" or _own_results(form)
    if not across and not results:
        yield Fault(("columns", "result_text"), "nothing", "the column of results", "give that column")
    if not across and "crosstab" in form.model_fields_set:
        do = "remove it, or set layout to crosstab"
        yield Fault(("crosstab",), "a table [crosstab]", "none in a long layout", do)


def _own_results(form: MappingForm) -> bool:
    """Tell whether a file of QC rows alone has its results in columns of their own."""
    return form.source.holds == "qc" and bool(form.lab_qc.columns.keys() & {"result_text", "value"})


def _unit_faults(form: MappingForm) -> Iterator[Fault]:
    places = (form.columns, form.constants, form.crosstab.rows, form.crosstab.suffixes)
    results = form.source.holds == "results"
    if results and form.source.layout in OWN_LAYOUTS and not any("unit" in place for place in places):
        do = 'give its column as unit under [columns], or write unit = "…" under [constants]'
        yield Fault(("columns", "unit"), "nothing", "the source of the unit", do)
    if results and not form.units:
        do = "write each under [units] with its factor, as in ng = 1"
        yield Fault(("units",), "nothing", "each spelling of a unit with its factor", do)
    for spelling, leads in form.units.items():
        if bool(_PER_VOLUME.search(plain(spelling).lower())) != (leads.unit in CONCENTRATION_UNITS):
            mass, volume = " or ".join(MASS_UNITS), " or ".join(CONCENTRATION_UNITS)
            expected = f"a mass converted to {mass}, a concentration to {volume}"
            found, do = f"{spelling!r} converted to {leads.unit}", "correct the unit: mass is not concentration"
            yield Fault(("units", spelling), found, expected, do)


def _qc_faults(form: MappingForm) -> Iterator[Fault]:
    results = form.source.holds == "results"
    words = (*(("result",) if results else ()), "skip", *QC_TYPES)
    for at, kinds in ((("qc",), form.qc), (("crosstab", "qc"), form.crosstab.qc)):
        for word, kind in kinds.items():
            if kind not in words:
                yield Fault((*at, word), repr(kind), f"one of {', '.join(words)}", "use one of these words")
    if form.crosstab.qc and form.crosstab.across != "samples":
        do = "write qc_column and [qc] for samples down the side"
        yield Fault(("crosstab", "qc"), "kinds of samples across", "samples across", do)
    if bool(form.qc) != bool(form.source.qc_column):
        at = ("source", "qc_column")
        yield Fault(at, "only one of qc_column and [qc]", "both or neither", "add the other, or remove this one")
    stated = form.constants.get(QC_TYPE, "")
    if form.source.holds == "qc" and not form.qc and stated not in QC_TYPES:
        expected = f"one of {', '.join(QC_TYPES)}, or qc_column with [qc]"
        yield Fault(("constants", QC_TYPE), repr(stated) if stated else "nothing", expected, "write it")


def _list_faults(form: MappingForm) -> Iterator[Fault]:
    """Yield what the tables that make lists of samples and of compounds lack."""
    if form.source.holds == "lists" and not (form.lab_samples or form.analytes):
        yield Fault(
            ("source", "holds"), "lists, but neither table", "[lab_samples] or [analytes]", "write one of the tables"
        )
    for name, part, across in (
        ("lab_samples", form.lab_samples, "samples"), ("analytes", form.analytes, "analytes"),
    ):  # fmt: skip
        if part and form.source.layout in OWN_LAYOUTS:
            yield from _misplaced(name, part, goes_across=form.across == across)
    if form.lab_samples:
        yield from _sample_faults(form)
    named = form.analytes.columns.keys() | form.analytes.rows.keys() if form.analytes else {"name"}
    if "name" not in named and "analyte_id" not in form.columns and form.across != "analytes":
        yield Fault(("analytes", "columns"), "no name", "the column of names of compounds", "give that column")


def _sample_faults(form: MappingForm) -> Iterator[Fault]:
    part = form.lab_samples or LabSamplesPart()
    if not any("type" in place for place in (part.columns, part.constants, part.rows)):
        expected = "the source of the kind of sample"
        do = 'map type, or write type = "sample" under constants of [lab_samples]'
        yield Fault(("lab_samples",), "no type", expected, do)
    for word, ours in part.words.items():
        if ours not in (*_SAMPLE_TYPES, "skip"):
            expected = f"one of {', '.join((*_SAMPLE_TYPES, 'skip'))}"
            yield Fault(("lab_samples", "words", word), repr(ours), expected, "use one of these words")


def _misplaced(name: str, part: AnalytesPart, *, goes_across: bool) -> Iterator[Fault]:
    """Yield columns of what goes across, and rows of what does not."""
    wrong, right = ("columns", "rows") if goes_across else ("rows", "columns")
    if getattr(part, wrong):
        way = "across" if goes_across else "down the side"
        yield Fault((name, wrong), f"{wrong} of what goes {way}", f"{right} of the file", f"write them as {right}")
