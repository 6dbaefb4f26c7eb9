"""What the commands share: the console, the folder they are about, and what they are at."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, TypeAlias

import typer
from rich.console import Console
from rich.progress import Progress, SpinnerColumn, TextColumn

Folder: TypeAlias = Annotated[Path | None, typer.Argument(help="The project folder; by default the current folder.")]
STEPS = {
    "read": "reading the folder",
    "check": "checking the record",
    "compute": "computing",
    "compare": "comparing with the previous revision",
    "draft": "assembling the printed report",
    "assemble": "assembling the pages",
    "map": "drawing the map",
    "data": "writing data files",
    "print": "typesetting the PDF",
    "pages": "writing pages",
    "links": "checking links",
    "readback": "reading the output again",
    "again": "building it a second time",
    "kit": "typesetting the field kit",
    "scan": "searching for private words",
    "close": "writing digests",
    "fixity": "reading every file",
}


@dataclass
class Work:
    """What the command is at, for a message about an error that nobody foresaw."""

    place: Path | None = None
    step: str = ""
    details: Path | None = None

    def __str__(self) -> str:
        step = STEPS.get(self.step, self.step) or "starting"
        return f"{step} ({self.place})" if self.place else step


work = Work()


def console(*, error: bool = False) -> Console:
    """Return where a command prints; to a file or a pipe its lines are 120 wide."""
    stream = sys.stderr if error else sys.stdout
    narrow = not stream.isatty()
    return Console(file=stream, width=120 if narrow else None, highlight=False)


class progress:  # noqa: N801 - used as a plain word in a with statement
    """Show the step at hand on a terminal; say nothing where there is none."""

    def __init__(self, place: Path) -> None:
        work.place, work.step = place, ""
        self._bar = Progress(
            SpinnerColumn(), TextColumn("{task.description}"), TextColumn("{task.fields[count]}"),
            console=console(error=True), transient=True, disable=not sys.stderr.isatty(),
        )  # fmt: skip

    def __enter__(self) -> Callable[[str, int, int], None]:
        self._bar.start()
        self._task = self._bar.add_task("starting", count="", total=None)

        def say(step: str, done: int, whole: int) -> None:
            work.step = step
            count = f"{done} of {whole}" if whole > 1 else ""
            self._bar.update(self._task, description=STEPS.get(step, step), count=count)

        return say

    def __exit__(self, *_: object) -> None:
        self._bar.stop()
