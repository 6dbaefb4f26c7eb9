"""Data files to download: CSV, and GeoJSON for places. Same report, same bytes."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Iterator
from typing import Any

from sitegen.findings.problems import no_formula
from sitegen.report.record.exports import ExportTable
from sitegen.report.record.pages import Report


def export_files(report: Report) -> dict[str, bytes]:
    """Return every table as CSV, those of places as GeoJSON as well, by site-relative path."""
    files: dict[str, bytes] = {}
    for table in report.exports:
        files[f"downloads/{table.name}.csv"] = csv_bytes(table)
        if table.shapes or (table.lon and table.lat):
            files[f"downloads/{table.name}.geojson"] = geojson_bytes(table)
    return files


def csv_bytes(table: ExportTable) -> bytes:
    """Write a table as RFC 4180 CSV in UTF-8 with CRLF line ends.

    A text cell that a spreadsheet would take for a formula begins with an apostrophe.
    """
    return csv_lines([field.name for field in table.fields], ([_cell(value) for value in row] for row in table.rows))


def csv_lines(head: Iterable[str], lines: Iterable[Iterable[str]], delimiter: str = ",") -> bytes:
    r"""Write lines of texts under a header as RFC 4180 CSV in UTF-8 with CRLF line ends.

    >>> csv_lines(("a", "b"), [("1", "2, 3")])
    b'a,b\r\n1,"2, 3"\r\n'
    """
    raw = io.BytesIO()
    out = io.TextIOWrapper(raw, "utf-8", newline="")
    writer = csv.writer(out, delimiter=delimiter, lineterminator="\r\n")
    writer.writerow(head)
    writer.writerows(lines)
    out.flush()
    return raw.getvalue()


def _cell(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        return repr(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)
    return no_formula(str(value))


def geojson_bytes(table: ExportTable) -> bytes:
    """Write a table of places as GeoJSON (RFC 7946, WGS 84); a row without a position has no geometry (3.2)."""
    features = list(_features(table))
    collection = {"type": "FeatureCollection", "features": features}
    return (json.dumps(collection, ensure_ascii=False, indent=1, allow_nan=False) + "\n").encode()


def _features(table: ExportTable) -> Iterator[dict[str, Any]]:
    names = [field.name for field in table.fields]
    for row, shape in zip(table.rows, table.shapes, strict=False):
        yield {"type": "Feature", "geometry": shape, "properties": dict(zip(names, row, strict=True))}
    for row in () if table.shapes else table.rows:
        values = dict(zip(names, row, strict=True))
        lon, lat = values.pop(table.lon), values.pop(table.lat)
        place = None if lon is None or lat is None else {"type": "Point", "coordinates": [lon, lat]}
        yield {"type": "Feature", "geometry": place, "properties": values}
