"""What a preview shows of a folder: made whole, or only its narrative, which takes a tenth of the time.

Whole is what a build puts together before it writes. A changed sentence touches two pages and the
digest on every page, so they are shown first, beside pages that are as they were; the whole is made at once
after it, and what is then on show is what a build without print has.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path, PurePosixPath

from sitegen.checking import Checked, check_snapshot, open_previous, with_previous
from sitegen.checks.narrative import RULES
from sitegen.findings.problems import Finding, Severity
from sitegen.pipeline import prepare
from sitegen.project.earlier import with_earlier
from sitegen.project.folder import Folder, read_folder
from sitegen.project.load import content_digest, read_texts
from sitegen.project.survey import Survey
from sitegen.project.voices import voice_of
from sitegen.report.assemble import Draft, assemble, with_texts
from sitegen.report.record.pages import Report
from sitegen.voice import speaking

TEXTS = PurePosixPath("text")
READINGS = 5
"""How often a folder is read again because a file changed meanwhile; then that is told."""


@dataclass(frozen=True, slots=True)
class Model:
    """A folder as read, and the report that it gives.

    ``survey`` is what was read, of which ``made`` and ``report`` are the published part.
    """

    snapshot: Folder
    survey: Survey
    made: Draft
    report: Report


def read_steady(folder: Path, pause: Callable[[], object]) -> Folder:
    """Read a folder; where a file changes meanwhile, as when an editor writes it, read again after a pause."""
    snapshot = with_earlier(read_folder(folder), folder)
    for _ in range(READINGS):
        if not snapshot.unsteady:
            break
        pause()
        snapshot = with_earlier(read_folder(folder), folder)
    return snapshot


def check_again(folder: Path, snapshot: Folder) -> Checked:
    """Check what was read of a folder, the comparison with its previous revision included."""
    checked = check_snapshot(snapshot)
    return with_previous(checked, open_previous(checked, folder))


def whole(snapshot: Folder, checked: Checked) -> Model:
    """Put the report together; raises Stopped where findings stop it."""
    survey, made, _ = prepare(checked)
    with speaking(voice_of(snapshot)):
        return Model(snapshot, survey, made, assemble(made))


def with_new_texts(model: Model, snapshot: Folder) -> Model | None:
    """Return the model with the narrative of another reading; None where more than sentences changed, or one stops."""
    if not only_texts(model.snapshot, snapshot):
        return None
    with speaking(voice_of(snapshot)):
        return _told_anew(model, snapshot)


def _told_anew(model: Model, snapshot: Folder) -> Model | None:
    texts, problems = read_texts(snapshot, model.survey.settings)
    survey = _with(model.survey, texts, snapshot)
    if _stop([*problems, *(finding for rule in RULES for finding in rule(survey))]):
        return None
    shown = _with(model.made.context.record, texts, snapshot)
    return replace(model, snapshot=snapshot, survey=survey, report=with_texts(model.made, model.report, shown))


def _with(survey: Survey, texts: dict[str, str], snapshot: Folder) -> Survey:
    return replace(survey, texts=texts, folder=snapshot, digest=content_digest(snapshot))


def _stop(findings: list[Finding]) -> bool:
    return any(finding.severity is Severity.STOP for finding in findings)


def only_texts(old: Folder, new: Folder) -> bool:
    """Tell whether two readings differ in the words of the narrative's files and in nothing else."""
    if old.files.keys() != new.files.keys() or old.findings != new.findings:
        return False
    differing = (PurePosixPath(path) for path, file in new.files.items() if file.sha256 != old.files[path].sha256)
    return all(path.parent == TEXTS and path.suffix == ".md" for path in differing)


def same(old: Folder | None, new: Folder) -> bool:
    """Tell whether two readings found the same; files that the format doesn't know, as editors leave, are no matter."""
    return old is not None and (old.files, old.findings) == (new.files, new.findings)
