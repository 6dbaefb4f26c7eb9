"""The plan beside what was done: a table, line by line, with the departure on record that names each difference."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from sitegen.compute.field.idranges import id_ranges
from sitegen.compute.field.twin import Facts, Line, Naming, Record, naming, plan_twin
from sitegen.project.tables import Departure
from sitegen.report.record.pages import Block, Cell, Ref, Table
from sitegen.report.record.specs import Spec, table
from sitegen.report.write.context import Context
from sitegen.report.write.publish import allowed_classes
from sitegen.report.write.traced import traced
from sitegen.report.write.words import prose, say, word
from sitegen.voice import worded

_DIFFERS = {True: "yes", False: "no", None: "–"}


class _Row(NamedTuple):
    line: Line
    naming: Naming


@traced
def twin_blocks(context: Context) -> tuple[Block, ...]:
    """Return the plan beside what was done; before anything was placed, that nothing can be compared yet."""
    if not context.evaluation.deployed:
        return (prose("twin.nothing"),)
    return (twin_table(context),)


@traced
def twin_table(context: Context) -> Table:
    """Return the lines of the plan, each with what is on record and the departure that names the difference."""
    evaluation = context.evaluation
    finished = context.stage == "returned"
    record = Record(context.survey, evaluation.deployed, evaluation.points, evaluation.limits, finished)
    departures = context.survey.rows(Departure)
    columns: list[Spec[_Row]] = [
        Spec("what", "Item", cell=lambda row: _what(row.line)),
        Spec("plan", "Work plan", cell=lambda row: _told(row.line, "plan", row.line.plan), kind="wide", tells=True),
        Spec(
            "found", "Field record", cell=lambda row: _told(row.line, "found", row.line.found), kind="wide", tells=True
        ),
        Spec("differs", "Differs", cell=lambda row: worded(_DIFFERS[row.line.differs])),
        Spec("departure", "Deviation on record", cell=lambda row: _departure(context, row), kind="wide"),
    ]
    rows = [_Row(line, naming(line, departures)) for line in plan_twin(record)]
    note = say("twin.note", finished=finished, departures=len(departures))
    return table("plan-twin", say("twin.caption"), columns, rows, note=note)


def _what(line: Line) -> str:
    about = word("medium", line.about) if line.about else ""
    return say(f"twin.{line.name}", about=about)


def _told(line: Line, side: str, facts: Facts | None) -> str:
    """Write what the plan states or what is on record; that there is nothing where there is nothing."""
    if facts is None:
        return say(f"twin.no_{side}")
    return say(f"twin.{line.name}_{side}", **dict(facts))


def _departure(context: Context, row: _Row) -> Cell:
    """Name the departures that name what differs, and what none of them names."""
    line, names = row.line, row.naming
    if not line.differs:
        return Cell("–")
    known = [{"id": name, "names": _listed(context, which)} for name, which in names.by_departure]
    bare = _listed(context, names.unnamed)
    words = say("twin.departure", known=known, bare=bare, items=len(line.items), loose=", ".join(names.loose))
    first = names.by_departure[0][0] if names.by_departure else ""
    tone = "flag" if names.unnamed or not line.items else ""
    return Cell(words, Ref("page", "deviations", first) if first else None, tone=tone)


def _listed(context: Context, names: Iterable[str]) -> str:
    """Write names, as ranges where they stand under their own ids."""
    every = tuple(names)
    own = "location_ids" in allowed_classes(context.survey.settings.publish)
    return ", ".join(id_ranges(every) if own else every)
