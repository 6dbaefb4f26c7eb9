"""The page on relations between compounds: shares, flow paths, correlations, points that stand out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import NamedTuple

from sitegen.compute.formats import spanned
from sitegen.compute.quality.locallow import LocalLow, LowCompound
from sitegen.compute.quality.overrange import resting, resting_points
from sitegen.compute.results.relate import FlowPath
from sitegen.compute.results.relations import Along, Makeup, Relation, Share
from sitegen.compute.results.totals import DetectedSum
from sitegen.compute.statistics.rank import Correlation
from sitegen.compute.statistics.rounding import as_reported, rounded_text
from sitegen.figures.shares import ShareBar, share_bars
from sitegen.project.schema import SOIL_MEDIA
from sitegen.report.record.pages import Block, Callout, Cell, Figure, Mark, Page, Ref, Section, Table
from sitegen.report.record.specs import Spec, table
from sitegen.report.results.intervals import interval_figures
from sitegen.report.write.blanking import silent_text, unless_silent
from sitegen.report.write.columns import compound_cell, compound_column, point_cell
from sitegen.report.write.context import Context
from sitegen.report.write.fields import AtPoint
from sitegen.report.write.resting import over_text, points_text, rests_text
from sitegen.report.write.traced import traced
from sitegen.report.write.words import markdown, say
from sitegen.voice import thousands, worded

PAGE = Ref("page", "relations")

ALONG_LINE: tuple[Spec[Along], ...] = (
    Spec("along", "Distance along the line", "m", "number", cell=lambda point: f"{point.along_m:.0f}"),
    Spec("off", "Distance from the line", "m", "number", cell=lambda point: f"{point.off_m:.0f}"),
)
"""How far a point is along a flow line, and how far off it."""


@traced
def relations_page(context: Context) -> Page:
    """Return the page on relations between compounds."""
    related = context.evaluation.related
    facts = {
        "ethenes": len(related.ethenes.makeups),
        "fuels": len(related.fuels.makeups),
        "unweighed": _unweighed(context),
        "points": context.soil_points,
    }
    lead = say("relations.lead", **facts)
    return Page(PAGE, worded("Compound relations"), lead, relations_blocks(context), group="Results")


def _unweighed(context: Context) -> str:
    """Name the ethenes with results that have no molar mass on record; "" for none."""
    return ", ".join(context.name(name) for name in context.evaluation.related.ethenes.unweighed)


@traced
def relations_blocks(context: Context) -> tuple[Block, ...]:
    """Return what compounds say of each other, as far as the data go."""
    related = context.evaluation.related
    blocks: list[Block] = [Callout("info", worded("Indicative comparisons"), markdown("relations.indicative"))]
    if related.ethenes.makeups:
        drawn = [figure for flow in related.flows if (figure := flow_figure(context, flow))]
        blocks.append(
            Section(
                "ethenes",
                worded("Chlorinated ethenes"),
                (*drawn, *interval_figures(context, "ethenes", related.ethenes), ethenes_table(context)),
            )
        )
    if related.fuels.makeups:
        blocks.append(
            Section(
                "fuels",
                worded("Fuel aromatics"),
                (*interval_figures(context, "fuels", related.fuels), fuels_table(context)),
            )
        )
    if related.correlations:
        blocks.append(Section("tau", worded("Correlated compounds"), (correlation_table(context),)))
    blocks.append(Section("low", worded("Points far below their neighbours"), (low_table(context),)))
    blocks.append(Section("sums", worded("Sums of detected masses"), (sums_table(context),)))
    return tuple(blocks)


def bounds_text(share: Share) -> str:
    """Write a share: one figure where its bounds print alike, else both."""
    low, high = (rounded_text(x) if x is not None else "–" for x in (share.low, share.high))
    return low if low == high else spanned(low, high)


def _marks(context: Context, location_id: str, analyte_ids: Iterable[str]) -> tuple[Mark, ...]:
    """Return the marks of every result that a row is made of, each once."""
    wanted = set(analyte_ids)
    rows = [r for r in context.by_location.get(location_id, []) if r.analyte_id in wanted]
    return tuple(dict.fromkeys(mark for row in rows for mark in context.ringed(row)))


def _point(context: Context, location_id: str, analyte_ids: Iterable[str]) -> Cell:
    return point_cell(location_id)._replace(marks=_marks(context, location_id, analyte_ids))


def _point_column(context: Context, family: Relation) -> Spec[AtPoint]:
    """Return the column of the point, with the marks of a family's results there."""
    return Spec("point", "Point", cell=lambda item: _point(context, item.location_id, family.analyte_ids))


def _share_columns(context: Context, family: Relation, unit: str) -> list[Spec[Makeup]]:
    """Return a column for the share of each compound of a family."""
    return [_share_column(at, name, context.name(name), unit) for at, name in enumerate(family.analyte_ids)]


def _share_column(at: int, key: str, title: str, unit: str) -> Spec[Makeup]:
    def cell(makeup: Makeup) -> Cell:
        return Cell(bounds_text(makeup.shares[at]), tone="" if makeup.detected[at] else "nondetect")

    return Spec(key, title, unit, "number", cell)


@traced
def ethenes_table(context: Context) -> Table:
    """Return the molar shares of the ethenes, point by point."""
    family = context.evaluation.related.ethenes
    limit = context.evaluation.limits["cis_share_pct"]
    columns: list[Spec[Makeup]] = [
        _point_column(context, family),
        *_share_columns(context, family, "mol %"),
        Spec("chlorine", "Mean chlorine number", kind="number", cell=lambda one: bounds_text(one.chlorine)),
        Spec("cis", "Cis share", "%", "number", cell=lambda one: bounds_text(one.cis)),
    ]
    caption = say("relations.ethenes_caption", unit=context.mass_unit.text)
    note = say("relations.ethenes_note", limit=limit.text, source=limit.source, unweighed=_unweighed(context))
    return table("ethene-shares", caption, columns, family.makeups, note=note)


@traced
def fuels_table(context: Context) -> Table:
    """Return the mass shares of the fuel aromatics, point by point."""
    family = context.evaluation.related.fuels
    columns: list[Spec[Makeup]] = [_point_column(context, family), *_share_columns(context, family, "%")]
    caption, note = say("relations.fuels_caption", unit=context.mass_unit.text), say("relations.fuels_note")
    return table("fuel-shares", caption, columns, family.makeups, note=note)


@traced
def flow_figure(context: Context, flow: FlowPath) -> Figure | None:
    """Draw the shares along a flow line; None where it may not be shown or has too few points."""
    internal = context.survey.settings.publish.level == "internal"
    family = context.evaluation.related.ethenes
    held = {m.location_id: m for m in family.makeups}
    near = [along for along in flow.points if along.location_id in held]
    if len(near) < 2 or not (internal or flow.public):
        return None
    bars = [_bar(context, along, held[along.location_id]) for along in near]
    number = context.evaluation.related.flows.index(flow) + 1
    facts = _flow_facts(context, flow, bars, held)
    return Figure(
        f"flow-{number}",
        share_bars(f"flow-{number}", [context.name(name) for name in family.analyte_ids], bars),
        say("relations.flow_caption", **facts),
        say("relations.flow_alt", **facts),
        say("relations.flow_words", **facts),
        _flow_table(context, flow, number),
    )


def _bar(context: Context, along: Along, makeup: Makeup) -> ShareBar:
    family = context.evaluation.related.ethenes
    marked = bool(_marks(context, along.location_id, family.analyte_ids))
    return ShareBar(along.location_id, f"{along.along_m:.0f} m", makeup.of_detections, marked)


def _flow_facts(
    context: Context, flow: FlowPath, bars: list[ShareBar], held: Mapping[str, Makeup]
) -> dict[str, object]:
    first, last = bars[0], bars[-1]
    return {
        "name": flow.name,
        "count": len(bars),
        "reach": context.evaluation.limits["flow_line_reach_m"].text,
        "first": first.label,
        "first_along": first.note,
        "first_share": f"{bounds_text(held[first.label].shares[0])} %",
        "last": last.label,
        "last_along": last.note,
        "last_share": f"{bounds_text(held[last.label].shares[0])} %",
        "parent": context.name(context.evaluation.related.ethenes.analyte_ids[0]),
    }


@traced
def _flow_table(context: Context, flow: FlowPath, number: int) -> Table:
    family = context.evaluation.related.ethenes
    held = {m.location_id: m for m in family.makeups}

    def makeup(point: Along) -> Makeup:
        return held[point.location_id]

    columns: list[Spec[Along]] = [
        _point_column(context, family),
        *ALONG_LINE,
        *(spec.of(makeup) for spec in _share_columns(context, family, "mol %")),
    ]
    points = [point for point in flow.points if point.location_id in held]
    return table(f"flow-table-{number}", say("relations.flow_table_caption", name=flow.name), columns, points)


@traced
def correlation_table(context: Context) -> Table:
    """Return tau-b for each two of the mapped compounds in the order of the list, below the diagonal."""
    found = context.evaluation.related.correlations
    by_pair = {(c.first, c.second): c for c in found}
    names = {name for c in found for name in (c.first, c.second)}
    listed = [c.analyte_id for c in context.evaluation.compounds if c.analyte_id in names]
    columns: list[Spec[str]] = [
        Spec("compound", "Compound", cell=lambda name: compound_cell(context, name)),
        *(_tau_column(context, first, by_pair) for first in listed[:-1]),
    ]
    return table(
        "correlations",
        say("relations.tau_caption", unit=context.mass_unit.text),
        columns,
        listed[1:],
        note=say("relations.tau_note"),
        landscape=len(columns) > 10,
    )


def _tau_column(context: Context, first: str, by_pair: Mapping[tuple[str, str], Correlation]) -> Spec[str]:
    """Return the column of a compound beside those that are listed after it."""

    def tau_text(second: str) -> str:
        pair = by_pair.get((first, second))
        return f"{pair.tau:.2f}".replace("-", "−") if pair else ""

    return Spec(first, context.name(first), kind="number", cell=tau_text)


class _Low(NamedTuple):
    """A point far below its neighbours, and one of the compounds in which it is."""

    point: LocalLow
    part: LowCompound


@traced
def low_table(context: Context) -> Table:
    """Return the points far below their neighbours, a row for each compound."""
    limits, compared = context.evaluation.limits, context.evaluation.lows.compared
    unit = context.mass_unit.text
    columns: list[Spec[_Low]] = [
        Spec("point", "Point", cell=lambda low: _point(context, low.point.location_id, (low.part.analyte_id,))),
        compound_column(context).of(lambda low: low.part),
        Spec("here", "This point", unit, "number", cell=lambda low: _at_most_text(low.part)),
        Spec(
            "lowest",
            worded("Lowest neighbour"),
            unit,
            "number",
            cell=lambda low: as_reported(low.part.lowest_neighbour_ng),
        ),
        Spec(
            "neighbours",
            worded("Nearest neighbours without a sample-specific qualification"),
            cell=lambda low: ", ".join(low.point.neighbours),
        ),
    ]
    items = [_Low(point, part) for point in context.evaluation.local_lows for part in point.compounds]
    note = say(
        "relations.low_note",
        multiple=limits["local_low_rl_multiple"].text,
        share=limits["local_low_share"].text,
        compared=compared,
        points=context.soil_points,
    )
    caption = say("relations.low_caption", unit=context.mass_unit.text)
    empty = say("relations.low_none", compared=compared, points=context.soil_points)
    return table("local-lows", caption, columns, items, note=note, empty=empty)


def _at_most_text(part: LowCompound) -> str:
    return f"{'' if part.detected else '<'}{as_reported(part.at_most_ng)}"


class _Summed(NamedTuple):
    """A point, and the sum of what was detected there."""

    location_id: str
    total: DetectedSum


@traced
def sums_table(context: Context) -> Table:
    """Return the sum of detected masses at each soil point, with how many it speaks for."""
    total = context.evaluation.soil_sum
    soil = context.evaluation.primary[context.evaluation.primary["medium"].isin(SOIL_MEDIA)]
    media = {row.location_id: row.medium for row in context.locations}
    columns: list[Spec[_Summed]] = [
        Spec(
            "point",
            "Point",
            cell=lambda one: point_cell(one.location_id)._replace(marks=_sampler_marks(context, one.location_id)),
        ),
        Spec("sum", "Sum of detections", context.mass_unit.text, "number", cell=lambda one: _sum_cell(one.total)),
        Spec(
            "detected",
            "Compounds detected",
            kind="number",
            cell=lambda one: worded("{part:,} of {whole:,}", part=one.total.detected, whole=one.total.analysed),
        ),
        Spec(
            "touched",
            say("relations.head_touched", silent=silent_text(context)),
            kind="number",
            cell=lambda one: unless_silent(context, str(one.total.touched)),
        ),
    ]
    items = [_Summed(*one) for one in context.evaluation.sums.items() if media.get(one[0]) in SOIL_MEDIA]
    rest, rests = resting(soil), resting_points(soil)
    note = say(
        "relations.sum_note",
        unit=context.mass_unit.text,
        mass=rounded_text(total.mass_ng),
        detected=total.detected,
        found=thousands(f"{total.detected:,}"),
        of=total.analysed,
        touched=total.touched,
        over=over_text(context, rest, *rests.values()),
        rests=rests_text(context, rest),
        points=points_text(context, rests),
    )
    return table("detected-sums", say("relations.sum_caption", unit=context.mass_unit.text), columns, items, note=note)


def _sum_cell(total: DetectedSum) -> Cell:
    return Cell(rounded_text(total.mass_ng)) if total.detected else Cell(worded("none"), tone="nondetect")


def _sampler_marks(context: Context, location_id: str) -> tuple[Mark, ...]:
    return _marks(context, location_id, (r.analyte_id for r in context.by_location.get(location_id, [])))
