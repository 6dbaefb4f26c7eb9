"""A page: what lies on the ground at each point."""

from __future__ import annotations

from sitegen.report.record.pages import Cell, Column, Page, Ref, Table
from sitegen.report.write.context import Context

TITLE = "Surfaces <b>& covers</b>"
"""Signs that mean something in HTML show that a writer escapes them."""


def surfaces_page(context: Context) -> Page:
    """Return a table of the points' surfaces."""
    columns = (Column("point", "Point"), Column("surface", "Surface"))
    rows = tuple(
        (Cell(row.location_id, Ref("location", row.location_id)), Cell(row.surface or "no record"))
        for row in context.locations
    )
    table = Table("surfaces", "What lies on the ground at each point.", columns, rows)
    lead = f"The record names {len(rows)} points."
    return Page(Ref("page", "plugin-surfaces"), TITLE, lead, (table,), group="Field and custody")
