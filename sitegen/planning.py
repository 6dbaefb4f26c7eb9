"""The command ``plan``: propose points, say what they need and can find, and add them where that is asked for."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

import pandas as pd

from sitegen.checking import Progress, check_snapshot, silent
from sitegen.compute.design.faults import plan_faults
from sitegen.compute.design.fieldplan import field_plan
from sitegen.compute.design.propose import Proposal, Proposed, propose
from sitegen.findings.outcomes import Outcome
from sitegen.findings.problems import Finding, Severity, Stopped, WrongUse
from sitegen.planwords import count_lines, design_lines, order_lines, proposal_lines
from sitegen.project.folder import Folder, InputFile, read_folder
from sitegen.project.load import load_folder
from sitegen.project.places import in_order, sheet_at
from sitegen.project.schema import BOOK_FILE, SETTINGS_FILE
from sitegen.project.settings import FilePart
from sitegen.project.survey import Survey
from sitegen.project.tableedits import replace_file, with_rows
from sitegen.project.tables import LOCATIONS


def plan(folder: Path, *, accept: bool, progress: Progress | None = None) -> Outcome:
    """Propose the points of a plan, and add them to the table of points where ``accept`` asks for it.

    Raises Stopped where findings or the plan's own faults keep positions from being trusted, WrongUse and
    OutputFault where the table can't be written. The folder is then as it was.
    """
    say = progress or silent
    say("read", 0, 1)
    snapshot = read_folder(folder)
    survey = _sound(snapshot, say)
    say("compute", 0, 1)
    proposal = propose(survey)
    lines = [*_told(survey, proposal)]
    if not accept:
        told = (
            f"Nothing was written; --accept adds {len(proposal.points):,} rows to {survey.tables['locations'].called}."
        )
        return Outcome((*lines, "", told if proposal.points else "Nothing was written."))
    added, done = _accept(folder, snapshot, survey, proposal.points)
    return Outcome((*lines, "", *added), done)


def _told(survey: Survey, proposal: Proposal) -> Iterator[str]:
    """Yield what is said of a proposal, section by section."""
    whole = with_points(survey, proposal.points)
    needed = field_plan(whole)
    sections = (
        proposal_lines(survey, proposal),
        count_lines(whole, needed, len(proposal.points)),
        order_lines(needed.allocation, whole),
        design_lines(whole, needed.points),
    )
    for number, section in enumerate(filter(None, map(tuple, sections))):
        yield from ([""] if number else [])
        yield from section


def _sound(snapshot: Folder, say: Progress) -> Survey:
    """Return the survey of a folder, once nothing is against its positions and its plan; else raise Stopped."""
    checked = check_snapshot(snapshot, say)
    survey = checked.survey
    stops = [one for one in checked.findings if one.severity is Severity.STOP and _is_about_places(one, survey)]
    if survey is None or stops:
        raise Stopped(in_order(stops or checked.findings))
    if faults := plan_faults(survey):
        raise Stopped(in_order(faults))
    return survey


def _is_about_places(finding: Finding, survey: Survey | None) -> bool:
    """Tell whether a finding is about settings, points or features; a table of points may be yet to come."""
    where = finding.where
    if finding.code == "file-missing" and where.file != SETTINGS_FILE:
        return False
    if where.file == BOOK_FILE:
        return sheet_at(where) in ("", LOCATIONS.name)
    settings = survey.settings if survey else None
    named = (settings.points.file, *settings.features.files) if settings else ()
    return where.file == SETTINGS_FILE or where.file.startswith("locations/") or where.file in named


def with_points(survey: Survey, proposed: Sequence[Proposed]) -> Survey:
    """Return a survey as it would be with proposed points in its table: their rows are read as any others."""
    if not proposed:
        return survey
    how = _form(survey)
    rows = with_rows(LOCATIONS, b"", [one.row() for one in proposed], how)
    settings = survey.folder.files[SETTINGS_FILE]
    files = {SETTINGS_FILE: settings, LOCATIONS.path: InputFile(LOCATIONS.path, hashlib.sha256(rows).hexdigest(), rows)}
    alone, _ = load_folder(Folder(files, (), ()))
    if alone is None:
        raise ValueError("settings that were read can't be read again")
    old, new = survey.tables[LOCATIONS.name], alone.tables[LOCATIONS.name]
    blank, fresh = [""] * len(old.frame), [""] * len(new.frame)
    received = {
        name: [*old.received.get(name, blank), *new.received.get(name, fresh)]
        for name in dict.fromkeys((*old.received, *new.received))
    }
    frame = new.frame.assign(_row=new.frame["_row"] + max(old.frame["_row"], default=1) - 1)
    frame = pd.concat([old.frame, frame], ignore_index=True) if len(old.frame) else frame
    filled = {(row + len(old.frame), name): one for (row, name), one in new.filled.items()}
    table = replace(old, frame=frame, received=received, present=True, filled={**old.filled, **filled})
    return replace(survey, tables={**survey.tables, LOCATIONS.name: table})


def _form(survey: Survey) -> FilePart:
    return survey.settings.files.get(LOCATIONS.path, FilePart())


def _accept(
    folder: Path, snapshot: Folder, survey: Survey, proposed: Sequence[Proposed]
) -> tuple[tuple[str, ...], bool]:
    """Add points to the table; a workbook stays, and what would be added to it is written beside the folder."""
    table, rows = survey.tables[LOCATIONS.name], [one.row() for one in proposed]
    if not rows:
        return (f"Nothing to add: {table.called} stays as it is.",), True
    if table.file == LOCATIONS.path:
        old = snapshot.content(LOCATIONS.path)
        new = with_rows(LOCATIONS, old or b"", rows, _form(survey))
        replace_file(folder / LOCATIONS.path, old, new)
        return (f"Added {len(rows):,} rows to {table.file}; its other rows are as they were.",), True
    beside = _beside(folder)
    _write_beside(beside, with_rows(LOCATIONS, b"", rows, FilePart()))
    said = f"The points are in a workbook, {table.called}, which is not edited: paste the {len(rows):,} rows of"
    return (said, f"{beside} into it, with its cells formatted as text."), False


def _beside(folder: Path) -> Path:
    whole = Path(os.path.realpath(folder))
    return whole.with_name(f"{whole.name}-plan") / "locations.csv"


def _write_beside(place: Path, content: bytes) -> None:
    """Write a file that is not there, or has that content already."""
    if place.exists():
        if place.read_bytes() != content:
            raise WrongUse(f"{place} is there already and has other rows; move it away, then run the command again")
        return
    replace_file(place, None, content)
