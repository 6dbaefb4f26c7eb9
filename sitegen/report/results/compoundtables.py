"""Tables of summaries: one compound by group of points, all compounds over the soil points."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

from sitegen.compute.evaluate import Compound
from sitegen.compute.results.summary import Summary
from sitegen.compute.statistics.intervals import Mean
from sitegen.compute.statistics.rounding import percent, rounded_text
from sitegen.report.record.pages import Cell, Ref, Table
from sitegen.report.record.specs import Spec, table
from sitegen.report.write.blanking import silent_text, unless_silent
from sitegen.report.write.columns import compound_column, point_cell
from sitegen.report.write.context import Context
from sitegen.report.write.traced import traced
from sitegen.report.write.values import interval_text, limits_text, percentile_text, range_text
from sitegen.report.write.words import say, word
from sitegen.units import UNIT_TEXT
from sitegen.voice import worded


def compound_ref(compound: Compound) -> Ref:
    """Return the pointer to a compound's page."""
    return Ref("compound", compound.analyte_id)


def soil_summary(context: Context, compound: Compound) -> Summary | None:
    """Return a compound's summary over all soil points, None where it has no result there."""
    return context.evaluation.summaries.get((compound.analyte_id, "soil"))


class _Summed(NamedTuple):
    """A compound over a group of points, with its summary; None where it has no result there."""

    compound: Compound
    group: str
    summary: Summary | None


def _summary_columns(context: Context) -> list[Spec[_Summed]]:
    """Return the columns of a summary; under a rule that makes non-detects, what it gives has columns of its own."""
    mass = context.mass_unit.text
    unaffected = say("compound.head_unaffected", silent=silent_text(context))
    under_rule = [
        _under_rule(context, "ruled", "", _detected_text),
        _under_rule(context, "ruled50", mass, lambda ruled: percentile_text(ruled.percentiles[0])),
        _under_rule(context, "ruled90", mass, lambda ruled: percentile_text(ruled.percentiles[2])),
    ]
    detected, median, high = ([one] if context.evaluation.ruled_summaries else [] for one in under_rule)
    return [
        _column("analysed", worded("Analysed"), "", lambda summary: str(summary.analysed)),
        _column("detected", "Detected", "", _detected_text),
        _column("unaffected", unaffected, "", lambda summary: _unaffected_cell(context, summary)),
        *detected,
        _column("range", "Range of detections", mass, range_text),
        _column("p50", "Median", mass, lambda summary: percentile_text(summary.percentiles[0])),
        *median,
        _column("p90", "90th percentile", mass, lambda summary: percentile_text(summary.percentiles[2])),
        *high,
        _column("where", "Highest at", "", lambda summary: point_cell(summary.highest_at), kind="text"),
        _column("limits", "Reporting limits", mass, _limits_text),
    ]


def _column(
    key: str, title: str, unit: str, cell: Callable[[Summary], Cell | str], *, kind: str = "number"
) -> Spec[_Summed]:
    """Return a column of summaries, with a dash where there is none."""
    return Spec(key, title, unit, kind, cell=lambda one: cell(one.summary) if one.summary else "–")


def _under_rule(context: Context, key: str, unit: str, text: Callable[[Summary], str]) -> Spec[_Summed]:
    """Return a column of what a rule that makes non-detects leaves of a summary."""

    def ruled_text(summary: Summary) -> str:
        ruled = context.evaluation.ruled_summaries.get((summary.analyte_id, summary.group))
        return text(ruled) if ruled else "–"

    return _column(key, say(f"compound.head_{key}"), unit, ruled_text)


def _detected_text(summary: Summary) -> str:
    return f"{summary.detected} ({percent(summary.detected, summary.analysed)})"


def _unaffected_cell(context: Context, summary: Summary) -> Cell:
    limit = context.evaluation.limits["blank_share_pct"].value
    if not summary.detected:
        return Cell("–")
    share = f"{summary.unblanked} ({percent(summary.unblanked, summary.detected, 100 - limit)})"
    return Cell(unless_silent(context, share), tone="flag" if summary.unblanked != summary.detected else "")


def _limits_text(summary: Summary) -> str:
    return limits_text(summary.rl_low, summary.rl_high) or "–"


@traced
def summary_table(context: Context, compound: Compound) -> Table:
    """Return a compound's summary for soil points, paved, unpaved and those without a surface on record apart."""
    found = context.evaluation.summaries
    groups = [g for g in ("soil", "paved", "unpaved", "surface_unrecorded") if (compound.analyte_id, g) in found]
    columns: list[Spec[_Summed]] = [
        Spec("group", "Points", cell=lambda one: word("group", one.group)),
        *_summary_columns(context),
        _column("interval", "Frequency, 95 % interval", "%", lambda summary: interval_text(summary.frequency)),
    ]
    return table(
        f"summary-{compound.analyte_id}",
        say("compound.summary_caption", name=compound.name),
        columns,
        [_Summed(compound, group, found[compound.analyte_id, group]) for group in groups],
        note=say("compound.summary_note", ruled=bool(found) and bool(context.evaluation.ruled_summaries)),
    )


@traced
def means_table(context: Context, compound: Compound) -> Table | None:
    """Return the means that the project asked for, or why each is refused; None unless asked."""
    soil = soil_summary(context, compound)
    if soil is None or not soil.means:
        return None
    unit = UNIT_TEXT[soil.unit]
    columns: list[Spec[Mean]] = [
        Spec("estimator", "Estimator", cell=lambda mean: word("estimator", mean.demand.estimator)),
        Spec("mean", "Mean", unit, "number", cell=_mean_text),
        Spec(
            "tail",
            "Tail set to",
            unit,
            "number",
            cell=lambda mean: rounded_text(mean.tail) if mean.tail is not None else "–",
        ),
        Spec("demand", "Data requirements", kind="wide", cell=_demand_text),
    ]
    caption = say("compound.means_caption", name=compound.name)
    return table(f"means-{compound.analyte_id}", caption, columns, soil.means, note=say("compound.means_note"))


def _mean_text(mean: Mean) -> str:
    return rounded_text(mean.value) if mean.value is not None else say("compound.refused", why=worded(mean.refusal))


def _demand_text(mean: Mean) -> str:
    asked = mean.demand
    most = f"{asked.most_nondetect_pct:g}"
    return say("compound.demand", least=asked.least_results, most=most, source=asked.source)


@traced
def index_table(context: Context) -> Table:
    """Return one row per compound over all soil points."""
    columns: list[Spec[_Summed]] = [
        compound_column(context).of(lambda one: one.compound),
        Spec("group", "Group", cell=lambda one: word("compound_group", one.compound.group)),
        *_summary_columns(context),
    ]
    return table(
        "compounds",
        say("compound.index_caption", unit=context.mass_unit.text),
        columns,
        _over_soil(context),
        note=say("compound.index_note", ruled=bool(context.evaluation.ruled_summaries)),
        filters=("group",),
    )


@traced
def summary_row_table(context: Context) -> Table:
    """Return the mapped compounds at a glance."""
    columns: list[Spec[_Summed]] = [
        compound_column(context).of(lambda one: one.compound),
        *_summary_columns(context),
    ]
    return table(
        "glance",
        say("front.top_caption", unit=context.mass_unit.text),
        columns,
        [one for one in _over_soil(context) if one.compound.mapped and one.summary],
        note=say("compound.index_note", ruled=bool(context.evaluation.ruled_summaries)),
        empty=say("front.none_mapped"),
    )


def _over_soil(context: Context) -> list[_Summed]:
    return [_Summed(one, "soil", soil_summary(context, one)) for one in context.evaluation.compounds]
