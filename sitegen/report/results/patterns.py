"""Pages that show all compounds at once: a heat table, small maps side by side, the way of the flow."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from typing import NamedTuple

from sitegen.compute.evaluate import Compound
from sitegen.compute.quality.overrange import resting_groups
from sitegen.compute.results.relate import FlowPath
from sitegen.compute.results.relations import Along
from sitegen.compute.results.store import StoredResult
from sitegen.compute.results.summary import Summary
from sitegen.figures.ground import Ground
from sitegen.figures.multiples import Panel, small_multiples
from sitegen.figures.transect import JOINED_M, Profile, Station, transect
from sitegen.project.schema import SOIL_MEDIA
from sitegen.project.tables import Analyte
from sitegen.report.record.pages import Block, Cell, Figure, Page, Ref, Section, Table
from sitegen.report.record.specs import Spec, table
from sitegen.report.results.compoundtables import soil_summary
from sitegen.report.results.lines import LEAST_BESIDE, most_points, shown_lines
from sitegen.report.results.mapdata import place_values, sum_text
from sitegen.report.results.pressing import bag_marks_text
from sitegen.report.results.relations import ALONG_LINE
from sitegen.report.write.columns import POINT, POINT_ITSELF, compound_cell, point_cell
from sitegen.report.write.context import Context
from sitegen.report.write.resting import over_text, points_text
from sitegen.report.write.traced import traced
from sitegen.report.write.values import class_tone, highest_text, value_cell, value_text
from sitegen.report.write.words import prose, say, word
from sitegen.units import MASS_UNITS
from sitegen.voice import worded

HEAT = Ref("page", "heat")
PATTERNS = Ref("page", "patterns")

PER_SHEET = 12
"""Small maps on one sheet."""

MOST_PROFILES = 6
"""Compounds along the flow line in one drawing."""

MOST_CELLS = 20_000
"""Above this number of cells the heat table keeps to the mapped compounds."""


def pattern_pages(context: Context, ground: Ground | None) -> Iterator[Page]:
    """Yield the pages that show compounds side by side; nothing without soil results."""
    if not soil_locations(context):
        return
    yield Page(HEAT, worded("Heat table"), say("figures.heat_lead"), (heat_table(context),), group="Results")
    blocks = pattern_blocks(context, ground)
    if blocks:
        yield Page(PATTERNS, worded("Patterns side by side"), say("figures.patterns_lead"), blocks, group="Results")


@traced
def pattern_blocks(context: Context, ground: Ground | None) -> tuple[Block, ...]:
    """Return the sheets of small maps, the sums by group and the drawings along flow lines."""
    blocks: list[Block] = []
    sheets = multiples_figures(context, ground) if ground else ()
    if sheets:
        blocks.append(Section("sheets", worded("Mapped compounds side by side"), sheets))
    flows = tuple(figure for flow in shown_flows(context) if (figure := transect_figure(context, flow)))
    if flows:
        blocks.append(Section("transect", worded("Along the flow line"), flows))
    blocks += line_sections(context)
    if context.group_sums:
        blocks.append(Section("sums", worded("Sums by group"), (sums_table(context),)))
    return tuple(blocks)


def soil_locations(context: Context) -> list[str]:
    """Return the soil points with results, in the order of the locations."""
    soil = [row.location_id for row in context.locations if row.medium in SOIL_MEDIA]
    return [name for name in soil if name in context.by_location]


def mapped_compounds(context: Context) -> list[Compound]:
    """Return the mapped compounds that have results."""
    listed = context.evaluation.compounds
    return [c for c in listed if c.mapped and context.by_compound.get(c.analyte_id)]


@traced
def heat_table(context: Context) -> Table:
    """Return soil points by compounds, each cell shaded by its mass class, marks carried."""
    names = soil_locations(context)
    compounds: list[Compound] = list(context.evaluation.compounds)
    whole = len(names) * len(compounds) <= MOST_CELLS
    if not whole:
        compounds = mapped_compounds(context)
    unit = context.mass_unit.text
    results = {(name, row.analyte_id): row for name in names for row in context.by_location[name]}
    columns: list[Spec[str]] = [POINT_ITSELF, *(_shaded_column(context, one, results) for one in compounds)]
    caption = say("figures.heat_caption", unit=unit, whole=whole)
    classes = "; ".join(context.class_labels)
    note = say("figures.heat_note", bags=bag_marks_text(context), classes=classes, unit=unit)
    return table("heat", caption, columns, names, note=note, landscape=True)


def _shaded_column(context: Context, compound: Compound, results: Mapping[tuple[str, str], StoredResult]) -> Spec[str]:
    """Return the column of a compound over points, each cell with the tone of its mass class."""

    def cell(location_id: str) -> Cell:
        row = results.get((location_id, compound.analyte_id))
        return _mass_cell(context, row)._replace(tone=class_tone(row) if row else "muted")

    return Spec(compound.analyte_id, compound.name, context.mass_unit.text, "number", cell, as_stated=True)


def _mass_cell(context: Context, row: StoredResult | None) -> Cell:
    return value_cell(row, context.display, context.ringed(row)) if row else Cell("–", tone="muted")


def multiples_figures(context: Context, ground: Ground) -> tuple[Figure, ...]:
    """Return the mapped compounds as small maps, some to a sheet."""
    listed = mapped_compounds(context)
    parts = [listed[at : at + PER_SHEET] for at in range(0, len(listed), PER_SHEET)]
    return tuple(_sheet_once(context, ground, part, at + 1, len(parts)) for at, part in enumerate(parts))


@traced
def _sheet_once(context: Context, ground: Ground, part: list[Compound], number: int, count: int) -> Figure:
    """Return a sheet of small maps, drawn once for the site and for print."""
    name = f"multiples-{number}"
    key = name, ground.room.placing
    if key not in context.maps:
        context.maps[key] = _sheet(context, ground, part, number, count)
    return context.maps[key]


@traced
def _sheet(context: Context, ground: Ground, part: list[Compound], number: int, count: int) -> Figure:
    name = f"multiples-{number}"
    items = [_Mapped(compound, soil_summary(context, compound)) for compound in part]
    panels = [Panel(one.compound.name, one.note, place_values(context, one.compound.analyte_id)) for one in items]
    facts = {"number": number, "count": count, "unit": context.mass_unit.text, "maps": len(part)}
    tops = "; ".join(
        worded("{compound} at {point}", compound=one.compound.name, point=one.highest_at)
        for one in items
        if one.highest_at
    )
    return Figure(
        name,
        small_multiples(name, ground, panels, context.class_labels, context.mass_unit.text),
        say("figures.multiples_caption", **facts),
        say("figures.multiples_alt", **facts),
        say("figures.multiples_words", tops=tops),
        _sheet_table(context, part, name),
        ground.room.placing,
    )


class _Mapped(NamedTuple):
    """A mapped compound with its summary over the soil points, None where it has no result there."""

    compound: Compound
    soil: Summary | None

    @property
    def note(self) -> str:
        """How many soil points have it."""
        soil = self.soil
        return say("figures.panel_note", detected=soil.detected, analysed=soil.analysed) if soil else ""

    @property
    def highest_at(self) -> str:
        """The point of the highest mass, "" where none was detected."""
        return self.soil.highest_at if self.soil else ""


@traced
def _sheet_table(context: Context, part: list[Compound], name: str) -> Table:
    columns: list[Spec[_Mapped]] = [
        Spec("compound", "Compound", cell=lambda one: compound_cell(context, one.compound.analyte_id)),
        Spec("found", "Soil points", cell=lambda one: one.note, tells=True),
        Spec(
            "highest",
            "Highest",
            context.mass_unit.text,
            "number",
            cell=lambda one: highest_text(one.soil) if one.soil else "–",
        ),
        Spec("where", "Point", cell=lambda one: point_cell(one.highest_at)),
        Spec(
            "reach",
            "Direction of next highest masses",
            cell=lambda one: worded(context.falls.get(one.compound.analyte_id, "")) or "–",
        ),
    ]
    items = [_Mapped(compound, soil_summary(context, compound)) for compound in part]
    return table(f"{name}-data", say("figures.multiples_data"), columns, items)


@traced
def sums_table(context: Context) -> Table:
    """Return the sum of detected masses by group at every point, as the map draws it where positions are on record."""
    groups = list(context.group_sums)
    columns: list[Spec[str]] = [POINT_ITSELF, *(_sum_column(context, group) for group in groups)]
    names = [row.location_id for row in context.locations]
    by_compound = {compound.analyte_id: compound.group for compound in context.evaluation.compounds}
    rests = resting_groups(context.evaluation.primary, by_compound, groups)
    over = [
        (word("compound_group", group), points_text(context, points), over_text(context, *points.values()))
        for group, points in rests.items()
    ]
    grouped = any(row.group for row in context.survey.rows(Analyte))
    note = say("figures.sums_note", over=over, grouped=grouped)
    return table("group-sums", say("figures.sums_caption", unit=context.mass_unit.text), columns, names, note=note)


def _sum_column(context: Context, group: str) -> Spec[str]:
    """Return the column of a group's sums over points."""

    def cell(location_id: str) -> Cell:
        total = context.group_sums[group].get(location_id)
        return Cell(sum_text(context, total, "sum_short")) if total else Cell("–", tone="muted")

    title = say("figures.sum_title", group=word("compound_group", group))
    return Spec(f"sum-{group}", title, context.mass_unit.text, "number", cell)


def shown_flows(context: Context) -> tuple[FlowPath, ...]:
    """Return the flow lines that this publish level shows and that have points beside them."""
    internal = context.survey.settings.publish.level == "internal"
    flows = context.evaluation.related.flows
    return tuple(flow for flow in flows if (flow.public or internal) and len(flow.points) > 1)


@traced
def transect_figure(context: Context, flow: FlowPath, name: str = "", words: str = "figures.transect") -> Figure | None:
    """Draw the mapped compounds with most detections along a flow line; None without any.

    A line of another kind has a name for its figure, and its own ``words``.
    """
    results = _along(context, flow)
    counts = Counter(analyte_id for (_, analyte_id), row in results.items() if row.detected)
    best = [analyte_id for analyte_id, _ in counts.most_common(MOST_PROFILES)]
    chosen = [compound for compound in mapped_compounds(context) if compound.analyte_id in best]
    if not chosen:
        return None
    number = 0 if name else context.evaluation.related.flows.index(flow) + 1
    name = name or f"transect-{number}"
    profiles = [_profile(context, compound, flow, results) for compound in chosen]
    facts = {
        "line": flow.name or worded("flow line {number}", number=number),
        "count": len(flow.points),
        "reach": context.evaluation.limits["flow_line_reach_m"].text,
        "source": context.evaluation.limits["flow_line_reach_m"].source,
        "compounds": ", ".join(compound.name for compound in chosen),
        "unit": context.mass_unit.text,
        "joined": f"{JOINED_M:g} m",
        "apart": sum(point.off_m > JOINED_M for point in flow.points),
        "tops": "; ".join(_top_along(profile) for profile in profiles),
    }
    return Figure(
        name,
        transect(name, profiles, flow.length_m, context.mass_unit.text),
        say(f"{words}_caption", **facts),
        say(f"{words}_alt", **facts),
        say(f"{words}_words", **facts),
        _transect_table(context, name, flow, chosen, results),
    )


@traced
def line_sections(context: Context) -> tuple[Section, ...]:
    """Return the drawings along utility lines with enough points beside them; nothing where there are none."""
    lines = shown_lines(context)
    made = (
        transect_figure(context, line.path, f"utility-{line.number}", "resultpictures.line")
        for line in most_points(lines)
    )
    figures = tuple(figure for figure in made if figure)
    how = prose("resultpictures.lines_how", drawn=len(figures), lines=len(lines), least=LEAST_BESIDE)
    return (Section("lines", say("resultpictures.lines_title"), (how, *figures)),) if figures else ()


def _along(context: Context, flow: FlowPath) -> dict[tuple[str, str], StoredResult]:
    """Return the results of the mapped compounds beside a flow line that can stand on a decade axis."""
    beside = {point.location_id for point in flow.points}
    return {
        (row.location_id, compound.analyte_id): row
        for compound in mapped_compounds(context)
        for row in context.by_compound[compound.analyte_id]
        if row.location_id in beside and not row.rejected and row.unit in MASS_UNITS
        if (row.value if row.detected else row.rl) > 0
    }


def _profile(
    context: Context, compound: Compound, flow: FlowPath, results: Mapping[tuple[str, str], StoredResult]
) -> Profile:
    stations = []
    for point in flow.points:
        row = results.get((point.location_id, compound.analyte_id))
        if row is not None:
            mass = row.value if row.detected else None
            marked = context.has_ring(row)
            stations.append(
                Station(
                    point.location_id,
                    point.along_m,
                    mass,
                    row.rl,
                    marked,
                    value_text(row, context.display),
                    point.off_m,
                )
            )
    return Profile(compound.name, stations)


def _top_along(profile: Profile) -> str:
    hits = [station for station in profile.stations if station.mass_ng is not None]
    top = max(hits, key=lambda station: station.mass_ng or 0.0)
    return worded(
        "{compound} {value} at {point}, {along:.0f} m along",
        compound=profile.title,
        value=top.text,
        point=top.label,
        along=top.along_m,
    )


@traced
def _transect_table(
    context: Context,
    name: str,
    flow: FlowPath,
    chosen: list[Compound],
    results: Mapping[tuple[str, str], StoredResult],
) -> Table:
    columns: list[Spec[Along]] = [
        POINT,
        *ALONG_LINE,
        *(_mass_column(context, compound, results) for compound in chosen),
    ]
    note = say("figures.transect_note", bags=bag_marks_text(context))
    return table(f"{name}-data", say("figures.transect_data"), columns, flow.points, note=note)


def _mass_column(context: Context, compound: Compound, results: Mapping[tuple[str, str], StoredResult]) -> Spec[Along]:
    """Return the column of a compound over points beside a line."""
    return Spec(
        compound.analyte_id,
        compound.name,
        context.mass_unit.text,
        "number",
        cell=lambda point: _mass_cell(context, results.get((point.location_id, compound.analyte_id))),
    )
