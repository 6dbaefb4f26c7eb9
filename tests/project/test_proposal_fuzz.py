"""Rows that nobody wrote on purpose: a draft or a refusal, never an error, and every draft is a mapping."""

from __future__ import annotations

import random
import tomllib

from laboratories_mixed import mixed_laboratory
from test_proposal_stops import Rows, as_rows, of_rows

PIECES = (
    "ND", "<2", "12", "", "Result", "Lab ID", "Compound", "CAS No.", "ng", "U", "127-18-4", "Benzene", "70-130", "98%",
    "11/03/2025", "0047101", "\x85", "(ng)", " / ", "RL", "=", "'", "é" * 50, "Total", "Page 1", "-", '"', "\\", "Type",
)  # fmt: skip


def test_rows_of_pieces_are_drafted_or_refused() -> None:
    """Any rows of words, numbers and signs of such files give TOML, or a cell with a reason."""
    dice = random.Random(7)  # noqa: S311 - the same rows each time, no secret
    for _ in range(60):
        rows: Rows = [[dice.choice(PIECES) for _ in range(dice.randint(1, 9))] for _ in range(dice.randint(1, 25))]
        _holds(rows)


def test_damaged_files_are_drafted_or_refused() -> None:
    """Files of laboratories with cells and rows changed at random give TOML, or a cell with a reason."""
    dice = random.Random(11)  # noqa: S311 - the same rows each time, no secret
    for number in range(25):
        rows = as_rows(mixed_laboratory(number))
        for _ in range(dice.randint(1, 6)):
            row = dice.choice([row for row in rows if row])
            row[dice.randrange(len(row))] = dice.choice(PIECES)
        del rows[dice.randrange(len(rows))]
        _holds(rows)


def _holds(rows: Rows) -> None:
    drafts = of_rows(rows)
    assert drafts.drafts or all(one.why for one in drafts.refused)
    for draft in drafts.drafts:
        assert tomllib.loads(draft.text)["confirmed"] == {"mapping": "", "control": ""}
