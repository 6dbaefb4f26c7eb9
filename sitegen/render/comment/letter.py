"""The cover letter as a run of paragraphs and tables, and as the bytes of a DOCX file."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from sitegen.render.comment.docx import document_bytes
from sitegen.render.comment.parts import CAPTION, PLAIN, Grid, Paragraph, Part, block_parts, clean, heading, one_line
from sitegen.report.record.letters import Letter
from sitegen.report.record.pages import Meta, Table

_LINES_TO_SIGN = "\n\n"
"""A line of signatures is as high as three of text."""


def letter_bytes(letter: Letter, meta: Meta) -> bytes:
    """Return a letter as a DOCX file, whose changes are not tracked: it is a draft of the sender's own.

    Raises ValueError if the report's date is not an ISO date.
    """
    return document_bytes(letter_parts(letter), letter.running, meta, tracked=False)


def letter_parts(letter: Letter) -> Iterator[Part]:
    """Yield the parts of a letter from top to bottom; where its numbers come from begins on a page of its own."""
    yield one_line(PLAIN, letter.draft, bold=True)
    yield from (one_line(PLAIN, text) for text in letter.head)
    yield one_line(PLAIN, letter.subject, bold=True)
    yield from _small(block_parts(letter.blocks, 2))
    yield from _to_sign(letter.signatures)
    yield heading(2, letter.annex.title)._replace(new_page=True)
    yield from _small(block_parts(letter.annex.blocks, 3))


def letter_texts(letter: Letter) -> Iterator[str]:
    """Yield the texts of a letter in the order in which it shows them, what stands on every page last."""
    for part in letter_parts(letter):
        if isinstance(part, Paragraph):
            yield "".join(run.text for run in part.runs)
        else:
            yield from part.heads
            yield from (text for row in part.rows for text in row)
    yield clean(letter.running)


def _small(parts: Iterable[Part]) -> Iterator[Part]:
    """Set tables small: those of a letter are of digests and paths."""
    yield from (part._replace(small=True) if isinstance(part, Grid) else part for part in parts)


def _to_sign(signatures: Table) -> Iterator[Part]:
    """Yield the caption and the lines to sign, which have room for a pen."""
    yield one_line(CAPTION, signatures.caption)
    rows = (tuple(clean(cell.text) for cell in row) for row in signatures.rows)
    yield Grid(signatures.columns, tuple((f"{first}{_LINES_TO_SIGN}", *others) for first, *others in rows))
