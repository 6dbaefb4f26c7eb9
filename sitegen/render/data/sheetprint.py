"""How a sheet is cut into pages of print, and what runs along them.

Widths are in characters of the sheet's font, as the file format measures them: a digit of Arial 10 is
7 pixels of 1/96 inch wide (ECMA-376 part 1, 18.3.1.13).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import pairwise
from typing import NamedTuple

from sitegen.report.record.pages import Meta
from sitegen.report.record.sheets import Workbook

MARGIN_IN = 0.4
_CHARACTER_IN = 7 / 96
_PAPERS = {"a4": (9, 297 / 25.4), "us-letter": (1, 11.0)}
"""Code of a paper (18.3.1.63), and the length of its long side in inches: pages lie down."""

_SMALLEST_PCT = 55
"""A page is never set smaller than this part of the font's size: 10 points become 5.5."""

_SAFE = 0.82
"""How much of a page is filled: where Arial is missing, the digits of what takes its place may be a fifth wider."""

_LEFT, _TITLE, _RIGHT, _FOOT = 60, 125, 50, 180
"""The most code units of each running text: a header and a footer have 255 each, codes included."""


class PrintLayout(NamedTuple):
    """How a sheet is printed: fitted to the width of one page, or at a scale with breaks after these columns."""

    paper: int
    scale_pct: int
    breaks: tuple[int, ...] = ()

    @property
    def fits(self) -> bool:
        """Whether one page is wide enough."""
        return not self.breaks


def print_layout(widths: Sequence[int], blocks: Sequence[int], fixed: int, paper: str) -> PrintLayout:
    """Return the pages of columns of these widths, of which the first ``fixed`` are on each page.

    Columns of one block stay together, and pages are filled alike. ``paper`` is ``a4`` or ``us-letter``.

    >>> print_layout([20] * 4, range(4), 1, "a4")
    PrintLayout(paper=9, scale_pct=100, breaks=())
    >>> print_layout([60] * 8, [0, 1, 1, 2, 2, 3, 3, 4], 1, "a4")
    PrintLayout(paper=9, scale_pct=55, breaks=(3, 5, 7))
    """
    code, long_in = _PAPERS[paper]
    room = _SAFE * (long_in - 2 * MARGIN_IN) / _CHARACTER_IN * 100 / _SMALLEST_PCT
    if sum(widths) <= room:
        return PrintLayout(code, 100)
    starts = [at for at in range(fixed, len(widths)) if at == fixed or blocks[at] != blocks[at - 1]]
    whole = [(at, sum(widths[at:end])) for at, end in pairwise((*starts, len(widths)))]
    most = int(room) - sum(widths[:fixed])
    fewest = len(_breaks(whole, most))
    least = sum(widths[fixed:]) // (fewest + 1)
    evenly = next((n for n in range(least, most) if len(_breaks(whole, n)) == fewest), most)
    return PrintLayout(code, _SMALLEST_PCT, _breaks(whole, evenly))


def _breaks(blocks: Iterable[tuple[int, int]], most: int) -> tuple[int, ...]:
    """Return the columns before which a page ends, of blocks (first column, width) of ``most`` characters to a page.

    >>> _breaks([(1, 40), (3, 40), (5, 90), (7, 10)], 80)
    (5, 7)
    """
    found, used = [], 0
    for at, width in blocks:
        if used and used + width > most:
            found.append(at)
            used = 0
        used += width
    return tuple(found)


class Running(NamedTuple):
    """The header and the footer of a sheet's pages, with the codes of the file format (18.3.1.39)."""

    head: str
    foot: str


def running(book: Workbook, meta: Meta, title: str) -> Running:
    """Return what runs along the pages of a sheet: project, sheet, revision, status; date, digest, page of pages."""
    head = f"&L{_plain(book.head_left or meta.project_id, _LEFT)}\n{_plain(title, _TITLE)}"
    page = book.page.replace("{page}", "&P").replace("{pages}", "&N")
    return Running(
        f"{head}&R{_plain(book.head_right or meta.state, _RIGHT)}",
        f"&L{_plain(book.foot_left or meta.report_date, _FOOT)}&R{page}",
    )


def _plain(text: str, most: int) -> str:
    """Return a text on one line, in which nothing is a code, of at most ``most`` code units.

    >>> _plain("R&D &P", 20), _plain("a long text", 7)
    ('R&&D &&P', 'a long…')
    """
    line = " ".join(text.split())
    if _units(line.replace("&", "&&")) <= most:
        return line.replace("&", "&&")
    while _units(line.replace("&", "&&")) >= most:
        line = line[: min(len(line) - 1, most)]
    return f"{line.rstrip()}…".replace("&", "&&")


def _units(text: str) -> int:
    return len(text.encode("utf-16-le", "surrogatepass")) // 2
