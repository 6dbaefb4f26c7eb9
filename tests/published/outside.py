"""Reading the figures from outside: ``values/*.csv``, each row with its source."""

from __future__ import annotations

import csv
from pathlib import Path

VALUES = Path(__file__).parent / "values"


def outside_rows(name: str) -> list[dict[str, str]]:
    """Return the rows of a table of outside figures."""
    with (VALUES / f"{name}.csv").open(encoding="utf-8", newline="") as handle:
        return list(csv.DictReader(handle))
