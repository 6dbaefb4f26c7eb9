"""Tables to download over the rounds of a survey: one below the other, each row with its round."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from sitegen.report.record.exports import ExportField, ExportTable
from sitegen.report.write.context import Context
from sitegen.report.write.words import say

ROUND = "round"
"""The column that names the round of a row, where a survey has several."""


def over_rounds(context: Context, make: Callable[[Context], ExportTable]) -> ExportTable:
    """Return a table over all rounds with the round of each row; as it is made where there is one round."""
    if not context.earlier:
        return make(context)
    tables = [(round_id(one), make(one)) for one in context.rounds]
    _, last = tables[-1]
    field = ExportField(ROUND, "string", "", say("takeaway.round_meaning"), required=True)
    return replace(
        last,
        fields=(field, *last.fields),
        rows=tuple((name, *row) for name, table in tables for row in table.rows),
        places=tuple(place for _, table in tables for place in table.places),
        shapes=tuple(shape for _, table in tables for shape in table.shapes),
        key=(ROUND, *last.key) if last.key else (),
    )


def round_id(context: Context) -> str:
    """Return the id of the round that a context is about, else its title."""
    return context.campaign.id or context.campaign.title
