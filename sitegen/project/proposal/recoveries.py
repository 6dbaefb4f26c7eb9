"""A line of a laboratory's file that says that the cells of its control samples are recoveries in percent."""

from __future__ import annotations

from sitegen.project.proposal.table import Table
from sitegen.project.proposal.words import neat, words

_LINE = 300
"""So many characters of a line are looked at for what it says of controls: project default, no published source."""
_CELLS = 2
"""A row of so many filled cells at most is a line beside a table, not a row of it: project default, no source."""


def said_of_recoveries(table: Table) -> tuple[str, str] | None:
    """Return the first line of a sheet that speaks of recoveries in percent, and its cell; None where none does."""
    recovery = words()["columns"]["recovery"]
    for row, cells in enumerate(table.rows):
        filled = [at for at, cell in enumerate(cells) if cell]
        for at in filled if len(filled) <= _CELLS else ():
            text = cells[at][:_LINE]
            if "%" in text and any(word in neat_words(text) for word in recovery):
                return text, table.ref(row, at)
    return None


def neat_words(text: str) -> set[str]:
    """Return the words of a line.

    >>> sorted(neat_words("Control: recovery in %"))
    ['%', 'control', 'in', 'recovery']
    """
    return {word for part in text.split() for word in neat(part).split()}
