"""The commands of the hand-over: a map to print alone, a cover letter, a shelf of archives."""

from __future__ import annotations

from datetime import datetime
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from rich.markup import escape

from sitegen.findings.problems import visible
from sitegen.folders import project_folder
from sitegen.terminal import Folder, console, progress

if TYPE_CHECKING:
    from sitegen.findings.outcomes import Outcome


def letter(
    folder: Folder = None,
    out: Annotated[Path | None, typer.Option("--out", help="Output file; FOLDER-letter.docx by default.")] = None,
    report: Annotated[
        Path | None, typer.Option("--report", help="The report it accompanies; FOLDER-report by default.")
    ] = None,
) -> None:
    """Draft a cover letter to the report as DOCX, for a person to review, edit and sign."""
    from sitegen.letter.command import write_letter

    folder = project_folder(folder)
    with progress(folder) as say:
        outcome = write_letter(folder, out, report, progress=say)
    _tell(outcome)


def shelf(
    places: Annotated[
        list[Path], typer.Argument(metavar="FOLDER...", help="Archives, or folders that contain archives.")
    ],
    out: Annotated[Path | None, typer.Option("--out", help="Output folder; by default the folder given.")] = None,
    readers: Annotated[str, typer.Option("--for", help="Readers of the page: public, client or internal.")] = "public",
    verify_on: Annotated[
        datetime | None,
        typer.Option(
            "--verify-on", formats=["%Y-%m-%d"], help="Check the digests of every archive; the day to record."
        ),
    ] = None,
) -> None:
    """Write an index page of many archives: content, location, site, and date of the last verification."""
    from sitegen.shelf.command import make_shelf

    with progress(places[0]) as say:
        day = verify_on.date() if verify_on else None
        outcome = make_shelf(places, out, readers=readers, verify_on=day, progress=say)
    _tell(outcome)


def _tell(outcome: Outcome) -> None:
    console().print(escape(visible("\n".join(outcome.lines))), soft_wrap=True)
    if not outcome.done:
        raise typer.Exit(1)


class _Paper(StrEnum):
    A4, A3, LETTER, TABLOID = "a4", "a3", "letter", "11x17"


class _Labels(StrEnum):
    IDS, VALUES, BOTH, NONE = "ids", "values", "both", "none"


def map_(  # noqa: PLR0913 - the options of a command
    folder: Folder = None,
    compound: Annotated[
        str, typer.Option("--compound", help="Its id, name, CAS number or a synonym; or the id of a sum.")
    ] = "",
    paper: Annotated[_Paper | None, typer.Option("--paper", help="By default the one used in the report.")] = None,
    out: Annotated[
        Path | None, typer.Option("--out", help="A .pdf or .png; FOLDER-map-COMPOUND.pdf by default.")
    ] = None,
    labels: Annotated[_Labels, typer.Option("--labels", help="The labels at the points.")] = _Labels.IDS,
    round_id: Annotated[str, typer.Option("--round", help="An earlier round, by its id.")] = "",
    *,
    issue: Annotated[
        bool,
        typer.Option("--issue", help="Refuse while a finding blocks issue of the report or a signature is missing."),
    ] = False,
) -> None:
    """Write a single map of one compound to print, at a round scale that is true on paper."""
    from sitegen.lonemap import Asked, make_map

    folder = project_folder(folder)
    asked = Asked(compound, paper.value if paper else "", labels.value, round_id, issue=issue)
    with progress(folder) as say:
        outcome = make_map(folder, asked, out, progress=say)
    _tell(outcome)
