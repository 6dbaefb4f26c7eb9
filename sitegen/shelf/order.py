"""Archives in the order of the page: project by project, the newest revision first, and what copies have in common."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from sitegen.shelf.records import Kept


@dataclass(frozen=True, slots=True)
class Shelved:
    """The archives of one project: ``number`` is its place on the page, ``newest`` those of the last revision."""

    number: int
    project: str
    newest: tuple[Kept, ...]
    older: tuple[Kept, ...]

    @property
    def first(self) -> Kept:
        """The archive that speaks for the project: the first of its newest revision."""
        return self.newest[0]


def shelved(archives: Iterable[Kept]) -> tuple[Shelved, ...]:
    """Return archives by project, whatever order they were given in."""
    by_project: dict[str, list[Kept]] = {}
    for one in _noted(list(archives)):
        by_project.setdefault(one.project, []).append(one)
    names = sorted(by_project, key=lambda name: (name.casefold(), name))
    return tuple(_project(number, name, by_project[name]) for number, name in enumerate(names, start=1))


def _project(number: int, name: str, archives: Sequence[Kept]) -> Shelved:
    ordered = sorted(archives, key=lambda one: (-one.revision, one.private, one.name))
    newest = ordered[0].revision
    return Shelved(
        number,
        name,
        tuple(one for one in ordered if one.revision == newest),
        tuple(one for one in ordered if one.revision != newest),
    )


def _noted(archives: Sequence[Kept]) -> list[Kept]:
    """Return archives with a word on those that are one of several of their revision."""
    many = Counter(_which(one) for one in archives)
    contents: dict[tuple[str, int, bool], set[str]] = {}
    for one in archives:
        contents.setdefault(_which(one), set()).add(one.seal)
    return [replace(one, note=_note(many[_which(one)], len(contents[_which(one)]))) for one in archives]


def _which(one: Kept) -> tuple[str, int, bool]:
    return one.project, one.revision, one.private


def _note(copies: int, contents: int) -> str:
    if copies == 1:
        return ""
    if contents == 1:
        return f"one of {copies} copies of this revision with the same content"
    return f"one of {copies} archives of this revision, which differ: {contents} contents"
