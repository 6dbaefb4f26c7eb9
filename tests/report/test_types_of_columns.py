"""Every column of a table to download, and of a page, is of the type that it says."""

from __future__ import annotations

import re

from sitegen.pipeline import Built
from sitegen.report.trace.printed import tables_in

NO_NUMBERS = frozenset({
    "sampler", "primary", "duplicate", "blank", "id", "seal", "applied", "read", "row", "printed", "number",
})  # fmt: skip
PLAIN = re.compile(r"<?[\d,]+(?:\.\d+)?")
TYPES: dict[str, tuple[type, ...]] = {"string": (str,), "integer": (int,), "number": (int, float), "boolean": (bool,)}


def test_every_cell_to_download_is_of_its_column_s_type(built: Built) -> None:
    """Nothing, or exactly that: no number in a column of texts, and no text in one of numbers."""
    odd = [
        f"{table.name}.{field.name}: {row[at]!r} is no {field.type}"
        for table in built.report.exports
        for at, field in enumerate(table.fields)
        for row in table.rows
        if row[at] is not None and type(row[at]) not in TYPES[field.type]
    ]
    assert odd == []


def test_every_column_to_download_has_a_meaning_and_the_required_ones_are_filled(built: Built) -> None:
    for table in built.report.exports:
        for at, field in enumerate(table.fields):
            assert field.meaning, f"{table.name}.{field.name}"
            cells = {row[at] for row in table.rows}
            assert not field.required or not cells & {None, ""}, f"{table.name}.{field.name}"
            assert not field.choices or cells <= {*field.choices, None, ""}, f"{table.name}.{field.name}"


def test_columns_of_a_page_have_keys_of_their_own_and_filters_name_them(built: Built) -> None:
    for page in built.report.pages:
        for table in tables_in(page.blocks):
            keys = [column.key for column in table.columns]
            assert len(set(keys)) == len(keys), (table.id, keys)
            assert set(table.filters) <= set(keys), (table.id, table.filters)


def test_keys_of_columns_are_no_titles(built: Built) -> None:
    """A key has small letters alone, unless it is the id of a point or a compound; a title begins with a capital."""
    own = {name for page in built.report.pages for name in [page.ref.id]}
    for page in built.report.pages:
        for table in tables_in(page.blocks):
            for column in table.columns:
                assert column.key == column.key.lower() or column.key in own, (table.id, column.key)


def test_a_column_of_plain_numbers_is_one_of_numbers(built: Built) -> None:
    """Where each cell that is filled is a number and no more; ids, seals and rows of files are none."""
    odd = {
        f"{column.key} in {table.id}"
        for page in built.report.pages
        for table in tables_in(page.blocks)
        for at, column in enumerate(table.columns)
        if column.kind != "number" and column.key not in NO_NUMBERS and _is_plain([row[at].text for row in table.rows])
    }
    assert sorted(odd) == []


def _is_plain(texts: list[str]) -> bool:
    filled = [text for text in texts if text not in ("", "–")]
    return bool(filled) and all(PLAIN.fullmatch(text) for text in filled)
