"""Sheets for people with hostile texts in every place, and numbers that are easily changed on their way."""

from __future__ import annotations

from itertools import chain

from export_samples import HOSTILE

from sitegen.report.record.sheets import SheetCell, SheetColumn, Shown, WideSheet, Workbook

LONG_NAME = "A campaign with a name that is longer than any sheet's may be"
CODES = "R&D &P &N &D 2025"
NUMBERS = (
    Shown(0.1, 1), Shown(1e-7, 1, scientific=True), Shown(123456789.123, 3, grouped=True), Shown(1899.5, 1),
    Shown(0.1 + 0.2, 2), Shown(5e-324, 0), Shown(1.7976931348623157e308, 2, scientific=True), Shown(12.0, 0),
)  # fmt: skip
"""Shortest and longest doubles, one that could pass for a year or a day, and a whole number."""


def sample_sheet(kind: str = "soil gas ng per sampler", round_: str = "", compounds: int = 2) -> WideSheet:
    """Return a sheet with a row for each number and for each hostile text."""
    columns = (
        SheetColumn("Point", 12),
        SheetColumn(f"Marks {HOSTILE[5]}", 20, "wide", 1),
        *chain.from_iterable(_pair(at) for at in range(compounds)),
    )
    numbers = [_row(f"00{at}", "a mark", (number, "J"), compounds) for at, number in enumerate(NUMBERS)]
    texts = [_row(text, text, (f"<{text}", text), compounds) for text in (*HOSTILE, "a\x01b\x1fc", "x\ny")]
    return WideSheet(
        kind, f"{CODES}: {kind}", columns, (*numbers, *texts, _row("without", "", (None, ""), compounds)), round_, 2
    )


def _pair(at: int) -> tuple[SheetColumn, SheetColumn]:
    head = f"Compound {at}"
    return (
        SheetColumn(f"{head} (ng per sampler)", 15, "number", 2 + at, f"c{at}"),
        SheetColumn(f"{head} remarks", 15, "wide", 2 + at),
    )


def _row(point: str, mark: str, pair: tuple[SheetCell, SheetCell], compounds: int) -> tuple[SheetCell, ...]:
    return (point, mark, *pair * compounds)


def sample_book(*sheets: WideSheet) -> Workbook:
    """Return these sheets, or two that want one name, with running texts that hold codes."""
    made = sheets or (sample_sheet(round_=LONG_NAME), sample_sheet(round_=LONG_NAME), sample_sheet("results"))
    return Workbook(made, CODES, "Revision 2, for review", "2026-01-30", "Page {page} of {pages}")
