"""The commands of the hand-over: a map to print alone, a cover letter, a shelf of archives."""

from __future__ import annotations

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
    out: Annotated[Path | None, typer.Option("--out", help="The letter; FOLDER-letter.docx by default.")] = None,
    report: Annotated[
        Path | None, typer.Option("--report", help="The report that goes with it; FOLDER-report by default.")
    ] = None,
) -> None:
    """Draft a cover letter to the report as DOCX, for a person to read, change and sign."""
    from sitegen.letter.command import write_letter

    folder = project_folder(folder)
    with progress(folder) as say:
        outcome = write_letter(folder, out, report, progress=say)
    _tell(outcome)


def _tell(outcome: Outcome) -> None:
    console().print(escape(visible("\n".join(outcome.lines))), soft_wrap=True)
    if not outcome.done:
        raise typer.Exit(1)
