"""Changes from the previous revision: each has a reason before the report is issued."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from pathlib import PurePosixPath

from sitegen.checks.catalogue import catalogue, find
from sitegen.checks.rows import MAX_TOLD, setting_where
from sitegen.compute.evidence.difference import Change, Difference
from sitegen.compute.evidence.overlap import Overlap
from sitegen.compute.formats import day_text
from sitegen.findings.problems import Finding, Where
from sitegen.project.survey import Survey
from sitegen.project.tables import ChangeReason


def about_the_survey(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return the findings about the survey itself, those about its review left out."""
    return tuple(f for f in findings if f.code not in catalogue() or catalogue()[f.code].subject != "review")


def reason_for(change: Change, reasons: Iterable[ChangeReason]) -> str:
    """Return the reason recorded for a change, "" where there is none.

    A reason attaches by the change's key, by the path of its file, or by a beginning of
    the key that ends with a star, such as ``results:04417-*`` for a file that was re-issued.
    """
    return next((row.reason for row in reasons if row.reason and covers(row, change)), "")


def covers(row: ChangeReason, change: Change) -> bool:
    """Tell whether a row of reasons is about a change."""
    starred = row.key.endswith("*") and change.key.startswith(row.key[:-1])
    return starred or row.key in (change.key, change.path)


def reasons_of(survey: Survey) -> list[ChangeReason]:
    """Return the reasons recorded for this revision."""
    revision = survey.settings.project.revision
    return [row for row in survey.rows(ChangeReason) if row.revision == revision]


def changes_without_reason(survey: Survey, difference: Difference) -> Iterator[Finding]:
    """Every change from the previous revision has a reason in review/changes.csv."""
    reasons = reasons_of(survey)
    open_changes = {c.key: c for c in difference.changes if not reason_for(c, reasons)}
    changes = survey.tables["changes"]
    for key, change in list(open_changes.items())[:MAX_TOLD]:
        what = f"{change.subject}: {_words(change)}"
        yield find(
            "change-without-reason",
            key,
            Where(change.path, None, change.column or None),
            f"a change without a reason ({what[:200]})",
            f"a row of {changes.called} with the key {key}",
        )
    rest = len(open_changes) - MAX_TOLD
    if rest > 0:
        found = f"{rest} more changes without a reason"
        more = find("change-without-reason", "more", changes.whole, found, "a reason for each")
        yield replace(more, count=rest)


def _words(change: Change) -> str:
    if change.kind in ("added", "removed", "text", "feature", "file"):
        return f"{change.kind} {change.column}".strip()
    return f"{change.column or change.kind} {change.old or 'blank'} became {change.new or 'blank'}"


def report_date_unchanged(old: Survey, new: Survey) -> Iterator[Finding]:
    """A later revision has a later report date than the one before it."""
    before, now = old.settings.project, new.settings.project
    if now.revision > before.revision and now.report_date <= before.report_date:
        yield find(
            "report-date-unchanged",
            "project.report_date",
            setting_where(new, "project.report_date"),
            f"{day_text(now.report_date)} in revision {now.revision}; "
            f"revision {before.revision} is of {day_text(before.report_date)}",
            f"a date after {day_text(before.report_date)}",
            kind="setting",
        )


def previous_is_another_round(survey: Survey, shared: Overlap) -> Finding:
    """Say that what the settings name as the previous revision is another round of sampling."""
    named = PurePosixPath(survey.settings.project.previous).name
    points, samplers, lab_samples = (
        f"{each.both} of {each.old} and {each.new}" for each in (shared.points, shared.samplers, shared.lab_samples)
    )
    return find(
        "previous-is-another-round",
        "project.previous",
        setting_where(survey, "project.previous"),
        f"{named!r}, with {points} points, {samplers} samplers installed, {lab_samples} laboratory samples in common",
        "the previous revision of this round, with its samplers and laboratory samples",
        kind="setting",
    )


def previous_unreadable(survey: Survey, reason: str) -> Finding:
    """Say that the previous revision, which the settings name, can't be compared with."""
    named = PurePosixPath(survey.settings.project.previous).name
    return find(
        "previous-unreadable",
        "project.previous",
        setting_where(survey, "project.previous"),
        f"{named!r}, which cannot be compared ({reason})",
        "the folder or archive of the previous revision, as a path from this folder",
        kind="setting",
    )
