"""The command: check a folder, put the letter together, write it."""

from __future__ import annotations

import os
from pathlib import Path

from sitegen.checking import Progress, check
from sitegen.checks.privacy import private_words
from sitegen.findings.outcomes import Outcome
from sitegen.findings.problems import OutputFault, WrongUse, usable
from sitegen.letter.enclosed import OtherReport, enclosed_report
from sitegen.pipeline import prepare
from sitegen.project.survey import Survey
from sitegen.project.voices import voice_of
from sitegen.render.comment.letter import letter_bytes, letter_texts
from sitegen.render.place.swap import put_in_place, scratch_beside
from sitegen.render.print.strings import Words
from sitegen.report.assemble import Draft
from sitegen.report.letter.compose import letter
from sitegen.report.record.letters import Enclosed, Letter
from sitegen.report.write.publish import guarded_texts, relabel, substitutes
from sitegen.report.write.words import say
from sitegen.voice import speaking

_ENDING = ".docx"


def write_letter(
    folder: Path, out: Path | None, report: Path | None = None, *, progress: Progress | None = None
) -> Outcome:
    """Write the draft of a letter to the report of a folder.

    A file that is there already is refused, for somebody may have worked in it. ``report`` is where the
    report lies, FOLDER-report by default. Raises Stopped where findings stop the report, WrongUse for a bad
    place or a ``report`` of other content, OutputFault where it can't be written.
    """
    out = out or _beside(folder, f"letter{_ENDING}")
    _refuse_place(out, folder)
    survey, made, _ = prepare(check(folder, progress), progress=progress)
    with speaking(voice_of(survey.folder)):
        return _written(folder, out, report, survey, made)


def _written(folder: Path, out: Path, report: Path | None, survey: Survey, made: Draft) -> Outcome:
    enclosed, reason = _report(report or _beside(folder, "report"), survey, asked=report is not None)
    drawn = letter(made.context, made.bound.meta, made.difference, enclosed, reason)
    drawn = relabel(drawn, substitutes(made.context.survey))
    _require_nothing_private(survey, drawn)
    with scratch_beside(out) as scratch:
        new = scratch / out.name
        new.write_bytes(letter_bytes(drawn, made.bound.meta))
        put_in_place(new, out)
    return Outcome((f"letter  {out}", drawn.draft, *_said(enclosed, reason)))


def _said(enclosed: Enclosed | None, reason: str) -> tuple[str, ...]:
    if enclosed is None:
        return (reason or say("letter.enclosed_none"),)
    return (f"enclosed: {len(enclosed.files)} files and the site of {enclosed.folder}",)


def _report(place: Path, survey: Survey, *, asked: bool) -> tuple[Enclosed | None, str]:
    """Return what is enclosed, and why a report that is there is not."""
    with usable(place):
        if not asked and not place.is_dir():
            return None, ""
    try:
        return enclosed_report(place, survey.digest), ""
    except OtherReport as other:
        if asked:
            raise WrongUse(f"{place} does not go with this letter: {other}") from other
        return None, say("letter.enclosed_other", folder=place.name, reason=other)
    except WrongUse as error:
        if asked:
            raise
        return None, say("letter.enclosed_other", folder=place.name, reason=error)


def _beside(folder: Path, what: str) -> Path:
    whole = Path(os.path.realpath(folder))
    return whole.with_name(f"{whole.name}-{what}")


def _refuse_place(out: Path, folder: Path) -> None:
    """Refuse a place inside the project folder, another ending, and any file that is there."""
    if Path(os.path.realpath(out)).is_relative_to(os.path.realpath(folder)):
        raise WrongUse(f"{out} is inside the project folder; state another place with --out")
    if out.suffix.lower() != _ENDING:
        raise WrongUse(f"{out} does not end in {_ENDING}; state another with --out")
    with usable(out):
        if os.path.lexists(out):
            raise WrongUse(f"{out} already exists and may have been edited; state another with --out")


def _require_nothing_private(survey: Survey, drawn: Letter) -> None:
    """Raise OutputFault where a letter that leaves the house holds what must stay inside."""
    if survey.settings.publish.level == "internal":
        return
    held = Words((*private_words(survey.folder), *guarded_texts(survey)))
    found = list(held.found_in(letter_texts(drawn)))
    if found:
        raise OutputFault(f"{len(found)} private text(s) in the letter: {'; '.join(found[:5])}")
