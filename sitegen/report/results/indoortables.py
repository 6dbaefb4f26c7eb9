"""The tables on occupied buildings: the buildings, the comparison with levels, and those whose air was not sampled."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from sitegen.compute.formats import day_text
from sitegen.compute.picture.occupied import (
    INDOOR,
    NEAR,
    SEVERITY,
    Building,
    Indoor,
    LandUse,
    Nearby,
    nearest_soil,
)
from sitegen.compute.results.screening import ABOVE, AT_OR_BELOW, CANNOT_TELL, Level, levels
from sitegen.compute.statistics.rounding import as_reported
from sitegen.project.tables import Product
from sitegen.report.record.pages import Cell, Table
from sitegen.report.record.specs import Spec, table
from sitegen.report.results.aircells import behind_of, concentration_cell
from sitegen.report.write.columns import POINT, compound_column, point_cell
from sitegen.report.write.context import Context
from sitegen.report.write.traced import traced
from sitegen.report.write.values import value_text
from sitegen.report.write.words import say, word
from sitegen.voice import worded

MOST_ROWS = 12
"""Rows of the table of the summary, which has a page: those above a level come first."""

HIGHEST = 3
"""Masses that are told of the soil point nearest to a building whose air was not sampled."""

_TONES = {ABOVE: "flag", CANNOT_TELL: "partly", NEAR: "partly", AT_OR_BELOW: "", "": "muted"}


class Row(NamedTuple):
    """A compound at an indoor point, with the building that the point is in."""

    building: Building
    indoor: Indoor

    @property
    def location_id(self) -> str:
        """The point."""
        return self.indoor.location_id

    @property
    def analyte_id(self) -> str:
        """The compound."""
        return self.indoor.analyte_id

    @property
    def pressing(self) -> bool:
        """Whether it is above or near a level that applies, inconclusive, or above the level of another land use."""
        return self.indoor.worst in (ABOVE, NEAR, CANNOT_TELL) or bool(self.indoor.other_uses)


def rows_of(found: Iterable[Building]) -> list[Row]:
    """Return each compound with a level at each indoor point of some buildings."""
    return [Row(building, one) for building in found for one in building.indoor]


def name_of(building: Building) -> str:
    """Return what a building is called."""
    return building.name or say("occupied.unnamed")


def status_of(building: Building) -> str:
    """Say whether a building is on record as occupied."""
    return say(
        "occupied.status", occupied=building.occupied, drawn=building.shape is not None, withheld=building.withheld
    )


def listed(items: Sequence[str]) -> str:
    """Write things one after another, the last after "and"."""
    return say("occupied.listed", items=list(items)) if items else ""


@traced
def buildings_table(context: Context, found: tuple[Building, ...]) -> Table:
    """Return the buildings: occupancy, use, points and the land use that applies."""
    medium = {row.location_id: row.medium for row in context.locations}
    columns: list[Spec[Building]] = [
        Spec("building", "Building", cell=name_of),
        Spec("occupied", "Occupancy", cell=status_of),
        Spec("use", "Use", cell=_use_text),
        Spec("indoor", "Indoor air", cell=lambda one: _sampled_text(context, one), tells=True),
        Spec("others", "Other points inside", cell=lambda one: _others_text(one, medium)),
        Spec("land_use", "Land use that applies", kind="wide", cell=_land_use_text),
    ]
    stated = bool(context.survey.settings.screening.land_use)
    note = say("occupied.buildings_note", stated=stated, withheld=any(one.withheld for one in found))
    return table("occupied-buildings", say("occupied.buildings_caption"), columns, found, note=note)


def _use_text(building: Building) -> str:
    return say("occupied.building_use", use=building.use, withheld=building.withheld)


def _sampled_text(context: Context, building: Building) -> str:
    samplers = sum(len(context.placed_at.get(name, ())) for name in building.sampled)
    return say("occupied.sampled", points=", ".join(building.sampled), samplers=samplers)


def _others_text(building: Building, medium: dict[str, str]) -> str:
    others = [f"{name} ({word('medium', medium[name])})" for name in building.points if medium[name] != INDOOR]
    return say("occupied.other_points", points=", ".join(others))


def _land_use_text(building: Building) -> str:
    use, source, _ = building.land_use
    return say("occupied.land_use_cell", use=use, source=source, withheld=building.withheld)


@traced
def levels_table(context: Context, found: tuple[Building, ...]) -> Table:
    """Return each compound with a level at each indoor point: results, levels, answer, outdoor air and products."""
    return comparison_table(context, "occupied", say("occupied.caption"), rows_of(found), whole=True)


def brief_table(context: Context, found: tuple[Building, ...]) -> tuple[Table, ...]:
    """Return what is above or near a level, or inconclusive, for a summary; nothing where there is nothing."""
    rows = sorted((row for row in rows_of(found) if row.pressing), key=lambda row: _rank(row.indoor))
    return (
        (comparison_table(context, "occupied-brief", say("occupied.caption_brief"), rows, whole=False),) if rows else ()
    )


def _rank(indoor: Indoor) -> int:
    return SEVERITY.index(indoor.worst) if indoor.worst else len(SEVERITY)


@traced
def comparison_table(
    context: Context, name: str, caption: str, rows: list[Row], *, whole: bool, at_point: bool = False
) -> Table:
    """Return rows as a table: ``whole`` with outdoor air and products, else short; that of a point names none."""
    several = len({id(row.building) for row in rows}) > 1
    columns: list[Spec[Row]] = [
        *([] if at_point else [POINT]),
        compound_column(context),
        Spec("found", "Result", "µg/m³", "number", cell=lambda row: _found_cell(context, row.indoor)),
        Spec("level", "Level", "µg/m³", cell=_level_text, tells=True),
        Spec("answer", "Comparison", kind="wide", cell=_verdict_cell),
    ]
    if several:
        columns.insert(1, Spec("building", "Building", cell=lambda row: name_of(row.building)))
    if not whole:
        return table(name, caption, columns, rows[:MOST_ROWS], note=_brief_note(context, rows))
    columns += [
        Spec("others", "Other samplers at the point", cell=lambda row: _others_cell(context, row.indoor), tells=True),
        Spec("outdoor", "Outdoor air", kind="wide", cell=lambda row: _outdoor_text(context, row.indoor), tells=True),
        Spec("products", "Products listing the compound", kind="wide", cell=lambda row: _products_text(context, row)),
    ]
    empty = say("occupied.none", levels=_any_level(context))
    filters = () if at_point else ("point", "compound", "answer")
    return table(name, caption, columns, rows, note=_note(context, rows), empty=empty, filters=filters)


def _any_level(context: Context) -> bool:
    return any(level.medium == INDOOR for level in levels(context.survey))


def _found_cell(context: Context, indoor: Indoor) -> Cell:
    return concentration_cell(context, indoor.results[0]) if indoor.results else Cell("–", tone="muted")


def _others_cell(context: Context, indoor: Indoor) -> Cell:
    """Return the results of the other samplers at the point, each with what its sampler is there."""
    cells = [(behind_of(context, one).role, concentration_cell(context, one)) for one in indoor.results[1:]]
    marks = tuple(dict.fromkeys(mark for _, cell in cells for mark in cell.marks))
    return Cell("; ".join(f"{word('role', role)} {cell.text}" for role, cell in cells) or "–", marks=marks)


def _level_text(row: Row) -> str:
    found = [_one_level(answer.level) for answer in row.indoor.answers]
    return "; ".join(found) or say("occupied.no_level")


def _one_level(level: Level) -> str:
    return say("occupied.level", value=as_reported(level.ug_m3), use=level.land_use)


def _verdict_cell(row: Row) -> Cell:
    """Return the answer; of several levels that of each, with its land use."""
    indoor = row.indoor
    if not indoor.answers:
        said = [say(f"occupied.reason_{indoor.reason}")]
    elif len(indoor.answers) == 1:
        said = [say("occupied.verdict", answer=indoor.answers[0].answer, use="")]
    else:
        said = [
            say("occupied.verdict", answer=one.answer, use=say("occupied.use_of_level", use=one.level.land_use))
            for one in indoor.answers
        ]
    said += [say("occupied.other_use", use=one.land_use, value=as_reported(one.ug_m3)) for one in indoor.other_uses]
    tone = "partly" if indoor.other_uses and indoor.worst != ABOVE else _TONES[indoor.worst]
    return Cell("; ".join(said), tone=tone)


def _outdoor_text(context: Context, indoor: Indoor) -> str:
    """Write the outdoor results of the compound and what the comparison with the point says."""
    pairs = [
        one
        for one in context.evaluation.air_pairs
        if (one.indoor_at, one.analyte_id) == (indoor.location_id, indoor.analyte_id)
    ]
    said = (
        say(
            "occupied.outdoor",
            point=one.outdoor_at,
            value=concentration_cell(context, one.outdoor).text,
            answer=worded(one.answer),
        )
        for one in pairs
    )
    return "; ".join(said) or "–"


def _products_text(context: Context, row: Row) -> str:
    """Name the products noted in the building that name the compound on their label."""
    found = [
        say("occupied.product", product=one.product, point=one.location_id, state=worded(one.state.replace("_", " ")))
        for one in context.survey.rows(Product)
        if one.location_id in row.building.sampled
        and row.analyte_id in [name.strip() for name in one.analyte_ids.split(";")]
    ]
    return "; ".join(found) or say("occupied.no_product", present=context.survey.tables["products"].present)


def _uses_text(context: Context, rows: list[Row]) -> str:
    """Say which land use applies in which building, and what is compared where none is set."""
    found = list({id(row.building): row.building for row in rows}.values())
    by_use: dict[LandUse, list[str]] = {}
    for one in found:
        by_use.setdefault(one.land_use, []).append(name_of(one))
    used = [
        {"use": of.use, "source": of.source, "names": listed(names) if len(by_use) > 1 else ""}
        for of, names in by_use.items()
        if of.use
    ]
    unset = [one for one in found if not one.land_use.use]
    uses = dict.fromkeys(
        say("occupied.use_of_level", use=level.land_use) for level in levels(context.survey) if level.medium == INDOOR
    )
    return say(
        "occupied.land_use",
        set=used,
        unset=listed([name_of(one) for one in unset]),
        withheld=any(one.withheld for one in unset),
        uses=", ".join(uses),
    )


def _note(context: Context, rows: list[Row]) -> str:
    near = context.evaluation.limits["near_level_pct"]
    used = [answer.level for row in rows for answer in row.indoor.answers]
    sources = sorted({say("air.level_source", source=one.source, edition=day_text(one.edition_date)) for one in used})
    bare = dict.fromkeys(name for row in rows for name in row.building.without_level)
    return say(
        "occupied.note",
        uses=_uses_text(context, rows),
        sources="; ".join(sources),
        near=near.text,
        by=near.source,
        bare=listed([context.name(name) for name in bare]),
    )


def _brief_note(context: Context, rows: list[Row]) -> str:
    every = rows_of(context.buildings)
    count = Counter("apart" if not row.indoor.answers else "pressing" if row.pressing else "below" for row in every)
    return say(
        "occupied.note_brief",
        uses=_uses_text(context, every),
        all=len(every),
        below=count["below"],
        apart=count["apart"],
        more=max(0, len(rows) - MOST_ROWS),
    )


class _Far(NamedTuple):
    """A building whose air was not sampled, with the soil point that is nearest to it, None where there is none."""

    building: Building
    near: Nearby | None


@traced
def unsampled_table(context: Context, found: tuple[Building, ...]) -> Table:
    """Return the occupied buildings whose air was not sampled, with the nearest soil point and its highest masses."""
    items = [_Far(one, nearest_soil(one.shape, context.evaluation, HIGHEST)) for one in found if one.shape is not None]
    columns: list[Spec[_Far]] = [
        Spec("building", "Building", cell=lambda one: name_of(one.building)),
        Spec("use", "Use", cell=lambda one: _use_text(one.building)),
        Spec("point", "Nearest point", cell=lambda one: _near_cell(one.near)),
        Spec("distance", "Distance", "m", "number", cell=lambda one: f"{one.near.distance_m:.1f}" if one.near else "–"),
        Spec(
            "masses",
            "Highest relative masses there",
            context.mass_unit.text,
            "wide",
            cell=lambda one: _masses_cell(context, one.near),
            tells=True,
        ),
    ]
    caption = say("occupied.unsampled_caption", round=bool(context.earlier))
    return table("occupied-unsampled", caption, columns, items, note=say("occupied.unsampled_note"))


def _near_cell(near: Nearby | None) -> Cell:
    return point_cell(near.location_id) if near else Cell(say("occupied.no_soil"), tone="muted")


def _masses_cell(context: Context, near: Nearby | None) -> Cell:
    if near is None:
        return Cell("–", tone="muted")
    said = [f"{context.name(row.analyte_id)} {value_text(row, context.display)}" for row in near.highest]
    marks = tuple(dict.fromkeys(mark for row in near.highest for mark in context.marks(row)))
    return Cell("; ".join(said) or say("occupied.no_detection"), marks=marks)
