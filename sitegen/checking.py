"""From a project folder to what is known of it: load, check, compute, check results, compare revisions.

Nothing here knows how a report looks, so a check doesn't load what draws one.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from pathlib import Path

from sitegen import __version__
from sitegen.checks.changes import (
    about_the_survey,
    changes_without_reason,
    previous_is_another_round,
    previous_unreadable,
    report_date_unchanged,
)
from sitegen.checks.dispositions import DECISION_CODES
from sitegen.checks.privacy import nothing_personal
from sitegen.checks.run import check_decisions, check_parts, check_reading, check_survey
from sitegen.checks.unread import independent
from sitegen.compute.evaluate import Evaluation, evaluate
from sitegen.compute.evidence.difference import Difference, Revision, difference
from sitegen.compute.evidence.overlap import overlap
from sitegen.compute.rounds.campaigns import Campaign
from sitegen.compute.rounds.split import Part, parts
from sitegen.findings.problems import Finding, Severity, Stopped, WrongUse
from sitegen.project.earlier import earlier_folders, mount_name, mounted, unreadable, with_earlier
from sitegen.project.folder import Folder, read_folder
from sitegen.project.load import load_folder
from sitegen.project.places import in_order
from sitegen.project.revisions import Opened, open_revision
from sitegen.project.schema import SETTINGS_FILE
from sitegen.project.survey import Survey
from sitegen.project.tables import Deployment
from sitegen.project.voices import voice_of
from sitegen.voice import Voice, speaking, voice

TOOL = f"sitegen {__version__}"

Progress = Callable[[str, int, int], None]
"""Called with the name of a step, how much of it is done, and how much there is."""


@dataclass(frozen=True, slots=True)
class Checked:
    """A folder as read, computed and checked. ``evaluation`` is None where findings stop it.

    ``parts`` are its rounds as far as they are reported; ``evaluation`` is that of the last of them, which the
    report is about. ``survey`` is the whole folder's.

    ``difference`` is that from the previous revision, where the settings name one.
    """

    survey: Survey | None
    evaluation: Evaluation | None
    findings: tuple[Finding, ...]
    difference: Difference | None = None
    parts: tuple[Part, ...] = ()

    @property
    def stopped(self) -> bool:
        """Whether any finding is a stop."""
        return any(finding.severity is Severity.STOP for finding in self.findings)


def check(folder: Path, progress: Progress | None = None, previous: Path | None = None) -> Checked:
    """Read a folder, compute, compare with its previous revision, and gather every finding.

    What needs a sound record is computed only where nothing stops it. ``previous`` says
    where the previous revision lies, if not where the settings say. Raises WrongUse where
    ``folder`` is no folder.
    """
    (progress or silent)("read", 0, 1)
    checked = check_snapshot(with_earlier(read_folder(folder), folder), progress)
    return with_previous(checked, open_previous(checked, folder, previous), progress)


def check_snapshot(snapshot: Folder, progress: Progress | None = None, told: Voice | None = None) -> Checked:
    """Do what :func:`check` does for a folder that is in memory, the previous revision aside.

    Findings are told in the voice of the folder, or in the one that is given.
    """
    with speaking(told or voice_of(snapshot)):
        return _checked(snapshot, progress or silent)


def _checked(snapshot: Folder, say: Progress) -> Checked:
    survey, read = load_folder(snapshot)
    if survey is None:
        return Checked(None, None, in_order(independent(read, read)))
    say("check", 0, 1)
    found = [*check_reading(survey, read), *check_survey(survey, read)]
    if any(finding.severity is Severity.STOP for finding in found):
        return Checked(survey, None, in_order(found))
    say("compute", 0, 1)
    own = parts(survey)
    found += check_parts(own)
    before, unread = _earlier(survey)
    found += unread
    whole = (*before, *_named(own, survey)) if before else own
    return Checked(survey, own[-1].evaluation, _with_decisions(survey, found), parts=whole)


def _earlier(survey: Survey) -> tuple[tuple[Part, ...], tuple[Finding, ...]]:
    """Return the rounds of the earlier surveys that the settings name, as parts of this one, and why some are not.

    What may leave the house with this survey's report is judged anew: an earlier one may have stayed inside.
    """
    found: list[Part] = []
    faults: list[Finding] = []
    for path, mount, folder in earlier_folders(survey):
        checked = check_snapshot(folder, told=voice())
        if checked.survey and (same := _shared(checked.survey, survey)):
            faults.append(unreadable(path, f"it is this survey, or contains part of it: {same}"))
            continue
        if checked.survey is None or checked.stopped:
            faults.append(unreadable(path, "it has stops; sitegen check lists them"))
            continue
        if survey.settings.publish.level != "internal":
            faults += nothing_personal(mounted(checked.survey, mount, survey))
        for part in checked.parts:
            there = mounted(part.survey, mount, survey)
            (named,) = _named((part,), checked.survey)
            found.append(Part(replace(named.campaign, source=mount_name(mount)), there, evaluate(there)))
    return tuple(found), tuple(faults)


def _shared(earlier: Survey, here: Survey) -> str:
    """Return what an earlier survey has in common with this one that only one survey can have; "" for nothing."""
    if earlier.folder.sha256(SETTINGS_FILE) == here.folder.sha256(SETTINGS_FILE):
        return f"its {SETTINGS_FILE} is the same"
    own = {(row.sampler_id, row.placed_at_utc) for row in here.rows(Deployment)}
    both = [row.sampler_id for row in earlier.rows(Deployment) if (row.sampler_id, row.placed_at_utc) in own]
    return f"sampler {both[0]} was installed at the same time in both, {len(both)} in all" if both else ""


def _named(own: tuple[Part, ...], survey: Survey | None) -> tuple[Part, ...]:
    """Return rounds that have names, beside others: a survey that names none has its own."""
    if survey is None or own[0].campaign.id:
        return own
    project = survey.settings.project
    return (replace(own[0], campaign=Campaign(project.id)),)


def _with_decisions(survey: Survey, found: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return findings with those about the decisions on them, made anew."""
    about = tuple(finding for finding in found if finding.code not in DECISION_CODES)
    return in_order((*about, *check_decisions(survey, about)))


def open_previous(checked: Checked, folder: Path, previous: Path | None = None) -> Opened | None:
    """Read the previous revision, which the settings name by its way from ``folder``.

    None where none is named or none is there that can be read. ``previous`` overrides the place;
    raises WrongUse where a file there is no sound zip file.
    """
    if checked.survey is None or not checked.survey.settings.project.previous:
        return None
    try:
        return open_revision(previous or folder / checked.survey.settings.project.previous)
    except WrongUse:
        if previous and previous.is_file():
            raise
        return None


def with_previous(checked: Checked, opened: Opened | None, progress: Progress | None = None) -> Checked:
    """Compare with the previous revision, if the settings name one.

    Nothing is compared where none is named or findings stop the build. One that can't be
    read is a finding, and so is one that is another round.
    """
    survey, evaluation = checked.survey, checked.evaluation
    if survey is None or evaluation is None or not survey.settings.project.previous:
        return checked
    (progress or silent)("compare", 0, 1)
    with speaking(voice_of(survey.folder)):
        return _compared(checked, survey, evaluation, opened)


def _compared(checked: Checked, survey: Survey, evaluation: Evaluation, opened: Opened | None) -> Checked:
    try:
        old = _revision(opened, voice()) if opened else None
        reason = "it contains no readable project; sitegen compare gives the reason"
    except Stopped:
        old, reason = None, "it stops the program"
    if old is None:
        findings = (*checked.findings, previous_unreadable(survey, reason))
        return replace(checked, findings=_with_decisions(survey, findings))
    new = Revision(survey, evaluation, about_the_survey(checked.findings), TOOL)
    shared = overlap(old, new)
    if shared.apart:
        findings = (*checked.findings, previous_is_another_round(survey, shared))
        return replace(checked, findings=_with_decisions(survey, findings))
    found = difference(old, new)
    about = (*report_date_unchanged(old.survey, survey), *changes_without_reason(survey, found))
    findings = (*checked.findings, *about)
    return replace(checked, findings=_with_decisions(survey, findings), difference=found)


def compare(old: Path, new: Path, progress: Progress | None = None) -> Difference:
    """Compare two revisions, each a project folder, an archive folder or a zipped archive.

    Raises WrongUse where one of them is none, Stopped where findings stop one of them.
    """
    before, after = revisions(old, new, progress)
    (progress or silent)("compare", 0, 1)
    return difference(before, after)


def revisions(old: Path, new: Path, progress: Progress | None = None) -> tuple[Revision, Revision]:
    """Read two revisions; raises what :func:`compare` raises."""
    say = progress or silent
    say("read", 0, 1)
    before, after = open_revision(old), open_revision(new)
    told = voice_of(after.folder)
    return _revision(before, told, say), _revision(after, told, say)


def _revision(opened: Opened, told: Voice, progress: Progress | None = None) -> Revision:
    """Return a revision in the voice of the newer one, so that no finding seems changed by its spelling."""
    checked = check_snapshot(opened.folder, progress, told)
    if checked.survey is None or checked.evaluation is None:
        raise Stopped(checked.findings)
    findings = about_the_survey(checked.findings)
    return Revision(checked.survey, checked.evaluation, findings, opened.tool or TOOL)


def silent(step: str, done: int, whole: int) -> None:
    """Say nothing."""
