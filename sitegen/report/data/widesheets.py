"""The workbook's sheets of points and compounds: a sheet for each round, medium group and unit.

Masses and concentrations never share a sheet. Qualifiers and marks stand in a column beside each
number unless the project wants them in a row below: beside it they stay with it when rows are sorted
or filtered, which is why that is the default.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import chain
from typing import NamedTuple

from sitegen.compute.field.exposure import DUPLICATE, Placement
from sitegen.project.schema import MEDIUM_GROUPS
from sitegen.project.tables import Location
from sitegen.report.data.widecells import WideFigure, computed_figure, marks_of, reported_figure
from sitegen.report.data.widecolumns import FIXED, beside, compound_columns, lead_columns, with_twin_lines
from sitegen.report.record.sheets import WideSheet
from sitegen.report.write.context import Context
from sitegen.report.write.words import opening, say, word
from sitegen.units import MASS_UNITS, RESULT_UNITS

_COMPUTED_UNIT = "ug/m3"


class Kind(NamedTuple):
    """What a sheet is of: a group of media, a unit of results (none where none are on record), or what is computed."""

    group: str
    unit: str = ""
    computed: bool = False


class Line(NamedTuple):
    """A row of a sheet: a point, the sampler that it is about, what that is there, and its results by compound."""

    place: Location
    placement: Placement | None
    named: str
    figures: Mapping[str, WideFigure]


Figures = Mapping[Kind, Mapping[str, Mapping[str, WideFigure]]]
"""What is shown of results: by kind of sheet, sampler and compound."""


def wide_sheets(context: Context) -> tuple[WideSheet, ...]:
    """Return the sheets of every round, this one's first, then the earlier ones', the latest first."""
    rounds = [(number, one) for number, one in enumerate(context.rounds, start=1) if one.with_results]
    several = len(context.rounds) > 1
    twin = context.survey.settings.publish.workbook_qualifiers == "row"
    return tuple(
        replace(sheet, stored=sheet.stored and one is context)
        for number, one in reversed(rounds)
        for sheet in _round_sheets(one, _round_name(one, number) if several else "", twin=twin)
    )


def _round_name(context: Context, number: int) -> str:
    return context.campaign.name or say("sheets.round", number=number)


def _round_sheets(context: Context, name: str, *, twin: bool) -> Iterator[WideSheet]:
    figures = _figures(context)
    for kind in figures:
        yield _sheet(context, kind, _lines(context, kind, figures), name, twin=twin)


def _figures(context: Context) -> Figures:
    """Return what is shown of each result of a sampler at a point, masses and concentrations apart."""
    found: dict[Kind, dict[str, dict[str, WideFigure]]] = {}
    marks, display = marks_of(context), context.display
    for one in chain.from_iterable(context.placed_at.values()):
        group = group_of(one.medium)
        for row in context.by_sampler.get(one.sampler_id, ()):
            if row.type == "sample":
                of_unit = found.setdefault(Kind(group, row.unit), {}).setdefault(one.sampler_id, {})
                of_unit.setdefault(row.analyte_id, reported_figure(row, marks, display))
                air = context.evaluation.concentrations.get(row.key)
                if air is not None and air.rate is not None:
                    in_air = found.setdefault(Kind(group, _COMPUTED_UNIT, computed=True), {})
                    in_air.setdefault(one.sampler_id, {}).setdefault(row.analyte_id, computed_figure(row, air, marks))
    with_results = {kind.group for kind in found}
    for place in context.locations:
        if group_of(place.medium) not in with_results:
            found.setdefault(Kind(group_of(place.medium)), {})
    return {kind: found[kind] for kind in sorted(found, key=_place)}


def _place(kind: Kind) -> tuple[int, bool, int]:
    groups, units = list(MEDIUM_GROUPS), list(RESULT_UNITS)
    return (
        groups.index(kind.group) if kind.group in groups else len(groups),
        kind.computed,
        units.index(kind.unit) if kind.unit in units else len(units),
    )


def group_of(medium: str) -> str:
    """Return the group of media that a medium is judged with, nothing for none.

    >>> group_of("sub_slab"), group_of("indoor_air"), group_of("")
    ('soil', 'air', '')
    """
    return next((name for name, media in MEDIUM_GROUPS.items() if medium in media), "")


def _lines(context: Context, kind: Kind, figures: Figures) -> list[Line]:
    """Return the lines of a sheet: points with results first, each with its other samplers below; then those without.

    A point whose results are all on other sheets is left to these.
    """
    of_kind = figures[kind]
    elsewhere = {sampler for other, some in figures.items() if other != kind for sampler in some}
    with_results, without = [], []
    for row in context.locations:
        if group_of(row.medium) != kind.group:
            continue
        lines = [*_point_lines(context, row, of_kind)]
        if any(line.figures for line in lines):
            with_results += lines
        elif not any(one.sampler_id in elsewhere for one in context.placed_at.get(row.location_id, ())):
            without += lines
    return with_results + without


def _point_lines(context: Context, row: Location, figures: Mapping[str, Mapping[str, WideFigure]]) -> Iterator[Line]:
    """Yield the line of the sampler that stands for a point, and below it those of others that have results."""
    first = context.primary_at(row.location_id)
    yield Line(
        row, first, word("role", first.role) if first else "", figures.get(first.sampler_id, {}) if first else {}
    )
    for one in context.placed_at.get(row.location_id, ()):
        found = figures.get(one.sampler_id)
        if one != first and found:
            yield Line(row, one, _other(one, first), found)


def _other(one: Placement, first: Placement | None) -> str:
    if one.role != DUPLICATE:
        return say("sheets.other_sampler")
    return say("sheets.duplicate", of=one.duplicate_of or (first.sampler_id if first else ""))


def _sheet(context: Context, kind: Kind, lines: Sequence[Line], name: str, *, twin: bool) -> WideSheet:
    unit = RESULT_UNITS[kind.unit].text if kind.unit else ""
    lead = lead_columns(context, kind.group, lines)
    compounds = compound_columns(context, lines, unit, twin=twin)
    columns, rows = (with_twin_lines if twin else beside)(lead, compounds)
    facts = {"unit": unit, "computed": kind.computed, "round": name}
    return WideSheet(
        say("sheets.kind", medium=say("sheets.medium_group", group=kind.group), **facts),
        say(
            "sheets.title",
            medium=opening(word("medium_group", kind.group)) if kind.group else say("sheets.medium_group", group=""),
            what=say("sheets.what", mass=kind.unit in MASS_UNITS),
            **facts,
        ),
        columns,
        rows,
        round=name,
        round_id=context.campaign.id if name else "",
        fixed=FIXED + twin,
        sampler=FIXED + twin,
        twin=twin,
        computed=kind.computed,
        stored=not kind.computed,
    )
