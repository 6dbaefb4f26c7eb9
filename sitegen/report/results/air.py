"""Air results: occupied buildings, screening levels, indoor and outdoor air compared, and the results themselves."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

from sitegen.compute.field.weather import mean_temperature_c
from sitegen.compute.formats import day_text
from sitegen.compute.quality.air import AirPair, ByVolume, rate_uncertainty_ug_m3
from sitegen.compute.results.concentration import Concentration, uptake_rates
from sitegen.compute.results.reported import qualifier
from sitegen.compute.results.screening import Comparison, Level, levels
from sitegen.compute.results.store import StoredResult
from sitegen.compute.statistics.rounding import as_reported, rounded_text
from sitegen.project.schema import AIR_MEDIA
from sitegen.project.tables import Product
from sitegen.report.record.pages import Block, Cell, Ref, Section, Table
from sitegen.report.record.specs import Spec, table
from sitegen.report.results.aircells import air_cell, behind_of, concentration_cell, ratio_text
from sitegen.report.results.airpicture import air_levels_figure
from sitegen.report.results.occupied import occupied_blocks
from sitegen.report.write.columns import POINT, compound_column, point_cell, result_column
from sitegen.report.write.context import Context
from sitegen.report.write.traced import traced
from sitegen.report.write.values import source_ref
from sitegen.report.write.words import say, word
from sitegen.voice import worded


@traced
def air_blocks(context: Context) -> tuple[Block, ...]:
    """Return the occupied buildings, then the air results with their comparisons, the results themselves last."""
    rows = air_rows(context)
    blocks: list[Block] = [*occupied_blocks(context, brief=False)]
    if not rows:
        return tuple(blocks)
    blocks += air_levels_figure(context)
    compared = (screening_table(context), not_compared_table(context))
    blocks.append(Section("screening", say("air.screening_title"), compared))
    if context.evaluation.air_pairs:
        blocks.append(Section("pairs", say("air.pairs_title"), (pairs_table(context),)))
    if context.survey.tables["products"].present:
        blocks.append(Section("products", say("air.products_title"), (products_table(context),)))
    return (*blocks, Section("results", say("air.results_title"), (results_table(context, rows),)))


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
    columns: list[Spec[Product]] = [
        POINT,
        Spec("product", "Product", kind="wide", cell=lambda row: row.product),
        Spec("compounds", "Compounds named on the label", kind="wide", cell=lambda row: _labelled_text(context, row)),
        Spec("state", "Condition found", cell=lambda row: worded(row.state.replace("_", " ")) or "–"),
        Spec("comment", "Remark", kind="wide", cell=lambda row: row.comment or "–"),
    ]
    rows = context.survey.rows(Product)
    note = say("air.products_note") if rows else ""
    return table("products", say("air.products_caption"), columns, rows, note=note, empty=say("air.products_none"))


def _labelled_text(context: Context, row: Product) -> str:
    return ", ".join(context.name(name.strip()) for name in row.analyte_ids.split(";") if name.strip()) or "–"


class _Measured(NamedTuple):
    """A result in air with its concentrations by mass and by volume, where there are any."""

    row: StoredResult
    air: Concentration | None
    volume: ByVolume | None

    @property
    def listed(self) -> bool:
        """Whether it has a row: a non-detect of which there is no concentration has none."""
        return self.air is not None or self.row.detected or self.row.rejected


@traced
def results_table(context: Context, rows: list[StoredResult]) -> Table:
    """Return mass, concentration by mass and by volume of each air result.

    Non-detects without a concentration are counted below the table, and not listed.
    The column of the rate's uncertainty stands only where a rate gives one.
    """
    ev = context.evaluation
    sources = sorted({c.rate.source for c in ev.concentrations.values() if c.rate})
    unsure = any(rate_uncertainty_ug_m3(c) is not None for c in ev.concentrations.values())
    sampled = [p for p in ev.placements if p.medium in AIR_MEDIA]
    measured = [_Measured(row, ev.concentrations.get(row.key), ev.by_volume.get(row.key)) for row in rows]
    items = [one for one in measured if one.listed]
    unlisted = [one.row.analyte_id for one in measured if not one.listed]
    note = say(
        "air.note",
        unlisted=len(unlisted),
        names=[context.name(name) for name in dict.fromkeys(unlisted)],
        symbol=context.mass_unit.symbol,
        factor=context.mass_unit.factor,
        rates=sources,
        states=_states(context),
        temperatures=[f"{celsius:g} °C" for celsius in _rate_temperatures(context)],
        over=mean_temperature_c(context.survey, sampled),
    )
    columns = _result_columns(context, unsure=unsure)
    empty = say("air.all_unlisted")
    return table("air", say("air.caption"), columns, items, note=note, empty=empty, filters=("point", "compound"))


def _result_columns(context: Context, *, unsure: bool) -> list[Spec[_Measured]]:
    uncertainty: Spec[_Measured] = Spec(
        "u", "± from the rate", "µg/m³", "number", cell=lambda one: _uncertainty_text(one.air)
    )
    return [
        POINT.of(_row),
        _sampler_column(context).of(_row),
        Spec("medium", "Medium", cell=lambda one: word("medium", one.row.medium)),
        compound_column(context).of(_row),
        result_column(context, "mass", "Mass").of(_row),
        Spec("air", "Concentration", "µg/m³", "number", cell=lambda one: air_cell(context, one.row, one.air)),
        *([uncertainty] if unsure else ()),
        Spec("ppbv", "By volume", "ppbv", "number", cell=lambda one: _volume_cell(context, one)),
    ]


def _row(one: _Measured) -> StoredResult:
    return one.row


def _sampler_column(context: Context) -> Spec[StoredResult]:
    """Return the column of a result's sampler with what it is at its point."""
    return Spec("sampler", "Sampler", cell=lambda row: sampler_cell(context, row.sampler_id))


def _volume_cell(context: Context, one: _Measured) -> Cell:
    behind = source_ref(one.row) if one.air else None
    marks = context.marks(one.row) if one.volume else ()
    tone = "" if one.air and one.air.detected else "nondetect"
    return Cell(_volume_text(one.volume, qualifier(one.row)), behind, marks, tone)


def _rate_temperatures(context: Context) -> list[float]:
    """Return the temperatures that the uptake rates in use were stated for."""
    rates = (c.rate for c in context.evaluation.concentrations.values())
    return sorted({rate.temperature_c for rate in rates if rate and rate.temperature_c is not None})


def _states(context: Context) -> str:
    """Write each temperature and pressure at which ppbv stand."""
    found = {(v.temperature_c, v.pressure_hpa) for v in context.evaluation.by_volume.values()}
    return "; ".join(
        worded("{celsius:g} °C and {hpa:,g} hPa", celsius=celsius, hpa=hpa) for celsius, hpa in sorted(found)
    )


def _volume_text(found: ByVolume | None, stated: str) -> str:
    if found is None:
        return "–"
    number = rounded_text(found.ppbv) if found.detected else f"<{rounded_text(found.rl_ppbv)}"
    return f"{number} {stated}".strip()


def _uncertainty_text(found: Concentration | None) -> str:
    made = rate_uncertainty_ug_m3(found) if found else None
    return "–" if made is None else rounded_text(made)


@traced
def pairs_table(context: Context) -> Table:
    """Return each compound indoors beside outdoors, in words; a point enters with its highest result."""
    columns: list[Spec[AirPair]] = [
        compound_column(context),
        Spec("inside", "Indoor point", cell=lambda pair: point_cell(pair.indoor_at)),
        Spec("indoor", "Indoor air", "µg/m³", "number", cell=lambda pair: concentration_cell(context, pair.indoor)),
        Spec("outside", "Outdoor point", cell=lambda pair: point_cell(pair.outdoor_at)),
        Spec("outdoor", "Outdoor air", "µg/m³", "number", cell=lambda pair: concentration_cell(context, pair.outdoor)),
        Spec("answer", "Comparison", cell=lambda pair: worded(pair.answer)),
        Spec("ratio", "Ratio", kind="number", cell=ratio_text),
    ]
    limit = context.evaluation.limits["duplicate_rpd_pct"]
    margins = context.evaluation.air_margins_pct
    wider = [f"{context.name(name)} {margin:.0f} %" for name, margin in margins.items() if margin > limit.value]
    return table(
        "air-pairs",
        say("air.pairs_caption"),
        columns,
        context.evaluation.air_pairs,
        note=say("air.pairs_note", limit=limit.text, source=limit.source, wider=wider),
        filters=("compound", "answer"),
    )


@traced
def screening_table(context: Context) -> Table:
    """Return each comparison in one of the four answers, those of duplicates with them."""

    def behind(one: Comparison) -> StoredResult:
        return behind_of(context, one.concentration)

    columns: list[Spec[Comparison]] = [
        POINT.of(behind),
        _sampler_column(context).of(behind),
        compound_column(context).of(lambda one: one.level),
        Spec(
            "found", "Concentration", "µg/m³", "number", cell=lambda one: concentration_cell(context, one.concentration)
        ),
        Spec("level", "Level", "µg/m³", "number", cell=lambda one: as_reported(one.level.ug_m3)),
        Spec("use", "Land use", cell=lambda one: one.level.land_use or "–"),
        Spec("answer", "Comparison", cell=_answer_cell),
        Spec("ratio", "Ratio", kind="number", cell=ratio_text),
    ]
    found = sorted(context.evaluation.comparisons, key=_place_in_order(context))
    editions = {(c.level.source, day_text(c.level.edition_date)) for c in found}
    sources = sorted(say("air.level_source", source=source, edition=day) for source, day in editions)
    near = context.evaluation.limits["near_level_pct"]
    note = (
        say(
            "air.screening_note",
            unit=context.mass_unit.text,
            sources="; ".join(sources),
            near=near.text,
            by=near.source,
        )
        if found
        else ""
    )
    empty = say("air.none_compared", levels=len(levels(context.survey)), found=len(context.evaluation.concentrations))
    caption = say("air.screening_caption")
    return table("screening", caption, columns, found, note=note, empty=empty, filters=("point", "answer"))


def _place_in_order(context: Context) -> Callable[[Comparison], tuple[int, int, bool]]:
    """Return the order of comparisons: by point and compound as listed, the sampler that stands for the point first."""
    points = {row.location_id: at for at, row in enumerate(context.locations)}
    compounds = {compound.analyte_id: at for at, compound in enumerate(context.evaluation.compounds)}

    def order(one: Comparison) -> tuple[int, int, bool]:
        row = behind_of(context, one.concentration)
        return points[row.location_id], compounds[row.analyte_id], not row.stands

    return order


def _answer_cell(one: Comparison) -> Cell:
    """Return the answer, and whether the result is near the level: ``above, near the level``."""
    text = say("air.answer", answer=worded(one.answer), near=one.near)
    return Cell(text, tone={"above": "flag", "at or below": ""}.get(one.answer, "partly"))


@traced
def not_compared_table(context: Context) -> Table:
    """Return the levels that nothing was compared with, and why."""
    on_file = levels(context.survey)
    used = {(c.level.analyte_id, c.level.medium) for c in context.evaluation.comparisons}
    columns: list[Spec[Level]] = [
        compound_column(context),
        Spec("medium", "Medium", cell=lambda level: word("medium", level.medium)),
        Spec("level", "Level", "µg/m³", "number", cell=lambda level: as_reported(level.ug_m3)),
        Spec("use", "Land use", cell=lambda level: level.land_use or "–"),
        Spec("reason", "Reason", kind="wide", cell=lambda level: _why_not_compared(context, level)),
    ]
    unused = [level for level in on_file if (level.analyte_id, level.medium) not in used]
    caption, empty = say("air.notcompared_caption"), say("air.all_compared", levels=len(on_file))
    return table("not-compared", caption, columns, unused, empty=empty)


def _why_not_compared(context: Context, level: Level) -> str:
    """Say what lacks: a result for the compound in the level's medium, an uptake rate, or the time of exposure."""
    asked = level.analyte_id, level.medium
    types = {row.sampler_type for row in context.by_key.values() if (row.analyte_id, row.medium) == asked}
    rates = uptake_rates(context.survey)
    if not types:
        return say("air.reason_none")
    return say("air.reason_time" if any((one, *asked) in rates for one in types) else "air.reason_mass")
