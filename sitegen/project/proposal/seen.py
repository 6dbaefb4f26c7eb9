"""Everything that was seen of one table, gathered once for the entries of its mapping."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from sitegen.project.proposal.around import Said, said_around
from sitegen.project.proposal.body import Body, body_of
from sitegen.project.proposal.columns import Column
from sitegen.project.proposal.kinds import Kinds, kinds_of
from sitegen.project.proposal.layouts import LONG, SAMPLE_ROLES, SAMPLES, Layout
from sitegen.project.proposal.results import Cells
from sitegen.project.proposal.table import Table
from sitegen.project.proposal.words import Known, kind_of, neat, sampler_of
from sitegen.project.read.cells import tidy

_QC_SHEETS = ("qc", "quality", "surrogate", "surrogates", "lcs", "control", "controls", "qs")
_LIMITS = ("rl", "mdl", "calibration_top")


@dataclass(slots=True)
class Seen:
    """A table with its layout, its rows, and the texts of the cells that matter."""

    table: Table
    layout: Layout
    body: Body
    kinds: Kinds
    known: Known
    holds_qc: bool
    around: dict[str, Said]
    rows: list[int]
    results: Cells = field(default_factory=Cells)
    limits: Cells = field(default_factory=Cells)
    qualifiers: Cells = field(default_factory=Cells)

    def role(self, *roles: str) -> Column | None:
        """Return the column of the first of some purposes that there is one for."""
        return next((self.layout.roles[role] for role in roles if role in self.layout.roles), None)

    def places(self, column: Column, rows: Iterable[int] | None = None) -> dict[str, str]:
        """Return the distinct texts of a column in the rows that are read, each with its first cell."""
        found: dict[str, str] = {}
        for row in self.body.read if rows is None else rows:
            text = self.table.cell(row, column.at)
            if text not in found:
                found[text] = self.table.ref(row, column.at)
        return found

    def held(self, row: int) -> dict[str, str]:
        """Return the distinct texts of a row across, each with its cell."""
        cells, found = self.table.across(row), dict[str, str]()
        for one in self.layout.across:
            if cells[one.at]:
                found.setdefault(cells[one.at], self.table.ref(row, one.at))
        return found


def look(table: Table, layout: Layout, known: Known) -> Seen:
    """Gather what a table shows under a layout."""
    body = body_of(table, layout, known)
    kinds = kinds_of(table, layout, body, _tied(table, layout, body, known))
    rows = kinds.result_rows(table, body.read)
    outside = (*range(layout.head.rows[0]), *body.footer)
    seen = Seen(table, layout, body, kinds, known, _holds_qc(table, layout, rows), said_around(table, outside), rows)
    if seen.holds_qc:
        seen.rows = [row for row in body.read if row not in set(kinds.over)]
    _gather(seen)
    return seen


def _tied(table: Table, layout: Layout, body: Body, known: Known) -> set[str]:
    """Return the sample ids that stand beside a sampler of the folder."""
    columns = [layout.roles[role] for role in SAMPLE_ROLES if role in layout.roles]
    tied: set[str] = set()
    for row in body.read:
        cells = [tidy(table.cell(row, column.at)) for column in columns]
        if any(sampler_of(cell, known) for cell in cells):
            tied.update(cells)
    return tied


def _holds_qc(table: Table, layout: Layout, rows: list[int]) -> bool:
    """Tell whether a table holds quality control alone: recoveries without results, or no row of results."""
    if layout.kind != LONG:
        return False
    sheet = set(neat(table.sheet.name).split())
    return "result_text" not in layout.roles or not rows or bool(sheet & set(_QC_SHEETS) and "limits" in layout.roles)


def _gather(seen: Seen) -> None:
    table, layout = seen.table, seen.layout
    value = seen.role("recovery", "result_text") if seen.holds_qc else seen.role("result_text")
    places = [column.at for column in layout.across] if layout.kind != LONG else [value.at] if value else []
    kinds = dict.fromkeys(places, seen.results)
    kinds |= {layout.roles[role].at: seen.limits for role in _LIMITS if role in layout.roles}
    if "lab_qualifier" in layout.roles:
        kinds[layout.roles["lab_qualifier"].at] = seen.qualifiers
    for at, (_, role) in layout.suffixes.stems.items():
        if role in _LIMITS:
            kinds[at] = seen.limits
        elif role == "lab_qualifier":
            kinds[at] = seen.qualifiers
    for row in seen.rows:
        for at, cells in kinds.items():
            cells.add(table.cell(row, at), lambda row=row, at=at: table.ref(row, at))  # type: ignore[misc]
    for role in _LIMITS:
        if role in layout.rows:
            for text, place in seen.held(layout.rows[role]).items():
                seen.limits.add(text, lambda place=place: place)  # type: ignore[misc]


def sample_row(layout: Layout, table: Table) -> int:
    """Return the row of the header that names the samples of a cross-tab with samples across."""
    rows = layout.head.rows
    if layout.kind == SAMPLES and layout.suffixes.stems and len(rows) > 1:
        return rows[0] if not kind_of("types", table.cell(rows[0], layout.across[0].at)) else rows[1]
    return layout.head.last


def tied_across(seen: Seen) -> dict[str, str]:
    """Return the sampler of each sample across, "" where the folder knows none."""
    layout, table = seen.layout, seen.table
    cells = table.across(layout.rows.get("sampler_id", sample_row(layout, table)))
    return {layout.suffixes.name(one): sampler_of(cells[one.at], seen.known) for one in layout.across}
