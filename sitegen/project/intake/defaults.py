"""Constants that project.toml states once for a table: read, checked as cells are, and put into blank cells.

    [defaults.deployments]
    closure = "foil_and_soil"

    [[defaults.deployments.where]]
    placed_on = 2025-10-23
    set = { placed_by = "FS-1", depth_ft = 3.0 }

A cell that is filled stays as it is, and so does ``NA``. A where row goes before the constants of its
table. Where two of them give one cell different values, neither is taken and both lines are told.
Conditions are asked of what the files have, never of another default.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any, NamedTuple

from sitegen.findings.problems import Finding, Severity, Where
from sitegen.project.intake.allowed import ALLOWED, CONDITIONS, refusal
from sitegen.project.intake.settinglines import Place, line_in, lines_of
from sitegen.project.limits import LIST
from sitegen.project.read.csvtext import RawTable
from sitegen.project.read.ranges import within_ranges
from sitegen.project.read.typed import type_table
from sitegen.project.schema import SETTINGS_FILE, Column, Kind
from sitegen.project.settings import capped
from sitegen.project.survey import Rule
from sitegen.project.tables import TABLE

DEFAULT = "default of project.toml"
"""The words that the rule of a default begins with."""

_NUMBERS = (Kind.NUMBER, Kind.INTEGER)


@dataclass(frozen=True, slots=True)
class Default:
    """A value for blank cells of a column, the line that states it, and what a row must have, by condition."""

    column: str
    text: str
    line: int | None
    on: tuple[tuple[str, str], ...] = ()

    @property
    def rule(self) -> Rule:
        """The default as a reader is told of it."""
        words = DEFAULT + (f", line {self.line}" if self.line else "")
        return Rule(words, words)


class _At(NamedTuple):
    """Where a default is stated: its table of the folder, its place in the settings, and their lines."""

    table: str
    place: Place
    lines: Mapping[Place, list[tuple[int, str]]]

    def line(self, key: str) -> int | None:
        return line_in(self.lines, self.place, key)

    def told(self, code: str, key: str, found: str, expected: str, do: str) -> Finding:
        name = f"{self.place[0]}.{key}" if key else self.place[0]
        number = f"+{self.place[1] + 1}" if self.place[0].endswith(".where") else ""
        where = Where(SETTINGS_FILE, self.line(key), name)
        shown = found if len(found) <= 80 else found[:77] + "…"
        return Finding(code, Severity.STOP, f"{name}{number}", where, shown, expected, do, "file")


def read_defaults(stated: Mapping[str, Any], text: str) -> tuple[dict[str, list[Default]], list[Finding]]:
    """Return the defaults by table that can be used, and findings about the others.

    ``stated`` is the table ``defaults`` of project.toml, ``text`` all of that file.
    """
    lines = lines_of(text)
    found: dict[str, list[Default]] = {}
    findings: list[Finding] = []
    for table, values in stated.items():
        if not isinstance(values, dict):
            continue
        if table not in ALLOWED:
            at = _At(table, (f"defaults.{table}", 0), lines)
            do = f"write one of {', '.join(ALLOWED)}, or remove it"
            findings.append(at.told("default-refused", "", f"defaults for {table}", "a table that allows defaults", do))
            continue
        for one in _of_table(table, values, lines):
            if isinstance(one, Finding):
                findings.append(one)
            else:
                found.setdefault(table, []).append(one)
    return found, capped(findings, len(findings))


def _of_table(
    table: str, values: Mapping[str, Any], lines: Mapping[Place, list[tuple[int, str]]]
) -> Iterator[Default | Finding]:
    name = f"defaults.{table}"
    at = _At(table, (name, 0), lines)
    for key, value in values.items():
        if key != "where":
            yield from _default(at, key, value, ())
    rows = values.get("where", [])
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        yield at.told("default-invalid", "where", repr(rows), f"tables [[{name}.where]]", "write it as such a table")
    elif len(rows) > LIST.value:
        yield at.told("default-invalid", "where", f"{len(rows):,} where rows", LIST.at_most, "move them into the table")
    else:
        for number, row in enumerate(rows):
            yield from _where_row(_At(table, (f"{name}.where", number), lines), row)


def _where_row(at: _At, row: Mapping[str, Any]) -> Iterator[Default | Finding]:
    """Yield the defaults of a where row: none of them where one of its conditions can't be read."""
    known = CONDITIONS[at.table]
    conditions: dict[str, str] = {}
    faults: list[Finding] = []
    for key, value in row.items():
        if key == "set":
            continue
        text = _condition(value, is_day=bool(known.get(key)))
        if key not in known or text is None:
            form = "a day such as 2025-10-23" if known.get(key) else 'text in quotes, as in "text"'
            expected = form if key in known else f"one of the conditions {', '.join(known)}, and set"
            faults.append(at.told("default-invalid", key, f"{key} = {_shown(value)}", expected, f"correct {key}"))
        else:
            conditions[key] = text
    values = row.get("set")
    if not faults and not conditions:
        do = f"add one of {', '.join(known)}, or put the values into [defaults.{at.table}]"
        faults.append(
            at.told("default-invalid", "where", "a where row without a condition", "the rows it applies to", do)
        )
    if not isinstance(values, dict) or not values:
        do = "write the values as set = { column = value }"
        faults.append(at.told("default-invalid", "set", _shown(values), "the values of a where row", do))
    if faults:
        yield from faults
    elif isinstance(values, dict):
        for key, value in values.items():
            yield from _default(at, key, value, tuple(sorted(conditions.items())))


def _condition(value: object, *, is_day: bool) -> str | None:
    if is_day:
        return value.isoformat() if isinstance(value, date) and not isinstance(value, datetime) else None
    return value if isinstance(value, str) and value else None


def _default(at: _At, key: str, value: object, on: tuple[tuple[str, str], ...]) -> Iterator[Default | Finding]:
    """Yield a default that can be used, or what is wrong with it."""
    allowed = ALLOWED[at.table].get(key)
    if key not in TABLE[at.table].column_names or allowed is None:
        known = key in TABLE[at.table].column_names
        why = refusal(at.table, key) if known else f"{at.table} has no such column"
        expected = f"one of {', '.join(ALLOWED[at.table])}"
        yield at.told("default-refused", key, f"a default for {key}: {why}", expected, f"remove {key} from defaults")
        return
    if allowed.within and allowed.within not in dict(on):
        do = f"put {key} into a where row with {allowed.within}"
        found = f"a default for {key} of every row"
        yield at.told("default-refused", key, found, f"{key} of one {allowed.within}: {allowed.why}", do)
        return
    column = TABLE[at.table].column(key)
    text = _cell(column, value)
    if text is None:
        expected = "a number without quotes" if column.kind in _NUMBERS else 'one line of text in quotes, as in "text"'
        yield at.told("default-invalid", key, _shown(value), expected, f"correct {key}")
        return
    findings = list(_checked(at, column, text))
    yield from findings
    if not any(finding.severity is Severity.STOP for finding in findings):
        yield Default(key, text, at.line(key), on)


def _cell(column: Column, value: object) -> str | None:
    """Return a value as a cell has it; None where it is of another type, or would leave the cell blank."""
    if column.kind in _NUMBERS:
        is_number = isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)
        return repr(value) if is_number else None
    is_text = isinstance(value, str) and value.isprintable() and value.strip() not in ("", "NA")
    return str(value).strip() if is_text else None


def _shown(value: object) -> str:
    """Return a value in a message: what a table holds is not laid out."""
    return (
        "nothing" if value is None else f"a {type(value).__name__}" if isinstance(value, dict | list) else repr(value)
    )


def _checked(at: _At, column: Column, text: str) -> Iterator[Finding]:
    """Yield what a cell with this text would be told of, at its line of project.toml."""
    raw = RawTable((column.name,), ([text],), (at.line(column.name) or 0,))
    table, problems = type_table(TABLE[at.table], raw, "UTC", SETTINGS_FILE)
    _, outside = within_ranges(table)
    for problem in (*problems, *outside):
        place = at.told(problem.code, column.name, problem.found, problem.expected, problem.do)
        yield replace(place, severity=problem.severity)
