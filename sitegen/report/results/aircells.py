"""Concentrations in air as cells and as text, with the result that each was computed from."""

from __future__ import annotations

from sitegen.compute.quality.air import AirPair
from sitegen.compute.results.concentration import Concentration
from sitegen.compute.results.reported import qualifier
from sitegen.compute.results.screening import Comparison
from sitegen.compute.results.store import StoredResult
from sitegen.compute.statistics.rounding import as_reported, rounded_text
from sitegen.report.record.pages import Cell
from sitegen.report.write.context import Context
from sitegen.report.write.values import origin_of, source_ref
from sitegen.report.write.words import say


def concentration_text(found: Concentration | None, stated: str) -> str:
    """Write a concentration or the limit of a non-detect with its result's qualifier, or that there is none."""
    if found is None:
        return say("air.no_concentration")
    write = rounded_text if found.rate else as_reported
    number = write(found.ug_m3) if found.detected else f"<{write(found.rl_ug_m3)}"
    return f"{number} {stated}".strip()


def concentration_cell(context: Context, found: Concentration) -> Cell:
    """Return a concentration with qualifier and marks of the result behind it, to whose row it leads."""
    return air_cell(context, behind_of(context, found), found)


def behind_of(context: Context, found: Concentration) -> StoredResult:
    """Return the result that a concentration was computed from."""
    return context.by_key[found.lab_sample_id, found.analyte_id]


def air_cell(context: Context, row: StoredResult, found: Concentration | None) -> Cell:
    """Return a concentration with qualifier and marks of its result, to whose row it leads; or that there is none."""
    text = concentration_text(found, qualifier(row))
    if found is None:
        return Cell(text, tone="nondetect")
    return Cell(text, source_ref(row), context.marks(row), "" if found.detected else "nondetect", _origin(found, row))


def _origin(found: Concentration, row: StoredResult) -> tuple[str, int, str] | None:
    """Return the row of a concentration that the laboratory gave; one that was computed rests on more than a row."""
    return origin_of(row) if found.rate is None else None


def ratio_text(one: AirPair | Comparison) -> str:
    """Write the ratio of two detections, a dash where there is none."""
    return rounded_text(one.ratio) if one.ratio is not None else "–"
