"""The sidecars that lead from a printed number to its row, and from a reviewer to a sample of them.

The hashes stand once, in ``files.csv``: beside each number they were a quarter of the list.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import NamedTuple

from sitegen.findings.problems import no_formula
from sitegen.render.data.exports import csv_lines
from sitegen.render.site.paths import anchor, page_url
from sitegen.report.record.pages import PrintedValue, Report, source_line

VALUES = "downloads/values.csv"
TICKS = "downloads/tick_sheet.csv"
FILES = "downloads/files.csv"


class _Column(NamedTuple):
    """A column of the list of printed numbers: its name, what it means, and how it is filled."""

    name: str
    meaning: str
    cell: Callable[[PrintedValue], str]


def _anchor(value: PrintedValue) -> str:
    """Return the HTML id of the block that holds a value on its page; print has none."""
    if not value.kind or value.page.kind == "file":
        return ""
    return anchor(value.id) if value.kind == "section" else f"{value.kind}-{anchor(value.id)}"


_NOWHERE = ("", 0, "")
_COLUMNS = (
    _Column(
        "page", "page of the site, or the PDF where only print shows the number", lambda value: page_url(value.page)
    ),
    _Column("anchor", "place on that page: what follows # in its address", _anchor),
    _Column(
        "in_print",
        "chapter and section of the PDF; blank where print does not show the number",
        lambda value: no_formula(value.in_print),
    ),
    _Column(
        "row",
        "row of the table, counted from 1; of sentences and facts their count in the block",
        lambda value: str(value.number),
    ),
    _Column("row_heading", "what heads the row", lambda value: no_formula(value.row)),
    _Column(
        "column",
        "column of the table; sentence, value (of a fact or tile) or mark (its reason)",
        lambda value: no_formula(value.column),
    ),
    _Column("text", "the number as printed, with what is printed with it", lambda value: no_formula(value.text)),
    _Column(
        "file",
        "input file of the row behind it; its SHA-256 stands in files.csv",
        lambda value: no_formula((value.origin or _NOWHERE)[0]),
    ),
    _Column(
        "file_row",
        "row of that file, as a spreadsheet counts",
        lambda value: str((value.origin or _NOWHERE)[1] or ""),
    ),
    _Column("file_column", "column of that file", lambda value: no_formula((value.origin or _NOWHERE)[2])),
    _Column(
        "computed_from",
        "input files, where no single row is behind it",
        lambda value: "" if value.origin else no_formula(source_line(value.sources)),
    ),
)
FIELDS = {column.name: column.meaning for column in _COLUMNS}
"""Columns of the list of printed numbers, each with its meaning."""


def value_files(report: Report) -> dict[str, bytes]:
    """Return the list of printed numbers, the SHA-256 of each input file and the tick sheet, if any, by path."""
    files = {
        VALUES: csv_lines(FIELDS, _lines(report.values)),
        FILES: csv_lines(("file", "sha256"), ((no_formula(name), sha) for name, sha in sorted(report.hashes.items()))),
    }
    if report.sample is None:
        return files
    ticks = ((*line, "", "") for line in _lines(report.sample))
    return files | {TICKS: csv_lines((*FIELDS, "tick", "remark"), ticks)}


def _lines(values: Iterable[PrintedValue]) -> Iterator[tuple[str, ...]]:
    for value in values:
        yield tuple(column.cell(value) for column in _COLUMNS)
