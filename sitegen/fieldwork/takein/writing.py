"""Several files of a folder written as one: all of them, or none."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path

from sitegen.findings.problems import OutputFault, WrongUse
from sitegen.project.folder import Folder

_ASIDE = ".take-in-new"
"""Ends the name of a file that is being written; names that begin with a point are no part of a folder."""


def write_all(root: Path, snapshot: Folder, files: Mapping[str, bytes | None]) -> None:
    """Write files below ``root``, by path; None removes one.

    All are written aside and flushed to the disk first, then given their names; where that fails, those that
    have theirs are put back. A run that is killed between two names is completed by the next: taking in
    the same exports again fills what is still blank. Raises WrongUse where a file is no longer what
    ``snapshot`` has, or would lie outside the folder, OutputFault where the system refuses.
    """
    for path in files:
        _refuse_others(root, snapshot, path)
    try:
        with _aside(root, files) as ready:
            _swap(root, snapshot, ready)
    except OSError as error:
        reason = error.strerror or str(error)
        raise OutputFault(f"the folder could not be written: {reason}; its tables are as they were") from error


def _swap(root: Path, snapshot: Folder, ready: Mapping[str, Path | None]) -> None:
    """Give the new files their names; where that fails, put back those that have theirs."""
    done: list[str] = []
    try:
        for path, new in ready.items():
            _put(new, root / path)
            done.append(path)
    except OSError as error:
        left = [path for path in reversed(done) if not _put_back(root / path, snapshot.content(path))]
        if left:
            reason = f"{error.strerror or error}; {', '.join(left)} could not be put back and is new"
            raise OutputFault(f"the folder could not be written: {reason}: take the exports in again") from error
        raise


def _refuse_others(root: Path, snapshot: Folder, path: str) -> None:
    """Refuse a place that leads out of the folder, a link, and a file that somebody changed meanwhile."""
    place = root / path
    real = Path(os.path.realpath(root))
    if place.is_symlink() or not Path(os.path.realpath(place)).is_relative_to(real):
        raise WrongUse(f"{path} is a link, or leads out of the folder; put the file itself in its place")
    was = snapshot.content(path)
    try:
        now = place.read_bytes() if place.exists() else None
    except OSError as error:
        raise WrongUse(f"{path} can't be used: {error.strerror or error}") from error
    if now != was:
        raise WrongUse(f"{path} was changed while it was read; close the program that has it open, and try again")


@contextmanager
def _aside(root: Path, files: Mapping[str, bytes | None]) -> Iterator[dict[str, Path | None]]:
    """Yield the new files under other names beside their places; what is left of them is removed in the end."""
    ready: dict[str, Path | None] = {}
    try:
        for path, content in files.items():
            place = root / path
            ready[path] = None
            if content is not None:
                place.parent.mkdir(parents=True, exist_ok=True)
                new = ready[path] = place.with_name(f".{place.name}{_ASIDE}")
                _flushed(new, content)
                if place.exists():
                    shutil.copymode(place, new)
        yield ready
    finally:
        for left in filter(None, ready.values()):
            with suppress(OSError):
                left.unlink(missing_ok=True)


def _flushed(place: Path, content: bytes) -> None:
    with place.open("wb") as out:
        out.write(content)
        out.flush()
        os.fsync(out.fileno())


def _put(new: Path | None, place: Path) -> None:
    """Give a finished file its name, or remove what is at its place where there is none."""
    if new is None:
        place.unlink(missing_ok=True)
    else:
        new.replace(place)


def _put_back(place: Path, content: bytes | None) -> bool:
    """Give a place its old content again; return whether it has it."""
    try:
        if content is None:
            place.unlink(missing_ok=True)
        else:
            back = place.with_name(f".{place.name}{_ASIDE}-back")
            _flushed(back, content)
            back.replace(place)
    except OSError:
        return False
    return True
