"""A result that changed in words: what it is of, what was and is on record, and what brought the change."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal, InvalidOperation
from math import isnan

from sitegen.checks.changes import reason_for, reasons_of
from sitegen.compute.evidence.difference import Difference
from sitegen.compute.evidence.revised import Reissue, Revised
from sitegen.compute.field.exposure import DUPLICATE
from sitegen.compute.formats import long_date
from sitegen.compute.marks import MarkFact
from sitegen.compute.results.reported import limit_of, qualifier
from sitegen.compute.results.store import StoredResult
from sitegen.compute.statistics.rounding import as_reported
from sitegen.project.survey import called
from sitegen.project.tables import ChangeReason
from sitegen.report.write.context import Context
from sitegen.report.write.publish import allowed_classes
from sitegen.report.write.values import mark_words
from sitegen.report.write.words import say, word
from sitegen.units import UNIT_TEXT


@dataclass(frozen=True, slots=True)
class Reader:
    """Who is told of changes: the team or not, the reasons on record, the limit shown, and points not to be named."""

    team: bool = True
    reasons: tuple[ChangeReason, ...] = ()
    display: str = "rl"
    hidden: Collection[str] = ()

    def may_see(self, one: Revised) -> bool:
        """Tell whether a result is at a point that may be named."""
        return one.row.location_id not in self.hidden


def outside(found: Difference) -> int:
    """Count the rows of results that changed and are none of the round reported: of an earlier one, say."""
    about = {change.key for one in found.results for change in one.changes}
    return len({one.key for one in found.changes if one.key.startswith("results:")} - about)


def reader_for(context: Context, found: Difference) -> Reader:
    """Return whom a report speaks to: where ids of points are withheld, one that has no label is not to be named."""
    shows = allowed_classes(context.survey.settings.publish)
    labelled = {row.location_id for row in context.locations}
    named = {*found.points, *(one.row.location_id for one in found.results)}
    hidden = frozenset[str]() if "location_ids" in shows else frozenset(named - labelled - {""})
    return Reader("revision_changes" in shows, tuple(reasons_of(context.survey)), context.display, hidden)


@dataclass(frozen=True, slots=True)
class Amount:
    """A result as a sentence gives it: number, unit, and the qualifier and marks that travel with it."""

    number: str
    unit: str
    notes: tuple[str, ...]

    def text(self, *, unit: bool = True) -> str:
        """Write number, unit and notes, ``1,899 ng per sampler (J)``."""
        notes = f"({'; '.join(self.notes)})" if self.notes else ""
        return " ".join(part for part in (self.number, self.unit if unit else "", notes) if part)


def amount(row: StoredResult, marks: Iterable[MarkFact], display: str) -> Amount:
    """Return a result with all its figures; a non-detect brings its limit, and is no number."""
    notes = (qualifier(row), *(mark.word for mark in mark_words(marks)))
    unit = "" if row.rejected else UNIT_TEXT.get(row.unit, row.unit)
    return Amount(_number(row, display), unit, tuple(dict.fromkeys(note for note in notes if note)))


def _number(row: StoredResult, display: str) -> str:
    if row.rejected:
        return say("changes.rejected")
    limit = limit_of(row, display)
    if row.detected:
        return _figures(row)
    return say("ledger.not_detected") if isnan(limit) else f"<{as_reported(limit)}"


def _figures(row: StoredResult) -> str:
    """Write a mass with the figures that the laboratory gave, where its text reads as that number."""
    try:
        given = Decimal(row.result_text.strip())
    except InvalidOperation:
        return as_reported(row.value)
    return format(given, ",f") if given.is_finite() and float(given) == row.value else as_reported(row.value)


def amounts(one: Revised, display: str) -> tuple[Amount | None, Amount | None]:
    """Return what was and what is on record of a result, None for nothing."""
    before = amount(one.before, one.before_marks, display) if one.before else None
    return before, amount(one.after, one.after_marks, display) if one.after else None


def before_and_after(one: Revised, display: str = "rl") -> tuple[str, str]:
    """Write what was and what is on record, a dash for nothing; a unit of both stands behind the later one."""
    before, after = amounts(one, display)
    same = before is not None and after is not None and before.unit == after.unit
    return (before.text(unit=not same) if before else "–"), (after.text() if after else "–")


def subject(one: Revised, names: Mapping[str, str]) -> str:
    """Say what a result is of: ``Tetrachloroethene at SG-12``, or in which blank or control."""
    row = one.row
    return say(
        "changes.subject",
        compound=names.get(row.analyte_id, row.analyte_id),
        point=row.location_id,
        twin=row.role == DUPLICATE,
        other_run=not row.reportable,
        kind=word("qc_sample", row.type or row.kind),
        sample=row.sampler_id or row.lab_sample_id,
    )


def result_text(one: Revised, names: Mapping[str, str], display: str) -> str:
    """Write a change of a result in one line: ``Tetrachloroethene at SG-12: 1,899 → 2,150 ng per sampler (E)``."""
    before, after = before_and_after(one, display)
    return say("changes.arrow", subject=subject(one, names), before=before, after=after, details=details(one, display))


def sentence_part(one: Revised, names: Mapping[str, str], display: str) -> str:
    """Write a change of a result as a part of a sentence: ``Tetrachloroethene at SG-12, from 1,899 to …``."""
    before, after = before_and_after(one, display)
    return say(
        "changes.part",
        subject=subject(one, names),
        kind=one.kind,
        before=before,
        after=after,
        details=details(one, display),
    )


def details(one: Revised, display: str) -> str:
    """Return the cells that changed, where the result reads alike in both revisions; else nothing."""
    before, after = amounts(one, display)
    if before != after:
        return ""
    return "; ".join(
        say("changes.detail", what=word("result_column", change.column), old=change.old, new=change.new)
        for change in one.changes
    )


@dataclass(frozen=True, slots=True)
class Provenance:
    """What brought a change: the file that has the result, the former issue that it replaces, the reason on record."""

    file: str
    reissue: Reissue | None
    reason: str

    @property
    def where(self) -> str:
        """The file, and what it replaces."""
        one = self.reissue
        dated = long_date(date.fromisoformat(one.dated)) if one and one.dated else ""
        return say("changes.where", file=self.file, former=one.former if one else "", dated=dated)

    @property
    def files(self) -> str:
        """The file, and what it replaces, as a cell has them."""
        return say("changes.files", file=self.file, former=self.reissue.former if self.reissue else "")


def provenance(found: Difference, one: Revised, reader: Reader) -> Provenance:
    """Return what brought a change, as far as it is on record."""
    origin = one.row.origin
    reasons = (reason_for(change, reader.reasons) for change in one.changes)
    reason = next((reason for reason in reasons if reason), "")
    return Provenance(called(origin.file, origin.sheet), found.reissues.get(origin.file), reason)
