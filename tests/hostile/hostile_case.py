"""What a hostile input is: how it is written, and what the program must answer."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from enum import Enum
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import NamedTuple

from builders import EXAMPLE, Change, changed, write
from small_survey import small_survey

from sitegen.project.folder import Folder, read_folder

CLASSES = (
    "values", "texts", "files", "settings", "archives", "pictures", "workbooks", "features", "markdown", "theme",
)  # fmt: skip


class Answer(Enum):
    """What must come of an input. In no case may the program break down or touch anything else.

    REFUSED: exit code 1 with a stop at each place aimed at, or 2 with the place in words.
    TOLD: exit code 0 with a finding at each place. READ: it is sound, exit code 0.
    BUILT: the report is built, and the text is text in it. BOUNDED: legal in some places and not in
    others, so either answer will do.
    """

    REFUSED = "refused"
    TOLD = "told"
    READ = "read"
    BUILT = "built"
    BOUNDED = "bounded"


class Place(NamedTuple):
    """Where a finding must be; a row or column of None is not asked for."""

    file: str
    row: int | None = None
    column: str | None = None


class Impossible(Exception):
    """The machine can't make this input; the reason in words."""


Maker = Callable[[Path], None]
"""Writes a survey folder at a path that is not there yet; it may write beside it."""


@dataclass(frozen=True)
class Hostile:
    """One hostile input.

    ``command`` is what the program is asked; FOLDER stands for the survey, BESIDE for the folder around it.
    ``aimed`` counts the cells, texts or members aimed at, where they are more than the places.
    """

    kind: str
    name: str
    make: Maker
    answer: Answer = Answer.REFUSED
    places: tuple[Place, ...] = ()
    aimed: int = 0
    command: tuple[str, ...] = ("check", "FOLDER")
    heavy: bool = field(default=False, compare=False)

    @property
    def aims(self) -> int:
        """How many cells, texts, files or members this input aims at."""
        return max(self.aimed, len(self.places), 1)

    @property
    def title(self) -> str:
        """Class and name."""
        return f"{self.kind}: {self.name}"


def edited(*changes: Change, small: bool = False) -> Maker:
    """Return what writes the example with changes; ``small`` starts from its small cut, quick to build."""
    return lambda root: _written(changes, root, small=small)


def _written(changes: Iterable[Change], root: Path, *, small: bool) -> None:
    write(changed(*changes, folder=small_example() if small else None), root)


def late(path: str, make: Callable[[], bytes]) -> Change:
    """Give a file a content that is made only when it is written, since it is large."""
    return Change(path, lambda _: make())


def then(make: Maker, more: Maker) -> Maker:
    """Return what writes a folder and then does more to it."""

    def both(root: Path) -> None:
        make(root)
        more(root)

    return both


def heavy(one: Hostile) -> Hostile:
    """Mark an input that takes seconds or hundreds of megabytes to write."""
    return replace(one, heavy=True)


@cache
def small_example() -> Folder:
    """Return the small cut of the example, read once."""
    with TemporaryDirectory() as name:
        return read_folder(small_survey(EXAMPLE, Path(name) / "small"))
