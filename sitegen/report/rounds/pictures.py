"""Pictures of a compound over the rounds: what became of its masses, small maps by round, a shaded table.

This folder stands above ``report/results``, which knows nothing of it. Everything here is made for the site and
for print alike, and is nothing where there is one round.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from typing import Any

from sitegen.compute.evaluate import Compound
from sitegen.compute.results.store import StoredResult
from sitegen.compute.rounds.changes import PointChange, RoundChange
from sitegen.compute.rounds.factors import factor_labels
from sitegen.compute.statistics.rounding import rounded_text
from sitegen.figures.changemap import change_map
from sitegen.figures.ground import Ground
from sitegen.figures.multiples import Panel, small_multiples
from sitegen.project.schema import SOIL_MEDIA
from sitegen.report.record.pages import Block, Cell, Figure, Page, Section, Table
from sitegen.report.record.specs import Spec, table
from sitegen.report.results.mapdata import place_values
from sitegen.report.rounds.comparing import Compared, compared
from sitegen.report.rounds.naming import field_days, id_in, left_out, round_name, round_number, rounds_of_unit, soil_of
from sitegen.report.rounds.placing import ground_with, points_in
from sitegen.report.write.columns import POINT, point_cell
from sitegen.report.write.context import Context
from sitegen.report.write.traced import traced
from sitegen.report.write.values import class_tone, value_cell
from sitegen.report.write.words import say, word

MOST_NAMED = 12
"""Points of a kind that the words below a map name; its table names all."""

_COLUMNS = 3
"""Small maps in a row; two and four stand two by two."""


@traced
def change_figures(
    context: Context, change: RoundChange, compound: Compound, drawn: Ground | None
) -> tuple[Block, ...]:
    """Return the map of what became of a compound's masses from an earlier round to this one.

    ``change`` is one of ``context.changes``; ``drawn`` is the prepared ground of the site (or of the sheet of print
    that the figure goes on). One figure with its words and its data as a table; nothing without a ground or
    where neither round has a soil result of the compound.
    """
    pair = compared(context, change, compound)
    if drawn is None or not pair.rows or not pair.points:
        return ()
    name = f"change-{round_number(context, pair.earlier)}-{compound.analyte_id}"
    key = name, drawn.room.placing
    if key not in context.maps:
        context.maps[key] = _change_figure(pair, name, drawn)
    return (context.maps[key],)


def _change_figure(pair: Compared, name: str, drawn: Ground) -> Figure:
    facts = _change_facts(pair)
    return Figure(
        name,
        change_map(name, ground_with(drawn, pair.points), pair.changes, factor_labels()),
        say("roundpictures.change_caption", **facts),
        say("roundpictures.change_alt", **facts),
        say("roundpictures.change_words", **facts),
        _change_table(pair, name),
        drawn.room.placing,
    )


def _change_facts(pair: Compared) -> dict[str, Any]:
    """Return what the sentences of a change map say."""
    kinds = [
        {"words": word("change_kind", kind), "count": len(names), "names": names[:MOST_NAMED]}
        for kind, names in pair.kinds.items()
        if names
    ]
    spread = pair.change.spread
    return {
        "name": pair.compound.name,
        "earlier": round_name(pair.context, pair.earlier),
        "later": round_name(pair.context, pair.context),
        "points": sum(len(names) for names in pair.kinds.values()),
        "compared": sum(row.kind != "not_comparable" for row in pair.rows.values()),
        "unplaced": len(pair.rows.keys() - {point.label for point in pair.points}),
        "below_limit": sum(row.below_limit for row in pair.rows.values()),
        "kinds": kinds,
        "factor": rounded_text(spread.factor),
        "pairs": spread.pairs,
        "by_pairs": spread.rule == "pairs",
        "source": spread.source,
    }


def _change_table(pair: Compared, name: str) -> Table:
    """Return the masses of both rounds at each soil point, and what became of them."""
    unit = pair.context.mass_unit.text
    facts = _change_facts(pair)
    columns: list[Spec[PointChange]] = [
        POINT,
        Spec("earlier", facts["earlier"], pair.earlier.mass_unit.text, "number",
             lambda one: round_cell(pair.context, pair.earlier, one.before)),
        Spec("later", facts["later"], unit, "number",
             lambda one: round_cell(pair.context, pair.context, one.after)),
        Spec("factor", "Later / earlier", "", "number",
             lambda one: "–" if one.factor is None else rounded_text(one.factor)),
        Spec("kind", "Change", cell=lambda one: word("change_kind", one.kind)),
        Spec("why", "Reason for no determination", cell=why_text),
    ]  # fmt: skip
    rows = [row for _, row in pair.context.in_order(pair.rows.items())]
    return table(f"{name}-data", say("roundpictures.change_data", **facts), columns, rows, filters=("kind",))


def why_text(one: PointChange) -> str:
    """Return why no change is told at a point, or what it goes by beside the results; "" where there is nothing."""
    reason = "below_limit" if one.below_limit else one.reason
    told = [word("change_reason", reason)] if reason else []
    if one.before_by_rule or one.after_by_rule:
        told.append(word("change_reason", "by_rule"))
    return "; ".join(told)


def round_cell(context: Context, one: Context, row: StoredResult | None, *, toned: bool = False) -> Cell:
    """Return a table cell for a result of a round, with its marks; a dash where there is none.

    The rows of an earlier survey that came as a folder or archive of its own have no page here to lead to.
    """
    if row is None:
        return Cell("–", tone="muted")
    cell = value_cell(row, one.display, one.ringed(row) if toned else one.marks(row))
    if toned and not row.rejected:
        cell = cell._replace(tone=class_tone(row))
    return cell._replace(ref=None, origin=None) if one is not context and one.campaign.source else cell


@traced
def multiples_figure(context: Context, compound: Compound, drawn: Ground | None) -> Figure | None:
    """Return small maps of a compound, one for each round with its dates, all with the same classes of mass.

    None where there is one round, no ground, or no soil result of the compound in any round. A round whose masses
    are in another unit shares no classes with the others; the words say that it is left out.
    """
    rounds = rounds_of_unit(context)
    if drawn is None or len(rounds) < 2 or not any(soil_of(context, one, compound.analyte_id) for one in rounds):
        return None
    name = f"rounds-{compound.analyte_id}"
    key = name, drawn.room.placing
    if key not in context.maps:
        context.maps[key] = _multiples(context, rounds, compound, drawn)
    return context.maps[key]


def _multiples(context: Context, rounds: tuple[Context, ...], compound: Compound, drawn: Ground) -> Figure:
    name = f"rounds-{compound.analyte_id}"
    panels = [_panel(context, one, compound) for one in rounds]
    every = tuple(point for panel in panels for point in panel.points or ())
    ground = replace(ground_with(drawn, every), points=())
    facts = {
        "name": compound.name,
        "unit": context.mass_unit.text,
        "maps": len(panels),
        "rounds": [{"title": panel.title, "note": panel.note, "days": panel.below} for panel in panels],
        "left_out": left_out(context),
    }
    columns = 2 if len(panels) in (2, 4) else _COLUMNS
    return Figure(
        name,
        small_multiples(name, ground, panels, shared_labels(rounds), context.mass_unit.text, columns),
        say("roundpictures.multiples_caption", **facts),
        say("roundpictures.multiples_alt", **facts),
        say("roundpictures.multiples_words", **facts),
        width=drawn.room.placing,
    )


def _panel(context: Context, one: Context, compound: Compound) -> Panel:
    soil = soil_of(context, one, compound.analyte_id)
    note = say("roundpictures.panel_note", analysed=soil.analysed if soil else 0, detected=soil.detected if soil else 0)
    values = place_values(one, id_in(context, one, compound.analyte_id))
    return Panel(round_name(context, one), note, values, points_in(context, one), field_days(one))


def shared_labels(rounds: Iterable[Context]) -> tuple[str, ...]:
    """Return the words of the mass classes that hold the masses of every round."""
    return max((one.class_labels for one in rounds), key=len)


@traced
def heat_block(context: Context, compound: Compound) -> Table | None:
    """Return soil points by rounds for a compound, each cell shaded by its class of mass.

    None where there is one round or no soil result of the compound in any round. A point that an earlier round had
    under another id stands under its later one, with the other beside the mass.
    """
    rounds = rounds_of_unit(context)
    if len(rounds) < 2 or not any(soil_of(context, one, compound.analyte_id) for one in rounds):
        return None
    earlier = {id(one): _earlier_ids(context, one) for one in rounds}
    called = {id(one): id_in(context, one, compound.analyte_id) for one in rounds}
    names = _soil_points(context, rounds, earlier)

    def column(one: Context, at: int) -> Spec[str]:
        def cell(location_id: str) -> Cell:
            own = earlier[id(one)].get(location_id, location_id)
            row = one.at_point.get((own, called[id(one)]))
            shown = round_cell(context, one, row, toned=True)
            return shown._replace(text=f"{shown.text} ({own})") if row and own != location_id else shown

        return Spec(f"round-{at}", round_name(context, one), context.mass_unit.text, "number", cell)

    unit = context.mass_unit.text
    facts = {
        "name": compound.name,
        "unit": unit,
        "classes": "; ".join(shared_labels(rounds)),
        "left_out": left_out(context),
    }
    caption, note = (say(f"roundpictures.heat_{what}", **facts) for what in ("caption", "note"))
    known = {row.location_id for row in context.locations}
    points: Spec[str] = Spec("point", "Point", cell=lambda name: point_cell(name) if name in known else name)
    columns = [points, *(column(one, at) for at, one in enumerate(rounds, start=1))]
    return table(f"rounds-heat-{compound.analyte_id}", caption, columns, names, note=note)


def _earlier_ids(context: Context, one: Context) -> Mapping[str, str]:
    """Return the id that a round had for each point that this one has under another."""
    if one is context:
        return {}
    change = context.changes[round_number(context, one) - 1]
    return {match.location_id: match.earlier_id for match in change.matches if not match.moved}


def _soil_points(context: Context, rounds: Iterable[Context], earlier: Mapping[int, Mapping[str, str]]) -> list[str]:
    """Return the soil points with a result in any round, by their latest ids, in the order of the locations."""
    found: dict[str, None] = {}
    for one in (context, *(other for other in rounds if other is not context)):
        later = {own: name for name, own in earlier[id(one)].items()}
        soil = (row.location_id for row in one.locations if row.medium in SOIL_MEDIA)
        found |= dict.fromkeys(later.get(name, name) for name in soil if name in one.by_location)
    return list(dict(context.in_order((name, name) for name in found)))


def with_round_pictures(context: Context, drawn: Ground | None, pages: Iterable[Page]) -> Iterator[Page]:
    """Yield pages of compounds, each with its pictures over the rounds below its map; unchanged with one round."""
    for page in pages:
        compound = context.compounds.get(page.ref.id) if page.ref.kind == "compound" and context.earlier else None
        section = round_section(context, compound, drawn) if compound else None
        yield replace(page, blocks=_below_map(page.blocks, section)) if section else page


@traced
def round_section(context: Context, compound: Compound, drawn: Ground | None) -> Section | None:
    """Return a compound's pictures over the rounds, None where there are none; maps for mapped compounds alone."""
    blocks: list[Block] = []
    if compound.mapped:
        for change in context.changes:
            blocks += change_figures(context, change, compound, drawn)
        small = multiples_figure(context, compound, drawn)
        blocks += [small] if small else []
    shaded = heat_block(context, compound)
    blocks += [shaded] if shaded else []
    return Section("rounds", say("roundpictures.section"), tuple(blocks)) if blocks else None


def _below_map(blocks: tuple[Block, ...], section: Section) -> tuple[Block, ...]:
    at = next(
        (n for n, one in enumerate(blocks, start=1) if isinstance(one, Section) and one.id == "pattern"), len(blocks)
    )
    return (*blocks[:at], section, *blocks[at:])
