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

FOR_GIS = "downloads/for_gis"
"""The folder of what a GIS needs."""


def export_files(report: Report) -> dict[str, bytes]:
    """Return every table as CSV, those of places as GeoJSON as well, by site-relative path."""
    files: dict[str, bytes] = {}
    for table in report.exports:
        files[f"downloads/{table.name}.csv"] = csv_bytes(table)
    return files | {geojson_path(table): geojson_bytes(table) for table in geojson_tables(report)}


def geojson_tables(report: Report) -> tuple[ExportTable, ...]:
    """Return the tables that are GeoJSON files: those whose rows are places, lines or areas."""
    return tuple(table for table in (*report.away.tables, *report.exports) if table.shapes or table.lon)


def geojson_path(table: ExportTable) -> str:
    """Return the site-relative path of a table's GeoJSON file."""
    return f"{FOR_GIS}/{table.name}.geojson"


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
    """Write a table of places as GeoJSON (RFC 7946, WGS 84); a row without a position has no geometry (3.2).

    What tells the rows apart is the id of the feature (3.2).
    """
    features = list(_features(table))
    collection = {"type": "FeatureCollection", "features": features}
    return (json.dumps(collection, ensure_ascii=False, indent=1, allow_nan=False) + "\n").encode()


def _features(table: ExportTable) -> Iterator[dict[str, Any]]:
    names = [field.name for field in table.fields]
    keys = [table.at(name) for name in table.key]
    for number, row in enumerate(table.rows):
        values = dict(zip(names, row, strict=True))
        if table.shapes:
            place: Any = table.shapes[number]
        else:
            lon, lat = values.pop(table.lon), values.pop(table.lat)
            place = None if lon is None or lat is None else {"type": "Point", "coordinates": [lon, lat]}
        told = {"id": "/".join(str(row[at]) for at in keys)} if keys else {}
        yield {"type": "Feature", **told, "geometry": place, "properties": values}
