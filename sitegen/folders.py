"""Which folder a command is meant for: the one named, else the one it is called in."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

from sitegen.findings.problems import WrongUse, usable
from sitegen.project.schema import ROOT_FOLDERS, SETTINGS_FILE

_REPORT, _ARCHIVE, _KIT = "build.json", "bagit.txt", "kit.json"
_BEHIND = ("-report", "-archive", "-kit")
"""What the names of reports, archives and kits have behind that of their project."""
MOST_NAMED = 5


def project_folder(named: Path | None) -> Path:
    """Return the project folder that a command is about: ``named``, else the folder that it is called in.

    Raises WrongUse where that is surely something else, saying what it is and which folder is meant. Whether
    a folder without anything that is known is a project is for the check to say.
    """
    folder = named or Path()
    with usable(folder):
        if (folder / SETTINGS_FILE).is_file():
            return folder
        said = _what_it_is(folder)
        if said:
            raise WrongUse(f"{_shown(folder)} is {said}")
        if named is None:
            raise WrongUse(
                f"there is no {SETTINGS_FILE} here: give the project folder, run the program inside it, "
                "or create one with sitegen new FOLDER"
            )
    return folder


def _carried(folder: Path) -> str:
    """Say whether a path is a kit or an archive, "" where it is neither."""
    if (folder / _KIT).is_file():
        return f"a field kit, not its project folder{_meant(_beside(folder))}"
    if not (folder / _ARCHIVE).is_file():
        return ""
    inside = folder / "data/project"
    inputs = f"; its record is in {inside}" if (inside / SETTINGS_FILE).is_file() else ""
    return f"an archive, not a project folder: sitegen verify checks it{inputs}"


def _shown(folder: Path) -> str:
    return os.path.realpath(folder) if folder == Path() else str(folder)


def _what_it_is(folder: Path) -> str:
    """Say what a path is and which folder is meant, "" where nothing is known of it."""
    if folder.is_file():
        return _file(folder)
    if _is_report(folder):
        return f"a built report, not its project folder{_meant(_beside(folder))}"
    report = next(filter(_is_report, _above(folder)), None)
    if report is not None:
        return f"part of a built report, not its project folder{_meant(_beside(report))}"
    if said := _carried(folder):
        return said
    above = next((place for place in _above(folder) if (place / SETTINGS_FILE).is_file()), None)
    if above is not None and Path(os.path.realpath(folder)).relative_to(above).parts[0] in ROOT_FOLDERS:
        return f"part of a project folder{_meant([above])}"
    return _parent(folder)


def _is_report(folder: Path) -> bool:
    return (folder / _REPORT).is_file() and (folder / "site").is_dir()


def _file(path: Path) -> str:
    if path.name == SETTINGS_FILE:
        return f"the settings of a project{_meant([Path(os.path.realpath(path.parent))])}"
    if path.suffix.casefold() == ".zip":
        return "a zip file: unpack it and give the project folder in it; sitegen verify checks an archive"
    return ""


def _above(folder: Path) -> Iterator[Path]:
    """Yield the folders that a folder lies in, the nearest first."""
    yield from Path(os.path.realpath(folder)).parents


def _beside(folder: Path) -> list[Path]:
    """Return the project folder beside a report, by the name that a report has by default."""
    whole = Path(os.path.realpath(folder))
    names = (whole.name.removesuffix(end) for end in _BEHIND if whole.name.endswith(end))
    return [place for name in names if ((place := whole.with_name(name)) / SETTINGS_FILE).is_file()]


def _parent(folder: Path) -> str:
    """Say which project folders lie in a folder that is none itself, "" where none do or it looks like one."""
    if not folder.is_dir() or any((folder / name).is_dir() for name in ROOT_FOLDERS):
        return ""
    projects = [place for place in sorted(folder.iterdir()) if (place / SETTINGS_FILE).is_file()]
    count = "one" if len(projects) == 1 else str(len(projects))
    return f"no project folder, but contains {count}{_meant(projects)}" if projects else ""


def _meant(places: list[Path]) -> str:
    """Say which folders are meant, the first few of many."""
    if not places:
        return ""
    more = f" or one of {len(places) - MOST_NAMED} more" if len(places) > MOST_NAMED else ""
    return f"; give {' or '.join(str(place) for place in places[:MOST_NAMED])}{more}"
