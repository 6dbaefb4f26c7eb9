"""What the pages of points and compounds say of other rounds: a section at the end of each, where there are several."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

from sitegen.compute.rounds.changes import Match, PointChange
from sitegen.report.record.pages import Block, Cell, Page, Prose, Section, Table
from sitegen.report.record.specs import Spec, table
from sitegen.report.rounds.sides import CHANGES, Earlier, compound_cell, earlier_rounds, reported_name
from sitegen.report.rounds.stays import Stay, stays_in, stays_table
from sitegen.report.rounds.told import (
    Counted,
    change_cell,
    counted,
    kind_columns,
    mass_cell,
    masses_table,
    unit_text,
)
from sitegen.report.write.context import Context
from sitegen.report.write.traced import traced
from sitegen.report.write.words import markdown, prose, say


class _Since(NamedTuple):
    """An earlier round as the page of a point asks for it: the match and the changes of each point, by its id."""

    earlier: Earlier
    matches: Mapping[str, Match]
    changes: Mapping[str, Mapping[str, PointChange]]
    stay: Callable[[str], Stay]


class _Over(NamedTuple):
    """An earlier round as the page of a compound asks for it: its counts and its changes, by compound."""

    earlier: Earlier
    counts: Mapping[str, Sequence[Counted]]
    changes: Mapping[str, Sequence[PointChange]]


def with_other_rounds(context: Context, pages: Iterable[Page]) -> Iterator[Page]:
    """Yield pages of points and compounds, each with what other rounds have; unchanged where there is one round."""
    if not context.earlier:
        yield from pages
        return
    rounds = earlier_rounds(context)
    since, over = tuple(map(_since, rounds)), tuple(map(_over, rounds))
    now = stays_in(context, reported_name(context))
    for page in pages:
        if page.ref.kind == "location":
            section = point_section(context, page.ref.id, since, now)
            yield replace(page, blocks=_before_record(page.blocks, section))
        elif page.ref.kind == "compound":
            yield replace(page, blocks=(*page.blocks, compound_section(context, page.ref.id, over)))
        else:
            yield page


def _before_record(blocks: tuple[Block, ...], section: Section) -> tuple[Block, ...]:
    """Put a section after the results of a point and before its field record."""
    at = next((at for at, one in enumerate(blocks) if isinstance(one, Section) and one.id == "record"), len(blocks))
    return (*blocks[:at], section, *blocks[at:])


def _since(earlier: Earlier) -> _Since:
    changes: dict[str, dict[str, PointChange]] = {}
    for one in earlier.change.points:
        changes.setdefault(one.location_id, {})[one.analyte_id] = one
    matches = {match.location_id: match for match in earlier.change.matches}
    return _Since(earlier, matches, changes, stays_in(earlier.context, earlier.name))


def _over(earlier: Earlier) -> _Over:
    counts: dict[str, list[Counted]] = {}
    for one in (*counted(earlier), *counted(earlier, air=True)):
        counts.setdefault(one.change.analyte_id, []).append(one._replace(label=_since_cell(earlier)))
    changes: dict[str, list[PointChange]] = {}
    for change in earlier.change.points:
        changes.setdefault(change.analyte_id, []).append(change)
    return _Over(earlier, counts, changes)


@traced
def point_section(context: Context, name: str, since: Sequence[_Since], now: Callable[[str], Stay]) -> Section:
    """Return what other rounds have of a point: its samplers and what they met, and its results side by side."""
    rounds = len(context.changes)  # asked here, so that the section rests on what they were computed from
    met = [one for one in since if name in one.matches]
    title = say("rounds.point_title")
    if not met:
        return Section("rounds", title, (prose("rounds.point_alone", rounds=rounds),))
    moved = [(one.earlier.name, one.matches[name].distance_m or 0.0) for one in met if one.matches[name].moved]
    stays = [*(one.stay(one.matches[name].earlier_id) for one in met), now(name)]
    blocks: list[Block] = [stays_table(f"rounds-{name}", say("rounds.stays_caption", location=name), stays)]
    if moved:
        told = [(where, f"{distance:.2f}") for where, distance in moved]
        blocks.append(prose("rounds.point_moved", moved=told))
    return Section("rounds", title, (*blocks, _point_table(context, name, met)))


@traced
def _point_table(context: Context, name: str, met: Sequence[_Since]) -> Table:
    """Return the compounds that a round at least detected at a point: each round's result, and what became of it."""
    results = {row.analyte_id: row for row in context.by_location.get(name, [])}
    changes = [one.changes.get(name, {}) for one in met]
    every = dict.fromkeys([*results, *(analyte for own in changes for analyte in own)])
    rows = {
        analyte: [results.get(analyte), *(own[analyte].before for own in changes if analyte in own)]
        for analyte in every
    }
    shown = [analyte for analyte, found in rows.items() if any(row and row.detected for row in found)]
    columns: list[Spec[str]] = [
        Spec("compound", "Compound", cell=lambda analyte: compound_cell(context, analyte)),
        *(_earlier_column(one, own) for one, own in zip(met, changes, strict=True)),
        Spec(
            "now",
            reported_name(context),
            unit_text(results.values()),
            "number",
            cell=lambda analyte: mass_cell(context, results.get(analyte)),
        ),
        *(_since_column(one, own) for one, own in zip(met, changes, strict=True)),
    ]
    facts = {"location": name, "count": len(every), "hidden": len(every) - len(shown)}
    return table(
        f"rounds-results-{name}",
        say("rounds.point_caption", **facts),
        columns,
        shown,
        note=say("rounds.point_note", **facts),
        empty=say("rounds.point_empty", **facts),
    )


def _earlier_column(one: _Since, changes: Mapping[str, PointChange]) -> Spec[str]:
    """Return the column of an earlier round's results at a point, with the marks of that round."""

    def cell(analyte_id: str) -> Cell:
        change = changes.get(analyte_id)
        return mass_cell(one.earlier.context, change.before if change else None)

    unit = unit_text(change.before for change in changes.values())
    return Spec(f"round-{one.earlier.number}", one.earlier.name, unit, "number", cell)


def _since_column(one: _Since, changes: Mapping[str, PointChange]) -> Spec[str]:
    """Return the column of what became of a point's results since an earlier round."""

    def cell(analyte_id: str) -> Cell:
        change = changes.get(analyte_id)
        return change_cell(change) if change else Cell("–", tone="muted")

    return Spec(f"since-{one.earlier.number}", say("rounds.since", name=one.earlier.name), cell=cell, tells=True)


@traced
def compound_section(context: Context, analyte_id: str, over: Sequence[_Over]) -> Section:
    """Return a compound over the rounds: points by what became of it, then its results point by point."""
    rounds = len(context.changes)  # asked here, so that the section rests on what they were computed from
    name = context.name(analyte_id)
    items = [one for own in over for one in own.counts.get(analyte_id, ())]
    label: Spec[Counted] = Spec("round", say("rounds.head_round"), cell=lambda one: one.label)
    medium: Spec[Counted] = Spec("medium", say("rounds.head_medium"), cell=lambda one: one.medium)
    counts = table(
        f"rounds-counts-{analyte_id}",
        say("rounds.compound_caption", name=name),
        [label, medium, *kind_columns()],
        items,
        note=say("rounds.compounds_note"),
        empty=say("rounds.compound_empty", name=name, rounds=rounds),
    )
    return Section("since", say("rounds.compound_title"), (counts, *_by_point(context, analyte_id, over)))


def _since_cell(earlier: Earlier) -> Cell:
    return Cell(say("rounds.since", name=earlier.name), CHANGES._replace(anchor=f"since-{earlier.number}"))


def _by_point(context: Context, analyte_id: str, over: Sequence[_Over]) -> Iterator[Table]:
    for earlier, _, changes in over:
        if analyte_id in changes:
            caption = say(
                "rounds.compound_masses_caption",
                name=context.name(analyte_id),
                before=earlier.name,
                after=reported_name(context),
            )
            named = f"rounds-{earlier.number}-{analyte_id}", caption
            yield masses_table(context, earlier, named, changes[analyte_id], by_compound=False)


def to_changes(number: int) -> Prose:
    """Return the pointer to what changed since an earlier round."""
    return Prose(markdown("rounds.to_changes"), (CHANGES._replace(anchor=f"since-{number}"),))
