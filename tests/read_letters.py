"""A letter as python-docx reads it: the text that a person sees, apart from the list of its numbers."""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

from builders import write
from docx import Document
from docx.table import Table as DocxTable
from docx.text.paragraph import Paragraph

from sitegen.letter.command import write_letter
from sitegen.project.folder import Folder

NUMBERS = "Sources of the numbers in this letter"


class Read(NamedTuple):
    """The texts of a letter above its list of numbers, its tables there, and the list row by row."""

    texts: list[str]
    tables: list[list[list[str]]]
    listed: list[list[str]]

    @property
    def body(self) -> str:
        """All of what a letter says, its tables aside."""
        return "\n".join(self.texts)


def read(path: Path) -> Read:
    """Read a letter in the order of its parts."""
    texts: list[str] = []
    tables: list[list[list[str]]] = []
    listed: list[list[str]] = []
    below = False
    for part in Document(str(path)).iter_inner_content():
        if isinstance(part, Paragraph):
            below = below or part.text == NUMBERS
            if not below:
                texts.append(part.text)
        elif isinstance(part, DocxTable):
            rows = [[cell.text for cell in row.cells] for row in part.rows]
            if below:
                listed = rows[1:]
            else:
                tables.append(rows)
    return Read(texts, tables, listed)


def letter_of(folder: Folder, place: Path, report: Path | None = None) -> Read:
    """Write a folder and its letter below ``place``, and read the letter."""
    root = place / "survey"
    write(folder, root)
    write_letter(root, place / "letter.docx", report)
    return read(place / "letter.docx")
