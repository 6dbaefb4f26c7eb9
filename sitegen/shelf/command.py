"""The command: find archives, read each, put the page together, write it."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path

from sitegen.archive.reading import DECLARATION_FILE
from sitegen.checking import TOOL, Progress, silent
from sitegen.findings.outcomes import Outcome
from sitegen.findings.problems import WrongUse, usable
from sitegen.project.schema import SETTINGS_FILE
from sitegen.render.place.swap import put_in_place, scratch_beside
from sitegen.shelf.checks import FILE, WHOLE, Check, check_one, checks_csv, last_checks, read_checks
from sitegen.shelf.order import shelved
from sitegen.shelf.page import MARK, shelf_page
from sitegen.shelf.reading import read_archive, way
from sitegen.shelf.records import READERS, Kept, Unread

PAGE = "shelf.html"


def make_shelf(
    places: Sequence[Path],
    out: Path | None = None,
    *,
    readers: str = READERS[0],
    verify_on: date | None = None,
    progress: Progress | None = None,
) -> Outcome:
    """Write the page over the archives at ``places``, each an archive or a folder that holds some.

    It lies in ``out``, by default the one folder of archives that is named. With ``verify_on`` each archive's
    files are compared with their digests, and what that came to is added to the table beside the page under
    that day. Raises WrongUse for a place that is not there or must not be written to, OutputFault where
    writing fails.
    """
    say = progress or silent
    if readers not in READERS:
        raise WrongUse(f"--for {readers}: name one of {', '.join(READERS)}")
    beside = out or _only_folder(places)
    _refuse_place(beside)
    checks = read_checks(beside)
    found = dict(_archives(places, beside))
    read = {}
    for done, path in enumerate(found.values()):
        say("fixity", done, len(found))
        read[path] = Unread(way(path, beside), _EMPTY) if _is_plain(path) else read_archive(path, beside, readers)
    kept = {
        path: one for path, one in read.items() if isinstance(one, Kept) and (readers == READERS[-1] or not one.private)
    }
    if verify_on:
        checks = (*checks, *(check_one(one, path, verify_on) for path, one in kept.items()))
    last = last_checks(checks)
    shown = [replace(one, checked=_checked(one, last.get((one.name, one.seal)))) for one in kept.values()]
    unread = sorted(one for one in read.values() if isinstance(one, Unread))
    _write(beside, shelf_page(shelved(shown), unread, readers, TOOL), checks_csv(checks) if verify_on else None)
    return Outcome(tuple(_said(beside, shown, unread, readers, checked=verify_on is not None)))


_EMPTY = "no archive is in this folder"


def _only_folder(places: Sequence[Path]) -> Path:
    if len(places) == 1 and places[0].is_dir() and not (places[0] / DECLARATION_FILE).exists():
        return places[0]
    raise WrongUse("state the folder for the page with --out")


def _refuse_place(beside: Path) -> None:
    """Refuse a folder inside an archive, which a page would break, or inside a project, and another file's name."""
    whole = Path(os.path.realpath(beside))
    with usable(beside):
        for folder in (whole, *whole.parents):
            for name, what in ((DECLARATION_FILE, "an archive"), (SETTINGS_FILE, "a project folder")):
                if (folder / name).is_file():
                    raise WrongUse(f"{beside} is inside {what}; state another folder with --out")
        page = beside / PAGE
        if os.path.lexists(page) and not _is_ours(page):
            raise WrongUse(f"{page} is not a page of this command; state another folder with --out")


def _is_ours(page: Path) -> bool:
    if not page.is_file():
        return False
    with page.open("rb") as stream:
        return MARK.encode() in stream.read(200)


def _archives(places: Iterable[Path], beside: Path) -> Iterator[tuple[str, Path]]:
    """Yield each archive by the place that it really has, in the order of what the page calls them."""
    found = [path for place in places for path in _at(place)]
    ordered = sorted(found, key=lambda path: (way(path, beside), str(path)))
    yield from ((os.path.realpath(path), path) for path in ordered)


def _at(place: Path) -> Iterator[Path]:
    """Yield the archives at a place; what else lies in a folder is passed over, one without any is told."""
    with usable(place):
        if not place.exists():
            raise WrongUse(f"{place} is not there")
        if place.is_file() or (place / DECLARATION_FILE).is_file():
            yield place
            return
        inside = [one for one in sorted(place.iterdir()) if not one.name.startswith(".") and _may_be(one)]
    yield from inside or [place]


def _may_be(path: Path) -> bool:
    return path.suffix.lower() == ".zip" if path.is_file() else (path / DECLARATION_FILE).is_file()


def _is_plain(path: Path) -> bool:
    """Tell whether a place is a folder without a bag in it."""
    return path.is_dir() and not (path / DECLARATION_FILE).is_file()


def _checked(one: Kept, check: Check | None) -> str:
    """Say what a check came to; of an archive whose content is withheld not in which file."""
    if check is None:
        return ""
    if check.result == WHOLE:
        return f"{check.day}: whole, {check.files:,} files agree with their digests"
    return f"{check.day}: not whole" + ("" if one.withheld else f": {check.fault}")


def _write(beside: Path, page: bytes, table: bytes | None) -> None:
    for name, content in ((FILE, table), (PAGE, page)):
        if content is not None:
            with scratch_beside(beside / name) as scratch:
                new = scratch / name
                new.write_bytes(content)
                put_in_place(new, beside / name)


def _said(
    beside: Path, shown: Sequence[Kept], unread: Sequence[Unread], readers: str, *, checked: bool
) -> Iterator[str]:
    yield f"shelf  {beside / PAGE}"
    yield f"archives: {len(shown)}; not read: {len(unread)}"
    short = sum(one.withheld for one in shown)
    if short:
        yield f"shown in brief: {short}, whose access level is not for {readers} readers (--for names others)"
    yield from (f"not read: {one.name}: {one.reason}" for one in unread)
    if checked:
        yield from (f"{one.name}: {one.checked}" for one in shown if "not whole" in one.checked)
        yield f"checks are kept in {beside / FILE}"
