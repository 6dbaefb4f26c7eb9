"""Every table of site and print: a key that a program can use, a head that a reader can."""

from __future__ import annotations

import re

from sitegen.pipeline import Built
from sitegen.report.trace.printed import tables_in

UNITS = {"", "ng per sampler", "ng", "µg/m³", "ppbv", "%", "mol %", "m", "m²", "mm", "°C", "hPa", "bytes", "days"}
KEY = re.compile(r"[a-z0-9][a-z0-9._-]*")


def test_no_column_has_key_and_head_the_wrong_way_round(built: Built) -> None:
    """Keys are one word in small letters, but for those that are words of the record, which are their own heads.

    What a table can be filtered by is the key of one of its columns, and each row has a cell for each of them.
    """
    blocks = [block for part in (*built.report.pages, *built.report.chapters) for block in part.blocks]
    tables = list(tables_in(blocks))
    assert len({table.id for table in tables}) > 100
    odd = {
        (table.id, column.key, column.title)
        for table in tables
        for column in table.columns
        if column.key != column.title and (not KEY.fullmatch(column.key) or not column.title)
    }
    assert not odd
    units = {column.unit.rpartition(", ")[2] for table in tables for column in table.columns}
    assert units <= UNITS  # a coordinate's system stands before its unit
    assert {column.kind for table in tables for column in table.columns} == {"text", "number", "wide"}
    assert not [table.id for table in tables if set(table.filters) - {column.key for column in table.columns}]
    assert not [table.id for table in tables if {len(row) for row in table.rows} - {len(table.columns)}]
