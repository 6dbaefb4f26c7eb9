"""Changes from one revision to the next as CSV, for those who read them by script or in a spreadsheet."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from sitegen.findings.problems import no_formula
from sitegen.render.data.exports import csv_lines

FIELDS = (
    "kind", "about", "compound", "point", "laboratory_sample", "column", "before", "now", "factor", "distance_m",
    "in_summary", "file", "key", "reason",
)  # fmt: skip


def changes_csv(rows: Iterable[Sequence[str]]) -> bytes:
    """Return changes as RFC 4180 CSV, in the order given; each row has a text for each of ``FIELDS``.

    >>> changes_csv([["cell", "=1", *[""] * 12]]).decode().splitlines()[1]
    "cell,'=1,,,,,,,,,,,,"
    """
    return csv_lines(FIELDS, ([no_formula(cell) for cell in row] for row in rows))
