"""Air results apart from soil: concentrations, levels, and indoors beside outdoors."""

from __future__ import annotations

from collections.abc import Callable

from sitegen.compute.field.weather import mean_temperature_c
from sitegen.compute.quality.air import ByVolume, rate_uncertainty_ug_m3
from sitegen.compute.results.concentration import Concentration, uptake_rates
from sitegen.compute.results.reported import qualifier
from sitegen.compute.results.screening import Comparison, Level, levels
from sitegen.compute.results.store import StoredResult
from sitegen.compute.statistics.rounding import as_reported, shown
from sitegen.project.schema import AIR_MEDIA
from sitegen.project.tables import Product
from sitegen.report.record.pages import Block, Callout, Cell, Column, Ref, Section, Table
from sitegen.report.write.context import Context, location_ref
from sitegen.report.write.traced import traced
from sitegen.report.write.values import origin_of, source_ref, value_cell
from sitegen.report.write.words import markdown, say, word


@traced
def air_blocks(context: Context) -> tuple[Block, ...]:
    """Return the air results and their comparison with levels for air."""
    rows = air_rows(context)
    if not rows:
        return ()
    blocks: list[Block] = [
        Callout("caution", "People first", markdown("field.vapour_caution")),
        Section("screening", "Beside screening levels", (screening_table(context), not_compared_table(context))),
    ]
    if context.evaluation.air_pairs:
        blocks.append(Section("pairs", "Indoors beside outdoors", (pairs_table(context),)))
    if context.survey.tables["products"].present:
        blocks.append(Section("products", "Products noted indoors", (products_table(context),)))
    return (*blocks, Section("results", "Results", (results_table(context, rows),)))


def air_rows(context: Context) -> list[StoredResult]:
    """Return the results of every sampler at an air point, point by point, the one that stands for it first."""
    return [
        row
        for name, placed in context.placed_at.items()
        for p in sorted(placed, key=lambda p: p != context.primary_at(name))
        if p.medium in AIR_MEDIA
        for row in context.by_sampler.get(p.sampler_id, ())
    ]


def sampler_cell(context: Context, sampler_id: str) -> Cell:
    """Return a sampler with what it is at its point."""
    role = word("role", context.placed[sampler_id].role)
    return Cell(f"{sampler_id} ({role})", Ref("sampler", sampler_id))


@traced
def products_table(context: Context) -> Table:
    """Return the products noted near air points, with the compounds that their labels name."""
    columns = (
        Column("point", "Point"),
        Column("product", "Product", kind="wide"),
        Column("compounds", "Compounds on its label", kind="wide"),
        Column("state", "As found"),
        Column("comment", "Remark", kind="wide"),
    )
    rows = tuple(
        (
            Cell(row.location_id, location_ref(row.location_id)),
            Cell(row.product),
            Cell(", ".join(context.name(name.strip()) for name in row.analyte_ids.split(";") if name.strip()) or "–"),
            Cell(row.state.replace("_", " ") or "–"),
            Cell(row.comment or "–"),
        )
        for row in context.survey.rows(Product)
    )
    note = say("air.products_note") if rows else ""
    return Table("products", say("air.products_caption"), columns, rows, note=note, empty=say("air.products_none"))


@traced
def results_table(context: Context, rows: list[StoredResult]) -> Table:
    """Return mass, concentration by mass and by volume of each air result.

    The column of the rate's uncertainty stands only where a rate gives one.
    """
    ev = context.evaluation
    sources = sorted({c.rate.source for c in ev.concentrations.values() if c.rate})
    unsure = any(rate_uncertainty_ug_m3(c) is not None for c in ev.concentrations.values())
    sampled = [p for p in ev.placements if p.medium in AIR_MEDIA]
    columns = (
        Column("point", "Point"),
        Column("sampler", "Sampler"),
        Column("medium", "Medium"),
        Column("compound", "Compound"),
        Column("mass", "Mass", context.mass_unit.text, "number"),
        Column("air", "Concentration", "µg/m³", "number"),
        *((Column("u", "± from the rate", "µg/m³", "number"),) if unsure else ()),
        Column("ppbv", "By volume", "ppbv", "number"),
    )
    body = tuple(_result_cells(context, row, unsure=unsure) for row in rows)
    note = say(
        "air.note",
        symbol=context.mass_unit.symbol,
        factor=context.mass_unit.factor,
        rates=sources,
        states=_states(context),
        temperatures=[f"{celsius:g} °C" for celsius in _rate_temperatures(context)],
        over=mean_temperature_c(context.survey, sampled),
    )
    return Table("air", say("air.caption"), columns, body, note=note, filters=("point", "compound"))


def _result_cells(context: Context, row: StoredResult, *, unsure: bool) -> tuple[Cell, ...]:
    found = context.evaluation.concentrations.get(row.key)
    volume = context.evaluation.by_volume.get(row.key)
    marks = context.marks(row)
    tone = "" if found and found.detected else "nondetect"
    unsure_cell = (Cell(_uncertainty_text(found)),) if unsure else ()
    behind = source_ref(row) if found else None
    return (
        Cell(row.location_id, location_ref(row.location_id)),
        sampler_cell(context, row.sampler_id),
        Cell(word("medium", row.medium)),
        Cell(context.name(row.analyte_id), Ref("compound", row.analyte_id)),
        value_cell(row, context.display, marks),
        Cell(concentration_text(found, qualifier(row)), behind, marks if found else (), tone, _origin(found, row)),
        *unsure_cell,
        Cell(_volume_text(volume, qualifier(row)), behind, marks if volume else (), tone),
    )


def _origin(found: Concentration | None, row: StoredResult) -> tuple[str, int, str] | None:
    """Return the row of a concentration that the laboratory gave; one that was computed rests on more than a row."""
    return origin_of(row) if found and found.rate is None else None


def _rate_temperatures(context: Context) -> list[float]:
    """Return the temperatures that the uptake rates in use were stated for."""
    rates = (c.rate for c in context.evaluation.concentrations.values())
    return sorted({rate.temperature_c for rate in rates if rate and rate.temperature_c is not None})


def _states(context: Context) -> str:
    """Write each temperature and pressure at which ppbv stand."""
    found = {(v.temperature_c, v.pressure_hpa) for v in context.evaluation.by_volume.values()}
    return "; ".join(f"{celsius:g} °C and {hpa:,g} hPa" for celsius, hpa in sorted(found))


def concentration_text(found: Concentration | None, stated: str) -> str:
    """Write a concentration or the limit of a non-detect with its result's qualifier, or that no rate is on file."""
    if found is None:
        return "no rate on file"
    write = shown if found.rate else as_reported
    number = write(found.ug_m3) if found.detected else f"<{write(found.rl_ug_m3)}"
    return f"{number} {stated}".strip()


def _volume_text(found: ByVolume | None, stated: str) -> str:
    if found is None:
        return "–"
    number = shown(found.ppbv) if found.detected else f"<{shown(found.rl_ppbv)}"
    return f"{number} {stated}".strip()


def _uncertainty_text(found: Concentration | None) -> str:
    made = rate_uncertainty_ug_m3(found) if found else None
    return "–" if made is None else shown(made)


def found_cell(context: Context, found: Concentration) -> Cell:
    """Return a concentration with qualifier and marks of the result behind it, to whose row it leads."""
    row = context.by_key[found.lab_sample_id, found.analyte_id]
    tone = "" if found.detected else "nondetect"
    text = concentration_text(found, qualifier(row))
    return Cell(text, source_ref(row), context.marks(row), tone, _origin(found, row))


@traced
def pairs_table(context: Context) -> Table:
    """Return each compound indoors beside outdoors, in words; a point enters with its highest result."""
    columns = (
        Column("compound", "Compound"),
        Column("inside", "Indoor point"),
        Column("indoor", "Indoors", "µg/m³", "number"),
        Column("outside", "Outdoor point"),
        Column("outdoor", "Outdoors", "µg/m³", "number"),
        Column("answer", "Answer"),
        Column("ratio", "Ratio", kind="number"),
    )
    rows = tuple(
        (
            Cell(context.name(pair.analyte_id), Ref("compound", pair.analyte_id)),
            Cell(pair.indoor_at, location_ref(pair.indoor_at)),
            found_cell(context, pair.indoor),
            Cell(pair.outdoor_at, location_ref(pair.outdoor_at)),
            found_cell(context, pair.outdoor),
            Cell(pair.answer),
            Cell(shown(pair.ratio) if pair.ratio is not None else "–"),
        )
        for pair in context.evaluation.air_pairs
    )
    limit = context.evaluation.limits["duplicate_rpd_pct"]
    margins = context.evaluation.air_margins_pct
    wider = [f"{context.name(name)} {margin:.0f} %" for name, margin in margins.items() if margin > limit.value]
    caption = say("air.pairs_caption")
    note = say("air.pairs_note", limit=limit.text, source=limit.source, wider=wider)
    return Table("air-pairs", caption, columns, rows, note=note, filters=("compound", "answer"))


@traced
def screening_table(context: Context) -> Table:
    """Return each comparison in one of the four answers, those of duplicates with them."""
    columns = (
        Column("point", "Point"),
        Column("sampler", "Sampler"),
        Column("compound", "Compound"),
        Column("found", "Concentration", "µg/m³", "number"),
        Column("level", "Level", "µg/m³", "number"),
        Column("use", "Land use"),
        Column("answer", "Answer"),
        Column("ratio", "Ratio", kind="number"),
    )
    found = sorted(context.evaluation.comparisons, key=_place_in_order(context))
    rows = tuple(
        (
            *_whose(context, c.concentration),
            Cell(context.name(c.level.analyte_id), Ref("compound", c.level.analyte_id)),
            found_cell(context, c.concentration),
            Cell(as_reported(c.level.ug_m3)),
            Cell(c.level.land_use or "–"),
            Cell(_answer_text(c), tone={"above": "flag", "at or below": ""}.get(c.answer, "partly")),
            Cell(shown(c.ratio) if c.ratio is not None else "–"),
        )
        for c in found
    )
    sources = sorted({f"{c.level.source}, edition of {c.level.edition_date or 'unknown date'}" for c in found})
    near = context.evaluation.limits["near_level_pct"]
    note = (
        say(
            "field.screening_note",
            unit=context.mass_unit.text,
            sources="; ".join(sources),
            near=near.text,
            by=near.source,
        )
        if found
        else ""
    )
    empty = say("field.none_compared", levels=len(levels(context.survey)), found=len(context.evaluation.concentrations))
    caption = say("field.screening_caption")
    return Table("screening", caption, columns, rows, note=note, empty=empty, filters=("point", "answer"))


def _place_in_order(context: Context) -> Callable[[Comparison], tuple[int, int, bool]]:
    """Return the order of comparisons: by point and compound as listed, the sampler that stands for the point first."""
    points = {row.location_id: at for at, row in enumerate(context.locations)}
    compounds = {compound.analyte_id: at for at, compound in enumerate(context.evaluation.compounds)}

    def order(one: Comparison) -> tuple[int, int, bool]:
        row = context.by_key[one.concentration.lab_sample_id, one.concentration.analyte_id]
        return points[row.location_id], compounds[row.analyte_id], not row.stands

    return order


def _whose(context: Context, found: Concentration) -> tuple[Cell, Cell]:
    """Return the point and the sampler of a concentration."""
    row = context.by_key[found.lab_sample_id, found.analyte_id]
    return Cell(row.location_id, location_ref(row.location_id)), sampler_cell(context, row.sampler_id)


def _answer_text(one: Comparison) -> str:
    """Write the answer, and whether the result is near the level: ``above, near the level``."""
    return say("air.answer", answer=one.answer, near=one.near)


@traced
def not_compared_table(context: Context) -> Table:
    """Return the levels that nothing was compared with, and why."""
    on_file = levels(context.survey)
    used = {(c.level.analyte_id, c.level.medium) for c in context.evaluation.comparisons}
    columns = (
        Column("compound", "Compound"),
        Column("medium", "Medium"),
        Column("level", "Level", "µg/m³", "number"),
        Column("use", "Land use"),
        Column("reason", "Reason", kind="wide"),
    )
    rows = tuple(
        (
            Cell(context.name(level.analyte_id), Ref("compound", level.analyte_id)),
            Cell(word("medium", level.medium)),
            Cell(as_reported(level.ug_m3)),
            Cell(level.land_use or "–"),
            Cell(_why_not_compared(context, level)),
        )
        for level in on_file
        if (level.analyte_id, level.medium) not in used
    )
    caption, empty = say("field.notcompared_caption"), say("field.all_compared", levels=len(on_file))
    return Table("not-compared", caption, columns, rows, empty=empty)


def _why_not_compared(context: Context, level: Level) -> str:
    """Say what lacks: a result for the compound in the level's medium, an uptake rate, or the time of exposure."""
    asked = level.analyte_id, level.medium
    types = {row.sampler_type for row in context.by_key.values() if (row.analyte_id, row.medium) == asked}
    rates = uptake_rates(context.survey)
    if not types:
        return say("field.reason_none")
    return say("field.reason_time" if any((one, *asked) in rates for one in types) else "field.reason_mass")
