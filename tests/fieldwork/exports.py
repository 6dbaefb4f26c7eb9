"""Exports of the field form, made and judged here without the form's own script."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, TypeAlias

from sitegen.project.schema import Column, Kind
from sitegen.project.tables import TABLE

FORMAT = "sitegen field record 1"
ENTERED = ("samplers", "deployments", "return_bags", "shipments", "custody", "photos", "products")
NOT_DONE = "locations"
"""In an export only where a point was recorded as not done."""
MEMBERS = {"format", "project", "kit", "device", "number", "made_at", "tables", "changes", "sha256"}
CHANGE = {"at", "table", "key", "column", "from", "to", "reason"}

Row = Mapping[str, str]


def canonical(data: Mapping[str, Any]) -> bytes:
    """Return what the SHA-256 of an export is taken of: all but ``sha256``, keys by code point, no blanks."""
    rest = {name: value for name, value in data.items() if name != "sha256"}
    return json.dumps(rest, sort_keys=True, ensure_ascii=False, separators=(",", ":")).encode()


def sealed(data: Mapping[str, Any]) -> dict[str, Any]:
    """Return an export with the SHA-256 of its content."""
    return {**data, "sha256": hashlib.sha256(canonical(data)).hexdigest()}


def export_data(
    tables: Mapping[str, Sequence[Row]],
    *,
    project: str = "KD-2025-01",
    device: str = "K7QF",
    number: int = 1,
    made_at: str = "2025-10-23T18:05",
    kit: str = "0123456789abcdef",
    changes: Iterable[Row] | None = None,
) -> dict[str, Any]:
    """Return an export with these rows; unless given, its changes are those that fill each cell once."""
    return sealed(
        {
            "format": FORMAT,
            "project": project,
            "kit": kit,
            "device": device,
            "number": str(number),
            "made_at": made_at,
            "tables": {
                name: [dict(row) for row in tables.get(name, ())] for name in {**dict.fromkeys(ENTERED), **tables}
            },
            "changes": [dict(one) for one in (entered(tables, made_at) if changes is None else changes)],
        }
    )


def export_bytes(data: Mapping[str, Any]) -> bytes:
    """Return the file of an export."""
    return json.dumps(data, sort_keys=True, ensure_ascii=False, separators=(",", ":")).encode()


def entered(tables: Mapping[str, Sequence[Row]], at: str) -> list[dict[str, str]]:
    """Return the changes that fill every cell of the rows once, in order."""
    once = {"at": f"{at}:00", "from": "", "reason": ""}
    return [
        {**once, "table": name, "key": row[TABLE[name].key[0]], "column": column, "to": text}
        for name, rows in tables.items()
        for row in rows
        for column, text in row.items()
    ]  # fmt: skip


def faults(data: Mapping[str, Any], begun: Mapping[str, Sequence[Row]] | None = None) -> list[str]:
    """Return what is wrong with an export: members, SHA-256, columns, keys, words, times, and its log.

    ``begun`` are the rows of the folder that the form began with.
    """
    found = [f"member {name}" for name in sorted(MEMBERS ^ set(data))]
    if data["sha256"] != hashlib.sha256(canonical(data)).hexdigest():
        found.append("sha256")
    forms = {
        "kit": r"[0-9a-f]{16}",
        "device": r"[0-9A-Z]{4}",
        "number": r"[1-9]\d*",
        "made_at": r"\d{4}-\d\d-\d\dT\d\d:\d\d",
    }
    found += [f"{name} {data[name]!r}" for name, form in forms.items() if not re.fullmatch(form, data[name])]
    found += [f"table {name}" for name in data["tables"] if name not in (*ENTERED, NOT_DONE)]
    for name, rows in data["tables"].items():
        found += _table_faults(name, rows)
    return [*found, *_log_faults(data, begun or {})]


def _table_faults(name: str, rows: Sequence[Row]) -> list[str]:
    key = TABLE[name].key[0]
    keys = [row.get(key, "") for row in rows]
    found = [f"{name} twice: {one}" for one in sorted(set(keys)) if keys.count(one) > 1]
    found += [f"{name} without a key" for one in keys if not one]
    for row in rows:
        for column, text in row.items():
            if column not in TABLE[name].column_names:
                found.append(f"{name}.{column} is no column")
            elif not fits(TABLE[name].column(column), text):
                found.append(f"{name}.{column}: {text!r}")
    return found


def fits(column: Column, text: object) -> bool:
    """Tell whether a text may stand in a column.

    >>> column = TABLE["deployments"].column
    >>> fits(column("moisture"), "wet"), fits(column("moisture"), "soaked"), fits(column("depth_ft"), 3.0)
    (True, False, False)
    """
    if not isinstance(text, str) or not text or text != text.strip() or re.search(r"[\x00-\x1f\x7f]", text):
        return False
    if column.longest and len(text) > column.longest.value:
        return False
    if column.kind is Kind.TIME:
        return re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d", text) is not None
    if column.kind in (Kind.NUMBER, Kind.INTEGER):
        return re.fullmatch(r"\d+" if column.kind is Kind.INTEGER else r"\d+(\.\d+)?", text) is not None
    if column.kind is Kind.FLAG:
        return text in ("yes", "no")
    return column.kind is not Kind.CHOICE or text in column.choices


Keyed: TypeAlias = dict[str, dict[str, dict[str, str]]]
"""Rows by table and key."""


def by_key(tables: Mapping[str, Sequence[Row]]) -> Keyed:
    """Return rows by their keys; a table without a row is left out."""
    return {name: {row[TABLE[name].key[0]]: dict(row) for row in rows} for name, rows in tables.items() if rows}


def replayed(changes: Iterable[Row], begun: Mapping[str, Sequence[Row]] | None = None) -> Keyed:
    """Return the tables that a log of changes leads to: rows by key, filled cells alone."""
    tables = by_key(begun or {})
    for one in changes:
        rows = tables.setdefault(one["table"], {})
        row = rows.setdefault(one["key"], {})
        assert row.get(one["column"], "") == one["from"], one
        row[one["column"]] = one["to"]
        if not one["to"]:
            del row[one["column"]]
        if not row:
            del rows[one["key"]]
    return tables


def _log_faults(data: Mapping[str, Any], begun: Mapping[str, Sequence[Row]]) -> list[str]:
    """Return how the log and the rows differ: the rows are what the changes made, where they changed anything."""
    found = [f"change {sorted(one)}" for one in data["changes"] if set(one) != CHANGE]
    folder = by_key(begun)
    made = {
        name: changed
        for name, rows in replayed(data["changes"], begun).items()
        if (changed := {key: row for key, row in rows.items() if row != folder.get(name, {}).get(key)})
    }
    return found if made == by_key(data["tables"]) else [*found, "the log does not lead to the rows"]
