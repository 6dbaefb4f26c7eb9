"""The tables of a folder completed: ranges of serials, values that other rows say, and defaults, in this order.

Nothing is done that project.toml does not ask for: a folder without ``[derive]`` and ``[defaults]`` is
read as its files have it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import islice
from typing import Any

from sitegen.findings.problems import Finding, Severity, Where
from sitegen.project.intake.allowed import ALLOWED, CONDITIONS, OTHER_UNIT
from sitegen.project.intake.defaults import Default, read_defaults
from sitegen.project.intake.derive import derive_bags, derive_return_bags, derive_samplers, derive_subjects
from sitegen.project.intake.filling import Filling
from sitegen.project.intake.ranges import with_serials
from sitegen.project.intake.text import TableText
from sitegen.project.limits import TOLD
from sitegen.project.reading import readable
from sitegen.project.schema import SETTINGS_FILE

_DERIVERS: Mapping[str, Callable[[Mapping[str, Filling]], list[Finding]]] = {
    "samplers": derive_samplers,
    "return_bags": derive_return_bags,
    "bags": derive_bags,
    "custody": derive_subjects,
}
_FIELD_BLANK, _SOIL_GAS = "field_blank", "soil_gas"


def complete(texts: Mapping[str, TableText], settings: bytes) -> tuple[dict[str, TableText], list[Finding]]:
    """Return the tables with what project.toml asks to be filled, and findings about what it asks."""
    stated = readable(settings)
    asked, defaults = _table(stated, "derive"), _table(stated, "defaults")
    done = dict(texts)
    findings: list[Finding] = []
    if asked.get("serial_ranges") is True and "samplers" in done:
        done["samplers"], findings = with_serials(done["samplers"])
    derivers = [derive for name, derive in _DERIVERS.items() if asked.get(name) is True]
    if not derivers and not defaults:
        return done, findings
    tables = {name: Filling(text) for name, text in done.items()}
    for derive in derivers:
        findings += derive(tables)
    by_table, problems = read_defaults(defaults, settings.decode("utf-8-sig", "replace"))
    findings += problems
    for name in ALLOWED:  # a point's medium is filled before its placements ask for it
        if name in tables and name in by_table:
            findings += _Filler(name, tables, by_table[name]).fill()
    return {name: table.close() for name, table in tables.items()}, findings


def _table(stated: Mapping[str, Any], name: str) -> Mapping[str, Any]:
    found = stated.get(name)
    return found if isinstance(found, dict) else {}


@dataclass(frozen=True, slots=True)
class _Clash:
    """Two where rows that give one cell different values."""

    first: Default
    second: Default


class _Filler:
    """The defaults of one table, put into its blank cells."""

    def __init__(self, name: str, tables: Mapping[str, Filling], defaults: Iterable[Default]) -> None:
        self.name, self.table = name, tables[name]
        self.allowed = ALLOWED[name]
        self.media = _lookup(tables.get("locations"), "location_id", "medium")
        self.kinds = _lookup(tables.get("samplers"), "sampler_id", "kind")
        self.constants: dict[str, Default] = {}
        self.where: dict[tuple[str, ...], dict[tuple[str, ...], list[Default]]] = {}
        self.clashes: dict[_Clash, str] = {}
        for one in defaults:
            if one.on:
                names, values = (tuple(part) for part in zip(*one.on, strict=True))
                self.where.setdefault(names, {}).setdefault(values, []).append(one)
            else:
                self.constants[one.column] = one

    def fill(self) -> list[Finding]:
        """Fill every row; conditions are asked of the table as it was before."""
        chosen = [dict(self._chosen(row)) for row in range(len(self.table.rows))]
        for row, values in enumerate(chosen):
            for column, default in values.items():
                self.table.fill(row, column, default.text, default.rule)
        clashes = [self._told(clash, place) for clash, place in islice(self.clashes.items(), TOLD.value)]
        if len(self.clashes) > TOLD.value:
            more = f"{len(self.clashes) - TOLD.value:,} more cells of this kind"
            clashes.append(replace(clashes[-1], subject=f"defaults.{self.name}+more", found=more))
        return clashes

    def _chosen(self, row: int) -> Iterator[tuple[str, Default]]:
        """Yield the default of each blank cell of a row that has one and may have it."""
        particular: dict[str, list[Default]] = {}
        for names, by_values in self.where.items():
            for one in by_values.get(tuple(self._asked(row, name) for name in names), ()):
                particular.setdefault(one.column, []).append(one)
        for column in self.allowed:
            if not self.table.is_blank(row, column):
                continue
            found = [one for one in particular.get(column, ()) if self._may(row, one)]
            for other in found[1:]:
                if other.text != found[0].text:
                    self.clashes.setdefault(_Clash(found[0], other), self.table.place(row))
            constant = self.constants.get(column)
            if len({one.text for one in found}) == 1:
                yield column, found[0]
            elif not found and constant and self._may(row, constant):
                yield column, constant

    def _asked(self, row: int, condition: str) -> str:
        """Return what a row has for a condition: a cell, the day of a time, or the medium of its point."""
        if self.name == "deployments" and condition == "medium":
            return self.media.get(self.table.cell(row, "location_id"), "")
        time = CONDITIONS[self.name][condition]
        return self.table.cell(row, time)[:10] if time else self.table.cell(row, condition)

    def _may(self, row: int, one: Default) -> bool:
        """Tell whether a row has what a default must not be without."""
        allowed, table = self.allowed[one.column], self.table
        if allowed.beside and not table.cell(row, allowed.beside):
            return False
        other = OTHER_UNIT.get(one.column, "")
        if other and not (table.is_blank(row, other) and table.cell(row, "refusal") != "yes"):
            return False
        if not allowed.hole:
            return True
        if self.kinds.get(table.cell(row, "sampler_id")) == _FIELD_BLANK:
            return False
        return "medium" in dict(one.on) or self.media.get(table.cell(row, "location_id")) == _SOIL_GAS

    def _told(self, clash: _Clash, place: str) -> Finding:
        first, second = clash.first, clash.second
        key = f"defaults.{self.name}.where.{second.column}"
        return Finding(
            "default-ambiguous",
            Severity.STOP,
            f"{key}+{first.line or 0}+{second.line or 0}",
            Where(SETTINGS_FILE, second.line, key),
            f"{second.text!r} for {second.column} of {place}, and {first.text!r} in line {first.line or 'unknown'}",
            "one default per cell",
            "fill in the cell, or make one of the two where rows more specific",
            "file",
        )


def _lookup(table: Filling | None, key: str, column: str) -> Mapping[str, str]:
    rows = range(len(table.rows)) if table else ()
    return {table.cell(row, key): table.cell(row, column) for row in rows if table}
