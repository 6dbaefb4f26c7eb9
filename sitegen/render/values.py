"""The sidecars that lead from a printed number to its row, and from a reviewer to a sample of them."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Mapping

from sitegen.render.exports import no_formula
from sitegen.render.paths import anchor, page_url
from sitegen.report.records import PrintedValue, Report

VALUES = "downloads/values.csv"
TICKS = "downloads/tick_sheet.csv"
_FIELDS = (
    "page",
    "table",
    "row",
    "row_heading",
    "column",
    "text",
    "file",
    "file_row",
    "file_column",
    "sha256",
    "computed_from",
)


def value_files(report: Report) -> dict[str, bytes]:
    """Return the list of printed numbers and the tick sheet, by path."""
    ticks = ((*line, "", "") for line in _lines(report.sample, report.hashes))
    return {
        VALUES: _csv(_FIELDS, _lines(report.values, report.hashes)),
        TICKS: _csv((*_FIELDS, "tick", "remark"), ticks),
    }


def _lines(values: Iterable[PrintedValue], hashes: Mapping[str, str]) -> Iterator[tuple[str, ...]]:
    for value in values:
        file, row, column = value.origin or ("", 0, "")
        yield (
            page_url(value.page),
            f"table-{anchor(value.table)}",
            str(value.number),
            no_formula(value.row),
            value.column,
            no_formula(value.text),
            file,
            str(row or ""),
            no_formula(column),
            hashes.get(file, ""),
            "" if value.origin else value.source,
        )


def _csv(fields: Iterable[str], lines: Iterable[tuple[str, ...]]) -> bytes:
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(fields)
    writer.writerows(lines)
    return out.getvalue().encode()
