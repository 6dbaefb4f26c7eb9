"""Tables of text to tables of typed columns, with what their headers lack."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from difflib import get_close_matches

from sitegen.findings.problems import Finding, Severity
from sitegen.project.intake.propose import with_proposals
from sitegen.project.intake.text import TableText
from sitegen.project.read.csvtext import RawTable
from sitegen.project.read.ranges import within_ranges
from sitegen.project.read.typed import empty_table, type_table
from sitegen.project.survey import Filled, SurveyTable
from sitegen.project.tables import TABLES
from sitegen.voice import worded


def typed_tables(texts: Mapping[str, TableText], place: str) -> tuple[dict[str, SurveyTable], list[Finding]]:
    """Return every table of the format, typed, and findings; one that has no text is empty.

    ``place`` is the project's time zone.
    """
    tables: dict[str, SurveyTable] = {}
    findings: list[Finding] = []
    for spec in TABLES:
        text = texts.get(spec.name)
        if text is None:
            tables[spec.name] = empty_table(spec)
            continue
        tables[spec.name], problems = typed_table(text, place)
        findings += problems
    return tables, findings


def typed_table(text: TableText, place: str) -> tuple[SurveyTable, list[Finding]]:
    """Return a table of typed columns, and what does not fit the format."""
    table, problems = type_table(text.spec, text.read, place, text.file, text.received, text.sheet)
    table, outside = within_ranges(table)
    told = with_proposals(problems, text.spec, text.received, text.file, text.how, text.typed)
    if text.derived:
        at = {name: place for place, name in enumerate(text.read.header)}
        filled = {
            (row, name): Filled(text.read.rows[row][at[name]], *rule) for (row, name), rule in text.derived.items()
        }
        table = replace(table, filled=filled)
    return table, [*header_faults(text), *told, *outside]


def header_faults(text: TableText) -> list[Finding]:
    """Tell columns that the format does not know, and those that it needs and the table lacks."""
    spec, raw = text.spec, text.read
    findings = []
    known = set(spec.column_names)
    missing = [name for name in spec.column_names if name not in raw.header]
    for name in raw.header:
        if name in known or name.startswith("x_"):
            continue
        do = worded("{hint}; to keep it as received, begin its name with x_", hint=_rename_hint(name, missing))
        where = text.where(1, name)
        findings.append(
            Finding(
                "column-unknown",
                Severity.FLAG,
                f"{spec.path}+{name}",
                where,
                worded("the column {name}", name=name),
                worded("a column of the folder format"),
                do,
                "file",
            )
        )
    for column in spec.columns:
        if (column.required or column.needed) and column.name in missing:
            where = text.where(1, column.name)
            findings.append(
                Finding(
                    "column-missing",
                    Severity.STOP,
                    f"{spec.path}+{column.name}",
                    where,
                    "no such column",
                    f"{column.name}: {column.meaning}",
                    _missing_hint(column.name, raw, known),
                    "file",
                )
            )
    return findings


def _rename_hint(name: str, missing: list[str]) -> str:
    """Say which column may be meant: all of one quantity, since only the person knows the unit.

    >>> _rename_hint("Depth", ["depth_ft", "depth_m", "sleeve"])
    'its values are not read; rename it to depth_ft or depth_m, whichever applies'
    """
    plain = re.sub(r"[\W_]+", "_", name.lower())
    alike = sorted(other for other in missing if other.rpartition("_")[0] == plain)
    if len(alike) > 1:
        return worded(
            "its values are not read; rename it to {names}, whichever applies", names=f" {worded('or')} ".join(alike)
        )
    nearest = alike or get_close_matches(plain, missing, n=1, cutoff=0.6)
    if nearest:
        return worded("its values are not read; rename it to {name}", name=nearest[0])
    return worded("its values are not read")


def _missing_hint(name: str, raw: RawTable, known: set[str]) -> str:
    strangers = {other.lower(): other for other in raw.header if other not in known}
    nearest = get_close_matches(name, list(strangers), n=1, cutoff=0.6)
    return f"rename {strangers[nearest[0]]} to {name}" if nearest else f"add the column {name}"
