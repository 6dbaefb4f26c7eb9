"""What a merge writes: the tables' new bytes, and for a table in a workbook the rows that a person types."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from sitegen.fieldwork.takein.held import Held, UnreadError
from sitegen.fieldwork.takein.merge import Merged
from sitegen.fieldwork.takein.originals import PLACE
from sitegen.project.cellfills import NotEditableError, edited_csv
from sitegen.project.folder import Folder
from sitegen.render.data.exports import csv_lines

TO_TYPE = f"{PLACE}to_type/"


def table_files(tables: Mapping[str, Held], merged: Merged) -> dict[str, bytes]:
    """Return the new content of the CSV tables that change. Raises UnreadError where one can't be edited."""
    found = {}
    for name, held in tables.items():
        fills, rows = merged.fills.get(name, []), merged.rows.get(name, [])
        if held.is_book or not (fills or rows):
            continue
        try:
            found[held.file] = edited_csv(held.spec, held.content, held.how, fills, rows)
        except NotEditableError as error:
            raise UnreadError(f"{held.file} can't be edited: {error}") from error
    return found


def typed_files(tables: Mapping[str, Held], merged: Merged, folder: Folder) -> dict[str, bytes | None]:
    """Return, for tables in a workbook, the files with what is to be typed; None removes one that was typed."""
    found: dict[str, bytes | None] = {}
    for name, held in tables.items():
        path = f"{TO_TYPE}{name}.csv"
        content = _to_type(held, merged) if held.is_book else None
        if content != folder.content(path):
            found[path] = content
    return found


def _to_type(held: Held, merged: Merged) -> bytes | None:
    """Return the key of each row with the cells to type, as CSV; None where there are none."""
    rows = list(_rows(held, merged))
    used = {column for row in rows for column in row}
    columns = [column for column in held.spec.column_names if column in used]
    return csv_lines(columns, [[row.get(column, "") for column in columns] for row in rows]) if rows else None


def _rows(held: Held, merged: Merged) -> Iterator[dict[str, str]]:
    spec = held.spec
    keys = {row.number: key for key, row in held.rows.items() if not row.ranged}
    filled: dict[int, dict[str, str]] = {}
    for fill in merged.fills.get(spec.name, ()):
        cells = filled.setdefault(fill.row, dict(zip(spec.key, keys[fill.row], strict=True)))
        cells[fill.column] = fill.text
    yield from filled.values()
    yield from (dict(row.texts) for row in merged.rows.get(spec.name, ()))
