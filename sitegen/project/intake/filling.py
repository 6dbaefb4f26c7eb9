"""A table of text while blank cells of it are filled, each with the rule that fills it."""

from __future__ import annotations

from dataclasses import replace

from sitegen.project.intake.text import TableText
from sitegen.project.read.cells import tidy
from sitegen.project.read.csvtext import RawTable


class Filling:
    """The rows of a table as they are to be read, open to values in blank cells and absent columns.

    ``NA`` is an answer: such a cell holds no value, and is not blank.
    """

    def __init__(self, text: TableText) -> None:
        self.text = text
        self.header = list(text.read.header)
        self.rows = [list(row) for row in text.read.rows]
        self.derived = dict(text.derived)
        self._at = {name: at for at, name in enumerate(self.header)}

    def cell(self, row: int, column: str) -> str:
        """Return what a cell holds, "" where that is nothing or ``NA``."""
        at = self._at.get(column)
        return "" if at is None else tidy(self.rows[row][at])

    def is_blank(self, row: int, column: str) -> bool:
        """Tell whether nobody has written anything into a cell."""
        at = self._at.get(column)
        return at is None or not (tidy(self.rows[row][at]) or "NA" in self.rows[row][at])

    def fill(self, row: int, column: str, value: str, rule: str) -> None:
        """Put a value into a blank cell; any other cell stays as it is."""
        if not self.is_blank(row, column):
            return
        if column not in self._at:
            self._at[column] = len(self.header)
            self.header.append(column)
            for cells in self.rows:
                cells.append("")
        self.rows[row][self._at[column]] = value
        self.derived[row, column] = rule

    def place(self, row: int) -> str:
        """Say where a row stands: ``field/deployments.csv, row 5``."""
        parts = (self.text.file, self.text.sheet, f"row {self.text.read.numbers[row]}")
        return ", ".join(part for part in parts if part)

    def close(self) -> TableText:
        """Return the table with what was filled."""
        if self.derived == self.text.derived:
            return self.text
        read = RawTable(tuple(self.header), tuple(self.rows), self.text.read.numbers)
        return replace(self.text, read=read, derived=self.derived)
