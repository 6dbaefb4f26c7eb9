"""Results that stand out, on the pages of their points and compounds, each with its finding."""

from __future__ import annotations

from typing import Any

from sitegen.compute.quality.locallow import LocalLow, LowCompound
from sitegen.compute.statistics.rounding import rounded_text
from sitegen.report.record.pages import Callout, Cell, Ref
from sitegen.report.write.context import Context
from sitegen.report.write.words import markdown, say


def low_callouts(context: Context, location_id: str) -> tuple[Callout, ...]:
    """Say that a point lies far below its nearest points, and in which compounds; nothing where it does not."""
    return tuple(
        _callout(context, "standout.point_title", [_facts(context, low, part) for part in low.compounds], [low])
        for low in context.evaluation.local_lows
        if low.location_id == location_id
    )


def compound_lows(context: Context, analyte_id: str) -> tuple[Callout, ...]:
    """Name the points at which a compound lies far below the nearest points; nothing where there are none."""
    pairs = [(low, p) for low in context.evaluation.local_lows for p in low.compounds if p.analyte_id == analyte_id]
    if not pairs:
        return ()
    facts = [_facts(context, low, part) for low, part in pairs]
    return (_callout(context, "standout.compound_title", facts, [low for low, _ in pairs], points=True),)


def _callout(
    context: Context, title: str, lines: list[dict[str, Any]], lows: list[LocalLow], *, points: bool = False
) -> Callout:
    refs = tuple(
        Cell(
            say("standout.low_link", location=low.location_id),
            Ref("finding", context.finding_key(f"local-low:{low.location_id}")),
        )
        for low in lows
    )
    return Callout(
        "flag", say(title), markdown("standout.low_text", unit=context.mass_unit.text, lines=lines, points=points), refs
    )


def _facts(context: Context, low: LocalLow, part: LowCompound) -> dict[str, Any]:
    return {
        "location": low.location_id,
        "name": context.name(part.analyte_id),
        "here": f"{'' if part.detected else '<'}{rounded_text(part.at_most_ng)}",
        "lowest": rounded_text(part.lowest_neighbour_ng),
        "around": ", ".join(low.neighbours),
    }


def share_links(context: Context, analyte_id: str) -> tuple[Cell, ...]:
    """Return the link to the finding that blanks affect most of a compound's detections, where there is one."""
    key = context.finding_key(f"blank-affected-mostly:{analyte_id}")
    there = any(context.findings[at].key == key for at in context.findings_of.get(("compound", analyte_id), ()))
    return (Cell(say("standout.share_link"), Ref("finding", key)),) if there else ()
