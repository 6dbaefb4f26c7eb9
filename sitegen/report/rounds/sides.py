"""The rounds as pages tell them: in order of time, each with its name, its page and its figures."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Any, NamedTuple

from sitegen.compute.rounds.changes import RoundChange
from sitegen.report.record.pages import Block, Cell, Facts, Figure, Ref, Section, Table
from sitegen.report.rounds.naming import round_name
from sitegen.report.write.context import Context, location_ref
from sitegen.report.write.words import lexicon, say
from sitegen.voice import worded

OVERVIEW = Ref("page", "rounds")
CHANGES = Ref("page", "round-changes")


class Earlier(NamedTuple):
    """An earlier round of what is ``reported``: its number in order of time, and what it is written from."""

    number: int
    context: Context
    reported: Context

    @property
    def change(self) -> RoundChange:
        """What changed since then, with what that was computed from."""
        return self.reported.changes[self.number - 1]

    @property
    def name(self) -> str:
        """What the round is called in a sentence."""
        return round_name(self.reported, self.context)

    @property
    def ref(self) -> Ref:
        """The pointer to its page."""
        return round_ref(self.number)


def several(context: Context) -> bool:
    """Tell whether there is more than one round, or a supplement, to tell of."""
    return bool(context.earlier or context.campaign.supplements)


def reported_name(context: Context) -> str:
    """Return what the round that the report is about is called."""
    return round_name(context, context)


def round_ids(context: Context) -> tuple[str, ...]:
    """Return an id for each round in order of time, each once: its own, with its number where others have it too."""
    ids = [one.campaign.id or round_name(context, one) for one in context.rounds]
    return tuple(
        name if ids.count(name) == 1 else say("rounds.id_numbered", name=name, number=number)
        for number, name in enumerate(ids, start=1)
    )


def round_ref(number: int) -> Ref:
    """Return the pointer to the page of an earlier round."""
    return Ref("page", f"round-{number}")


def earlier_rounds(context: Context) -> tuple[Earlier, ...]:
    """Return the earlier rounds in order of time."""
    return tuple(Earlier(number, one, context) for number, one in enumerate(context.earlier, start=1))


def words_of(group: str, key: str) -> str:
    """Return the words for a code of this folder; the code itself, spaced, if there are none."""
    known: dict[str, str] = lexicon("rounds")[group]
    return known[key] if key in known else worded(key.replace("_", " "))


def compound_name(context: Context, analyte_id: str) -> str:
    """Return a compound's printed name: the reported round's, else that of the last round that lists it."""
    lists = (one.compounds for one in reversed(context.rounds))
    return next((listed[analyte_id].name for listed in lists if analyte_id in listed), analyte_id)


def compound_cell(context: Context, analyte_id: str) -> Cell:
    """Return a compound that leads to its page, where the reported round has one."""
    return Cell(compound_name(context, analyte_id), Ref("compound", analyte_id))


def point_in(context: Context, earlier: Earlier, location_id: str) -> Cell:
    """Return a point of an earlier round, which leads to its page, else to its row on the round's page."""
    return Cell(location_id, _point_ref(context, earlier.ref, location_id))


def _point_ref(context: Context, page: Ref, location_id: str) -> Ref:
    known = location_id in context.evaluation.states
    return location_ref(location_id) if known else page._replace(anchor=location_id)


def led_here(context: Context, earlier: Earlier, blocks: Iterable[Block]) -> tuple[Block, ...]:
    """Return blocks of an earlier round whose cells lead to pages that there are.

    A point that the reported round has no page of leads to its row on the page of its own round. An earlier survey
    read beside the folder may use the same ids for other things: only its points and compounds lead anywhere, and
    its marks to no finding.
    """

    def led(cell: Cell) -> Cell:
        if cell.ref is not None and cell.ref.kind == "location":
            cell = cell._replace(ref=_point_ref(context, earlier.ref, cell.ref.id))
        return apart(earlier.context, cell)

    def in_table(one: Table) -> Table:
        return replace(one, rows=tuple(tuple(map(led, row)) for row in one.rows))

    def in_block(block: Any) -> Any:  # noqa: ANN401 - of each kind of block one of its own kind
        match block:
            case Section():
                return replace(block, blocks=tuple(map(in_block, block.blocks)))
            case Table():
                return in_table(block)
            case Figure():
                return replace(block, table=in_table(block.table)) if block.table else block
            case Facts():
                return replace(block, rows=tuple((label, led(cell)) for label, cell in block.rows))
        return block

    return tuple(map(in_block, blocks))


_SHARED = ("location", "compound", "page")


def apart(one: Context, cell: Cell) -> Cell:
    """Return a cell of a round; of an earlier survey beside the folder without links by ids that are its own."""
    if not one.survey.mount:
        return cell
    ref = cell.ref if cell.ref and cell.ref.kind in _SHARED and not cell.ref.id.startswith("batch-") else None
    return cell._replace(ref=ref, marks=tuple(mark._replace(finding="") for mark in cell.marks))
