"""The sheet of contacts: the private tables as they stand, for the one document that may hold them."""

from __future__ import annotations

from sitegen.checks.privacy import private_tables
from sitegen.fieldwork.kit.boxes import Node
from sitegen.project.folder import Folder


def contacts(folder: Folder) -> Node | None:
    """Return what the template of the contacts draws; None where no private table can be read."""
    tables = [
        {
            "name": path.removeprefix("private/"),
            "columns": list(table.header),
            "rows": [list(row) for row in table.rows],
        }
        for path, table in private_tables(folder)
        if table.header
    ]
    return {"tables": tables} if tables else None
