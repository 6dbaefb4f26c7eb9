"""Every point by every compound: the annex of print, and what a page of an earlier round shows."""

from __future__ import annotations

from sitegen.compute.evaluate import Compound
from sitegen.report.record.pages import Cell, Table
from sitegen.report.record.specs import Spec, table
from sitegen.report.results.pressing import bag_marks_text
from sitegen.report.write.columns import POINT_ITSELF
from sitegen.report.write.context import Context
from sitegen.report.write.traced import traced
from sitegen.report.write.values import value_cell
from sitegen.report.write.words import say


@traced
def matrix_table(context: Context, *, reported: bool = True) -> Table:
    """Return every point by every compound, marks carried; of an earlier round where it is not the ``reported`` one."""
    columns = [POINT_ITSELF, *(_matrix_column(context, compound) for compound in context.evaluation.compounds)]
    return table(
        "matrix",
        say("chapter.matrix_caption", unit=context.mass_unit.text),
        columns,
        [name for name, _ in context.in_order(context.by_location.items())],
        note=say("chapter.matrix_note", unit=context.mass_unit.text, bags=bag_marks_text(context), reported=reported),
        landscape=True,
    )


def _matrix_column(context: Context, compound: Compound) -> Spec[str]:
    """Return the column over points of one compound's results."""

    def cell(location_id: str) -> Cell:
        row = context.at_point.get((location_id, compound.analyte_id))
        return value_cell(row, context.display, context.ringed(row)) if row else Cell("–", tone="muted")

    return Spec(compound.analyte_id, compound.name, context.mass_unit.symbol, "number", cell)
