"""The command: check a folder, work out what is open, write the page."""

from __future__ import annotations

import os
from pathlib import Path

from sitegen.checking import TOOL, Progress, check
from sitegen.fieldwork.evening.findings import lines_of
from sitegen.fieldwork.evening.gather import evening
from sitegen.fieldwork.evening.page import MARK, evening_page
from sitegen.findings.outcomes import Outcome
from sitegen.findings.problems import Severity, WrongUse, usable
from sitegen.project.voices import voice_of
from sitegen.render.place.swap import put_in_place, scratch_beside
from sitegen.voice import in_english, speaking, voice


def make_evening(folder: Path, out: Path | None, *, progress: Progress | None = None) -> Outcome:
    """Write the page of what is open at the end of a day; it is made of a folder with stops too, which is not done.

    Raises WrongUse where ``out`` lies inside the folder or is a file that is no such page, OutputFault where
    it can't be written.
    """
    out = out or _beside(folder)
    _refuse_bad_place(out, folder)
    checked = check(folder, progress)
    stops = [finding for finding in checked.findings if finding.severity is Severity.STOP]
    count = sum(finding.count for finding in stops)
    with speaking(in_english(voice_of(checked.survey.folder) if checked.survey else voice())):
        found = evening(checked, checked.survey) if checked.survey else None
        page = evening_page(found, lines_of(checked.survey, stops), count, TOOL)
    with scratch_beside(out) as scratch:
        new = scratch / out.name
        new.write_bytes(page)
        put_in_place(new, out)
    return Outcome((f"written: {out}", *_said(count)), done=not stops)


def _said(count: int) -> tuple[str, ...]:
    if not count:
        return ()
    noun = "finding stops" if count == 1 else "findings stop"
    return (f"{count} {noun} a build; the page lists what can be read, and sitegen check states what to correct",)


def _beside(folder: Path) -> Path:
    whole = Path(os.path.realpath(folder))
    return whole.with_name(f"{whole.name}-evening.html")


def _refuse_bad_place(out: Path, folder: Path) -> None:
    """Refuse a place inside the project folder, whose files are the record, and a file that is no such page."""
    if Path(os.path.realpath(out)).is_relative_to(os.path.realpath(folder)):
        raise WrongUse(f"{out} is inside the project folder; state another place with --out")
    with usable(out):
        if not os.path.lexists(out):
            return
        if not out.is_file() or MARK.encode() not in out.read_bytes()[:200]:
            raise WrongUse(f"{out} is not a page of this command; state another with --out")
