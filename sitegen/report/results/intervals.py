"""The shares of ethenes and of fuel aromatics as intervals: what the non-detects of a point leave open."""

from __future__ import annotations

from sitegen.compute.results.relations import Makeup, Relation
from sitegen.figures.intervals import IntervalRow, Words, share_intervals
from sitegen.report.record.pages import Figure
from sitegen.report.write.context import Context
from sitegen.report.write.traced import traced
from sitegen.report.write.words import say

MOST_ROWS = 60
"""More points than this make no readable figure; the table below holds every point."""


@traced
def interval_figures(context: Context, kind: str, family: Relation) -> tuple[Figure, ...]:
    """Return the intervals of the shares of ``ethenes`` or ``fuels``; nothing without points, or with too many."""
    if not 0 < len(family.makeups) <= MOST_ROWS:
        return ()
    rows = [_row(context, family, makeup) for makeup in family.makeups]
    names = [context.name(name) for name in family.analyte_ids]
    facts = {
        "kind": kind,
        "names": names,
        "points": len(rows),
        "whole": sum(all(makeup.detected) for makeup in family.makeups),
    }
    name = f"{kind}-intervals"
    said = Words(*(say(f"resultpictures.intervals_{part}", **facts) for part in Words._fields))
    caption, alt, words = (say(f"resultpictures.intervals_{part}", **facts) for part in ("caption", "alt", "words"))
    return (Figure(name, share_intervals(name, names, rows, said), caption, alt, words),)


def _row(context: Context, family: Relation, makeup: Makeup) -> IntervalRow:
    spans = tuple(
        (share.low or 0.0, share.high or 0.0, detected)
        for share, detected in zip(makeup.shares, makeup.detected, strict=True)
    )
    wanted = set(family.analyte_ids)
    results = context.by_location.get(makeup.location_id, [])
    marked = any(context.has_ring(row) for row in results if row.analyte_id in wanted)
    return IntervalRow(makeup.location_id, spans, marked)
