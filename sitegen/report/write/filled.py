"""What nobody typed: cells that a default or another row filled, told with their rule wherever origins are told."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import NamedTuple

from sitegen.project.intake.defaults import DEFAULT
from sitegen.project.positions import DEGREES, METRES
from sitegen.project.schema import Origin
from sitegen.project.survey import Filled, Survey, origins
from sitegen.report.record.pages import Cell
from sitegen.report.write.context import Context
from sitegen.report.write.words import say
from sitegen.voice import worded

LOCATIONS, POSITIONS = "locations", (*METRES, *DEGREES)
"""The table that a file of measured positions fills in, and its columns."""


class FilledCell(NamedTuple):
    """A cell that was filled: its table, the key of its row, where that stands, its column, and what was put in."""

    table: str
    key: str
    origin: Origin
    column: str
    one: Filled


def filled_tables(survey: Survey) -> tuple[str, ...]:
    """Return the tables that may have filled cells: none where the project asks for nothing to be filled.

    Those of a project that asks for none are not even looked at, and so count as no reading of theirs.
    """
    settings = survey.settings
    derive = settings.derive
    asked = settings.defaults or any(derive.model_dump().values())
    if asked:
        return tuple(survey.tables)
    return (LOCATIONS,) if survey.measured else ()


def filled_cells(survey: Survey) -> Iterator[FilledCell]:
    """Yield every filled cell, by table and row."""
    for name in filled_tables(survey):
        table = survey.tables[name]
        if table.filled:
            keys = table.frame[table.spec.key[0]].tolist() if table.spec.key else [""] * len(table.frame)
            stands = list(origins(table.frame))
            for (row, column), one in sorted(table.filled.items()):
                yield FilledCell(name, keys[row], stands[row], column, one)


def rules_text(cells: Iterable[tuple[str, str]]) -> str:
    """Write columns with their rules, those of one rule together, and defaults with their lines.

    >>> rules_text([("tz", "default of project.toml, line 3"), ("sleeve", "default of project.toml, line 4")])
    'defaults of project.toml: tz (line 3), sleeve (line 4)'
    >>> rules_text([("tz", "default of project.toml, line 3"), ("kind", "derived"), ("outcome", "derived")])
    'default of project.toml: tz (line 3); kind, outcome (derived)'
    """
    by_rule: dict[str, list[str]] = {}
    stated: list[str] = []
    for column, rule in cells:
        if rule.startswith(DEFAULT):
            line = rule.removeprefix(DEFAULT).removeprefix(", line ")
            stated.append(f"{column} ({worded('line {line}', line=line)})" if line else column)
        else:
            by_rule.setdefault(worded(rule), []).append(column)
    head = worded(DEFAULT) if len(stated) == 1 else worded("defaults of project.toml")
    parts = [f"{head}: {', '.join(stated)}"] if stated else []
    return "; ".join([*parts, *(f"{', '.join(columns)} ({rule})" for rule, columns in by_rule.items())])


def filled_facts(context: Context, *rows: tuple[str, str]) -> list[tuple[str, Cell]]:
    """Return a fact for each of these rows (table and key) of which cells were filled: its columns and their rules.

    Measured positions are left out: what a point's page says of its coordinates has their rule.
    """
    facts = []
    survey = context.survey
    for name, key in rows if filled_tables(survey) else ():
        table = survey.tables[name]
        measured = POSITIONS if name == LOCATIONS and survey.measured else ()
        found = {column: one for column, one in table.filled_by_key.get(key, {}).items() if column not in measured}
        if found:
            text = rules_text((column, one.rule) for column, one in found.items())
            facts.append((say("sources.filled_fact", file=table.called), Cell(text)))
    return facts
