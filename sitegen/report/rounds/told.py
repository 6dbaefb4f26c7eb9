"""How a change is written: the mass of each round with its marks, and a factor or words, never both of a guess."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from typing import NamedTuple

from sitegen.compute.results.store import StoredResult
from sitegen.compute.rounds.changes import KINDS, CompoundChange, Kind, PointChange
from sitegen.compute.statistics.rounding import rounded_text
from sitegen.project.schema import AIR_MEDIA
from sitegen.report.record.pages import Cell, Table
from sitegen.report.record.specs import Spec, table
from sitegen.report.rounds.sides import Earlier, apart, compound_cell, reported_name, words_of
from sitegen.report.write.columns import point_cell
from sitegen.report.write.context import Context
from sitegen.report.write.traced import traced
from sitegen.report.write.values import limit_cell, value_cell
from sitegen.report.write.words import say
from sitegen.units import UNIT_TEXT
from sitegen.voice import worded

MOST_ROWS = 4_000
"""Above this number of rows a table of two rounds keeps to the mapped compounds, and says so: a page is to open."""

_LEAST_P = 0.001


def _is_mapped(context: Context, analyte_id: str) -> bool:
    compound = context.compounds.get(analyte_id)
    return compound is not None and compound.mapped


def mass_cell(context: Context, row: StoredResult | None) -> Cell:
    """Return the result of a round as its laboratory wrote it, with the marks of that round; a dash for none."""
    if row is None:
        return Cell("–", tone="muted")
    return apart(context, value_cell(row, context.display, context.marks(row)))


def change_text(change: PointChange) -> str:
    """Write what became of a mass: a factor of two detections, else words.

    >>> change_text(PointChange("A", "A", "pce", None, None, "grew", 2.437))
    '× 2.4'
    >>> change_text(PointChange("A", "A", "pce", None, None, "appeared"))
    'newly detected'
    >>> change_text(PointChange("A", "A", "pce", None, None, "appeared", below_limit=True))
    'not determined: detected in the later round only, below the reporting limit of the earlier round'
    >>> change_text(PointChange("A", "A", "pce", None, None, "not_comparable", reason="rejected"))
    'not determined: a result is rejected'
    """
    if change.kind == "not_comparable":
        return say("rounds.cannot", why=words_of("reasons", change.reason))
    if change.below_limit:
        return say("rounds.cannot", why=words_of("below", change.kind))
    ruled = change.before_by_rule or change.after_by_rule
    if change.factor is None:
        return say("rounds.became", kind=words_of("kinds", change.kind), ruled=ruled)
    return say(
        "rounds.factor",
        factor=rounded_text(change.factor),
        within=change.kind == "within",
        air=change.quantity == "concentration",
    )


def change_cell(change: PointChange) -> Cell:
    """Return what became of a mass as a cell: what is beyond the spread stands out by its weight."""
    tone = {"grew": "strong", "shrank": "strong", "neither": "nondetect", "not_comparable": "muted"}
    return Cell(change_text(change), tone="muted" if change.below_limit else tone.get(change.kind, ""))


def detected_once(changes: Iterable[PointChange]) -> list[PointChange]:
    """Return the changes with a detection in one of the two rounds at least."""
    return [one for one in changes if any(row and row.detected for row in (one.before, one.after))]


def mass_columns(
    context: Context, earlier: Earlier, shown: Sequence[PointChange], *, limits: bool
) -> list[Spec[PointChange]]:
    """Return the columns of the masses of two rounds, of what became of them, and of the ``limits`` where wanted."""
    old = earlier.context
    was, unit = (unit_text(rows) for rows in ([one.before for one in shown], [one.after for one in shown]))
    masses: list[Spec[PointChange]] = [
        Spec("before", _head("", later=False), was, "number", cell=lambda one: mass_cell(old, one.before)),
        Spec("after", _head("", later=True), unit, "number", cell=lambda one: mass_cell(context, one.after)),
        Spec("change", say("rounds.head_change"), cell=change_cell, tells=True),
    ]
    of_limits: list[Spec[PointChange]] = [
        Spec("rl_before", _limit_of(later=False), was, "number", cell=lambda one: _limit(one.before)),
        Spec("rl_after", _limit_of(later=True), unit, "number", cell=lambda one: _limit(one.after)),
    ]
    return [*masses, *(of_limits if limits else ())]


def _head(what: str, *, later: bool) -> str:
    return say("rounds.head_of", what=what, later=later)


def unit_text(rows: Iterable[StoredResult | None]) -> str:
    """Return the unit of results, both where there are two."""
    return f" {worded('or')} ".join(dict.fromkeys(UNIT_TEXT.get(row.unit, row.unit) for row in rows if row))


def _limit_of(*, later: bool) -> str:
    return _head(say("rounds.head_limit"), later=later)


def _limit(row: StoredResult | None) -> Cell:
    return limit_cell(row, "rl") if row else Cell("–", tone="muted")


def point_column() -> Spec[PointChange]:
    """Return the column of the point, and of the earlier one where it has another id."""
    return Spec("point", "Point", cell=lambda one: _pair_cell(one.location_id, one.earlier_id))


def _pair_cell(location_id: str, earlier_id: str) -> Cell:
    cell = point_cell(location_id)
    return cell if earlier_id in (location_id, "") else cell._replace(text=f"{location_id} ({earlier_id})")


@traced
def masses_table(
    context: Context,
    earlier: Earlier,
    named: tuple[str, str],
    changes: Sequence[PointChange],
    *,
    by_compound: bool,
    limits: bool = True,
) -> Table:
    """Return masses of two rounds beside each other; the table is ``named`` by its id and caption.

    The compound has a column of its own where there are several. Pairs that were detected in neither
    round are counted below and not listed. Paper is narrow: without columns of ``limits`` a non-detect has its own
    beside it all the same.
    """
    found = detected_once(changes)
    shown = found if len(found) <= MOST_ROWS else [one for one in found if _is_mapped(context, one.analyte_id)]
    compound: Spec[PointChange] = Spec("compound", "Compound", cell=lambda one: compound_cell(context, one.analyte_id))
    heads: list[Spec[PointChange]] = [point_column(), *([compound] if by_compound else [])]
    facts = {"count": len(changes), "hidden": len(changes) - len(found), "left": len(found) - len(shown)}
    air = any(one.quantity == "concentration" and one.factor is not None for one in shown)
    return table(
        *named,
        [*heads, *mass_columns(context, earlier, shown, limits=limits)],
        shown,
        note=say("rounds.masses_note", air=air, **facts),
        empty=say("rounds.masses_empty", **facts),
        filters=("compound",) if by_compound else (),
    )


class Counted(NamedTuple):
    """A compound over the points compared with an earlier round, and how many of its lone detections tell nothing."""

    label: Cell
    medium: str
    change: CompoundChange
    below: int


def counted(earlier: Earlier, *, air: bool = False) -> list[Counted]:
    """Return the compounds over the points compared, of soil or of air, each under its own id."""
    points = of_media(earlier.change.points)[air]
    below = Counter(one.analyte_id for one in points if one.below_limit)
    compounds = earlier.change.air_compounds if air else earlier.change.compounds
    medium = words_of("media", "air" if air else "soil")
    return [Counted(Cell(one.analyte_id), medium, one, below[one.analyte_id]) for one in compounds]


def of_media(changes: Iterable[PointChange]) -> tuple[tuple[PointChange, ...], tuple[PointChange, ...]]:
    """Return the changes at soil points and those in air, by the medium of the later result, else of the earlier."""
    found: tuple[list[PointChange], list[PointChange]] = ([], [])
    for one in changes:
        row = one.after or one.before
        found[row is not None and row.medium in AIR_MEDIA].append(one)
    return tuple(found[0]), tuple(found[1])


def kind_columns() -> list[Spec[Counted]]:
    """Return the columns of a compound's points by what became of its mass, and of the test of their order."""
    return [
        *(Spec(kind, words_of("heads", kind), kind="number", cell=_count_of(kind)) for kind in KINDS[:5]),
        Spec("below", say("rounds.head_below"), kind="number", cell=lambda one: str(one.below)),
        *(Spec(kind, words_of("heads", kind), kind="number", cell=_count_of(kind)) for kind in KINDS[5:]),
        Spec("higher", say("rounds.head_higher"), kind="number", cell=lambda one: str(one.change.higher)),
        Spec("lower", say("rounds.head_lower"), kind="number", cell=lambda one: str(one.change.lower)),
        Spec("ties", say("rounds.head_ties"), kind="number", cell=lambda one: str(one.change.ties)),
        Spec("p", say("rounds.head_p"), kind="number", cell=lambda one: p_text(one.change.p)),
    ]


def _count_of(kind: Kind) -> Callable[[Counted], str]:
    return lambda one: str(one.change.kinds.get(kind, 0))


def p_text(p: float | None) -> str:
    """Write a probability of the sign test, a dash where nothing has an order.

    >>> p_text(0.03125), p_text(1.0), p_text(0.0002), p_text(None)
    ('0.031', '1.0', '<0.001', '–')
    """
    if p is None:
        return "–"
    return f"<{_LEAST_P:g}" if p < _LEAST_P else rounded_text(p)


@traced
def compounds_table(context: Context, earlier: Earlier, *, air: bool = False) -> Table:
    """Return every compound with its points by what became of its mass, and the sign test: of soil, or of air."""
    name: Spec[Counted] = Spec("compound", "Compound", cell=lambda one: compound_cell(context, one.change.analyte_id))
    facts = {"before": earlier.name, "after": reported_name(context), "air": air}
    return table(
        f"changes-{'air-' if air else ''}compounds-{earlier.number}",
        say("rounds.compounds_caption", **facts),
        [name, *kind_columns()],
        counted(earlier, air=air),
        note=say("rounds.compounds_note"),
        empty=say("rounds.compounds_empty", points=len(earlier.change.matches)),
    )
