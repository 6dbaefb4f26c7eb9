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
from sitegen.voice import worded


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
        yield find(
            "change-without-reason",
            key,
            Where(change.path, None, change.column or None),
            worded("a change without a reason ({what})", what=_words(change)[:200]),
            worded("a row of {file} with the key {key}", file=changes.called, key=key),
        )
    rest = len(open_changes) - MAX_TOLD
    if rest > 0:
        found = worded("{rest} more changes without a reason", rest=rest)
        more = find("change-without-reason", "more", changes.whole, found, worded("a reason for each"))
        yield replace(more, count=rest)


_TOLD_WHOLE = {
    "added": "{subject}: added",
    "removed": "{subject}: removed",
    "text": "{subject}: text",
    "feature": "{subject}: feature",
    "file": "{subject}: file",
}


def _words(change: Change) -> str:
    """Say what changed, and where that is one cell or setting, from what to what."""
    if change.kind in _TOLD_WHOLE:
        return worded(_TOLD_WHOLE[change.kind], subject=change.subject)
    said = "{subject}: {what} {old} became {new}"
    if not change.old:
        said = "{subject}: {what} blank became {new}"
    elif not change.new:
        said = "{subject}: {what} {old} became blank"
    what = change.column or worded(change.kind)
    return worded(said, subject=change.subject, what=what, old=change.old, new=change.new)


def report_date_unchanged(old: Survey, new: Survey) -> Iterator[Finding]:
    """A later revision has a later report date than the one before it."""
    before, now = old.settings.project, new.settings.project
    if now.revision > before.revision and now.report_date <= before.report_date:
        yield find(
            "report-date-unchanged",
            "project.report_date",
            setting_where(new, "project.report_date"),
            worded(
                "{day} in revision {revision}; revision {former} is of {former_day}",
                day=day_text(now.report_date),
                revision=now.revision,
                former=before.revision,
                former_day=day_text(before.report_date),
            ),
            worded("a date after {day}", day=day_text(before.report_date)),
            kind="setting",
        )


def previous_is_another_round(survey: Survey, shared: Overlap) -> Finding:
    """Say that what the settings name as the previous revision is another round of sampling."""
    named = PurePosixPath(survey.settings.project.previous).name
    points, samplers, lab_samples = (
        worded("{both} of {old} and {new}", both=each.both, old=each.old, new=each.new)
        for each in (shared.points, shared.samplers, shared.lab_samples)
    )
    return find(
        "previous-is-another-round",
        "project.previous",
        setting_where(survey, "project.previous"),
        worded(
            "{named!r}, with {points} points, {samplers} samplers installed, "
            "{lab_samples} laboratory samples in common",
            named=named,
            points=points,
            samplers=samplers,
            lab_samples=lab_samples,
        ),
        worded("the previous revision of this round, with its samplers and laboratory samples"),
        kind="setting",
    )


def previous_unreadable(survey: Survey, reason: str) -> Finding:
    """Say that the previous revision, which the settings name, can't be compared with."""
    named = PurePosixPath(survey.settings.project.previous).name
    return find(
        "previous-unreadable",
        "project.previous",
        setting_where(survey, "project.previous"),
        worded("{named!r}, which cannot be compared ({reason})", named=named, reason=reason),
        worded("the folder or archive of the previous revision, as a path from this folder"),
        kind="setting",
    )
