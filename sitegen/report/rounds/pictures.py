"""Pictures of a compound over the rounds: what became of its masses, small maps by round, a shaded table.

This folder stands above ``report/results``, which knows nothing of it. Everything here is made for the site and
for print alike, and is nothing where there is one round.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from sitegen.compute.evaluate import Compound
from sitegen.compute.rounds.changes import RoundChange
from sitegen.figures.ground import Ground
from sitegen.report.record.pages import Block, Figure, Page, Table
from sitegen.report.write.context import Context


def change_figures(context: Context, change: RoundChange, compound: Compound, drawn: Ground | None) -> tuple[Block, ...]:
    """Return the map of what became of a compound's masses from an earlier round to this one.

    ``change`` is one of ``context.changes``; ``drawn`` is the prepared ground of the site (or of the sheet of print
    that the figure goes on). One figure with its words and its data as a table; nothing without a ground or
    where neither round has a soil result of the compound.
    """
    del context, change, compound, drawn
    return ()


def multiples_figure(context: Context, compound: Compound, drawn: Ground | None) -> Figure | None:
    """Return small maps of a compound, one for each round with its dates, all with the same classes of mass.

    None where there is one round, no ground, or no soil result of the compound in any round.
    """
    del context, compound, drawn
    return None


def heat_block(context: Context, compound: Compound) -> Table | None:
    """Return soil points by rounds for a compound, each cell shaded by its class of mass.

    None where there is one round or no soil result of the compound in any round.
    """
    del context, compound
    return None


def with_round_pictures(context: Context, drawn: Ground | None, pages: Iterable[Page]) -> Iterator[Page]:
    """Yield pages of compounds, each with its pictures over the rounds below its map; unchanged with one round."""
    del context, drawn
    yield from pages
