"""Occupied buildings: what was found in the air that people there breathe, building by building."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

from sitegen.compute.picture.occupied import (
    NEAR,
    Building,
)
from sitegen.compute.results.screening import ABOVE, AT_OR_BELOW, CANNOT_TELL
from sitegen.compute.statistics.rounding import as_reported
from sitegen.report.record.pages import Block, Callout, Cell, Ref, Section
from sitegen.report.results.aircells import concentration_cell
from sitegen.report.results.indoortables import (
    Row,
    brief_table,
    buildings_table,
    comparison_table,
    levels_table,
    listed,
    name_of,
    rows_of,
    status_of,
    unsampled_table,
)
from sitegen.report.results.pressing import levels_callout
from sitegen.report.write.context import Context
from sitegen.report.write.traced import traced
from sitegen.report.write.words import markdown, say

OCCUPIED = Ref("page", "air", "occupied")


@traced
def occupied_blocks(context: Context, *, brief: bool) -> tuple[Block, ...]:
    """Return the occupied buildings with their results and the levels; ``brief`` for a summary, else the whole.

    Nothing where no building is on record as occupied and no point of indoor air is on record, or before the samplers
    are back. Results above a level at other places are named with it.
    """
    found = context.buildings
    if not context.with_results:
        return ()
    inside = {name for building in found for name in building.sampled}
    elsewhere = levels_callout(context, lambda name: name not in inside)
    if not found:
        return elsewhere
    if brief:
        return (_callout(context, found, brief=True), *elsewhere, *brief_table(context, found))
    unsampled = _unsampled(found)
    blocks: list[Block] = [_callout(context, found, brief=False), *elsewhere, buildings_table(context, found)]
    if any(building.sampled for building in found):
        blocks.append(levels_table(context, found))
    if unsampled:
        blocks.append(unsampled_table(context, unsampled))
    return (Section("occupied", say("occupied.title"), tuple(blocks)),)


@traced
def point_blocks(context: Context, location_id: str) -> tuple[Block, ...]:
    """Return what levels say of the air at a point, as the page on air has it; nothing where there is nothing."""
    for building in context.buildings:
        if location_id in building.sampled:
            rows = [Row(building, one) for one in building.indoor if one.location_id == location_id]
            callout = _point_callout(context, building, rows) if any(row.pressing for row in rows) else ()
            caption = say("occupied.caption_point", point=location_id)
            drawn = comparison_table(context, f"levels-{location_id}", caption, rows, whole=True, at_point=True)
            return (Section("levels", say("occupied.point_title"), (*callout, drawn)),) if rows else ()
    return levels_callout(context, lambda name: name == location_id)


def _unsampled(found: Iterable[Building]) -> tuple[Building, ...]:
    return tuple(one for one in found if not one.sampled)


def _callout(context: Context, found: tuple[Building, ...], *, brief: bool) -> Callout:
    """Answer for each building, say whose turn it is; ``brief`` counts the buildings of which nothing is pressing."""
    sampled = [building for building in found if building.sampled]
    silent = [one for one in sampled if brief and _is_silent(one)]
    told = [_answer(context, one, rows_of([one])) for one in sampled if one not in silent or len(sampled) == 1]
    rows = rows_of(found)
    unsampled = listed([name_of(one) for one in _unsampled(found)])
    others = len(sampled) - len(told)
    return _made(context, rows, told, others=others, unsampled=unsampled, link=brief)


def _is_silent(building: Building) -> bool:
    """Tell whether something in a building is compared with levels, and nothing of it is pressing."""
    rows = rows_of([building])
    return any(row.indoor.answers for row in rows) and not any(row.pressing for row in rows)


def _point_callout(context: Context, building: Building, rows: list[Row]) -> tuple[Callout, ...]:
    return (_made(context, rows, [_answer(context, building, rows)], others=0, unsampled="", link=True),)


def _made(context: Context, rows: list[Row], told: list[str], *, others: int, unsampled: str, link: bool) -> Callout:
    above = [row for row in rows if row.indoor.worst == ABOVE]
    points = ", ".join(sorted({row.location_id for row in above}))
    title = say("occupied.above_title", points=points, team=context.for_team) if above else say("occupied.title")
    text = markdown(
        "occupied.callout",
        told=told,
        others=others,
        unsampled=unsampled,
        round=bool(context.earlier),
        above=bool(above),
        team=context.for_team,
    )
    tone = "caution" if above or not any(row.pressing for row in rows) else "flag"
    return Callout(tone, title, text, (Cell(say("occupied.link"), OCCUPIED),) if link else ())


def _answer(context: Context, building: Building, rows: list[Row]) -> str:
    """Return the sentences on a building's indoor air, or on some of its points and compounds."""
    compared = [row for row in rows if row.indoor.answers]
    shared = _shared_marks(context, [row for row in compared if _has(row, ABOVE)])
    return say(
        "occupied.answer",
        name=name_of(building),
        status=status_of(building),
        above=_above(context, compared, shared),
        shared=shared,
        near=_places(context, (row for row in compared if _has(row, NEAR))),
        unsure=_places(context, (row for row in compared if _has(row, CANNOT_TELL))),
        others=_places(context, (row for row in rows if row.indoor.other_uses)),
        margin=context.evaluation.limits["near_level_pct"].text,
        below=sum(row.indoor.worst == AT_OR_BELOW for row in compared),
        compared=len(compared),
        apart=len(rows) - len(compared),
        levels=len(rows),
        results=any(row.indoor.reason != "no_result" for row in rows),
    )


def _has(row: Row, answer: str) -> bool:
    return any(one.answer == answer for one in row.indoor.answers)


def _shared_marks(context: Context, rows: list[Row]) -> list[str]:
    """Return the words of the qualifications that every one of some results has."""
    words = [concentration_cell(context, row.indoor.results[0]).mark_words for row in rows]
    return [word for word in (words[0] if words else ()) if all(word in one for one in words)]


def _measured(context: Context, row: Row, shared: list[str]) -> str:
    """Write a result above a level at its point: value, other samplers, the lowest level it exceeds, qualifications."""
    first, *others = (concentration_cell(context, one) for one in row.indoor.results)
    return say(
        "occupied.measured",
        point=row.location_id,
        value=first.text,
        others=[cell.text for cell in others],
        level=as_reported(min(one.level.ug_m3 for one in row.indoor.answers if one.answer == ABOVE)),
        marks=[word for word in first.mark_words if word not in shared],
    )


def _above(context: Context, rows: list[Row], shared: list[str]) -> list[dict[str, Any]]:
    """Return what is above levels, gathered by the land uses of these levels."""
    groups: dict[tuple[str, ...], list[Row]] = {}
    for row in rows:
        uses = dict.fromkeys(one.level.land_use for one in row.indoor.answers if one.answer == ABOVE)
        if uses:
            groups.setdefault(tuple(uses), []).append(row)
    return [
        {
            "what": _places(context, some, lambda row: _measured(context, row, shared)),
            "count": len({row.analyte_id for row in some}),
            "uses": listed(uses) if all(uses) else "",
            "levels": len(uses),
        }
        for uses, some in groups.items()
    ]


def _places(context: Context, rows: Iterable[Row], tell: Callable[[Row], str] | None = None) -> str:
    """Name compounds, each with its points, or with what is to ``tell`` of them: ``Benzene (IA-01 and IA-02)``."""
    points: dict[str, list[str]] = {}
    for row in rows:
        points.setdefault(row.analyte_id, []).append(tell(row) if tell else row.location_id)
    join = "; ".join if tell else listed
    return listed([f"{context.name(name)} ({join(where)})" for name, where in points.items()])
