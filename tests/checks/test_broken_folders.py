"""Whatever stands in the cells, the rules give findings and never fail; nothing here looks at which."""

from __future__ import annotations

import random

import pytest
from builders import KEYS, Change, Row, changed, content, example, removed, survey_findings, table
from longcases import mostly_long

WORDS = (
    "", "NA", "x", "-1", "0", "1e308", "0.0000001", "999999999999", "NaN", "é", "yes", "<5", "ng", "ug/m3",
    "2025-11-02T01:30", "2025-03-09T02:30", "1999-01-01T00:00", "2999-12-31T23:59", "2025-11-05",
    "SG-01", "0047102", "sample", "soil_gas", "indoor_air", "return", "EPSG:4326",
)  # fmt: skip
PATHS = tuple(path for path in KEYS if path in example().files)


def one_cell(draw: random.Random) -> Change:
    """Put a stray word into one cell of one table."""

    def edit(rows: list[Row]) -> list[Row]:
        if rows:
            row = draw.choice(rows)
            row[draw.choice(list(row))] = draw.choice(WORDS)
        return rows

    return table(draw.choice(PATHS), edit)


def one_column(draw: random.Random) -> Change:
    """Put a stray word into every cell of one column."""

    def edit(rows: list[Row]) -> list[Row]:
        name = draw.choice(list(rows[0])) if rows else ""
        word = draw.choice(WORDS)
        return [row | {name: word} for row in rows]

    return table(draw.choice(PATHS), edit)


def fewer_rows(draw: random.Random) -> Change:
    """Cut a table short, perhaps to its header."""
    return table(draw.choice(PATHS), lambda rows: rows[: draw.randrange(len(rows) + 1)])


def twice(draw: random.Random) -> Change:
    """Repeat the first rows of a table."""
    return table(draw.choice(PATHS), lambda rows: [*rows, *rows[:2]])


@pytest.mark.parametrize("seed", mostly_long(range(24), 4))
def test_stray_words_and_lost_rows_never_break_a_rule(seed: int) -> None:
    draw = random.Random(seed)  # noqa: S311 - the same seed draws the same
    kinds = draw.choices((one_cell, one_column, fewer_rows, twice), weights=(6, 2, 1, 1), k=draw.choice((1, 2, 5)))
    assert survey_findings(changed(*(kind(draw) for kind in kinds)))


@pytest.mark.parametrize("path", mostly_long([*PATHS, "locations/features.geojson", "text/summary.md"], 4))
def test_no_file_is_needed_for_the_rules_to_run(path: str) -> None:
    assert survey_findings(changed(removed(path)))


@pytest.mark.parametrize("path", ["text/summary.md", "private/contacts.csv", "locations/features.geojson"])
def test_bytes_that_are_no_text_never_break_a_rule(path: str) -> None:
    assert survey_findings(changed(content(path, bytes(range(256)))))
