"""The commands of the hand-over: a map to print alone, a cover letter, a shelf of archives."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer
from rich.markup import escape

from sitegen.findings.problems import visible
from sitegen.folders import project_folder
from sitegen.terminal import Folder, console, progress


class _Paper(StrEnum):
    A4, A3, LETTER, TABLOID = "a4", "a3", "letter", "11x17"


class _Labels(StrEnum):
    IDS, VALUES, BOTH, NONE = "ids", "values", "both", "none"


def map_(  # noqa: PLR0913 - the options of a command
    folder: Folder = None,
    compound: Annotated[
        str, typer.Option("--compound", help="Its id, name, CAS number or a synonym; or the id of a sum.")
    ] = "",
    paper: Annotated[_Paper | None, typer.Option("--paper", help="The report's own by default.")] = None,
    out: Annotated[
        Path | None, typer.Option("--out", help="A .pdf or .png; FOLDER-map-COMPOUND.pdf by default.")
    ] = None,
    labels: Annotated[_Labels, typer.Option("--labels", help="What stands at the points.")] = _Labels.IDS,
    round_id: Annotated[str, typer.Option("--round", help="An earlier round, by its id.")] = "",
    *,
    issue: Annotated[
        bool, typer.Option("--issue", help="Refuse while a finding holds the report or a role has not signed.")
    ] = False,
) -> None:
    """Write a map of one compound to print alone, at a round scale that is true on paper."""
    from sitegen.lonemap import Asked, make_map

    folder = project_folder(folder)
    asked = Asked(compound, paper.value if paper else "", labels.value, round_id, issue=issue)
    with progress(folder) as say:
        outcome = make_map(folder, asked, out, progress=say)
    console().print(escape(visible("\n".join(outcome.lines))), soft_wrap=True)
