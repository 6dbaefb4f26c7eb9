"""The commands before and during the field work: plan, kit, take-in, evening."""

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


def plan(
    folder: Folder = None,
    *,
    accept: Annotated[
        bool,
        typer.Option("--accept", help="Add the proposed points to locations/locations.csv; existing rows are kept."),
    ] = False,
) -> None:
    """Propose points by the plan in project.toml, with what the design can find; written only with --accept."""
    from sitegen.planning import plan as run_plan

    folder = project_folder(folder)
    with progress(folder) as say:
        outcome = run_plan(folder, accept=accept, progress=say)
    _tell(outcome)


def kit(
    folder: Folder = None,
    out: Annotated[Path | None, typer.Option("--out", help="Output folder; FOLDER-kit by default.")] = None,
    *,
    contacts: Annotated[
        bool, typer.Option("--contacts", help="Also write a sheet of contacts from the tables in private/.")
    ] = False,
) -> None:
    """Write the field kit: maps, log sheets, custody forms, labels, stake-out files and a field form."""
    from sitegen.fieldwork.kit.command import make_kit

    folder = project_folder(folder)
    with progress(folder) as say:
        outcome = make_kit(folder, out, contacts=contacts, progress=say)
    _tell(outcome)


def take_in(
    folder: Annotated[Path, typer.Argument(help="The project folder.")],
    exports: Annotated[list[Path], typer.Argument(help="Exports of the field form, of one device or of several.")],
) -> None:
    """Merge exports of the field form into the tables; conflicts are reported, and nothing is overwritten."""
    from sitegen.fieldwork.takein.command import take_in as run_take_in

    folder = project_folder(folder)
    with progress(folder) as say:
        outcome = run_take_in(folder, exports, progress=say)
    _tell(outcome)


def evening(
    folder: Folder = None,
    out: Annotated[Path | None, typer.Option("--out", help="The page; FOLDER-evening.html by default.")] = None,
) -> None:
    """Write a page to print: what is not installed, not retrieved or not accounted for at the end of a day."""
    from sitegen.fieldwork.evening.command import make_evening

    folder = project_folder(folder)
    with progress(folder) as say:
        outcome = make_evening(folder, out, progress=say)
    _tell(outcome)


def _tell(outcome: Outcome) -> None:
    console().print(escape(visible("\n".join(outcome.lines))), soft_wrap=True)
    if not outcome.done:
        raise typer.Exit(1)
