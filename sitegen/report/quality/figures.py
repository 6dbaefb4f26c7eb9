"""Drawings of the quality review: what blanks take away, and how well duplicates agree."""

from __future__ import annotations

from sitegen.compute.formats import spanned
from sitegen.compute.quality.duplicates import DIFFERS, PairResult, with_results
from sitegen.compute.results.store import StoredResult
from sitegen.figures.pairlimits import PairDot, PairRule, pair_limits
from sitegen.figures.scatter import BlankPair, before_after
from sitegen.report.record.pages import Cell, Figure, Table
from sitegen.report.record.specs import Spec, table
from sitegen.report.write.columns import compound_column, point_cell
from sitegen.report.write.context import Context
from sitegen.report.write.traced import traced
from sitegen.report.write.values import value_cell
from sitegen.report.write.words import say
from sitegen.units import MASS_UNITS

_PAIR_WORDS = ("across", "up", "strip", "rpd", "difference", "agrees", "differs")


def before_after_figure(context: Context, counts: Table) -> tuple[Figure, ...]:
    """Draw detections before and after the blank rule; nothing where no blank touches any.

    ``counts`` is the table that holds the same counts.
    """
    pairs = [
        BlankPair(context.name(analyte), soil.analysed, soil.detected, soil.unblanked)
        for (analyte, group), soil in context.evaluation.summaries.items()
        if group == "soil" and soil.unblanked != soil.detected
    ]
    if not pairs:
        return ()
    most = max(pairs, key=lambda pair: pair.before - pair.after)
    facts = {"count": len(pairs), "most": f"{most.label} ({spanned(str(most.before), str(most.after))})"}
    return (
        Figure(
            "before-after-drawn",
            before_after("before-after-drawn", pairs),
            say("figures.before_caption", **facts),
            say("figures.before_alt", **facts),
            say("figures.before_words", **facts),
            counts,
        ),
    )


def duplicates_figure(context: Context) -> tuple[Figure, ...]:
    """Draw duplicate pairs against the rule; nothing where no pair has a detection and a reporting limit."""
    pairs, limits = with_results(context.evaluation.pairs), context.evaluation.limits
    listed = [
        (pair.location_id, result)
        for pair in pairs
        for result in pair.results
        if all(row.unit in MASS_UNITS for row in (result.primary, result.duplicate))
    ]
    seen = [(at, result) for at, result in listed if result.detections]
    drawn = [(at, result) for at, result in seen if result.in_limits > 0]
    differing = [(at, result) for at, result in drawn if result.verdict == DIFFERS]
    rule = PairRule(*(limits[f"duplicate_{name}"].value for name in ("rpd_pct", "rl_multiple", "difference_rl")))
    if not drawn or min(rule) <= 0:
        return ()
    shown = {"rpd": f"{rule.rpd_pct:g}", "multiple": f"{rule.multiple:g}", "difference": f"{rule.difference:g}"}
    facts = {
        **shown,
        "drawn": len(drawn),
        "pairs": len(pairs),
        "silent": len(listed) - len(seen),
        "unlimited": len(seen) - len(drawn),
        "single": sum(len(result.detections) == 1 for _, result in drawn),
        "differ": len(differing),
    }
    words = {key: say(f"qualitypictures.pair_{key}", **shown) for key in _PAIR_WORDS}
    return (
        Figure(
            "duplicate-limits",
            pair_limits("duplicate-limits", [_dot(context, *one) for one in drawn], rule, words),
            say("qualitypictures.pair_caption", **facts),
            say("qualitypictures.pair_alt", **facts),
            say("qualitypictures.pair_words", **facts),
            _differing(context, differing),
        ),
    )


def _dot(context: Context, location_id: str, result: PairResult) -> PairDot:
    label = f"{location_id} {context.name(result.analyte_id)}"
    return PairDot(label, result.in_limits, result.rpd_pct, result.verdict == DIFFERS)


@traced
def _differing(context: Context, found: list[tuple[str, PairResult]]) -> Table:
    unit = context.mass_unit.text

    def value(row: StoredResult) -> Cell:
        return value_cell(row, context.display, context.ringed(row))

    columns: list[Spec[tuple[str, PairResult]]] = [
        Spec("point", "Point", cell=lambda one: point_cell(one[0])),
        compound_column(context).of(lambda one: one[1]),
        Spec("primary", "Primary", unit, "number", cell=lambda one: value(one[1].primary)),
        Spec("duplicate", "Duplicate", unit, "number", cell=lambda one: value(one[1].duplicate)),
    ]
    return table("duplicate-limits-data", say("figures.scatter_data"), columns, found)
