"""The trend over three rounds and more, with what so few rounds can show; nothing where there are fewer."""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

from sitegen.compute.rounds.trends import LEAST_AT_POINT, LEAST_ROUNDS, CompoundTrend, PointTrend
from sitegen.compute.statistics.kendall import COUNTED_ROUNDS, Kendall, least_p
from sitegen.compute.statistics.rounding import rounded_text
from sitegen.report.record.pages import Block, Prose, Section, Table
from sitegen.report.record.specs import Spec, table
from sitegen.report.rounds.sides import compound_cell, words_of
from sitegen.report.rounds.told import p_text
from sitegen.report.write.columns import point_cell
from sitegen.report.write.context import Context
from sitegen.report.write.traced import traced
from sitegen.report.write.words import markdown, say

LEAST_TOLD = 0.05
"""What p is commonly held against; words alone depend on it (common practice, no source)."""


class _Trending(Protocol):
    """What has a trend."""

    @property
    def kendall(self) -> Kendall:
        """The trend."""


def trend_sections(context: Context, *, points: bool = True) -> tuple[Section, ...]:
    """Return the section on the trend, that of each point inside it where there are rounds enough for one."""
    if rounds_with_results(context) < LEAST_ROUNDS:
        return ()
    blocks: list[Block] = [trend_words(context), trends_table(context)]
    if points and rounds_with_results(context) >= LEAST_AT_POINT:
        blocks.append(Section("trend-points", words_of("sections", "trend_points"), (point_trends_table(context),)))
    return (Section("trend", words_of("sections", "trend"), tuple(blocks)),)


def rounds_with_results(context: Context) -> int:
    """Return how many rounds have a result at a point."""
    return sum(1 for one in context.rounds if one.by_location)


@traced
def trend_words(context: Context) -> Prose:
    """Say how a trend is judged, and below what p it can't come with the rounds that there are."""
    rounds = rounds_with_results(context)
    found = context.trends
    facts = {
        "rounds": rounds,
        "least": rounded_text(least_p(rounds)),
        "never": least_p(rounds) > LEAST_TOLD,
        "level": LEAST_TOLD,
        "exact": len(context.rounds) <= COUNTED_ROUNDS,
        "compounds": len({one.analyte_id for one in found.compounds}),
        "needed": LEAST_ROUNDS,
    }
    return Prose(markdown("rounds.trend", **facts))


@traced
def trends_table(context: Context) -> Table:
    """Return the trend of each compound over the points with results in enough rounds, soil before air."""
    order = {name: at for at, name in enumerate(context.compounds)}
    shown = sorted(
        context.trends.compounds, key=lambda one: (one.group == "air", order.get(one.analyte_id, len(order)))
    )
    medium: Spec[CompoundTrend] = Spec(
        "medium", say("rounds.head_medium"), cell=lambda one: words_of("media", one.group)
    )
    columns: list[Spec[CompoundTrend]] = [
        Spec("compound", "Compound", cell=lambda one: compound_cell(context, one.analyte_id)),
        *([medium] if any(one.group == "air" for one in shown) else []),
        Spec("points", say("rounds.head_points"), kind="number", cell=lambda one: str(one.points)),
        *_kendall_columns(),
    ]
    return table(
        "trend-compounds",
        say("rounds.trend_caption"),
        columns,
        shown,
        note=say("rounds.trend_note"),
        empty=say("rounds.trend_empty", rounds=rounds_with_results(context), needed=LEAST_ROUNDS),
    )


@traced
def point_trends_table(context: Context) -> Table:
    """Return the trend of each compound at each point with an order in enough rounds."""
    every = context.trends.points
    shown = [one for one in every if one.kendall.ordered]
    columns: list[Spec[PointTrend]] = [
        Spec("point", "Point", cell=lambda one: point_cell(one.location_id)),
        Spec("compound", "Compound", cell=lambda one: compound_cell(context, one.analyte_id)),
        Spec("rounds", say("rounds.head_rounds"), kind="number", cell=lambda one: str(one.rounds)),
        *_kendall_columns(),
    ]
    facts = {"count": len(every), "hidden": len(every) - len(shown), "needed": LEAST_AT_POINT}
    facts["throughout"] = round(1 / least_p(rounds_with_results(context)))
    return table(
        "trend-points",
        say("rounds.trend_points_caption"),
        columns,
        shown,
        note=say("rounds.trend_points_note", **facts),
        empty=say("rounds.trend_points_empty", **facts),
        filters=("compound",),
    )


def _kendall_columns() -> list[Spec[_Trending]]:
    return [
        _column("pairs", lambda one: str(one.pairs)),
        _column("ordered", lambda one: str(one.ordered)),
        _column("s", lambda one: signed_text(one.s)),
        _column("tau", lambda one: "–" if one.tau_b is None else signed_text(round(one.tau_b, 2))),
        _column("trend_p", lambda one: p_text(one.p)),
    ]


def _column(key: str, told: Callable[[Kendall], str]) -> Spec[_Trending]:
    return Spec(key, say(f"rounds.head_{key}"), kind="number", cell=lambda one: told(one.kendall))


def signed_text(number: float) -> str:
    """Write a number with its sign, a fraction with two decimals.

    >>> signed_text(4), signed_text(-4), signed_text(0), signed_text(-0.5)
    ('+4', '−4', '0', '−0.50')
    """
    text = f"{number:+d}" if isinstance(number, int) else f"{number:+.2f}"
    return text.replace("-", "−") if number else text.lstrip("+-")
