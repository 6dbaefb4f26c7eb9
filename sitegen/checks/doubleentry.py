"""Double entry: the field log typed twice from the same sheets, compared cell by cell."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from sitegen.checks.catalogue import find
from sitegen.checks.rows import MAX_TOLD, enumeration
from sitegen.findings.problems import Finding, Where
from sitegen.project.read.cells import tidy
from sitegen.project.schema import SECOND_LOG, Column, Kind
from sitegen.project.secondlog import second_log
from sitegen.project.survey import Survey, SurveyTable
from sitegen.voice import worded

_KEY = "sampler_id"
_NUMBERS = (Kind.NUMBER, Kind.INTEGER)
_BLANK = ("", "NA")


@dataclass(frozen=True, slots=True)
class _Row:
    """A row of a log: its number from 0."""

    log: SurveyTable
    at: int

    def text(self, column: str) -> str:
        """Return a cell as it was typed; what is not applicable is blank."""
        typed = tidy(str(self.log.received[column][self.at]))
        return "" if typed in _BLANK else typed

    def value(self, column: Column) -> object:
        """Return what a cell says: a number, a moment, a word; what can't be read is its text."""
        frame = self.log.frame
        if column.kind in _NUMBERS or column.kind is Kind.TIME:
            number = float(frame[f"{column.name}_utc" if column.kind is Kind.TIME else column.name].iloc[self.at])
            return self.text(column.name) if math.isnan(number) else number
        return str(frame[column.name].iloc[self.at]) or self.text(column.name)


def logs_agree(survey: Survey) -> Iterator[Finding]:
    """Where the field log was typed twice, both logs say the same."""
    second, problems = second_log(survey)
    yield from problems
    first = survey.tables["deployments"]
    if second is None or not first.present:
        return
    yield from _incomplete(first, second)
    if not second.present:
        return
    ours, theirs = _by_sampler(first), _by_sampler(second)
    yield from _alone(ours, theirs, first.called, SECOND_LOG)
    yield from _alone(theirs, ours, SECOND_LOG, first.called)
    yield from _twice(second, theirs)
    both = [(ours[name], theirs[name]) for name in ours if name in theirs]
    for column in first.spec.columns:
        if column.name != _KEY and column.name in first.received and column.name in second.received:
            yield from _differences(column, both)


def _by_sampler(log: SurveyTable) -> dict[str, _Row]:
    """Return the first row of each sampler."""
    rows: dict[str, _Row] = {}
    for at, name in enumerate(log.frame[_KEY].tolist()):
        rows.setdefault(name, _Row(log, at))
    return rows


def _incomplete(first: SurveyTable, second: SurveyTable) -> Iterator[Finding]:
    """Tell columns that the first log has a cell in and the second lacks, and a second log without rows."""
    lacking = [c.name for c in first.spec.columns if c.name in first.received and c.name not in second.received]
    filled = [name for name in lacking if any(tidy(str(cell)) not in _BLANK for cell in first.received[name])]
    expected = worded("the columns and rows of {file}", file=first.called)
    if filled:
        found = worded(
            "no column {names}: no comparison made" if len(filled) == 1 else "no columns {names}: no comparison made",
            names=enumeration(filled),
        )
        yield find("second-log-incomplete", SECOND_LOG, Where(SECOND_LOG), found, expected, kind="file")
    elif not len(second.frame):
        yield find("second-log-incomplete", SECOND_LOG, Where(SECOND_LOG), worded("no rows"), expected, kind="file")


def _alone(rows: Mapping[str, _Row], others: Mapping[str, _Row], here: str, there: str) -> Iterator[Finding]:
    """Tell rows that stand in one log alone; a log without any is told as such."""
    alone = [name for name in rows if name not in others] if others else []
    for name in alone[:MAX_TOLD]:
        row = rows[name]
        where = row.log.where(row.at, _KEY)
        found = worded("sampler {name} in {here} only", name=name, here=here)
        yield find("entry-in-one-log", name, where, found, worded("a row in {there} too", there=there), kind="sampler")
    if rest := alone[MAX_TOLD:]:
        row = rows[rest[0]]
        found = worded("{rest} more rows of this kind, starting here", rest=len(rest))
        numbers = [int(rows[name].log.frame["_row"].iloc[rows[name].at]) for name in rest]
        where = row.log.where(row.at, _KEY)
        yield find(
            "entry-in-one-log", f"{here}+more", where, found, worded("rows in {there} too", there=there), rows=numbers
        )


def _twice(second: SurveyTable, rows: Mapping[str, _Row]) -> Iterator[Finding]:
    """Tell rows of the second log after the first of their sampler; of the first log these stop the build."""
    for at, name in enumerate(second.frame[_KEY].tolist()):
        if rows[name].at != at:
            found = worded("sampler {name} a second time in {file}", name=name, file=SECOND_LOG)
            where = second.where(at, _KEY)
            yield find("entry-in-one-log", f"{name}+again", where, found, worded("each sampler once"), kind="sampler")


def _differences(column: Column, both: list[tuple[_Row, _Row]]) -> Iterator[Finding]:
    """Tell the cells of a column that say something else in the second log."""
    name = column.name
    differ = [(one, other) for one, other in both if _differs(column, one, other)]
    for one, other in differ[:MAX_TOLD]:
        sampler = str(one.log.frame[_KEY].iloc[one.at])
        stands = other.log.where(other.at, name).row
        found = worded(
            "{here}, and {there} in {file}, row {row}",
            here=_shown(one, name), there=_shown(other, name), file=SECOND_LOG, row=stands,
        )  # fmt: skip
        where = one.log.where(one.at, name)
        yield find(
            "entries-differ", f"{sampler}+{name}", where, found, worded("the same value in both logs"), kind="sampler"
        )
    if rest := differ[MAX_TOLD:]:
        rows = [int(one.log.frame["_row"].iloc[one.at]) for one, _ in rest]
        where = rest[0][0].log.where(rest[0][0].at, name)
        found = worded("{rest} more cells of this kind, starting here", rest=len(rest))
        yield find(
            "entries-differ", f"deployments+{name}+more", where, found, worded("the same value in both logs"), rows=rows
        )


def _differs(column: Column, one: _Row, other: _Row) -> bool:
    """Tell whether two cells say different things: both blank is the same, blank against filled is not."""
    if not one.text(column.name) and not other.text(column.name):
        return False
    return one.value(column) != other.value(column)


def _shown(row: _Row, name: str) -> str:
    return row.text(name) or worded("nothing")


RULES = (logs_agree,)
