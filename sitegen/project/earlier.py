"""Earlier surveys of the same site: what is read of their folders or archives becomes part of what is read here.

Their files lie in memory below ``earlier/<name>/``, as if the folder held them, so that they are part of the
content digest, of the archive and of what is proved: an archive holds them there and needs no other folder.
Private files, photographs and scans of an earlier survey are not taken along.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path, PurePosixPath

from sitegen.findings.problems import Finding, Severity, Where, WrongUse
from sitegen.project.folder import Folder, InputFile
from sitegen.project.revisions import open_revision
from sitegen.project.schema import EARLIER, SETTINGS_FILE
from sitegen.project.settings import read_settings
from sitegen.project.survey import Survey, SurveyTable
from sitegen.voice import worded

_LEFT_OUT = ("private/", "photos/", "records/", "theme/", "review/", "text/", f"{EARLIER}/")


def with_earlier(snapshot: Folder, place: Path) -> Folder:
    """Return a folder with what is read of the earlier surveys that its settings name by their way from ``place``.

    One that the folder holds below ``earlier/`` already is taken from there. One that can't be read whole is a
    finding. What is private in one stays where it is, and only says which words must not be published.
    """
    settings, _ = read_settings(snapshot.content(SETTINGS_FILE) or b"")
    paths = settings.project.earlier if settings else []
    files = {path: file for path, file in snapshot.files.items() if not _stays(path)}
    if not paths and len(files) == len(snapshot.files):
        return snapshot
    findings, beside = list(snapshot.findings), []
    taken: set[str] = set()
    for path in paths:
        name = mount_of(path)
        if name in taken:
            findings.append(unreadable(path, f"another also has the name {PurePosixPath(name).name}; rename one"))
            continue
        taken.add(name)
        inside = _moved(snapshot.files, name, "")
        found, reason = (inside, "") if inside else _read(place / path)
        findings += [unreadable(path, reason)] if reason else []
        beside.append(_private(found))
        files |= _moved({old: file for old, file in found.items() if not old.startswith(_LEFT_OUT)}, "", name)
    return Folder(dict(sorted(files.items())), snapshot.passed_over, tuple(findings), tuple(beside))


def _moved(files: Mapping[str, InputFile], old: str, new: str) -> dict[str, InputFile]:
    """Return the files whose path begins with ``old``, which is ``new`` now."""
    paths = {path: new + path.removeprefix(old) for path in files if path.startswith(old)}
    return {path: replace(files[was], path=path) for was, path in paths.items()}


def _private(files: Mapping[str, InputFile]) -> Folder:
    """Return the private files of an earlier survey, with the settings that say how a file is read."""
    kept = {path: file for path, file in files.items() if path.startswith("private/") or path == SETTINGS_FILE}
    return Folder(kept, (), ())


def _stays(path: str) -> bool:
    """Tell whether a file of an earlier survey that lies inside the folder is of those that are not taken along.

    >>> _stays("earlier/first/private/contacts.csv"), _stays("earlier/first/project.toml"), _stays("private/a.csv")
    (True, False, False)
    """
    inside, _, rest = path.removeprefix(f"{EARLIER}/").partition("/")
    return path.startswith(f"{EARLIER}/{inside}/") and rest.startswith(_LEFT_OUT)


def _read(path: Path) -> tuple[dict[str, InputFile], str]:
    """Return the files of an earlier survey, and why there are none; the reason names no place on a disk."""
    try:
        opened = open_revision(path).folder
    except WrongUse as error:
        return {}, str(error).replace(str(path), path.name or "it")
    for one in opened.findings:
        if one.severity is Severity.STOP and not one.where.file.startswith(_LEFT_OUT):
            return {}, f"{one.where.file} is {one.found}"
    return opened.files, ""


def mount_of(path: str) -> str:
    """Return the folder that an earlier survey has here, by the path that the settings name.

    >>> mount_of("../2024/first-survey"), mount_of("../KD-r1.zip")
    ('earlier/first-survey/', 'earlier/KD-r1/')
    >>> mount_of("..")
    'earlier/survey/'
    """
    name = PurePosixPath(path).name.removesuffix(".zip").strip(".")
    return f"{EARLIER}/{name or 'survey'}/"


def mount_name(mount: str) -> str:
    """Return what an earlier survey is called beside others: the name of its folder here.

    >>> mount_name("earlier/first-survey/")
    'first-survey'
    """
    return PurePosixPath(mount).name


def earlier_folders(survey: Survey) -> Iterator[tuple[str, str, Folder]]:
    """Yield for each earlier survey that was read its path in the settings, its folder here and its files."""
    for path in survey.settings.project.earlier:
        mount = mount_of(path)
        files = _moved(survey.folder.files, mount, "")
        if files:
            yield path, mount, Folder(files, (), ())


def mounted(survey: Survey, mount: str, here: Survey) -> Survey:
    """Return an earlier survey as a part of ``here``: its rows stand in files below ``mount``.

    It is published as ``here`` is.
    """
    tables = {name: _mounted(table, mount) for name, table in survey.tables.items()}
    settings = survey.settings.model_copy(update={"publish": here.settings.publish})
    return replace(survey, settings=settings, tables=tables, folder=here.folder, texts={}, mount=mount)


def _mounted(table: SurveyTable, mount: str) -> SurveyTable:
    frame = table.frame.assign(_file=[mount + path for path in table.frame["_file"]])
    return replace(table, frame=frame, file=mount + table.file)


def unreadable(path: str, reason: str) -> Finding:
    """Say that an earlier survey that the settings name can't be compared with."""
    return Finding(
        "earlier-unreadable",
        Severity.HOLD,
        path,
        Where(SETTINGS_FILE, None, "project.earlier"),
        worded("an earlier survey that cannot be compared: {reason}", reason=reason),
        worded("the folder or archive of an earlier survey of the site, as a path from this folder"),
        worded("correct the path in project.earlier, or remove it"),
    )
