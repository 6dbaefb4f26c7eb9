"""Describe every CSV for programs: a Data Package with Table Schemas (datapackage.org, version 2.0).

What a table's fields and keys promise is stated as far as its rows keep it, so the description is
never stricter than the data: a key that is not unique, or a link with a loose end, is left out.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from typing import Any

from sitegen.render.data.values import FIELDS
from sitegen.render.site.paths import safe_name
from sitegen.report.record.exports import ExportField, ExportLink, ExportTable
from sitegen.report.record.pages import Report
from sitegen.voice import worded

COLUMNS = "columns"
"""The table whose lines without a column say what holds for all files."""

_PROFILE = "https://datapackage.org/profiles/2.0/datapackage.json"
_INTEGERS = ("row", "file_row")
_NO_ROWS: tuple[tuple[Any, ...], ...] = ()


def package_bytes(report: Report) -> bytes:
    """Return the description of the tables of a report and of the lists that lead to its sources."""
    meta = report.meta
    tables = {table.name: table for table in (*report.exports, *_sidecars(report))}
    described: dict[str, Any] = {
        "$schema": _PROFILE,
        "name": safe_name(meta.project_id).lower(),
        "id": f"urn:sha256:{meta.digest}",
        "title": meta.title,
        "description": "\n".join(_general(tables)),
        "version": str(meta.revision),
        "created": f"{meta.report_date}T00:00:00Z",
        "resources": [_resource(table, tables) for table in tables.values()],
    }
    if meta.prepared_by:
        described["contributors"] = [{"title": meta.prepared_by}]
    return (json.dumps(described, ensure_ascii=False, indent=1, allow_nan=False) + "\n").encode()


def _general(tables: Mapping[str, ExportTable]) -> Iterator[str]:
    """Yield what the table of columns says about report and files as a whole."""
    for about, column, _, meaning in tables[COLUMNS].rows if COLUMNS in tables else ():
        if not column and about not in tables:
            yield meaning


def _sidecars(report: Report) -> tuple[ExportTable, ...]:
    """Return the tables beside the exports; the rows of printed numbers promise nothing, so none are given."""
    ours = tuple(
        ExportField(name, "integer" if name in _INTEGERS else "string", "", worded(meaning))
        for name, meaning in FIELDS.items()
    )
    ticks = (
        ExportField("tick", "string", "", worded("for the reviewer")),
        ExportField("remark", "string", "", worded("as well")),
    )
    listed = (
        worded("path of an input file, or of a volume below the site")
        if report.volumes
        else worded("path of an input file")
    )
    files = (
        ExportField("file", "string", "", listed, required=True),
        ExportField("sha256", "string", "", worded("SHA-256 of the file"), required=True),
    )
    known = tuple(sorted(report.hashes.items()))
    found = (
        ExportTable("values", worded("Printed numbers"), worded("Each with its place and its origin"), ours, _NO_ROWS),
        ExportTable("files", worded("Input files"), worded("Each with its SHA-256"), files, known, key=("file",)),
    )
    if report.sample is None:
        return found
    title, note = worded("Tick sheet"), worded("Printed numbers drawn for a reviewer")
    return (*found, ExportTable("tick_sheet", title, note, (*ours, *ticks), _NO_ROWS))


def _resource(table: ExportTable, tables: Mapping[str, ExportTable]) -> dict[str, Any]:
    schema: dict[str, Any] = {
        "fields": [_field(table, field) for field in table.fields],
        "missingValues": [""],
    }
    if table.key and _is_key(table):
        schema["primaryKey"] = list(table.key)
    links = [_foreign_key(table, link) for link in table.links if _is_kept(table, link, tables)]
    if links:
        schema["foreignKeys"] = links
    return {
        "name": table.name,
        "type": "table",
        "path": f"{table.name}.csv",
        "title": table.title,
        "description": f"{table.note.rstrip('.')}.",
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "schema": schema,
    }


def _field(table: ExportTable, field: ExportField) -> dict[str, Any]:
    described: dict[str, Any] = {"name": field.name, "type": field.type, "description": field.meaning}
    if field.unit:
        described["unit"] = field.unit
    constraints: dict[str, Any] = {}
    cells = set(_column(table, field.name)) if field.required or field.choices else set()
    if field.required and not cells & {None, ""}:
        constraints["required"] = True
    if field.choices and cells <= {*field.choices, None, ""}:
        constraints["enum"] = list(dict.fromkeys(field.choices))
    return described | ({"constraints": constraints} if constraints else {})


def _column(table: ExportTable, name: str) -> Iterator[Any]:
    at = table.at(name)
    return (row[at] for row in table.rows)


def _is_key(table: ExportTable) -> bool:
    keys = list(table.cells(table.key))
    return len(set(keys)) == len(keys) and not any(cell in (None, "") for key in keys for cell in key)


def _is_kept(table: ExportTable, link: ExportLink, tables: Mapping[str, ExportTable]) -> bool:
    if link.table not in tables:
        return False
    known = set(tables[link.table].cells(link.others))
    return all(cells in known or cells[-1] in (None, "") for cells in table.cells(link.fields))


def _foreign_key(table: ExportTable, link: ExportLink) -> dict[str, Any]:
    """Return a link as Table Schema tells it: of one column where cells are empty, which a key of two can't have."""
    whole = all(cells[-1] not in (None, "") for cells in table.cells(link.fields))
    fields, others = (link.fields, link.others) if whole else ((link.field,), (link.to,))
    return {"fields": list(fields), "reference": {"resource": link.table, "fields": list(others)}}
