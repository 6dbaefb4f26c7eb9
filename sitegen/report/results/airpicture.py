"""The drawing of indoor air against the levels on record, with outdoor air of the same compounds."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from sitegen.compute.results.concentration import Concentration
from sitegen.compute.results.reported import qualifier
from sitegen.compute.results.screening import ABOVE, AT_OR_BELOW, CANNOT_TELL, Comparison
from sitegen.compute.results.store import StoredResult
from sitegen.compute.statistics.rounding import as_reported, rounded_text
from sitegen.figures.airlevels import (
    DUPLICATE,
    OUTDOOR,
    PRIMARY,
    AirBlock,
    AirLevel,
    AirRow,
    AirValue,
    air_levels,
    air_sheets,
)
from sitegen.report.record.pages import Figure
from sitegen.report.write.context import Context
from sitegen.report.write.traced import traced
from sitegen.report.write.words import say

INDOORS, OUTDOORS = "indoor_air", "outdoor_air"


@traced
def air_levels_figure(context: Context) -> tuple[Figure, ...]:
    """Draw indoor air against its levels, on as many sheets as it takes; nothing where nothing was compared."""
    compared = [one for one in context.evaluation.comparisons if _drawn(context, one)]
    sheets = air_sheets(_blocks(context, compared))
    facts = {
        "results": len(_results(compared, ABOVE, AT_OR_BELOW, CANNOT_TELL)),
        "points": len({_row(context, one.concentration).location_id for one in compared}),
        "compounds": len({one.level.analyte_id for one in compared}),
        "above": len(_results(compared, ABOVE)),
        "unknown": len(_results(compared, CANNOT_TELL)),
        "outdoors": len({row.label for sheet in sheets for block in sheet for row in block.outdoors}),
        "sheets": len(sheets),
    }
    words = {key: say(f"qualitypictures.air_{key}") for key in (PRIMARY, DUPLICATE, OUTDOOR, "below", "axis", "level")}
    return tuple(
        Figure(
            f"air-levels-{at}",
            air_levels(f"air-levels-{at}", sheet, words),
            say("qualitypictures.air_caption", sheet=at, **facts),
            say("qualitypictures.air_alt", **facts),
            say("qualitypictures.air_words", **facts),
        )
        for at, sheet in enumerate(sheets, start=1)
    )


def _results(compared: Iterable[Comparison], *answers: str) -> set[tuple[str, str]]:
    return {(one.concentration.lab_sample_id, one.level.analyte_id) for one in compared if one.answer in answers}


def _drawn(context: Context, one: Comparison) -> bool:
    """Tell whether a comparison is of indoor air, with a value or a limit that a decade axis can show."""
    at_point = bool(_row(context, one.concentration).location_id)
    return one.concentration.medium == INDOORS and at_point and _height(one.concentration) > 0


def _height(found: Concentration) -> float:
    return found.ug_m3 if found.detected else found.rl_ug_m3


def _row(context: Context, found: Concentration) -> StoredResult:
    return context.by_key[found.lab_sample_id, found.analyte_id]


def _blocks(context: Context, compared: list[Comparison]) -> list[AirBlock]:
    """Return a block for each compound that was compared, in the order of the compounds."""
    blocks = []
    for compound in context.evaluation.compounds:
        own = [one for one in compared if one.level.analyte_id == compound.analyte_id]
        if own:
            levels = sorted({(one.level.ug_m3, one.level.land_use) for one in own})
            outdoors = [
                found
                for found in context.evaluation.concentrations.values()
                if (found.analyte_id, found.medium) == (compound.analyte_id, OUTDOORS) and _height(found) > 0
            ]
            blocks.append(
                AirBlock(
                    context.name(compound.analyte_id),
                    tuple(AirLevel(use, level, as_reported(level)) for level, use in levels),
                    _rows(context, {one.concentration.lab_sample_id: one.concentration for one in own}),
                    _rows(context, {found.lab_sample_id: found for found in outdoors}),
                )
            )
    return blocks


def _rows(context: Context, found: Mapping[str, Concentration]) -> tuple[AirRow, ...]:
    """Return the points in their order, each with the values of its samplers, its primary sampler first."""
    at: dict[str, list[AirValue]] = {}
    for one in found.values():
        row = _row(context, one)
        at.setdefault(row.location_id, []).append(_value(context, one, second=row.role != PRIMARY))
    for values in at.values():
        values.sort(key=lambda value: value.kind != PRIMARY)
    places = [place.location_id for place in context.locations if place.location_id in at]
    return tuple(AirRow(_label(name, at[name]), tuple(at[name])) for name in places)


def _label(point: str, values: Iterable[AirValue]) -> str:
    return say("qualitypictures.air_label", point=point, outdoors=any(value.kind == OUTDOOR for value in values))


def _value(context: Context, found: Concentration, *, second: bool) -> AirValue:
    write = rounded_text if found.rate else as_reported
    number = write(found.ug_m3) if found.detected else f"<{write(found.rl_ug_m3)}"
    kind = OUTDOOR if found.medium == OUTDOORS else DUPLICATE if second else PRIMARY
    text = f"{number} {qualifier(_row(context, found))}".strip()
    return AirValue(kind, _height(found), found.detected, text)
