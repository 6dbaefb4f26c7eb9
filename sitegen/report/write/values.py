"""How a result is written: the laboratory's text or a rounded number, its limit, its qualifiers, its marks."""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache
from math import isnan
from typing import Literal

from sitegen.compute.formats import spanned
from sitegen.compute.marks import MarkFact
from sitegen.compute.results.reported import limit_of, printed_text, qualifier, reported_text
from sitegen.compute.results.store import StoredResult
from sitegen.compute.results.summary import Percentile, Summary
from sitegen.compute.statistics.classes import size_class
from sitegen.compute.statistics.intervals import Interval
from sitegen.compute.statistics.rounding import as_reported, rounded_text, whole_percent
from sitegen.compute.text.tokens import NOTHING
from sitegen.project.schema import EARLIER, Origin
from sitegen.project.survey import called
from sitegen.report.record.pages import Cell, Mark, Ref, Source
from sitegen.report.write.words import lexicon, say, word
from sitegen.units import UNIT_TEXT
from sitegen.voice import Voice, voice, worded

FILES = Ref("page", "files")
"""Where rows of earlier surveys lead, which have no page of their own."""


def value_text(row: StoredResult, display: str = "rl") -> str:
    """Write a result rounded, for sentences, drawings and maps: ``1,270 J``, ``<10``, or ``rejected``."""
    if row.rejected:
        return worded("rejected")
    number = rounded_text(row.value) if row.detected else f"<{as_reported(limit_of(row, display))}"
    return f"{number} {qualifier(row)}".strip()


def value_cell(row: StoredResult, display: str, marks: tuple[Mark, ...], ref: Ref | None = None) -> Cell:
    """Return a table cell for a result as the laboratory wrote it, with its marks and its origin.

    It leads to the row that it came from unless told. A non-detect brings its limit.
    """
    return result_cell(printed_text(row, display), row, marks, ref)


def reported_cell(row: StoredResult, display: str, marks: tuple[Mark, ...]) -> Cell:
    """Return :func:`value_cell` for a table that has the limits in columns of their own."""
    return result_cell(reported_text(row, display), row, marks)


def result_cell(text: str, row: StoredResult, marks: tuple[Mark, ...], ref: Ref | None = None) -> Cell:
    """Return a table cell for what is written of a result, with its marks, its tone and its origin."""
    tone = "" if row.detected else "nondetect"
    return Cell(text, ref or source_ref(row), marks, tone, origin_of(row))


def source_ref(row: StoredResult) -> Ref:
    """Return the pointer to a result's row as received; to the list of files where an earlier survey has it."""
    return FILES if _is_earlier(row) else Ref("source", row.lab_sample_id, row.analyte_id)


def _is_earlier(row: StoredResult) -> bool:
    return row.origin.file.startswith(f"{EARLIER}/")


def sample_source(row: StoredResult) -> Source:
    """Return the source of a table of one laboratory sample's results: its rows in its file."""
    file, sample = row.origin.file, row.lab_sample_id
    ref = FILES if _is_earlier(row) else Ref("source", sample)
    return Source(
        worded("{file}, laboratory sample {sample}", file=called(file, row.origin.sheet), sample=sample), ref, file
    )


def place_text(origin: Origin) -> str:
    """Write where a row stands: ``lab/results.csv, row 5``."""
    return say("sources.place", file=origin.file, sheet=origin.sheet, row=origin.row)


def origin_of(row: StoredResult) -> tuple[str, int, str]:
    """Return file, row and column of a result; a laboratory's own file names its own column."""
    return row.origin.cell("result_text")


def limit_cell(row: StoredResult, column: Literal["rl", "mdl"]) -> Cell:
    """Return a table cell for a limit of a result (``rl`` or ``mdl``), as reported.

    Where a person made a non-detect of a detection, its value is the limit.
    """
    limit = row.rl if column == "rl" else row.mdl
    behind = "value" if column == "rl" and row.by_person else column
    return Cell("–") if isnan(limit) else Cell(as_reported(limit), origin=row.origin.cell(behind))


def class_tone(row: StoredResult) -> str:
    """Return the tone of a heat-table cell."""
    return f"class{size_class(row.value)}" if row.detected else "nondetect"


def mark_words(facts: Iterable[MarkFact]) -> tuple[Mark, ...]:
    """Turn marks as facts into the words that are printed."""
    return tuple(mark_word(fact) for fact in facts)


def mark_word(fact: MarkFact) -> Mark:
    """Turn one mark into its word and its sentence."""
    return _mark_word(fact, voice())


@lru_cache(maxsize=1 << 14)
def _mark_word(fact: MarkFact, _: Voice) -> Mark:
    """Turn one mark into its word and its sentence in the voice that speaks."""
    entry = lexicon("marks")[fact.code]
    values = {name: _fact(name, text) for name, text in fact.facts}
    reach = dict(fact.facts)["what"] if fact.scope == "chain" else ""
    return Mark(entry["word"], entry["reason"].format_map(values), fact.key, reach)


def _fact(name: str, text: str) -> str:
    """Write one fact of a mark: numbers as stated, units in full."""
    if name == "unit":
        return UNIT_TEXT.get(text, text)
    if name == "what":
        return reach_text(text)
    return as_reported(float(text)) if name == "top" else text


def reach_text(reach: str) -> str:
    """Write what a mark of custody applies to: a bag, a shipment or a sampler, with its id.

    >>> reach_text("bag RB-1")
    'bag RB-1'
    """
    kind, _, name = reach.partition(" ")
    return f"{word('subject_kind', kind)} {name}" if name else reach


def percentile_text(percentile: Percentile) -> str:
    """Write a percentile: a number with its qualifier, or ``<`` the largest limit below it."""
    if percentile.value is None:
        return f"<{as_reported(percentile.limit)}"
    return f"{rounded_text(percentile.value)} {percentile.qualifier}".strip()


def range_text(summary: Summary) -> str:
    """Write the range of detections with their qualifiers, ``none`` where there are none."""
    if summary.lowest is None or summary.highest is None:
        return worded(NOTHING)
    low = f"{rounded_text(summary.lowest)} {summary.lowest_qualifier}".strip()
    return low if summary.lowest == summary.highest else spanned(low, highest_text(summary))


def highest_text(summary: Summary) -> str:
    """Write the highest detection with its qualifier, ``53,300 E``; a dash where there is none."""
    return "–" if summary.highest is None else f"{rounded_text(summary.highest)} {summary.highest_qualifier}".strip()


def proposal_text(qualifier: str, *, reject: bool) -> str:
    """Write a proposal: its qualifier, and that a person is to consider rejection."""
    return ", ".join(part for part in (qualifier, say("defence.reject") if reject else "") if part)


def interval_text(interval: Interval) -> str:
    """Write an interval of a share in whole percent, ``67 to 90``."""
    return spanned(whole_percent(interval.low), whole_percent(interval.high))


def limits_text(low: float, high: float) -> str:
    """Write a range of reporting limits, as reported; nothing where none is given."""
    if isnan(high):
        return ""
    return as_reported(low) if low == high else spanned(as_reported(low), as_reported(high))
