"""The page on what changed between rounds: sentences first, then how a change is judged, then the numbers."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from sitegen.compute.evaluate import Compound
from sitegen.compute.rounds.changes import KINDS, Match, PointChange, Spread
from sitegen.compute.rounds.overview import span
from sitegen.compute.statistics.rounding import percent_of, rounded_text
from sitegen.figures.ground import Ground
from sitegen.report.record.pages import Block, Callout, Cell, Page, Prose, Section, Table
from sitegen.report.record.specs import Spec, table
from sitegen.report.rounds.naming import round_name
from sitegen.report.rounds.pictures import change_figures, heat_block
from sitegen.report.rounds.sides import (
    CHANGES,
    OVERVIEW,
    Earlier,
    compound_name,
    earlier_rounds,
    point_in,
    reported_name,
    several,
    words_of,
)
from sitegen.report.rounds.stays import conditions_table
from sitegen.report.rounds.told import compounds_table, masses_table, of_media
from sitegen.report.rounds.trending import trend_sections
from sitegen.report.write.campaign import whole_name
from sitegen.report.write.columns import point_cell
from sitegen.report.write.context import Context
from sitegen.report.write.traced import traced
from sitegen.report.write.words import markdown, say
from sitegen.units import minutes_to_days
from sitegen.voice import worded

MOST_NAMED = 6
"""The most compounds, or points, that a sentence names; the table below it has all."""


def changes_page(context: Context, ground: Ground | None) -> Page:
    """Return the page on what changed, a section for each earlier round, the last one first."""
    rounds = earlier_rounds(context)
    lead = say(
        "rounds.changes_lead", reported=reported_name(context), earlier=[one.name for one in rounds], count=len(rounds)
    )
    blocks: list[Block] = [Callout("caution", say("rounds.caution_title"), markdown("rounds.caution"))]
    blocks += [
        Section(f"since-{one.number}", say("rounds.since", name=one.name), since_blocks(context, one, ground))
        for one in reversed(rounds)
    ]
    blocks += trend_sections(context)
    heats = tuple(shaded for one in mapped(context) if (shaded := heat_block(context, one)))
    if heats:
        blocks.append(Section("heat", say("rounds.heat_title"), heats))
    return Page(CHANGES, say("rounds.changes_title"), lead, tuple(blocks), group="Findings and advice")


@traced
def since_blocks(context: Context, earlier: Earlier, ground: Ground | None) -> tuple[Block, ...]:
    """Return everything that changed since an earlier round."""
    parts: list[tuple[str, tuple[Block, ...]]] = [
        ("judged", (judged(context, earlier),)),
        ("compounds", compound_tables(context, earlier)),
        ("maps", change_maps(context, earlier, ground)),
        ("masses", masses_tables(context, earlier)),
        ("conditions", (conditions_table(context, earlier),)),
        ("positions", (positions_table(context, earlier),)),
        ("apart", (apart_table(context, earlier),)),
    ]
    sections = (
        Section(f"{key}-{earlier.number}", words_of("sections", key), blocks) for key, blocks in parts if blocks
    )
    return (summary(context, earlier), *sections)


def compound_tables(context: Context, earlier: Earlier) -> tuple[Table, ...]:
    """Return the compounds by what became of them: at soil points, and in air where points of air are compared."""
    air = (compounds_table(context, earlier, air=True),) if earlier.change.air_compounds else ()
    return (compounds_table(context, earlier), *air)


def change_maps(context: Context, earlier: Earlier, ground: Ground | None) -> tuple[Block, ...]:
    """Return the maps of what became of each mapped compound."""
    of_each = (change_figures(context, earlier.change, one, ground) for one in mapped(context))
    return tuple(figure for figures in of_each for figure in figures)


def masses_tables(context: Context, earlier: Earlier, *, limits: bool = True) -> tuple[Table, ...]:
    """Return the masses of both rounds at every point compared, those of air in a table of their own."""
    facts = {"before": earlier.name, "after": reported_name(context)}
    soil, of_air = of_media(earlier.change.points)
    given = [("changes-masses", soil, False), *([("changes-air", of_air, True)] if of_air else [])]
    return tuple(
        masses_table(
            context,
            earlier,
            (f"{name}-{earlier.number}", say("rounds.masses_caption", air=air, **facts)),
            changes,
            by_compound=True,
            limits=limits,
        )
        for name, changes, air in given
    )


def mapped(context: Context) -> tuple[Compound, ...]:
    """Return the compounds that maps are drawn of."""
    return tuple(one for one in context.evaluation.compounds if one.mapped)


@traced
def summary(context: Context, earlier: Earlier) -> Prose:
    """Say what changed since an earlier round, in sentences that count."""
    change = earlier.change
    compared = [one for one in change.matches if not one.moved]
    how = [one.how for one in compared]
    facts: dict[str, Any] = {
        "before": earlier.name,
        "after": reported_name(context),
        "compared": len(compared),
        "with_results": len({one.location_id for one in change.points if one.kind != "not_comparable"}),
        "by_id": how.count("id"),
        "by_position": how.count("position"),
        "moved": len(change.matches) - len(compared),
        "only_before": _named(change.only_before),
        "only_after": _named(change.only_after),
        "media": [(where, _kinds(context, points)) for where, points in _media(earlier)] if change.points else [],
        "pairs": len(change.points),
        "exposures": _exposures(earlier),
        "gap": change.gap_days,
    }
    return Prose(markdown("rounds.summary", **facts))


@traced
def brief(context: Context, *, printed: bool = False) -> str:
    """Say in a few sentences which rounds are on record and what changed since the last one; Markdown.

    "" where there is one round without a supplement. In the report as ``printed`` its chapter is named.
    """
    if not several(context):
        return ""
    last = earlier_rounds(context)[-1:]
    return markdown(
        "rounds.brief",
        earlier=len(context.earlier),
        rounds=len(context.rounds),
        told=[whole_name(one) or round_name(context, one) for one in context.rounds],
        reported=reported_name(context),
        supplements=len(context.campaign.supplements),
        before=last[0].name if last else "",
        media=[(where, _kinds(context, points)) for one in last if one.change.points for where, points in _media(one)],
        printed=printed,
    )


def brief_blocks(context: Context) -> tuple[Block, ...]:
    """Return the same for a page to open with, and the ways to more; nothing where there is nothing to tell."""
    text = brief(context)
    if not text:
        return ()
    more = markdown("rounds.brief_more", earlier=bool(context.earlier))
    return (Prose(f"{text}\n\n{more}", (OVERVIEW, CHANGES) if context.earlier else (OVERVIEW,)),)


def _media(earlier: Earlier) -> list[tuple[str, tuple[PointChange, ...]]]:
    """Return the changes at soil points and in air, each with what to call it: nothing where all are of soil."""
    soil, air = of_media(earlier.change.points)
    return [(words_of("media", "soil"), soil), (words_of("media", "air"), air)] if air else [("", soil)]


def _named(names: Sequence[str]) -> dict[str, Any]:
    """Return how many points there are, and the names of the first ones."""
    return {"count": len(names), "names": names[:MOST_NAMED], "more": max(0, len(names) - MOST_NAMED)}


def _kinds(context: Context, points: Sequence[PointChange]) -> dict[str, Any]:
    """Return of each kind how many changes there are, and at how many points for each compound, most first."""
    of = {kind: [one for one in points if one.kind == kind] for kind in KINDS}
    both = sum(one.factor is not None for one in points)
    counts = {"total": len(points), "both": both, "compared": len(points) - len(of["not_comparable"])}
    return counts | {kind: _of_kind(context, changes) for kind, changes in of.items()}


def _of_kind(context: Context, changes: Sequence[PointChange]) -> dict[str, Any]:
    counted = Counter(compound_name(context, one.analyte_id) for one in changes).most_common()
    return {
        "count": len(changes),
        "names": counted[:MOST_NAMED],
        "more": max(0, len(counted) - MOST_NAMED),
        "below": sum(one.below_limit for one in changes),
    }


def _exposures(earlier: Earlier) -> dict[str, Any]:
    """Return how the exposures of the two rounds differ: the lowest and highest ratio, and the points with one."""
    pairs = earlier.change.exposures
    ratios = span(one.ratio for one in pairs)
    days = [span(one.before_min for one in pairs), span(one.after_min for one in pairs)]
    return {
        "known": sum(one.ratio is not None for one in pairs),
        "of": len(pairs),
        "ratios": _ends(rounded_text(ratio) for ratio in ratios or ()),
        "median": rounded_text(earlier.change.median_exposure_ratio or 0),
        "days": [_ends(f"{minutes_to_days(end):.1f}" for end in one or ()) for one in days],
    }


def _ends(texts: Iterable[str]) -> list[str]:
    """Return the ends of a range as they are written, one where both are written alike."""
    return list(dict.fromkeys(texts))


@traced
def judged(context: Context, earlier: Earlier) -> Prose:
    """Say how a change is judged: the factor, what it rests on, and its source."""
    found = [("soil", earlier.change.spread), ("air", earlier.change.air_spread)]
    text = markdown(
        "rounds.judged",
        spreads=[(words_of("media", medium), _spread(one)) for medium, one in found if one],
        place=context.evaluation.limits["same_place_m"],
        moved=context.evaluation.limits["round_moved_m"],
    )
    return Prose(text)


def _spread(spread: Spread) -> dict[str, Any]:
    return {
        "factor": rounded_text(spread.factor),
        "pairs": spread.pairs,
        "needed": spread.needed,
        "rule": spread.rule,
        "coverage": percent_of(spread.coverage),
        "confidence": percent_of(spread.confidence),
        "source": spread.source,
    }


@traced
def positions_table(context: Context, earlier: Earlier) -> Table:
    """Return the points that are compared by their position, or were moved."""
    columns: list[Spec[Match]] = [
        Spec("point", _point_of(later=True), cell=lambda one: point_cell(one.location_id)),
        Spec("earlier", _point_of(later=False), cell=lambda one: point_in(context, earlier, one.earlier_id)),
        Spec("how", say("rounds.head_how"), cell=lambda one: words_of("how", one.how)),
        Spec("distance", say("rounds.head_distance"), "m", "number", cell=_distance_text),
        Spec("compared", say("rounds.head_compared"), cell=lambda one: say("rounds.compared", moved=one.moved)),
    ]
    shown = [one for one in earlier.change.matches if one.moved or one.how == "position"]
    return table(
        f"changes-positions-{earlier.number}",
        say("rounds.positions_caption"),
        columns,
        shown,
        empty=say("rounds.positions_empty", points=len(earlier.change.matches)),
    )


def _point_of(*, later: bool) -> str:
    return say("rounds.head_of", what=worded("Point"), later=later)


def _distance_text(one: Match) -> str:
    return "–" if one.distance_m is None else f"{one.distance_m:.2f}"


class _Apart(NamedTuple):
    """What was not compared: points, compounds at them, and why."""

    points: Cell
    what: str
    why: str


@traced
def apart_table(context: Context, earlier: Earlier) -> Table:
    """Return what was not compared and why: points without a partner, points moved, compounds at some points."""
    columns: list[Spec[_Apart]] = [
        Spec("points", say("rounds.head_points"), kind="wide", cell=lambda one: one.points, tells=True),
        Spec("what", say("rounds.head_what"), kind="wide", cell=lambda one: one.what, tells=True),
        Spec("why", say("rounds.head_why"), kind="wide", cell=lambda one: one.why),
    ]
    return table(
        f"changes-apart-{earlier.number}",
        say("rounds.apart_caption"),
        columns,
        list(_not_compared(context, earlier)),
        note=say("rounds.apart_note"),
        empty=say("rounds.apart_empty", pairs=len(earlier.change.points)),
        row_header=-1,
    )


def _not_compared(context: Context, earlier: Earlier) -> Iterator[_Apart]:
    every = say("rounds.every_compound")
    for name in earlier.change.only_before:
        yield _Apart(point_in(context, earlier, name), every, say("rounds.only_in", name=earlier.name))
    for name in earlier.change.only_after:
        yield _Apart(point_cell(name), every, say("rounds.only_in", name=reported_name(context)))
    for (reason, compounds), points in _reasons(context, earlier.change.points).items():
        listed = {"count": len(points), "names": points[:MOST_NAMED], "more": len(points) - MOST_NAMED}
        ref = point_cell(points[0]).ref if len(points) == 1 else None
        what = say("rounds.some_compounds", names=compounds[:MOST_NAMED], more=len(compounds) - MOST_NAMED)
        yield _Apart(Cell(say("rounds.some_points", **listed), ref), what, words_of("reasons", reason))


def _reasons(context: Context, changes: Sequence[PointChange]) -> Mapping[tuple[str, tuple[str, ...]], Sequence[str]]:
    """Return the points by why the same compounds are not compared there, as (reason, names of compounds)."""
    at: dict[tuple[str, str], list[str]] = {}
    for one in changes:
        if one.kind == "not_comparable":
            at.setdefault((one.location_id, one.reason), []).append(compound_name(context, one.analyte_id))
    alike: dict[tuple[str, tuple[str, ...]], list[str]] = {}
    for (point, reason), compounds in at.items():
        alike.setdefault((reason, tuple(compounds)), []).append(point)
    return alike
