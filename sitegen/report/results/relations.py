"""The page on relations between compounds: shares, flow paths, correlations, points that stand out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from sitegen.compute.quality.overrange import resting, resting_points
from sitegen.compute.results.relate import FlowPath
from sitegen.compute.results.relations import Along, Makeup, Relation, Share
from sitegen.compute.statistics.rounding import as_reported, shown
from sitegen.figures.shares import ShareBar, share_bars
from sitegen.project.schema import SOIL_MEDIA
from sitegen.report.record.pages import Block, Callout, Cell, Column, Figure, Mark, Page, Ref, Section, Table
from sitegen.report.write.blanking import silent_text, unless_silent
from sitegen.report.write.context import Context, location_ref
from sitegen.report.write.resting import over_text, points_text, rests_text
from sitegen.report.write.traced import traced
from sitegen.report.write.words import markdown, say

PAGE = Ref("page", "relations")


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
    return Page(PAGE, "Compound relations", lead, relations_blocks(context), group="Results")


def _unweighed(context: Context) -> str:
    """Name the ethenes with results that have no molar mass on record; "" for none."""
    return ", ".join(context.name(name) for name in context.evaluation.related.ethenes.unweighed)


@traced
def relations_blocks(context: Context) -> tuple[Block, ...]:
    """Return what compounds say of each other, as far as the data go."""
    related = context.evaluation.related
    blocks: list[Block] = [Callout("info", "Indicative", markdown("relations.indicative"))]
    if related.ethenes.makeups:
        drawn = [figure for flow in related.flows if (figure := flow_figure(context, flow))]
        blocks.append(Section("ethenes", "Chlorinated ethenes", (*drawn, ethenes_table(context))))
    if related.fuels.makeups:
        blocks.append(Section("fuels", "Fuel aromatics", (fuels_table(context),)))
    if related.correlations:
        blocks.append(Section("tau", "Compounds that rise together", (correlation_table(context),)))
    blocks.append(Section("low", "Points far below their neighbours", (low_table(context),)))
    blocks.append(Section("sums", "Sums of detected masses", (sums_table(context),)))
    return tuple(blocks)


def bounds_text(share: Share) -> str:
    """Write a share: one figure where its bounds print alike, else both."""
    low, high = (shown(x) if x is not None else "–" for x in (share.low, share.high))
    return low if low == high else f"{low} to {high}"


def _marks(context: Context, location_id: str, analyte_ids: Iterable[str]) -> tuple[Mark, ...]:
    """Return the marks of every result that a row is made of, each once."""
    wanted = set(analyte_ids)
    rows = [r for r in context.by_location.get(location_id, []) if r.analyte_id in wanted]
    return tuple(dict.fromkeys(mark for row in rows for mark in context.ringed(row)))


def _point(context: Context, location_id: str, analyte_ids: Iterable[str]) -> Cell:
    return Cell(location_id, location_ref(location_id), _marks(context, location_id, analyte_ids))


def _share_cells(makeup: Makeup) -> tuple[Cell, ...]:
    return tuple(
        Cell(bounds_text(share), tone="" if seen else "nondetect")
        for share, seen in zip(makeup.shares, makeup.detected, strict=True)
    )


def _share_columns(context: Context, family: Relation, unit: str) -> tuple[Column, ...]:
    return tuple(Column(name, context.name(name), unit, "number") for name in family.analyte_ids)


@traced
def ethenes_table(context: Context) -> Table:
    """Return the molar shares of the ethenes, point by point."""
    family = context.evaluation.related.ethenes
    limit = context.evaluation.limits["cis_share_pct"]
    columns = (
        Column("point", "Point"),
        *_share_columns(context, family, "mol %"),
        Column("chlorine", "Mean chlorine number", kind="number"),
        Column("cis", "Cis share", "%", "number"),
    )
    rows = tuple(
        (
            _point(context, m.location_id, family.analyte_ids),
            *_share_cells(m),
            Cell(bounds_text(m.chlorine)),
            Cell(bounds_text(m.cis)),
        )
        for m in family.makeups
    )
    note = say("relations.ethenes_note", limit=limit.text, source=limit.source, unweighed=_unweighed(context))
    return Table(
        "ethene-shares", say("relations.ethenes_caption", unit=context.mass_unit.text), columns, rows, note=note
    )


@traced
def fuels_table(context: Context) -> Table:
    """Return the mass shares of the fuel aromatics, point by point."""
    family = context.evaluation.related.fuels
    columns = (Column("point", "Point"), *_share_columns(context, family, "%"))
    rows = tuple((_point(context, m.location_id, family.analyte_ids), *_share_cells(m)) for m in family.makeups)
    note = say("relations.fuels_note")
    return Table("fuel-shares", say("relations.fuels_caption", unit=context.mass_unit.text), columns, rows, note=note)


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
    columns = (
        Column("point", "Point"),
        Column("along", "Along the line", "m", "number"),
        Column("off", "Off the line", "m", "number"),
        *_share_columns(context, family, "mol %"),
    )
    rows = tuple(
        (
            _point(context, along.location_id, family.analyte_ids),
            Cell(f"{along.along_m:.0f}"),
            Cell(f"{along.off_m:.0f}"),
            *_share_cells(held[along.location_id]),
        )
        for along in flow.points
        if along.location_id in held
    )
    return Table(f"flow-table-{number}", say("relations.flow_table_caption", name=flow.name), columns, rows)


@traced
def correlation_table(context: Context) -> Table:
    """Return tau-b for each two of the mapped compounds, below the diagonal."""
    found = context.evaluation.related.correlations
    by_pair = {(c.first, c.second): c for c in found}
    listed = list(dict.fromkeys(name for c in found for name in (c.first, c.second)))
    heads = listed[:-1]
    columns = (
        Column("compound", "Compound"),
        *(Column(name, context.name(name), kind="number") for name in heads),
    )
    rows = []
    for at, second in enumerate(listed[1:], start=1):
        pairs = [by_pair.get((first, second)) if i < at else None for i, first in enumerate(heads)]
        cells = (Cell(f"{pair.tau:.2f}".replace("-", "−")) if pair else Cell("") for pair in pairs)
        rows.append((Cell(context.name(second), Ref("compound", second)), *cells))
    note = say("relations.tau_note")
    return Table(
        "correlations",
        say("relations.tau_caption", unit=context.mass_unit.text),
        columns,
        tuple(rows),
        note=note,
        landscape=len(columns) > 10,
    )


@traced
def low_table(context: Context) -> Table:
    """Return the points far below their neighbours, a row for each compound."""
    limits, compared = context.evaluation.limits, context.evaluation.lows.compared
    unit = context.mass_unit.text
    columns = (
        Column("point", "Point"),
        Column("compound", "Compound"),
        Column("here", "Here", unit, "number"),
        Column("lowest", "Lowest neighbour", unit, "number"),
        Column("neighbours", "Nearest unmarked neighbours"),
    )
    rows = tuple(
        (
            _point(context, low.location_id, (part.analyte_id,)),
            Cell(context.name(part.analyte_id), Ref("compound", part.analyte_id)),
            Cell(f"{'' if part.detected else '<'}{as_reported(part.at_most_ng)}"),
            Cell(as_reported(part.lowest_neighbour_ng)),
            Cell(", ".join(low.neighbours)),
        )
        for low in context.evaluation.local_lows
        for part in low.compounds
    )
    note = say(
        "relations.low_note",
        multiple=limits["local_low_rl_multiple"].text,
        share=limits["local_low_share"].text,
        compared=compared,
        points=context.soil_points,
    )
    caption = say("relations.low_caption", unit=context.mass_unit.text)
    empty = say("relations.low_none", compared=compared, points=context.soil_points)
    return Table("local-lows", caption, columns, rows, note=note, empty=empty)


@traced
def sums_table(context: Context) -> Table:
    """Return the sum of detected masses at each soil point, with how many it speaks for."""
    total = context.evaluation.soil_sum
    soil = context.evaluation.primary[context.evaluation.primary["medium"].isin(SOIL_MEDIA)]
    media = {row.location_id: row.medium for row in context.locations}
    columns = (
        Column("point", "Point"),
        Column("sum", "Sum of detections", context.mass_unit.text, "number"),
        Column("detected", "Compounds detected", kind="number"),
        Column("touched", say("relations.head_touched", silent=silent_text(context)), kind="number"),
    )
    rows = tuple(
        (
            Cell(name, location_ref(name), _sampler_marks(context, name)),
            Cell(shown(made.mass_ng) if made.detected else "none", tone="" if made.detected else "nondetect"),
            Cell(f"{made.detected} of {made.analysed}"),
            Cell(unless_silent(context, str(made.touched))),
        )
        for name, made in context.evaluation.sums.items()
        if media.get(name) in SOIL_MEDIA
    )
    rest, rests = resting(soil), resting_points(soil)
    note = say(
        "relations.sum_note",
        unit=context.mass_unit.text,
        mass=shown(total.mass_ng),
        detected=total.detected,
        found=f"{total.detected:,}",
        of=total.analysed,
        touched=total.touched,
        over=over_text(context, rest, *rests.values()),
        rests=rests_text(context, rest),
        points=points_text(context, rests),
    )
    return Table("detected-sums", say("relations.sum_caption", unit=context.mass_unit.text), columns, rows, note=note)


def _sampler_marks(context: Context, location_id: str) -> tuple[Mark, ...]:
    return _marks(context, location_id, (r.analyte_id for r in context.by_location.get(location_id, [])))
